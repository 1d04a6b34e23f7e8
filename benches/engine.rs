//! How many nanoseconds the line costs at each control tick. The answer is checked before it is
//! timed.

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use polso::engine::event::{Input, Message, Origin, Sink, Timed};
use polso::engine::patch::{Patch, Source};
use polso::engine::{Engine, REVISION};
use polso::profile;

const RATE_HZ: f64 = 48_000.0;
/// Frames of a block, of a control tick and from one poll of the wheel to the next.
const BLOCK_FRAMES: u64 = 1024;
const TICK_FRAMES: u64 = 48;
const POLL_FRAMES: u64 = 384;
/// A minute.
const TICKS: u64 = 60_000;

/// Counts messages and mixes them into one number, in their order (FNV-1a).
struct Tally {
    hash: u64,
    count: u64,
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
struct Take {
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

    /// Two notes a second, each overlapping the next.
    fn with_notes(mut self) -> Take {
        let keys = [69, 74, 72, 77, 76, 79, 71, 67];
        for (note, key) in (0..119).zip(keys.into_iter().cycle()) {
            let frame = note * 24_000;
            let on = Message::NoteOn { channel: 0, key, velocity: 90 };
            let off = Message::NoteOff { channel: 0, key, velocity: 64 };
            self.events.push((frame, Input::Midi(on)));
            self.events.push((frame + 25_000, Input::Midi(off)));
        }
        self.events.sort_by_key(|(frame, _)| *frame);
        self
    }

    fn play(&self, engine: &mut Engine) -> Tally {
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

fn ticks(criterion: &mut Criterion) {
    let swell = |seconds: f64| 0.5 - 0.5 * libm::cos(seconds * 1.7);
    let held = |_| 0.6;
    let cases = [
        (
            "moving gesture, performed vibrato",
            Take::new(swell).with_notes(),
            "perform",
            0x428A_D4AE_A1D0_6DDE,
        ),
        (
            "moving gesture, driven vibrato",
            Take::new(swell).with_notes(),
            "generic",
            0x0D53_7359_47A0_415D,
        ),
        (
            "held gesture, performed vibrato",
            Take::new(held).with_notes(),
            "perform",
            0x7139_A3BB_FFFC_500A,
        ),
        (
            "held gesture, driven vibrato",
            Take::new(held).with_notes(),
            "generic",
            0xA895_6D69_FD92_0848,
        ),
        ("idle", Take::new(held), "perform", 0x858B_A0F9_DE2B_ED66),
    ];
    let mut group = criterion.benchmark_group("tick");
    group.throughput(Throughput::Elements(TICKS));
    group.sample_size(20).measurement_time(Duration::from_secs(3));
    let mut changed = Vec::new();
    for (name, take, target, hash) in cases {
        let fresh = Engine::prepare(RATE_HZ, &patch(target));
        let found = take.play(&mut fresh.clone()).hash;
        if found != hash {
            changed.push(format!("{name}: {found:#018X}"));
        }
        group.bench_function(name, |bencher| {
            bencher.iter(|| black_box(take.play(&mut fresh.clone()).count));
        });
    }
    group.finish();
    assert!(changed.is_empty(), "not the answers of revision {REVISION}: {changed:#?}");
}

criterion_group!(benches, ticks);
criterion_main!(benches);
