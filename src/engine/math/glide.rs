//! A move from one value to another over a stated time, without a corner at either end.

/// u²(3 − 2u) for u clamped to 0..=1: the shape of every move over a stated time.
#[inline]
pub fn smooth_step(u: f64) -> f64 {
    let u = u.clamp(0.0, 1.0);
    u * u * (3.0 - 2.0 * u)
}

/// The straight line from `from` to `to`, not clamped.
#[inline]
pub fn lerp(from: f64, to: f64, share: f64) -> f64 {
    from + (to - from) * share
}

/// A value on its way along [`smooth_step`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glide {
    from: f64,
    to: f64,
    start_s: f64,
    end_s: f64,
    per_s: f64,
}

impl Glide {
    /// A value that stands still.
    pub const fn still(value: f64) -> Glide {
        let always_s = f64::NEG_INFINITY;
        Glide { from: value, to: value, start_s: always_s, end_s: always_s, per_s: 0.0 }
    }

    /// Goes to `to` within `length_s` from now on, from wherever it stands.
    pub fn aim(&mut self, now_s: f64, to: f64, length_s: f64) {
        let (start_s, end_s) = (now_s, now_s + length_s);
        *self = Glide { from: self.at(now_s), to, start_s, end_s, per_s: 1.0 / length_s };
    }

    /// The value at a time not before the last `aim`.
    #[inline]
    pub fn at(&self, now_s: f64) -> f64 {
        if now_s >= self.end_s {
            return self.to;
        }
        lerp(self.from, self.to, smooth_step((now_s - self.start_s) * self.per_s))
    }

    /// Where it is going.
    pub fn goal(&self) -> f64 {
        self.to
    }

    /// When it arrives, or arrived.
    pub fn end_s(&self) -> f64 {
        self.end_s
    }

    /// It has arrived.
    #[inline]
    pub fn is_done(&self, now_s: f64) -> bool {
        now_s >= self.end_s
    }
}
