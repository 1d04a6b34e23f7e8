//! From note to note: how long a join takes, and where the pitch stands meanwhile.

use crate::math::grain::is_reached;
use crate::mode::Mode;

/// A quick join takes this long at any interval, seconds from a tenth to nine tenths of its way.
const QUICK_S: f64 = 0.006;
/// The other modes: seconds a semitone, the least and the most (DESIGN 4.5).
const JOINED_S: [f64; 3] = [0.008, 0.010, 0.030];
const SLOW_S: [f64; 3] = [0.014, 0.025, 0.100];
const SLIDE_S: [f64; 3] = [0.022, 0.080, 0.200];
/// ln 99: a logistic that begins at 1 % and is cut off at 99 %. Its shape is that of real slides
/// (Yang, Chew and Rajab 2015, MCM).
const LN_99: f64 = 4.595_119_850_134_59;
/// From 10 % to 90 % of the way that is left between the two cuts, in units of 1/k.
const TENTHS: f64 = 4.2227;
/// Up to this time of the tenths, seconds, the bend is told as often as [`FAST_TICKS`] says.
const FAST_S_MAX: f64 = 0.065;
/// From one bend to the next in such a transition, ticks.
pub const FAST_TICKS: u64 = 2;

/// From a tenth to nine tenths of a join's way, seconds.
pub fn time_s(mode: Mode, semitones: u8) -> f64 {
    let [per_semitone, least, most] = match mode {
        Mode::Joined => JOINED_S,
        Mode::Slow => SLOW_S,
        Mode::Slide => SLIDE_S,
        Mode::Fresh | Mode::Quick => return QUICK_S,
    };
    (per_semitone * f64::from(semitones)).clamp(least, most)
}

/// The line on its way to the present note: how far its pitch still is from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transition {
    /// Where it began, cents from the present note.
    from_cents: f64,
    start_s: f64,
    end_s: f64,
    /// k of the logistic, a second.
    per_s: f64,
    is_fast: bool,
}

impl Transition {
    /// The line stands on its note.
    pub const NONE: Transition = Transition {
        from_cents: 0.0,
        start_s: f64::NEG_INFINITY,
        end_s: f64::NEG_INFINITY,
        per_s: 0.0,
        is_fast: false,
    };

    /// Goes to the note from `from_cents` off it; from a tenth to nine tenths in `time_s`.
    pub fn begin(now_s: f64, from_cents: f64, time_s: f64) -> Transition {
        let per_s = TENTHS / time_s;
        let end_s = now_s + 2.0 * LN_99 / per_s;
        Transition { from_cents, start_s: now_s, end_s, per_s, is_fast: time_s <= FAST_S_MAX }
    }

    /// Goes home within `length_s` from now on, if it would take longer.
    pub fn hasten(&mut self, now_s: f64, length_s: f64) {
        if self.end_s > now_s + length_s {
            *self = Transition::home(now_s, self.cents(now_s), length_s);
        }
    }

    /// Goes home from `from_cents` off the note within `length_s`.
    pub fn home(now_s: f64, from_cents: f64, length_s: f64) -> Transition {
        Transition::begin(now_s, from_cents, length_s * TENTHS / (2.0 * LN_99))
    }

    /// The line has not arrived.
    #[inline]
    pub fn is_on(&self, now_s: f64) -> bool {
        !is_reached(now_s, self.end_s)
    }

    /// So fast that the bend is told more often.
    #[inline]
    pub fn hurries(&self, now_s: f64) -> bool {
        self.is_fast && self.is_on(now_s)
    }

    /// Cents from the present note.
    #[inline]
    pub fn cents(&self, now_s: f64) -> f64 {
        if self.is_on(now_s) { self.cents_on_the_way(now_s) } else { 0.0 }
    }

    #[cold]
    fn cents_on_the_way(&self, now_s: f64) -> f64 {
        let risen = 1.0 / (1.0 + libm::exp(LN_99 - self.per_s * (now_s - self.start_s)));
        let share = (risen - 0.01) / 0.98;
        self.from_cents * (1.0 - share.clamp(0.0, 1.0))
    }
}
