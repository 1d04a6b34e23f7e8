//! How a tone begins, dips at a join and dies away, beside what the layers say of its level.

use polso_engine::Mode;

use crate::timbre::Timbre;

/// A height below this is nothing: 80 dB down.
const NOTHING: f64 = 1e-4;

/// The height of a tone, 0..=1: 1 while it is held, so that the layers alone say its level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Envelope {
    height: f64,
    is_open: bool,
    /// Where it rose from, and how far it has come, 0..=1.
    from: f64,
    way: f64,
    /// How far through a dip it is, 0..=1, how deep that is and what a tick adds.
    dip_way: f64,
    dip_depth: f64,
    dip_step: f64,
}

impl Envelope {
    /// Nothing sounds.
    pub const CLOSED: Envelope = Envelope {
        height: 0.0,
        is_open: false,
        from: 0.0,
        way: 1.0,
        dip_way: 1.0,
        dip_depth: 0.0,
        dip_step: 1.0,
    };

    /// A key goes down: up from wherever it stands.
    pub fn open(&mut self) {
        *self = Envelope { height: self.height, from: self.height, ..Envelope::CLOSED };
        self.is_open = true;
        self.way = 0.0;
    }

    /// The key lifts.
    pub fn close(&mut self) {
        self.is_open = false;
    }

    /// The tone goes on at another pitch. A finger that falls fast, or a breath that is tongued
    /// softly, takes a little of the sound for a moment; a slide takes almost none.
    pub fn join(&mut self, mode: Mode, timbre: &Timbre, tick_s: f64) {
        let (share, length_s) = match mode {
            Mode::Fresh | Mode::Quick => (1.0, 0.026),
            Mode::Joined => (0.8, 0.040),
            Mode::Slow => (0.5, 0.065),
            Mode::Slide => (0.25, 0.090),
        };
        if !self.is_open {
            self.open();
        }
        self.dip_depth = timbre.join_dip * share;
        self.dip_way = 0.0;
        self.dip_step = tick_s / length_s;
    }

    /// Down until the key lifts.
    pub fn is_open(&self) -> bool {
        self.is_open
    }

    /// The height, dips aside.
    pub fn height(&self) -> f64 {
        self.height
    }

    /// The height after another tick, and whether all is over.
    pub fn tick(&mut self, timbre: &Timbre, tick_s: f64) -> f64 {
        if self.is_open {
            self.way = (self.way + tick_s / timbre.attack_s).min(1.0);
            let smooth = self.way * self.way * (3.0 - 2.0 * self.way);
            self.height = self.from + (1.0 - self.from) * smooth;
        } else {
            self.height *= 1.0 - (tick_s / timbre.release_s).min(1.0);
            if self.height < NOTHING {
                self.height = 0.0;
            }
        }
        self.dip_way = (self.dip_way + self.dip_step).min(1.0);
        let left = self.dip_way * (1.0 - self.dip_way);
        self.height * (1.0 - self.dip_depth * 16.0 * left * left)
    }
}
