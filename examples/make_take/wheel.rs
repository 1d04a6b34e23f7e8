//! The left hand on the wheel: what it means to do, and what a cheap wheel makes of it.

/// The shape of the hand's movement: quarter notes since the start, share of the travel. The
/// hand goes from one to the next without haste; two equal ones are a hand that rests.
const INTENT: [(f64, f64); 47] = [
    (0.4, 0.00),
    (1.0, 0.16),
    (3.4, 0.52),
    (4.6, 0.38),
    (6.6, 0.55),
    (8.0, 0.30),
    (9.5, 0.30),
    (11.3, 0.46),
    (12.2, 0.10),
    (13.0, 0.35),
    (14.6, 0.62),
    (16.0, 0.55),
    (18.6, 0.80),
    (20.0, 0.60),
    (22.5, 0.50),
    (24.0, 0.33),
    (26.0, 0.28),
    (28.0, 0.08),
    (29.6, 0.08),
    (30.0, 0.45),
    (32.0, 0.66),
    (34.8, 0.90),
    (36.0, 0.74),
    (38.2, 0.48),
    (40.0, 0.40),
    (41.0, 0.40),
    (43.6, 0.26),
    (44.6, 0.88),
    (45.6, 0.88),
    (47.2, 0.58),
    (48.0, 0.56),
    (51.6, 0.44),
    (52.0, 0.70),
    (54.8, 0.52),
    (56.0, 0.40),
    (60.0, 0.72),
    (61.0, 0.80),
    (63.2, 1.00),
    (64.0, 0.97),
    (65.2, 0.84),
    (66.8, 0.70),
    (68.0, 0.58),
    (71.4, 0.40),
    (74.0, 0.45),
    (76.2, 0.50),
    (78.0, 0.30),
    (81.0, 0.00),
];

/// Values that this wheel never sends: its track is worn there.
const MISSING_CODES: [u8; 6] = [23, 41, 42, 67, 90, 111];

/// Chance with a number to start from: the same take every time (Marsaglia's xorshift, 2003).
pub struct Chance(u64);

impl Chance {
    /// A sequence of its own for each number other than 0.
    pub fn from_number(number: u64) -> Chance {
        Chance(number)
    }

    /// Evenly spread, −1..1.
    pub fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// What the hand means at a beat, 0..=1.
fn intent(beat: f64) -> f64 {
    let after = INTENT.iter().position(|(at, _)| *at > beat).unwrap_or(INTENT.len());
    if after == 0 || after == INTENT.len() {
        return INTENT[after.min(INTENT.len() - 1)].1;
    }
    let ((from, low), (to, high)) = (INTENT[after - 1], INTENT[after]);
    let u = (beat - from) / (to - from);
    low + (high - low) * u * u * (3.0 - 2.0 * u)
}

/// The controller values as they arrive: seconds and 0..=127, only changes. `beat_at` tells
/// where the song stands.
pub fn record(end_s: f64, beat_at: impl Fn(f64) -> f64) -> Vec<(f64, u8)> {
    let mut chance = Chance::from_number(0x66_6572_7279);
    let mut values: Vec<(f64, u8)> = Vec::new();
    let (mut time_s, mut wander) = (0.3, 0.0);
    while time_s < end_s {
        let wanted = intent(beat_at(time_s));
        // An arm is never quite still while it works; at the stop the wheel holds it.
        wander += 0.03 * (0.012 * chance.next() * 8.0 - wander);
        let travel = if wanted > 0.0 { wanted + wander } else { 0.0 };
        // One step of electrical flutter now and then.
        let flutter = if chance.next() > 0.55 { 0.6 * chance.next() } else { 0.0 };
        let code = (travel * 127.0 + flutter).clamp(0.0, 127.0).round() as u8;
        let code = if MISSING_CODES.contains(&code) { code + 2 } else { code };
        let has_moved = values.last().is_none_or(|(_, last)| *last != code);
        if has_moved && (code > 0 || !values.is_empty()) {
            values.push((time_s, code));
        }
        // The device looks at its wheel every 8 to 12 ms.
        time_s += 0.010 + 0.002 * chance.next();
    }
    values
}
