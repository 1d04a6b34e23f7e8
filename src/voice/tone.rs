//! One sounding tone: its phase, pitch and strengths on the way through a tick.

use polso_engine::math::fast_math::amplitude;

use crate::TICK_SAMPLES_MAX;
use crate::envelope::Envelope;
use crate::partials::{Run, Spectrum, Strengths, sum};

/// A level this low, decibels, is nothing.
const NOTHING_DB: f64 = -119.9;
/// What power 1 at 0 dB comes out as, so that peaks stay below full: −20 dB.
pub const FULL: f64 = 0.1;
/// What is left of the brightness where a tone has no height yet or no longer.
const DULL_SHARE: f64 = 0.55;

/// What a tone is to reach at the end of a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal {
    /// Pitch, semitones; 69 is 440 Hz.
    pub semitones: f64,
    /// Level, decibels under full.
    pub level_db: f64,
    /// Brightness, 0..=1.
    pub brightness: f64,
}

/// A tone.
#[derive(Clone, Copy, Debug)]
pub struct Tone {
    /// The key that it is held by.
    pub key: u8,
    /// Since when, in ticks.
    pub begun: u64,
    pub envelope: Envelope,
    /// What it reached last; a tone that nobody leads any more stays there.
    pub goal: Goal,
    /// Nobody has heard it yet: it begins at its pitch.
    is_new: bool,
    turn: f64,
    /// Turns a sample.
    step: f64,
    level: f64,
    strengths: Strengths,
}

/// One tick of a tone: what is the same for all samples of it.
pub struct Tick<'a> {
    pub spectrum: &'a Spectrum,
    pub rate_hz: f64,
    /// What the envelope says, 0..=1, and the height without dips.
    pub envelope: f64,
}

impl Tone {
    pub const SILENT: Tone = Tone {
        key: 0,
        begun: 0,
        envelope: Envelope::CLOSED,
        goal: Goal { semitones: 69.0, level_db: NOTHING_DB, brightness: 0.0 },
        is_new: true,
        turn: 0.0,
        step: 0.0,
        level: 0.0,
        strengths: Strengths::NONE,
    };

    /// A fresh note. If the tone still sounds, it goes on from there.
    pub fn begin(&mut self, key: u8, tick: u64) {
        self.key = key;
        self.begun = tick;
        self.envelope.open();
        self.is_new = true;
    }

    /// Neither heard nor about to be.
    pub fn is_silent(&self) -> bool {
        self.level == 0.0 && !self.envelope.is_open() && self.envelope.height() == 0.0
    }

    /// The amplitude reached, 0..=1 of full.
    pub fn level(&self) -> f64 {
        self.level
    }

    /// Where in its period it is, 0..1.
    pub fn turn(&self) -> f64 {
        self.turn
    }

    /// Turns a sample.
    pub fn step(&self) -> f64 {
        self.step
    }

    /// Adds the samples up to `goal`.
    pub fn render(&mut self, tick: &Tick<'_>, goal: Goal, out: &mut [f64]) {
        self.goal = goal;
        let level_db = goal.level_db.min(0.0);
        let level = if level_db > NOTHING_DB { amplitude(level_db) * tick.envelope } else { 0.0 };
        let hz = 440.0 * libm::exp2((goal.semitones.clamp(0.0, 140.0) - 69.0) / 12.0);
        let step = hz / tick.rate_hz;
        if self.is_new {
            self.is_new = false;
            self.step = step;
        }
        if self.level == 0.0 && level == 0.0 {
            // Its phase goes on, so that it comes back as if it had been there.
            self.turn = wrapped(self.turn + 0.5 * (self.step + step) * out.len() as f64);
            self.step = step;
            return;
        }
        let height = self.envelope.height();
        let dull = DULL_SHARE + (1.0 - DULL_SHARE) * height;
        let mut strengths = self.strengths;
        let brightness = goal.brightness.clamp(0.0, 1.0) * dull;
        tick.spectrum.strengths((hz, brightness), height, &mut strengths);
        if self.level == 0.0 {
            self.strengths = strengths;
        }
        self.add(step, level, &strengths, out);
        self.level = level;
        self.strengths = strengths;
    }

    fn add(&mut self, step: f64, level: f64, strengths: &Strengths, out: &mut [f64]) {
        let (mut turns, mut shares) = ([0.0; TICK_SAMPLES_MAX], [0.0; TICK_SAMPLES_MAX]);
        let mut wave = [0.0; TICK_SAMPLES_MAX];
        let count = out.len();
        let each = 1.0 / count as f64;
        for place in 0..count {
            let share = (place + 1) as f64 * each;
            self.turn = wrapped(self.turn + self.step + (step - self.step) * share);
            turns[place] = self.turn;
            shares[place] = share;
        }
        self.step = step;
        let run = Run { turns: &turns[..count], shares: &shares[..count] };
        sum(&run, &self.strengths, strengths, &mut wave[..count]);
        for ((out, wave), share) in out.iter_mut().zip(&wave).zip(&shares) {
            *out += FULL * (self.level + (level - self.level) * share) * wave;
        }
    }
}

#[inline]
fn wrapped(turn: f64) -> f64 {
    turn - libm::floor(turn)
}
