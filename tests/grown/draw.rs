//! Choices read off a string of bytes: fewer and smaller bytes make a simpler thing.

/// Bytes to be turned into choices; when they are used up, every choice is the first.
pub struct Draw<'a>(&'a [u8]);

impl<'a> Draw<'a> {
    pub fn new(bytes: &'a [u8]) -> Draw<'a> {
        Draw(bytes)
    }

    /// Nothing is left to choose.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else { return 0 };
        self.0 = rest;
        *first
    }

    /// Two bytes as one number.
    pub fn pair(&mut self) -> u16 {
        u16::from(self.byte()) << 8 | u16::from(self.byte())
    }

    /// 0..count.
    pub fn below(&mut self, count: usize) -> usize {
        let number = if count <= 256 { u16::from(self.byte()) } else { self.pair() };
        usize::from(number) % count.max(1)
    }

    /// One in so many; no if the bytes are used up.
    pub fn one_in(&mut self, count: u8) -> bool {
        self.byte() % count == count - 1
    }

    /// One of several.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// 0..=1, both ends included.
    pub fn unit(&mut self) -> f64 {
        f64::from(self.pair()) / f64::from(u16::MAX)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// The next bytes, at most so many.
    pub fn take(&mut self, count: usize) -> &'a [u8] {
        let (taken, rest) = self.0.split_at(count.min(self.0.len()));
        self.0 = rest;
        taken
    }

    /// All that is left.
    pub fn rest(&mut self) -> &'a [u8] {
        self.take(usize::MAX)
    }
}
