//! A die for takes that nobody would write down: the same seed throws the same.
#![allow(dead_code, reason = "each test file throws it in its own way")]

/// A die that falls the same way every time (SplitMix64; Steele, Lea and Flood 2014).
pub struct Die(pub u64);

impl Die {
    /// The next sixty-four bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let value = (self.0 ^ self.0 >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let value = (value ^ value >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        value ^ value >> 31
    }

    /// 0..1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// 0..count.
    pub fn below(&mut self, count: u64) -> u64 {
        self.bits() % count
    }

    /// One of several.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len() as u64) as usize]
    }

    /// A value between two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
}
