//! A minute of a wheel and of notes, played again and again to see what a tick costs.

use polso::engine::patch::{Patch, Source};
use polso::engine::{Input, Message, Origin, Sink, Timed};
use polso::engine::{LINES_MAX, Section};
use polso::profile;

const RATE_HZ: f64 = 48_000.0;
/// Frames of a block, of a control tick and from one poll of the wheel to the next.
const BLOCK_FRAMES: u64 = 1024;
const TICK_FRAMES: u64 = 48;
const POLL_FRAMES: u64 = 384;
/// A minute.
pub const TICKS: u64 = 60_000;

/// Counts messages and mixes them into one number, in their order (FNV-1a).
pub struct Tally {
    /// Of all messages.
    pub hash: u64,
    /// How many.
    pub count: u64,
}

impl Sink for Tally {
    fn send(&mut self, frame: u32, message: Message, _: Origin) -> bool {
        let (bytes, length) = message.bytes();
        for &byte in frame.to_le_bytes().iter().chain(&bytes[..length]) {
            self.hash = (self.hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3);
        }
        self.count += 1;
        true
    }
}

fn patch(target: &str) -> Patch {
    let instrument = profile::load("erhu").expect("shipped").profile;
    let target = profile::load(target).expect("shipped").profile;
    let hand = profile::hand_for(Source::Controller(1)).expect("shipped").profile;
    profile::patch(&instrument, &target, &hand, 1, 1.0).expect("they go together")
}

/// A minute of events, each at its frame.
pub struct Take {
    events: Vec<(u64, Input)>,
}

impl Take {
    /// A wheel polled every 8 ms that follows `motion`.
    fn new(motion: impl Fn(f64) -> f64) -> Take {
        let mut events = Vec::new();
        let mut last = None;
        for frame in (0..TICKS * TICK_FRAMES).step_by(POLL_FRAMES as usize) {
            let value = (motion(frame as f64 / RATE_HZ) * 127.0).round() as u8;
            if last != Some(value) {
                last = Some(value);
                let message = Message::Controller { channel: 0, number: 1, value };
                events.push((frame, Input::Midi(message)));
            }
        }
        Take { events }
    }

    /// Two notes a second, each overlapping the next, on every line's channel.
    fn with_notes(mut self, line_count: u8) -> Take {
        let keys = [69, 74, 72, 77, 76, 79, 71, 67];
        for channel in 0..line_count {
            for (note, key) in (0..119).zip(keys.into_iter().cycle()) {
                let frame = note * 24_000 + 1000 * u64::from(channel);
                let on = Message::NoteOn { channel, key, velocity: 90 };
                let off = Message::NoteOff { channel, key, velocity: 64 };
                self.events.push((frame, Input::Midi(on)));
                self.events.push((frame + 25_000, Input::Midi(off)));
            }
        }
        self.events.sort_by_key(|(frame, _)| *frame);
        self
    }

    /// Plays the minute once.
    pub fn play(&self, engine: &mut Section) -> Tally {
        let mut tally = Tally { hash: 0xCBF2_9CE4_8422_2325, count: 0 };
        let mut input = Vec::with_capacity(64);
        let mut events = self.events.iter().peekable();
        let mut block_frame = 0;
        let end = TICKS * TICK_FRAMES;
        while block_frame < end {
            let frames = BLOCK_FRAMES.min(end - block_frame);
            input.clear();
            while let Some((frame, event)) =
                events.next_if(|(frame, _)| *frame < block_frame + frames)
            {
                let frame = (frame - block_frame) as u32;
                input.push(Timed { frame, tag: 0, input: *event });
            }
            engine.process(frames as u32, &input, &mut tally);
            block_frame += frames;
        }
        tally
    }
}

/// A take, the engine that plays it, and the hash of its answer.
pub struct Case {
    /// What moves, and who swings.
    pub name: &'static str,
    /// What is played.
    pub take: Take,
    /// The engine, fresh.
    pub engine: Section,
    /// The answer of this revision.
    pub hash: u64,
}

impl Case {
    fn new(name: &'static str, take: Take, target: &str, hash: u64) -> Case {
        Case { name, take, engine: Section::prepare(RATE_HZ, &patch(target)), hash }
    }

    /// The same with as many lines as a section has, all of them playing.
    fn with_eight_lines(name: &'static str, take: Take, target: &str, hash: u64) -> Case {
        let engine = Section::with_lines(RATE_HZ, &patch(target), LINES_MAX);
        Case { name, take, engine, hash }
    }
}

/// The hand moves, is held or has nothing to play; the vibrato is performed or driven.
pub fn cases() -> [Case; 6] {
    let moving = || Take::new(|seconds| 0.5 - 0.5 * libm::cos(seconds * 1.7));
    let held = || Take::new(|_| 0.6).with_notes(1);
    [
        Case::new("moving, performed", moving().with_notes(1), "perform", 0x5CC1_2CF5_E4B2_A66A),
        Case::new("moving, driven", moving().with_notes(1), "generic", 0x2BAB_AB43_C90D_ED12),
        Case::new("held, performed", held(), "perform", 0x6CEC_722B_4A3F_D411),
        Case::new("held, driven", held(), "generic", 0x58AE_070B_BDAD_5587),
        Case::with_eight_lines(
            "eight lines",
            moving().with_notes(8),
            "perform",
            0x593B_22CB_FDAF_AFF9,
        ),
        Case::new("idle", Take::new(|_| 0.6), "perform", 0xE715_DD4B_9112_8935),
    ]
}
