//! Streams of events that nobody would play: whatever comes in, what goes out keeps its promises.

use std::sync::OnceLock;

use polso::engine::patch::Patch;
use polso::engine::{Input, Message, Origin, Parameter};
use polso::engine::{LegatoWish, Mode, NoteWish, Wish};
use polso::engine::{Section, View};

use crate::draw::Draw;
use crate::receivers;
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, perform_on};

/// A stream is at most this long, and is listened to for this much longer.
const LENGTH_S_MAX: f64 = 12.0;
const AFTER_S: f64 = 1.5;

/// A patch, what it is played and in which blocks.
pub struct Stream {
    pub name: &'static str,
    pub patch: Patch,
    pub score: Score,
    pub blocks: Vec<u32>,
    pub end_s: f64,
}

fn patches() -> &'static [(&'static str, Patch)] {
    static PATCHES: OnceLock<Vec<(&'static str, Patch)>> = OnceLock::new();
    PATCHES.get_or_init(receivers::all)
}

/// Grows a stream out of bytes.
pub fn grow(bytes: &[u8]) -> Stream {
    let mut draw = Draw::new(bytes);
    let (name, patch) = draw.pick(patches());
    let block = |draw: &mut Draw| draw.pick(&[64, 1, 47, 48, 49, 512, 1024, 4800]);
    let blocks = vec![block(&mut draw), block(&mut draw), block(&mut draw)];
    let mut score = Score::new();
    let mut now_s = 0.0;
    while !draw.is_empty() && now_s < LENGTH_S_MAX {
        now_s += match draw.below(12) {
            0..=2 => 0.0,
            3 => 1.0 / RATE_HZ,
            4 => 0.001,
            5 => draw.between(0.0, 0.03),
            6..=8 => draw.between(0.0, 0.3),
            9 => 0.025,
            10 => 0.12,
            _ => draw.between(0.0, 2.0),
        };
        score = score.at(now_s, input(&mut draw));
    }
    Stream { name, patch, score, blocks, end_s: now_s + AFTER_S }
}

fn input(draw: &mut Draw) -> Input {
    match draw.below(32) {
        0..=25 => Input::Midi(message(draw)),
        26 => Input::Live(message(draw)),
        27 => Input::Gesture(draw.unit()),
        28 => {
            let knob = draw.pick(&Parameter::ALL);
            let (low, neutral, high) = knob.range();
            let between = draw.between(low, high);
            Input::Parameter(knob, draw.pick(&[neutral, low, high, between]))
        }
        29 => {
            let (beat, tempo_bpm) = (draw.between(0.0, 64.0), draw.between(20.0, 300.0));
            let running = draw.one_in(2);
            match draw.one_in(2) {
                true => Input::Locate { beat, tempo_bpm, running },
                false => Input::Song { beat, tempo_bpm, running },
            }
        }
        30 => Input::Wish(Wish { channel: 0, asked: note_wish(draw), key: key(draw) }),
        _ => match draw.below(5) {
            0 => Input::Panic,
            1 => Input::Resync,
            2 => Input::Thaw,
            place => Input::Bypass(place == 3),
        },
    }
}

/// A key in the middle of every instrument, an open string, a keyswitch, or any.
fn key(draw: &mut Draw) -> u8 {
    match draw.below(8) {
        0..=4 => 60 + draw.byte() % 16,
        5 => draw.pick(&[62, 55, 69, 76]),
        6 => draw.pick(&[24, 25, 26, 28]),
        _ => draw.byte() & 0x7F,
    }
}

fn message(draw: &mut Draw) -> Message {
    let kind = draw.below(16);
    let channel = if draw.one_in(12) { draw.byte() & 0x0F } else { 0 };
    match kind {
        0..=4 => Message::NoteOn { channel, key: key(draw), velocity: 1 + draw.byte() % 127 },
        5..=8 => Message::NoteOff { channel, key: key(draw), velocity: draw.byte() & 0x7F },
        9..=11 => {
            let number = draw.pick(&[1, 2, 33, 1, 74]);
            Message::Controller { channel, number, value: draw.byte() & 0x7F }
        }
        12 => {
            let number = draw.pick(&[64, 121, 123, 120, 7, 11, 0, 32, 66, 101, 100, 6, 38]);
            Message::Controller { channel, number, value: draw.byte() & 0x7F }
        }
        13 => {
            let value = draw.pair() & 0x3FFF;
            Message::PitchBend { channel, value: draw.pick(&[8192, value, 0, 16_383]) }
        }
        14 => match draw.one_in(2) {
            true => Message::PolyPressure { channel, key: key(draw), value: draw.byte() & 0x7F },
            false => Message::ChannelPressure { channel, value: draw.byte() & 0x7F },
        },
        _ => match draw.one_in(3) {
            true => Message::Program { channel, program: draw.byte() & 0x7F },
            false => {
                let (number, value) = (draw.byte() & 0x7F, draw.byte() & 0x7F);
                Message::Controller { channel, number, value }
            }
        },
    }
}

/// Plays a stream and says which promise is broken, if one is.
pub fn check(bytes: &[u8]) -> Result<(), String> {
    let stream = grow(bytes);
    let (sent, view) = played(&stream, &stream.blocks);
    alternate(&sent)?;
    sane(&sent, &view)?;
    let (again, _) = played(&stream, &[256]);
    if sent == again {
        return Ok(());
    }
    let place = sent.iter().zip(&again).position(|(one, other)| one != other);
    let place = place.unwrap_or(sent.len().min(again.len()));
    Err(format!(
        "{}: in blocks of {:?} message {place} is {:?}, in blocks of 256 {:?}",
        stream.name,
        stream.blocks,
        sent.get(place),
        again.get(place)
    ))
}

fn played(stream: &Stream, blocks: &[u32]) -> (Vec<Sent>, View) {
    let mut engine = Section::prepare(RATE_HZ, &stream.patch);
    let mut sent = perform_on(&mut engine, RATE_HZ, blocks, &stream.score, stream.end_s);
    let view = engine.view();
    let block_frame = (stream.end_s * RATE_HZ).round() as u64;
    let mut tape = Tape { block_frame, ..Tape::default() };
    engine.finish(&mut tape);
    sent.append(&mut tape.sent);
    (sent, view)
}

/// On and off alternate for each key and channel, and the last is an off.
pub fn alternate(sent: &[Sent]) -> Result<(), String> {
    let mut is_down = [[false; 128]; 16];
    for (place, sent) in sent.iter().enumerate() {
        let (channel, key, strikes) = match sent.message {
            Message::NoteOn { channel, key, .. } => (channel, key, true),
            Message::NoteOff { channel, key, .. } => (channel, key, false),
            _ => continue,
        };
        let is_down = &mut is_down[usize::from(channel)][usize::from(key)];
        if *is_down == strikes {
            let word = if strikes { "down" } else { "up" };
            return Err(format!("message {place}: key {key} of {channel} is {word} already"));
        }
        *is_down = strikes;
    }
    let stays = |channel: usize| is_down[channel].iter().position(|is_down| *is_down);
    let stays = (0..16).find_map(|channel| Some((channel, stays(channel)?)));
    stays.map_or(Ok(()), |(channel, key)| Err(format!("key {key} of {channel} stays down")))
}

/// Every message has its frames in order and its data in seven bits, and the view is a line's.
fn sane(sent: &[Sent], view: &View) -> Result<(), String> {
    if !sent.is_sorted_by_key(|sent| sent.frame) {
        return Err("the messages are not in order".to_owned());
    }
    let has_data = |sent: &&Sent| {
        let (bytes, count) = sent.message.bytes();
        let is_whole = bytes[1..count].iter().all(|byte| *byte < 0x80);
        !is_whole || matches!(sent.message, Message::PitchBend { value, .. } if value > 16_383)
    };
    if let Some(sent) = sent.iter().find(has_data) {
        return Err(format!("{:?} is no message", sent.message));
    }
    if sent.iter().any(|sent| sent.origin == Origin::Note(u32::MAX)) {
        return Err("a note of nobody".to_owned());
    }
    let View { gesture, dynamics, expression, width_cents, rate_hz, pitch_cents, .. } = *view;
    let sum: f64 = view.weights.iter().sum();
    let shares = [gesture, dynamics, expression].iter().all(|share| (0.0..=1.0).contains(share));
    let vibrato = (0.0..=1600.0).contains(&width_cents) && (0.5..=20.0).contains(&rate_hz);
    let is_line = shares && vibrato && pitch_cents.abs() <= 1600.0 && (sum - 1.0).abs() < 1e-9;
    is_line.then_some(()).ok_or_else(|| format!("{view:?} is no line"))
}

fn note_wish(draw: &mut Draw) -> NoteWish {
    NoteWish {
        style: draw.one_in(2).then(|| draw.byte() % 5),
        is_still: draw.one_in(4),
        is_open: draw.one_in(4),
        legato: draw.one_in(2).then(|| match draw.one_in(2) {
            true => LegatoWish::NoSlide,
            false => LegatoWish::Mode(Mode::ALL[usize::from(draw.byte()) % Mode::ALL.len()]),
        }),
    }
}
