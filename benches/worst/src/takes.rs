//! Takes that nobody plays and a hostile file holds: as much of one thing as a size allows.

use super::track::{self, TICKS_PER_S, TrackWriter};

/// Ten minutes.
const END_TICK: u64 = 600 * TICKS_PER_S;
/// What a track needs at its end, bytes.
const REST: usize = 64;
const TEXT: u8 = 0x01;
const MARKER: u8 = 0x06;
const SEQUENCER_SPECIFIC: u8 = 0x7F;
const TEMPO: u8 = 0x51;
const TIME_SIGNATURE: u8 = 0x58;

/// An input by name.
pub struct WorstTake {
    /// What there is much of.
    pub name: &'static str,
    /// The file.
    pub bytes: Vec<u8>,
    /// How long the music of all its lines is, hours.
    pub hours: f64,
}

/// Where the events of an input stand.
#[derive(Clone, Copy)]
enum Spread {
    /// All at one tick.
    Tick,
    /// Over ten minutes.
    Minutes,
}

/// Every take of about `size` bytes.
pub fn takes(size: usize) -> Vec<WorstTake> {
    let mut takes = notes(size);
    takes.extend(words(size));
    takes.extend(messages(size));
    takes.extend(tempos(size));
    takes.extend(tracks(size));
    takes.extend(long(size));
    takes.push(ten_minutes("records without what they added", records(size)));
    takes
}

fn ten_minutes(name: &'static str, track: TrackWriter) -> WorstTake {
    WorstTake { name, bytes: track::file(vec![track], END_TICK), hours: 600.0 / 3600.0 }
}

/// A track with a gesture that moves once.
fn with_gesture() -> TrackWriter {
    let mut track = TrackWriter::default();
    track.put(0, &[0xB0, 1, 40]);
    track.put(0, &[0xB0, 1, 90]);
    track
}

/// The same with one note of a second.
fn with_note() -> TrackWriter {
    let mut track = with_gesture();
    track.put(0, &[0x90, 69, 80]);
    track.put(TICKS_PER_S, &[0x80, 69, 64]);
    track
}

/// Keys of two octaves, one after the other.
fn key(number: usize) -> u8 {
    57 + (number * 7 % 24) as u8
}

/// The tick of event `number` of about `count`.
fn tick(spread: Spread, number: usize, count: usize) -> u64 {
    match spread {
        Spread::Tick => TICKS_PER_S,
        Spread::Minutes => number as u64 * END_TICK / count.max(1) as u64,
    }
}

/// Ons and offs in every order that costs something.
fn notes(size: usize) -> Vec<WorstTake> {
    let pairs = size / 6;
    let chord = |key: &dyn Fn(usize) -> u8, off_tick| {
        let mut track = with_gesture();
        (0..pairs).for_each(|number| track.put(0, &[0x90, key(number), 80]));
        (0..pairs).for_each(|number| track.put(off_tick, &[0x80, key(number), 64]));
        track
    };
    let held = |spread| {
        let mut track = with_gesture();
        let count = size / 3;
        (0..count)
            .for_each(|number| track.put(tick(spread, number, count), &[0x90, key(number), 80]));
        track
    };
    let mut at_once = with_gesture();
    for number in 0..size / 6 {
        // An on with velocity 0 is an off (MIDI 1.0).
        at_once.put(TICKS_PER_S, &[0x90, key(number), 80]);
        at_once.put(TICKS_PER_S, &[0x90, key(number), 0]);
    }
    let mut offs = with_note();
    (0..size / 3).for_each(|number| offs.put(2 * TICKS_PER_S, &[0x80, key(number), 64]));
    let mut drone = with_gesture();
    drone.put(0, &[0x90, 50, 80]);
    (0..size / 6).for_each(|number| {
        let at = 2 * TICKS_PER_S + tick(Spread::Minutes, number, size / 6);
        drone.put(at, &[0x90, key(number), 80]);
        drone.put(at, &[0x90, key(number), 0]);
    });
    vec![
        ten_minutes("one chord of all keys", chord(&key, TICKS_PER_S)),
        ten_minutes("one key struck at one tick", chord(&|_| 69, TICKS_PER_S)),
        ten_minutes("on after off at one tick", chord(&key, 0)),
        ten_minutes("notes without length", at_once),
        ten_minutes("keys never lifted", held(Spread::Minutes)),
        ten_minutes("keys never lifted, one tick", held(Spread::Tick)),
        slurred(size),
        ten_minutes("offs without ons", offs),
        ten_minutes("notes over a drone", drone),
    ]
}

/// Notes that overlap, as many as ten minutes hold.
pub fn slurred(size: usize) -> WorstTake {
    let mut track = with_gesture();
    for number in 0..size / 6 {
        let at = tick(Spread::Minutes, number, size / 6);
        track.put(at, &[0x90, key(number + 1), 80]);
        track.put(at, &[0x90, key(number), 0]);
    }
    ten_minutes("slurred notes", track)
}

/// Texts, articulations and wishes.
fn words(size: usize) -> Vec<WorstTake> {
    let texts = |spread| {
        let mut track = with_note();
        let count = size / 5;
        (0..count).for_each(|number| {
            track.put_meta(TICKS_PER_S + tick(spread, number, count), TEXT, b"a");
        });
        track
    };
    let articulations = |spread| {
        let mut track = with_gesture();
        for number in 0..size / 32 {
            let words: &[u8] = match number % 2 {
                0 => b"articulation: staccato",
                _ => b"articulation: tenuto",
            };
            let at = tick(spread, number, size / 32);
            track.put_meta(at, MARKER, words);
            track.put(at, &[0x90, key(number), 80]);
            track.put(at, &[0x90, key(number), 0]);
        }
        track
    };
    let wishes = |spread, words: &[u8]| {
        let mut track = with_gesture();
        let count = size / (words.len() + 11);
        for number in 0..count {
            let at = tick(spread, number, count);
            track.put_meta(at, TEXT, words);
            track.put(at, &[0x90, key(number), 80]);
            track.put(at, &[0x90, key(number), 0]);
        }
        track
    };
    vec![
        ten_minutes("texts", texts(Spread::Minutes)),
        ten_minutes("texts at one tick", texts(Spread::Tick)),
        ten_minutes("articulations", articulations(Spread::Minutes)),
        ten_minutes("articulations at one tick", articulations(Spread::Tick)),
        ten_minutes("wishes", wishes(Spread::Minutes, b"wish: no vibrato")),
        ten_minutes("wishes at one tick", wishes(Spread::Tick, b"wish: no vibrato")),
        ten_minutes("wishes for a key at one tick", wishes(Spread::Tick, b"wish A3: open")),
    ]
}

/// Controllers, bends, pressure, pedals and dumps.
fn messages(size: usize) -> Vec<WorstTake> {
    let many = |spread, event: &dyn Fn(u8) -> Vec<u8>| {
        let mut track = with_note();
        // A status that repeats is left out.
        let is_repeated = event(0)[0] == event(1)[0] && event(0)[0] < 0xF0;
        let event_size = event(0).len() + usize::from(!is_repeated);
        for number in 0..size / event_size {
            let at = TICKS_PER_S + tick(spread, number, size / event_size);
            track.put(at, &event((number * 37 % 128) as u8));
        }
        track
    };
    let over =
        |name, event: &dyn Fn(u8) -> Vec<u8>| ten_minutes(name, many(Spread::Minutes, event));
    let at_once =
        |name, event: &dyn Fn(u8) -> Vec<u8>| ten_minutes(name, many(Spread::Tick, event));
    vec![
        over("wheel", &|value| vec![0xB0, 1, value]),
        at_once("wheel at one tick", &|value| vec![0xB0, 1, value]),
        over("controllers that pass", &|value| vec![0xB0, value, value]),
        at_once("controllers that pass, one tick", &|value| vec![0xB0, value, value]),
        over("parameters", &|value| vec![0xB0, 98 + value % 4, value]),
        over("pedal", &|value| vec![0xB0, 64, value]),
        at_once("bends at one tick", &|value| vec![0xE0, value, value]),
        over("key pressure", &|value| vec![0xA0, value, value]),
        over("programs", &|value| vec![0xC0, value]),
        over("all notes off", &|value| vec![0xB0, 120 + value % 8, 0]),
        over("dumps", &|value| vec![0xF0, 3, 0x7D, value, 0xF7]),
        over("other channels", &|value| vec![0x91 + value % 15, value, 80]),
    ]
}

/// Tempos and time signatures.
fn tempos(size: usize) -> Vec<WorstTake> {
    let many = |spread, kind, contents: &dyn Fn(usize) -> Vec<u8>| {
        let mut track = with_note();
        let count = size / (contents(0).len() + 4);
        (0..count).for_each(|number| {
            let at = TICKS_PER_S + tick(spread, number, count);
            track.put_meta(at, kind, &contents(number));
        });
        // What comes after has to be looked up among them.
        track.put(END_TICK + TICKS_PER_S, &[0x90, 69, 80]);
        track
    };
    // 500,000 microseconds or a few less.
    let tempo = |number: usize| vec![0x07, 0xA1, 0x20 - (number % 16) as u8];
    let metre = |number: usize| vec![1 + (number % 7) as u8, 2, 24, 8];
    vec![
        ten_minutes("tempos", many(Spread::Minutes, TEMPO, &tempo)),
        ten_minutes("tempos at one tick", many(Spread::Tick, TEMPO, &tempo)),
        ten_minutes("time signatures", many(Spread::Minutes, TIME_SIGNATURE, &metre)),
        ten_minutes("time signatures at one tick", many(Spread::Tick, TIME_SIGNATURE, &metre)),
    ]
}

/// Lines of notes of a second, each on a track of its own.
fn lines(
    count: usize,
    note_count: usize,
    first: &dyn Fn() -> TrackWriter,
) -> (Vec<TrackWriter>, f64) {
    let line = |_| {
        let mut track = first();
        for number in 0..note_count as u64 {
            track.put(number * TICKS_PER_S, &[0x90, 69, 80]);
            track.put((number + 1) * TICKS_PER_S, &[0x80, 69, 64]);
        }
        track
    };
    ((0..count).map(line).collect(), count as f64 * note_count as f64 / 3600.0)
}

/// Tracks, channels and foreign chunks.
fn tracks(size: usize) -> Vec<WorstTake> {
    let of_lines = |name, (tracks, hours), others: Vec<TrackWriter>| {
        let tracks = others.into_iter().chain(tracks).collect();
        WorstTake { name, bytes: track::file(tracks, 0), hours }
    };
    // A file has at most 65,535 tracks.
    let line_count = (size / 28).min(60_000);
    let half = || lines((size / 56).min(60_000), 1, &with_gesture);
    let mut tempos = TrackWriter::default();
    (0..size / 14).for_each(|number| {
        tempos.put_meta(number as u64, TEMPO, &[0x07, 0xA1, (number % 16) as u8]);
    });
    let words = |word: &dyn Fn(usize) -> &'static [u8]| {
        let mut words = TrackWriter::default();
        (0..size / 56).for_each(|number| words.put_meta(0, MARKER, word(number)));
        words
    };
    let articulations = |number| match number % 2 {
        0 => &b"articulation: staccato"[..],
        _ => b"articulation: tenuto",
    };
    let mut one_line = vec![with_note()];
    one_line.extend((0..(size / 12).min(65_000)).map(|_| TrackWriter::default()));
    let mut chunks = track::file(vec![with_note()], END_TICK);
    (0..size / 8).for_each(|_| chunks.extend(track::chunk(b"ABCD", &[])));
    let mut channels = TrackWriter::default();
    (0..16).for_each(|channel| channels.put(0, &[0xB0 | channel, 1, 64]));
    for number in 0..size / 7 {
        let (at, channel) = (tick(Spread::Minutes, number, size / 7), (number % 16) as u8);
        channels.put(at, &[0x90 | channel, key(number / 16), 80]);
        channels.put(at, &[0x90 | channel, key(number / 16 + 23), 0]);
    }
    let one = 600.0 / 3600.0;
    vec![
        of_lines("4,096 lines", lines(4096, size / 4096 / 10, &with_gesture), Vec::new()),
        of_lines("lines", lines(line_count, 1, &with_gesture), Vec::new()),
        of_lines("lines without gestures", lines(line_count, 1, &TrackWriter::default), Vec::new()),
        of_lines("lines under tempos", half(), vec![tempos]),
        of_lines("lines under articulations", half(), vec![words(&articulations)]),
        of_lines("lines under wishes", half(), vec![words(&|_| b"wish: no vibrato")]),
        WorstTake { name: "empty tracks", bytes: track::file(one_line, 0), hours: one },
        WorstTake { name: "foreign chunks", bytes: chunks, hours: one },
        WorstTake { hours: 16.0 * one, ..ten_minutes("channels", channels) },
    ]
}

/// Takes of many hours.
fn long(size: usize) -> Vec<WorstTake> {
    let hours = 20;
    let end_tick = hours * 3600 * TICKS_PER_S;
    let mut silence = with_note();
    silence.put(end_tick, &[0x90, 69, 80]);
    let mut held = with_gesture();
    held.put(0, &[0x90, 69, 80]);
    let mut wheel = with_gesture();
    wheel.put(0, &[0x90, 69, 80]);
    let count = size / 4;
    for number in 0..count {
        let at = number as u64 * end_tick / count as u64;
        wheel.put(at, &[0xB0, 1, (number * 5 % 128) as u8]);
    }
    let take = |name, track| WorstTake {
        name,
        bytes: track::file(vec![track], end_tick),
        hours: hours as f64,
    };
    vec![
        take("20 hours of silence", silence),
        take("20 hours of one note", held),
        take("20 hours of a moving wheel", wheel),
    ]
}

/// A shaped file by its records alone: notes are kept that nobody plays any more, what was added
/// is another, and others stand in their place.
fn records(size: usize) -> TrackWriter {
    let mut track = TrackWriter::default();
    track.put_meta(0, MARKER, b"Shaped by Polso: engine 1; take 0000000000000000; ticks x1");
    let mut number = 0;
    while track.size() + REST < size {
        let on = [0x90, key(number), 80];
        let kept = [&[0x7D, b'p', b's', b'k'], &on[..]].concat();
        track.put_meta(TICKS_PER_S, SEQUENCER_SPECIFIC, &kept);
        if number.is_multiple_of(64) {
            let added = [&[0x7D, b'p', b's', b'a', 0][..], &[7; 80]].concat();
            track.put_meta(TICKS_PER_S, SEQUENCER_SPECIFIC, &added);
        }
        track.put(TICKS_PER_S, &[0x90, key(number), 81]);
        track.put(TICKS_PER_S, &[0x80, key(number), 64]);
        number += 1;
    }
    track
}

/// A shaped file that somebody has edited: the velocity of every second note-on is another.
pub fn edited(mut file: Vec<u8>) -> Vec<u8> {
    let mut number = 0;
    for place in 0..file.len().saturating_sub(2) {
        // A status that is left out is not found; enough others are.
        let is_on = file[place] & 0xF0 == 0x90 && file[place + 1] < 0x80;
        if is_on && (1..0x7F).contains(&file[place + 2]) {
            number += 1;
            file[place + 2] += (number % 2) as u8;
        }
    }
    file
}
