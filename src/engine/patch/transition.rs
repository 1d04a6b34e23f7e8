//! How the pitch gets from one note to the next at the receiver: by bend, by its portamento, by its own modes, or not at all.

/// The most points of a receiver's table of portamento times.
pub const PORTAMENTO_POINTS_MAX: usize = 16;

/// By which way the receiver is told to get from note to note (DESIGN 4.5).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TransitionWay {
    /// By none: the pitch jumps.
    None,
    /// The receiver joins by its own modes, or by a slide of its own.
    Receiver,
    /// The line moves the bend wheel. It needs an output to it.
    Bend,
    /// The receiver's portamento: controllers 65, 5 and 84.
    Portamento,
}

impl TransitionWay {
    /// The word that a target's file has for it.
    pub const fn name(self) -> &'static str {
        match self {
            TransitionWay::None => "none",
            TransitionWay::Receiver => "receiver",
            TransitionWay::Bend => "bend",
            TransitionWay::Portamento => "portamento",
        }
    }
}

/// How long a receiver's portamento takes: values of controller 5 and seconds, both rising.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PortamentoPatch {
    /// Value (0..=127) and its time; straight between them.
    pub points: [(u8, f64); PORTAMENTO_POINTS_MAX],
    /// How many of `points` count, 1..=16.
    pub count: usize,
}

impl PortamentoPatch {
    /// A receiver without one.
    pub const NONE: PortamentoPatch =
        PortamentoPatch { points: [(0, 0.0); PORTAMENTO_POINTS_MAX], count: 1 };

    /// The value of controller 5 whose time is nearest; of two equally near ones the lower.
    pub fn value_for(&self, time_s: f64) -> u8 {
        let points = &self.points[..self.count];
        let off_by = |at_s: f64| (at_s - time_s).abs();
        let Some(&first) = points.first() else { return 0 };
        let mut nearest = (first.0, off_by(first.1));
        for pair in points.windows(2) {
            let [(low, low_s), (high, high_s)] = [pair[0], pair[1]];
            for value in low..=high {
                let share = f64::from(value - low) / f64::from((high - low).max(1));
                let off = off_by(low_s + share * (high_s - low_s));
                if off < nearest.1 {
                    nearest = (value, off);
                }
            }
        }
        nearest.0
    }
}

/// How joined notes reach the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TransitionPatch {
    /// The way.
    pub way: TransitionWay,
    /// The receiver's portamento, where that is the way.
    pub portamento: PortamentoPatch,
    /// A join whose pitch jumps ends the note it leaves, as one by bend does; else both overlap as
    /// they were played.
    pub cuts_jumps: bool,
    /// Controller 68 is told too: on for joined notes while one key alone is meant to sound.
    pub has_legato_switch: bool,
}

impl TransitionPatch {
    /// The pitch jumps, and notes overlap as they were played.
    pub const NONE: TransitionPatch = TransitionPatch {
        way: TransitionWay::None,
        portamento: PortamentoPatch::NONE,
        cuts_jumps: false,
        has_legato_switch: false,
    };
}
