//! The fewest numbers that could have been sent, known only to one who has heard the end.

/// The fewest numbers, each held for a while, that stay within the bound of every value and say a
/// value exactly once it has stood for some looks. Each is held for as long as one can be, which
/// is the best that can be done (Elmeleegy et al. 2009, PVLDB 2(1), piecewise constant).
pub struct Fewest {
    bound: f64,
    settled_looks: u32,
    low: f64,
    high: f64,
    value: f64,
    still_looks: u32,
    /// How many so far.
    pub count: u64,
}

impl Fewest {
    /// Within a bound only.
    pub fn within(bound: f64) -> Fewest {
        Fewest::settling(bound, u32::MAX)
    }

    /// A value that has stood for so many looks after its first must be there as it is.
    pub fn settling(bound: f64, settled_looks: u32) -> Fewest {
        let (low, high) = (f64::INFINITY, f64::NEG_INFINITY);
        Fewest { bound, settled_looks, low, high, value: f64::NAN, still_looks: 0, count: 0 }
    }

    pub fn take(&mut self, value: f64) {
        self.still_looks = if value == self.value { self.still_looks + 1 } else { 0 };
        self.value = value;
        let (least, most) = match self.still_looks >= self.settled_looks {
            true => (value.round(), value.round()),
            false => ((value - self.bound).ceil(), (value + self.bound).floor()),
        };
        let (low, high) = (self.low.max(least), self.high.min(most));
        if self.count > 0 && low <= high {
            (self.low, self.high) = (low, high);
        } else {
            (self.low, self.high) = (least, most);
            self.count += 1;
        }
    }
}

fn fewest_settling(values: &[f64], bound: f64, settled_looks: u32) -> u64 {
    let mut fewest = Fewest::settling(bound, settled_looks);
    values.iter().for_each(|value| fewest.take(*value));
    fewest.count
}

/// REFERENCE 6, ramp 0..127: a bound of 0.5 / 1 / 2 / 4 steps needs 64 / 43 / 26 / 15 numbers; with
/// whole numbers half a step has room for one value only.
#[test]
fn the_fewest_agree_with_published_counts() {
    for (bound, count) in [(0.5, 128), (1.0, 43), (2.0, 26), (4.0, 15)] {
        let ramp: Vec<f64> = (0..=127).map(f64::from).collect();
        assert_eq!(fewest_settling(&ramp, bound, u32::MAX), count, "bound {bound}");
    }
}

/// The numbers of the naive twin: all that are within 1.5 of a value between 2 and 3.
const NAIVE: std::ops::RangeInclusive<u32> = 1..=4;

/// Every way of holding numbers from tick to tick is tried.
fn fewest_of_all_ways(values: &[f64], bound: f64, settled_looks: usize) -> u64 {
    let is_allowed = |tick: usize, number: f64| {
        let since = tick.checked_sub(settled_looks);
        let stands =
            since.is_some_and(|since| values[since..=tick].iter().all(|it| *it == values[tick]));
        match stands {
            true => number == values[tick].round(),
            false => (number - values[tick]).abs() <= bound,
        }
    };
    let number_count = NAIVE.end() + 1 - NAIVE.start();
    let mut least = u64::MAX;
    for mut way in 0..number_count.pow(values.len() as u32) {
        let (mut count, mut before, mut is_whole) = (0, None, true);
        for tick in 0..values.len() {
            let number = NAIVE.start() + way % number_count;
            way /= number_count;
            is_whole &= is_allowed(tick, f64::from(number));
            count += u64::from(before != Some(number));
            before = Some(number);
        }
        if is_whole {
            least = least.min(count);
        }
    }
    least
}

#[test]
fn no_other_way_of_holding_numbers_takes_fewer() {
    let mut differ = 0;
    for seed in 0..300_u64 {
        let die = |place: u64| super::gesture::hash("few", seed * 16 + place) >> 20;
        let mut values = vec![2.0 + 0.25 * (die(0) % 5) as f64];
        for place in 1..7 {
            // Every second time it stands.
            let moved = 2.0 + 0.25 * (die(place) % 5) as f64;
            values.push(if die(place + 8) % 2 == 0 { moved } else { values[place as usize - 1] });
        }
        for bound in [0.5, 0.75, 1.0, 1.5] {
            for settled_looks in [1, 2, 3] {
                let fewest = fewest_settling(&values, bound, settled_looks);
                let naive = fewest_of_all_ways(&values, bound, settled_looks as usize);
                assert_eq!(fewest, naive, "{values:?}, bound {bound}, {settled_looks} looks");
                differ += u32::from(fewest != fewest_settling(&values, bound, u32::MAX));
            }
        }
    }
    assert!(differ > 500, "settling makes a difference in {differ} cases");
}
