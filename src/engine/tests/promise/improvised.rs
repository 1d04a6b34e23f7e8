//! Takes that nobody would write down: notes, a restless hand, pedals, panics, all from one seed.

use polso_engine::patch::Source;
use polso_engine::{Input, Message, Parameter};

use crate::rehearsal::Score;

pub use crate::die::Die;

/// What an improvisation is made of.
#[derive(Clone, Copy)]
pub struct Manner {
    /// Where its gesture comes from.
    pub source: Source,
    /// How long it lasts, seconds.
    pub length_s: f64,
    /// Times fall on this grid, events a second; 0 lets them fall anywhere.
    pub grid_per_s: f64,
    /// Panics, mode messages, CC 121 and resyncs happen too.
    pub is_wild: bool,
}

/// A take from a seed: in order of time, and of those at one time in order of writing.
pub fn improvise(seed: u64, manner: &Manner) -> Score {
    let mut die = Die(seed);
    let mut events = Vec::new();
    notes(&mut die, manner, &mut events);
    hand(&mut die, manner, &mut events);
    rarities(&mut die, manner, &mut events);
    for (seconds, _) in &mut events {
        if manner.grid_per_s > 0.0 {
            *seconds = (*seconds * manner.grid_per_s).round() / manner.grid_per_s;
        }
    }
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    events.into_iter().fold(Score::new(), |score, (seconds, input)| score.at(seconds, input))
}

type Events = Vec<(f64, Input)>;

/// Runs, long notes, overlaps, chords, trills, the same key twice, zero lengths, stray offs.
fn notes(die: &mut Die, manner: &Manner, events: &mut Events) {
    let channels: &[u8] = if die.below(5) == 0 { &[0, 0, 3] } else { &[0] };
    let mut held: Vec<(u8, u8)> = Vec::new();
    let mut key = 69_i32;
    let mut now_s = 0.0;
    let mut tempo_s = 0.2;
    while now_s < manner.length_s {
        if die.below(12) == 0 {
            tempo_s = die.pick(&[0.012, 0.06, 0.11, 0.2, 0.3, 0.6, 1.2]);
        }
        now_s += match die.below(6) {
            0 => 0.0,
            1 => die.between(0.0, 0.03),
            _ => tempo_s * die.between(0.8, 1.2),
        };
        let channel = die.pick(channels);
        match die.below(20) {
            0..=9 => {
                key = match die.below(8) {
                    0 => 62,
                    1 => die.pick(&[69, 76, 55]),
                    2 => held.last().map_or(key, |&(_, key)| i32::from(key)),
                    _ => key + die.below(15) as i32 - 7,
                };
                // Now and then another player's, far below.
                key =
                    if die.below(16) == 0 { 36 + die.below(8) as i32 } else { key.clamp(50, 100) };
                let velocity = 1 + die.below(127) as u8;
                let message = Message::NoteOn { channel, key: key as u8, velocity };
                events.push((now_s, Input::Midi(message)));
                held.push((channel, key as u8));
            }
            10 => off(die.between(now_s, now_s + 0.1), channel, 40 + die.below(60) as u8, events),
            11 => held.drain(..).for_each(|(channel, key)| off(now_s, channel, key, events)),
            _ if held.is_empty() => {}
            12 => {
                let (channel, key) = held.pop().unwrap_or_default();
                off(now_s, channel, key, events);
            }
            _ => {
                let place = die.below(1 + held.len() as u64 / 2) as usize;
                let (channel, key) = held.remove(place.min(held.len() - 1));
                off(now_s, channel, key, events);
            }
        }
    }
}

fn off(now_s: f64, channel: u8, key: u8, events: &mut Events) {
    events.push((now_s, Input::Midi(Message::NoteOff { channel, key, velocity: key % 128 })));
}

/// Swells, leaps, stillness and flutter, polled every 8 ms.
fn hand(die: &mut Die, manner: &Manner, events: &mut Events) {
    let mut now_s = if die.below(4) == 0 { die.between(0.0, 2.0) } else { 0.0 };
    let mut value = die.unit();
    while now_s < manner.length_s {
        let goal = die.pick(&[0.0, 0.0, 0.02, 0.2, 0.5, 0.8, 1.0, 1.0]);
        let goal = if die.below(2) == 0 { die.unit() } else { goal };
        let polls = die.pick(&[1, 2, 10, 40, 120]);
        let from = value;
        for poll in 1..=polls {
            now_s += 0.008;
            value = from + (goal - from) * f64::from(poll) / f64::from(polls);
            push_gesture(die, manner.source, now_s, value, events);
        }
        if die.below(3) == 0 {
            for _ in 0..die.below(8) {
                now_s += die.between(0.01, 0.3);
                push_gesture(die, manner.source, now_s, value + 1.0 / 127.0, events);
                now_s += die.between(0.01, 0.24);
                push_gesture(die, manner.source, now_s, value, events);
            }
        }
        now_s += die.pick(&[0.0, 0.02, 0.1, 0.4, 1.0]) * die.between(0.5, 1.5);
        if die.below(6) == 0 {
            events.push((now_s, Input::Gesture(die.unit())));
        }
    }
}

fn push_gesture(die: &mut Die, source: Source, now_s: f64, value: f64, events: &mut Events) {
    let value = value.clamp(0.0, 1.0);
    let coarse = (value * 127.0).round() as u8;
    let fine = (value * 16_383.0).round() as u16;
    let (high, low) = ((fine >> 7) as u8, (fine & 0x7F) as u8);
    let controller = |number, value| Message::Controller { channel: 0, number, value };
    let message = match source {
        Source::Controller(number) => controller(number, coarse),
        Source::ControllerPair(number) => {
            events.push((now_s, Input::Midi(controller(number, high))));
            controller(number + 32, low)
        }
        Source::ChannelPressure | Source::MpePressure => {
            Message::ChannelPressure { channel: 0, value: coarse }
        }
        Source::PolyPressure => {
            let key = die.pick(&[62, 66, 69, 70, 76]);
            Message::PolyPressure { channel: 0, key, value: coarse }
        }
        Source::PitchBend => Message::PitchBend { channel: 0, value: fine },
        Source::MpeTimbre => controller(74, coarse),
        Source::Parameter => {
            events.push((now_s, Input::Gesture(value)));
            return;
        }
    };
    events.push((now_s, Input::Midi(message)));
}

/// Pedals, the bend wheel, strangers' controllers, the song; panics and mode messages if wild.
fn rarities(die: &mut Die, manner: &Manner, events: &mut Events) {
    let mut now_s = 0.0;
    let mut beat = 0.0;
    let controller = |number, value| Input::Midi(Message::Controller { channel: 0, number, value });
    while now_s < manner.length_s {
        now_s += die.between(0.0, 0.5);
        let value = die.below(128) as u8;
        let input = match die.below(if manner.is_wild { 20 } else { 8 }) {
            0 => controller(64, value),
            1 => controller(64, 0),
            2 => Input::Midi(Message::PitchBend { channel: 0, value: u16::from(value) << 7 }),
            3 => Input::Midi(Message::PitchBend { channel: 0, value: 8192 }),
            4 => controller(die.pick(&[7, 10, 11, 38, 77, 74, 2, 1, 100]), value),
            5 => Input::Midi(Message::Program { channel: 0, program: value }),
            6 => Input::Midi(Message::PolyPressure { channel: 0, key: 69, value }),
            7 => {
                beat += die.between(-0.5, 4.0);
                let tempo_bpm = die.between(40.0, 200.0);
                Input::Song { beat, tempo_bpm, running: die.below(3) > 0 }
            }
            8 => controller(121, 0),
            9 => controller(die.pick(&[120, 123]), 0),
            10 => Input::Panic,
            11 => Input::Resync,
            15 => Input::Bypass(die.below(4) == 0),
            16 => {
                let (beat, tempo_bpm) = (die.between(0.0, 64.0), die.between(40.0, 200.0));
                Input::Locate { beat, tempo_bpm, running: die.below(3) > 0 }
            }
            17 => Input::Thaw,
            18 => {
                let key = 60 + die.below(20) as u8;
                events.push((
                    now_s + 0.3,
                    Input::Live(Message::NoteOff { channel: 0, key, velocity: 9 }),
                ));
                Input::Live(Message::NoteOn { channel: 0, key, velocity: 1 + value / 2 })
            }
            12 | 13 => {
                let knob = die.pick(&Parameter::ALL);
                let (low, neutral, high) = knob.range();
                let between = die.between(low, high);
                Input::Parameter(knob, die.pick(&[low, neutral, high, between, between]))
            }
            _ => Input::Midi(Message::ChannelPressure { channel: 0, value }),
        };
        events.push((now_s, input));
    }
}
