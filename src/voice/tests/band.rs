//! A section, its lines' voices and a stage, for the tests.
#![allow(dead_code, reason = "each test file uses its own part")]

use polso_engine::patch::Patch;
use polso_engine::{Section, Timed};
use polso_voice::{LineVoice, NoteEvents, Stage, Timbre, VoiceSetup};

use crate::room::{RATE_HZ, Score};

/// The ids of all shipped instruments, whether they are bowed, and a key in the middle of each.
pub const INSTRUMENTS: [(&str, bool, u8); 19] = [
    ("erhu", true, 74),
    ("violin", true, 71),
    ("gaohu", true, 78),
    ("zhonghu", true, 67),
    ("morin-khuur", true, 55),
    ("morin-khuur-high", true, 66),
    ("viola", true, 63),
    ("cello", true, 52),
    ("double-bass", true, 40),
    ("dizi-d", false, 80),
    ("dizi-g", false, 85),
    ("dizi-c", false, 78),
    ("xiao", false, 71),
    ("hulusi", false, 74),
    ("suona-d", false, 80),
    ("flute", false, 76),
    ("oboe", false, 70),
    ("clarinet", false, 62),
    ("trumpet", false, 66),
];

/// The sound of an instrument.
pub fn timbre(id: &str) -> &'static Timbre {
    Timbre::of(id, true, 60)
}

/// How a band sounds.
#[derive(Clone, Copy)]
pub struct Sound {
    pub timbre: &'static Timbre,
    pub rate_hz: f64,
    pub has_room: bool,
    pub has_noise: bool,
}

impl Sound {
    /// Dry and without noise.
    pub fn bare(id: &str) -> Sound {
        Sound { timbre: timbre(id), rate_hz: RATE_HZ, has_room: false, has_noise: false }
    }

    /// As it is heard.
    pub fn whole(id: &str) -> Sound {
        Sound { has_room: true, has_noise: true, ..Sound::bare(id) }
    }
}

/// A section and what it sounds like.
pub struct Band {
    section: Section,
    voices: Vec<LineVoice>,
    stage: Box<Stage>,
    events: NoteEvents,
    rate_hz: f64,
    tick: u64,
    samples: [f64; 192],
}

impl Band {
    pub fn new(patch: &Patch, line_count: usize, sound: Sound) -> Band {
        let Sound { timbre, rate_hz, has_noise, has_room } = sound;
        let voice = |line: usize| {
            let channel = patch.home_channel + line as u8;
            LineVoice::new(&VoiceSetup { timbre, rate_hz, channel, has_noise })
        };
        Band {
            section: Section::with_lines(RATE_HZ, patch, line_count),
            voices: (0..line_count).map(voice).collect(),
            stage: Box::new(Stage::new(rate_hz, line_count, has_room)),
            events: NoteEvents::NONE,
            rate_hz,
            tick: 0,
            samples: [0.0; 192],
        }
    }

    /// Samples of the next millisecond.
    pub fn next_count(&self) -> usize {
        let end = |tick: u64| (tick as f64 * self.rate_hz / 1000.0).floor() as usize;
        end(self.tick + 1) - end(self.tick)
    }

    /// Plays a millisecond of 48 frames.
    pub fn tick(&mut self, input: &[Timed], out: &mut [[f32; 2]]) {
        self.events.clear();
        self.section.process((RATE_HZ / 1000.0) as u32, input, &mut self.events);
        self.tick += 1;
        for (line, voice) in self.voices.iter_mut().enumerate() {
            let samples = &mut self.samples[..out.len()];
            samples.fill(0.0);
            voice.tick(&self.section.view_of(line), &self.events, samples);
            self.stage.hear(line, samples);
        }
        self.stage.take(out);
    }

    pub fn is_silent(&self) -> bool {
        self.stage.is_silent() && self.voices.iter().all(LineVoice::is_silent)
    }

    /// Plays a score up to `end_s`; both channels.
    pub fn play(&mut self, score: &Score, end_s: f64) -> [Vec<f64>; 2] {
        let blocks = blocks(score, end_s);
        let mut sides = [Vec::new(), Vec::new()];
        for input in &blocks {
            let mut out = [[0.0; 2]; 192];
            let out = &mut out[..self.next_count()];
            self.tick(input, out);
            for frame in &*out {
                sides[0].push(f64::from(frame[0]));
                sides[1].push(f64::from(frame[1]));
            }
        }
        sides
    }
}

/// A score's events by milliseconds.
pub fn blocks(score: &Score, end_s: f64) -> Vec<Vec<Timed>> {
    let mut blocks = vec![Vec::new(); (end_s * 1000.0) as usize];
    for (frame, timed) in score.timed(RATE_HZ) {
        if let Some(block) = blocks.get_mut((frame / 48) as usize) {
            block.push(Timed { frame: (frame % 48) as u32, ..timed });
        }
    }
    blocks
}
