//! The fewest numbers that could have been sent, known only to one who has heard the end.

/// The fewest numbers, each held for a while, that stay within the bound of every value: each is
/// held for as long as one can be (Elmeleegy et al. 2009, PVLDB 2(1), piecewise constant).
pub struct Fewest {
    bound: f64,
    low: f64,
    high: f64,
    /// How many so far.
    pub count: u64,
}

impl Fewest {
    pub fn within(bound: f64) -> Fewest {
        Fewest { bound, low: f64::INFINITY, high: f64::NEG_INFINITY, count: 0 }
    }

    pub fn take(&mut self, value: f64) {
        let low = self.low.max(value - self.bound);
        let high = self.high.min(value + self.bound);
        if self.count > 0 && low.ceil() <= high.floor() {
            (self.low, self.high) = (low, high);
        } else {
            (self.low, self.high) = (value - self.bound, value + self.bound);
            self.count += 1;
        }
    }
}

/// REFERENCE 6, ramp 0..127: a bound of 0.5 / 1 / 2 / 4 steps needs 64 / 43 / 26 / 15 numbers; with
/// whole numbers half a step has room for one value only.
#[test]
fn the_fewest_agree_with_published_counts() {
    for (bound, count) in [(0.5, 128), (1.0, 43), (2.0, 26), (4.0, 15)] {
        let mut fewest = Fewest::within(bound);
        (0..=127).for_each(|value| fewest.take(f64::from(value)));
        assert_eq!(fewest.count, count, "bound {bound}");
    }
}
