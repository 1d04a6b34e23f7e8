//! What a voice costs: how many times faster than it sounds, and how much of a core in blocks of 64.

use std::hint::black_box;

use polso::engine::patch::Source;
use polso::engine::{Input, Message, Section, Timed};
use polso::profile::{self, Instrument, Target};
use polso_voice::{LineVoice, NoteEvents, Stage, Timbre, VoiceSetup};

const RATE_HZ: u32 = 48_000;
const SECONDS: u32 = 60;
/// A live host's block.
const BLOCK_FRAMES: usize = 64;
/// The promises: times real time for one voice, and a live voice's share of a core.
const TIMES_MIN: f64 = 200.0;
const SHARE_MAX: f64 = 0.15;

/// An instrument and its lowest comfortable key, which has the most partials.
const CASES: [(&str, u8); 6] =
    [("double-bass", 28), ("cello", 36), ("violin", 55), ("erhu", 62), ("oboe", 58), ("flute", 60)];

struct LiveLine {
    section: Section,
    voice: LineVoice,
    stage: Box<Stage>,
    events: NoteEvents,
    tick: u32,
}

impl LiveLine {
    fn new(id: &str, has_room: bool) -> LiveLine {
        let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
        let target = profile::load::<Target>("perform").expect("a target").profile;
        let hand = profile::hand_for(Source::Controller(1)).expect("a hand").profile;
        let patch = profile::patch(&instrument, &target, &hand, 1, 1.0).expect("a patch");
        let (timbre, rate_hz) = (Timbre::of(id, true, 60), f64::from(RATE_HZ));
        LiveLine {
            section: Section::prepare(rate_hz, &patch),
            voice: LineVoice::new(&VoiceSetup { timbre, rate_hz, channel: 0, has_noise: true }),
            stage: Box::new(Stage::new(rate_hz, 1, has_room)),
            events: NoteEvents::NONE,
            tick: 0,
        }
    }

    /// The next millisecond of a line whose wheel never rests, with a note every half second.
    fn tick(&mut self, key: u8, out: &mut [[f32; 2]]) {
        let midi = |message| Timed { frame: 0, tag: 0, input: Input::Midi(message) };
        let mut input = Vec::new();
        if self.tick.is_multiple_of(8) {
            let value = 40 + (self.tick / 8 % 80) as u8;
            input.push(midi(Message::Controller { channel: 0, number: 1, value }));
        }
        if self.tick.is_multiple_of(500) {
            let note = (self.tick / 500) as u8 % 4;
            let before = key + (note + 3) % 4;
            input.push(midi(Message::NoteOn { channel: 0, key: key + note, velocity: 80 }));
            input.push(midi(Message::NoteOff { channel: 0, key: before, velocity: 64 }));
        }
        self.tick += 1;
        self.events.clear();
        self.section.process(RATE_HZ / 1000, &input, &mut self.events);
        let mut samples = [0.0; 48];
        self.voice.tick(&self.section.view(), &self.events, &mut samples);
        self.stage.hear(0, &samples);
        self.stage.take(out);
    }
}

/// Seconds that this thread has had the processor: what others do meanwhile is not counted.
#[cfg(target_os = "linux")]
fn processor_s() -> f64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    time.tv_sec as f64 + 1e-9 * time.tv_nsec as f64
}

/// Seconds of the clock.
#[cfg(not(target_os = "linux"))]
fn processor_s() -> f64 {
    static START: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
    START.get_or_init(std::time::Instant::now).elapsed().as_secs_f64()
}

/// Seconds of processor for each second of sound.
fn cost(id: &str, key: u8, has_room: bool) -> f64 {
    let mut line = LiveLine::new(id, has_room);
    let mut out = [[0.0; 2]; 48];
    let start_s = processor_s();
    for _ in 0..1000 * SECONDS {
        line.tick(key, &mut out);
        black_box(&out);
    }
    (processor_s() - start_s) / f64::from(SECONDS)
}

/// What each block of 64 frames takes, sorted, seconds.
fn blocks(id: &str, key: u8) -> Vec<f64> {
    let mut line = LiveLine::new(id, true);
    let (mut ready, mut times) = (0, Vec::new());
    for _ in 0..SECONDS * RATE_HZ / BLOCK_FRAMES as u32 {
        let start_s = processor_s();
        // A block needs one millisecond, or two.
        while ready < BLOCK_FRAMES {
            let mut out = [[0.0; 2]; 48];
            line.tick(key, &mut out);
            black_box(&out);
            ready += out.len();
        }
        ready -= BLOCK_FRAMES;
        times.push(processor_s() - start_s);
    }
    times.sort_by(f64::total_cmp);
    times
}

fn main() {
    let block_s = BLOCK_FRAMES as f64 / f64::from(RATE_HZ);
    println!(
        "| voice | times real time, dry | with the room | of a core live | p99.9 of a block |"
    );
    println!("| --- | --- | --- | --- | --- |");
    let mut slow = Vec::new();
    for (id, key) in CASES {
        let (dry, wet) = (cost(id, key, false), cost(id, key, true));
        let times = blocks(id, key);
        let share = times.iter().sum::<f64>() / times.len() as f64 / block_s;
        let late = times[(0.999 * times.len() as f64) as usize] / block_s;
        println!(
            "| {id}, key {key} | {:.0} | {:.0} | {:.1} % | {:.1} % |",
            1.0 / dry,
            1.0 / wet,
            100.0 * share,
            100.0 * late
        );
        if 1.0 / dry < TIMES_MIN || share > SHARE_MAX {
            slow.push(id);
        }
    }
    assert!(slow.is_empty(), "slower than {TIMES_MIN} times real time: {slow:?}");
}
