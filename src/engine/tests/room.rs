//! A rehearsal room for the tests: an instrument, a receiver, a hand, what is played, what is heard.
#![allow(dead_code, reason = "each test file uses its own part of the room")]

use polso_engine::patch::{Address, OutputPatch, Patch, Reading, VoiceKind, VoicesPatch};
use polso_engine::{Input, Layer, Message, Origin, Sink, Timed};
use polso_engine::{Section, View};

/// The sample rate of most rehearsals.
pub const RATE_HZ: f64 = 48_000.0;

/// An output over the whole range of its address, at rest at 0, as often as every millisecond and
/// exact to the step.
pub fn output(layer: Layer, address: Address, low: f64, high: f64) -> OutputPatch {
    OutputPatch {
        layer,
        address,
        min: 0,
        max: address.raw_max(),
        is_inverted: false,
        low,
        high,
        reading: Reading::Straight,
        rest: 0,
        interval_s: 0.001,
        error_bound: 0.5,
        priority: 0,
    }
}

/// The patch whose notes are shared out to several voices, all on one channel.
pub fn in_voices(mut patch: Patch, kind: VoiceKind, count: usize) -> Patch {
    patch.voices = VoicesPatch { kind, count, ..VoicesPatch::LINE };
    patch
}

/// The same with a channel for each voice, from channel 3 on.
pub fn on_channels(mut patch: Patch) -> Patch {
    patch.voices.channels = core::array::from_fn(|place| 2 + place as u8);
    patch.voices.has_channels = true;
    patch
}

/// What came out: where, what, and because of what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sent {
    /// Frames since the start.
    pub frame: u64,
    /// The message.
    pub message: Message,
    /// Why.
    pub origin: Origin,
}

/// Keeps what comes out.
#[derive(Default)]
pub struct Tape {
    /// First frame of the present block.
    pub block_frame: u64,
    /// All of it.
    pub sent: Vec<Sent>,
}

impl Sink for Tape {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        let frame = self.block_frame + u64::from(frame);
        self.sent.push(Sent { frame, message, origin });
        true
    }
}

/// What is played: seconds and events, in any order.
#[derive(Clone, Debug, Default)]
pub struct Score {
    events: Vec<(f64, Input)>,
}

impl Score {
    /// Nothing yet.
    pub fn new() -> Score {
        Score::default()
    }

    /// Any event.
    pub fn at(mut self, seconds: f64, input: Input) -> Score {
        self.events.push((seconds, input));
        self
    }

    /// Any message.
    pub fn message(self, seconds: f64, message: Message) -> Score {
        self.at(seconds, Input::Midi(message))
    }

    /// A note on channel 1 of velocity 64 (which carries no accent).
    pub fn note(self, on_s: f64, off_s: f64, key: u8) -> Score {
        self.on(on_s, key).off(off_s, key)
    }

    /// A key goes down.
    pub fn on(self, seconds: f64, key: u8) -> Score {
        self.message(seconds, Message::NoteOn { channel: 0, key, velocity: 64 })
    }

    /// A key comes up.
    pub fn off(self, seconds: f64, key: u8) -> Score {
        self.message(seconds, Message::NoteOff { channel: 0, key, velocity: 64 })
    }

    /// A controller moves.
    pub fn controller(self, seconds: f64, number: u8, value: u8) -> Score {
        self.message(seconds, Message::Controller { channel: 0, number, value })
    }

    /// The wheel moves.
    pub fn wheel(self, seconds: f64, value: u8) -> Score {
        self.controller(seconds, 1, value)
    }

    /// The automated gesture, which does not step.
    pub fn gesture(self, seconds: f64, value: f64) -> Score {
        self.at(seconds, Input::Gesture(value))
    }

    /// The wheel follows a motion (0..=1 over seconds), polled every 8 ms, seven bits.
    pub fn wheel_follows(mut self, from_s: f64, to_s: f64, motion: impl Fn(f64) -> f64) -> Score {
        let mut last = None;
        for poll in 0..=((to_s - from_s) / 0.008) as u32 {
            let seconds = from_s + 0.008 * f64::from(poll);
            let value = (motion(seconds) * 127.0).round() as u8;
            if last != Some(value) {
                last = Some(value);
                self = self.wheel(seconds, value);
            }
        }
        self
    }

    /// The same, `times` as slow.
    pub fn stretched(mut self, times: f64) -> Score {
        self.events.iter_mut().for_each(|(seconds, _)| *seconds *= times);
        self
    }

    /// The events in order of frames.
    pub fn timed(&self, rate_hz: f64) -> Vec<(u64, Timed)> {
        let place = |(tag, &(seconds, input)): (usize, &(f64, Input))| {
            let frame = (seconds * rate_hz).round() as u64;
            (frame, Timed { frame: 0, tag: tag as u32, input })
        };
        let mut events: Vec<_> = self.events.iter().enumerate().map(place).collect();
        events.sort_by_key(|(frame, _)| *frame);
        events
    }
}

/// Plays a score in blocks of the given lengths (repeated) until `end_s`.
pub fn perform(
    patch: &Patch,
    rate_hz: f64,
    blocks: &[u32],
    score: &Score,
    end_s: f64,
) -> Vec<Sent> {
    let mut engine = Section::prepare(rate_hz, patch);
    perform_on(&mut engine, rate_hz, blocks, score, end_s)
}

/// The same on an engine that may have played before.
pub fn perform_on(
    engine: &mut Section,
    rate_hz: f64,
    blocks: &[u32],
    score: &Score,
    end_s: f64,
) -> Vec<Sent> {
    let events = score.timed(rate_hz);
    let end_frame = (end_s * rate_hz).round() as u64;
    let mut tape = Tape::default();
    let mut next = 0;
    let mut lengths = blocks.iter().copied().cycle();
    while tape.block_frame < end_frame {
        let length = lengths.next().expect("a block length");
        let length = u64::from(length).min(end_frame - tape.block_frame) as u32;
        let block_end = tape.block_frame + u64::from(length);
        let count = events[next..].iter().take_while(|(frame, _)| *frame < block_end).count();
        let input: Vec<Timed> = events[next..next + count]
            .iter()
            .map(|(frame, timed)| Timed { frame: (frame - tape.block_frame) as u32, ..*timed })
            .collect();
        next += count;
        engine.process(length, &input, &mut tape);
        tape.block_frame = block_end;
    }
    tape.sent
}

/// The view at every control tick (index is milliseconds), and what came out.
pub fn watch(patch: &Patch, score: &Score, end_s: f64) -> (Vec<View>, Vec<Sent>) {
    watch_on(&mut Section::prepare(RATE_HZ, patch), score, end_s)
}

/// The same on an engine that knows something already.
pub fn watch_on(engine: &mut Section, score: &Score, end_s: f64) -> (Vec<View>, Vec<Sent>) {
    let events = score.timed(RATE_HZ);
    let mut tape = Tape::default();
    let mut views = Vec::new();
    let mut next = 0;
    // A block a tick: it begins one frame after a tick and ends with the next.
    let mut lengths = std::iter::once(1).chain(std::iter::repeat(48));
    for _ in 0..=(end_s * 1000.0).round() as usize {
        let length = lengths.next().expect("endless");
        let block_end = tape.block_frame + u64::from(length);
        let mut input = Vec::new();
        while next < events.len() && events[next].0 < block_end {
            let frame = (events[next].0 - tape.block_frame) as u32;
            input.push(Timed { frame, ..events[next].1 });
            next += 1;
        }
        engine.process(length, &input, &mut tape);
        tape.block_frame = block_end;
        views.push(engine.view());
    }
    (views, tape.sent)
}

/// The messages alone, with their seconds.
pub fn seconds(sent: &[Sent], rate_hz: f64) -> Vec<(f64, Message)> {
    sent.iter().map(|sent| (sent.frame as f64 / rate_hz, sent.message)).collect()
}
