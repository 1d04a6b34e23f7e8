//! The recorded take: uneven hands, the wheel beside them, and the MIDI file that holds both.

use super::melody::{self, Written};
use super::wheel::{self, Chance};

/// Ticks of a quarter note.
const PPQ: u16 = 480;
/// Beats from which a tempo holds, and its quarter notes a minute.
const TEMPI: [(f64, f64); 4] = [(0.0, 66.0), (60.0, 63.0), (72.0, 58.0), (76.0, 52.0)];
/// The beat at which the recording stops.
const END_BEAT: f64 = 84.0;

/// One message of the track: its time in ticks, its rank at equal times and its bytes.
type TakeMessage = (u64, u8, Vec<u8>);

/// The take as a MIDI file of format 1: a track for the song, a track for the line.
pub fn bytes() -> Vec<u8> {
    let mut line: Vec<TakeMessage> = vec![(0, 0, meta(0x03, b"erhu")), (0, 0, vec![0xC0, 110])];
    line.extend(played(&melody::notes()));
    let end_s = seconds_at(END_BEAT - 0.5);
    for (time_s, value) in wheel::record(end_s, beat_at) {
        line.push((tick(beat_at(time_s)), 2, vec![0xB0, 1, value]));
    }
    line.sort_by_key(|(tick, rank, _)| (*tick, *rank));
    line.push((tick(END_BEAT), 0, meta(0x2F, &[])));

    let mut song = vec![(0, 0, meta(0x03, b"The last ferry")), (0, 0, meta(0x58, &[4, 2, 24, 8]))];
    for (beat, tempo_bpm) in TEMPI {
        let micros = (60e6 / tempo_bpm).round() as u32;
        song.push((tick(beat), 0, meta(0x51, &micros.to_be_bytes()[1..])));
    }
    song.push((tick(END_BEAT), 0, meta(0x2F, &[])));

    let mut file = b"MThd\0\0\0\x06\0\x01\0\x02".to_vec();
    file.extend(PPQ.to_be_bytes());
    file.extend(track(&song));
    file.extend(track(&line));
    file
}

/// The notes as two hands play them: a little early, a little late, never twice the same.
fn played(notes: &[Written]) -> Vec<TakeMessage> {
    let mut chance = Chance::from_number(0x6572_6875);
    let mut onsets_s: Vec<f64> = Vec::new();
    for note in notes {
        // Long notes are placed freely, fast ones keep close to the beat.
        let spread_s = if note.beats < 0.5 { 0.006 } else { 0.014 };
        onsets_s.push(seconds_at(note.beat) + spread_s * chance.next());
    }
    let mut events = Vec::new();
    for (place, note) in notes.iter().enumerate() {
        let written_end_s = seconds_at(note.beat + note.beats);
        let end_s = match onsets_s.get(place + 1) {
            // Slurred: the finger leaves after the next has come down, sooner in a run.
            Some(next_s) if note.is_slurred => {
                let overlap_s = if note.beats < 0.5 { 0.016 } else { 0.045 };
                next_s + overlap_s * (1.0 + 0.4 * chance.next())
            }
            _ => written_end_s - 0.05 + 0.015 * chance.next() - 0.05 * note.beats.min(1.0),
        };
        let velocity = (74.0 + 10.0 * chance.next() + 6.0 * note.beats.min(2.0)) as u8;
        events.push((tick(beat_at(onsets_s[place])), 3, vec![0x90, note.key, velocity]));
        events.push((tick(beat_at(end_s)), 1, vec![0x80, note.key, 64]));
    }
    events
}

/// Seconds from the start of the song to a beat.
fn seconds_at(beat: f64) -> f64 {
    let ends = TEMPI.iter().skip(1).map(|(at, _)| *at).chain([f64::INFINITY]);
    let spans = TEMPI.iter().zip(ends);
    spans.map(|((from, bpm), to)| (beat.min(to) - from).max(0.0) * 60.0 / bpm).sum()
}

/// The beat at a time.
fn beat_at(time_s: f64) -> f64 {
    let (from, tempo_bpm) = TEMPI
        .iter()
        .rfind(|(from, _)| seconds_at(*from) <= time_s)
        .expect("the first tempo holds from the start");
    from + (time_s - seconds_at(*from)) * tempo_bpm / 60.0
}

fn tick(beat: f64) -> u64 {
    (beat * f64::from(PPQ)).round() as u64
}

fn meta(kind: u8, data: &[u8]) -> Vec<u8> {
    [&[0xFF, kind, data.len() as u8], data].concat()
}

/// A track chunk of the standard MIDI file: each event after its distance from the last.
fn track(events: &[TakeMessage]) -> Vec<u8> {
    let (mut body, mut last, mut status) = (Vec::new(), 0, 0);
    for (tick, _, bytes) in events {
        let distance = tick - last;
        // Seven bits a byte, the highest first, all but the last marked (SMF 1.0).
        for shift in [21, 14, 7].into_iter().filter(|shift| distance >> shift > 0) {
            body.push((distance >> shift) as u8 | 0x80);
        }
        body.push(distance as u8 & 0x7F);
        // A channel message's status is left out where it repeats the last one.
        let repeats = bytes[0] < 0xF0 && bytes[0] == status;
        body.extend(&bytes[usize::from(repeats)..]);
        (last, status) = (*tick, bytes[0]);
    }
    [b"MTrk".as_slice(), &(body.len() as u32).to_be_bytes(), &body].concat()
}
