//! The control ticks: one every millisecond, wherever the blocks begin and end.

/// Control ticks a second.
pub const TICKS_PER_SECOND: f64 = 1000.0;
/// From one control tick to the next, seconds.
pub const TICK_S: f64 = 1.0 / TICKS_PER_SECOND;

/// The sample rates at which the engine plays, hertz; beyond them it plays at the nearest.
pub const SAMPLE_RATE_HZ_MIN: f64 = 8_000.0;
/// See [`SAMPLE_RATE_HZ_MIN`].
pub const SAMPLE_RATE_HZ_MAX: f64 = 768_000.0;

/// Millionths of a frame in one frame: sample rates count to a thousandth of a hertz.
const WHOLE: u64 = 1_000_000;
const MILLION: f64 = WHOLE as f64;

/// Frames and ticks since the ticks were last anchored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    sample_rate_hz: f64,
    /// The sample rate in whole millionths of a frame a tick.
    millionths_per_tick: u64,
    /// First frame of the present block, frames since the last reset.
    block_frame: u64,
    /// Tick 0, frames since the last reset.
    anchor_frame: u64,
    /// The next tick to come.
    tick: u64,
    tick_frame: u64,
    /// What rounding left of the next tick's frame.
    tick_millionths: u64,
}

impl Clock {
    /// A clock that stands at its anchor. A rate that is no number is the lowest: at 0 the first
    /// tick would never come to an end.
    pub fn prepare(sample_rate_hz: f64) -> Clock {
        let sample_rate_hz = match sample_rate_hz >= SAMPLE_RATE_HZ_MIN {
            true => sample_rate_hz.min(SAMPLE_RATE_HZ_MAX),
            false => SAMPLE_RATE_HZ_MIN,
        };
        let millionths_per_tick = libm::round(sample_rate_hz * MILLION / TICKS_PER_SECOND) as u64;
        let mut clock = Clock {
            sample_rate_hz,
            millionths_per_tick,
            block_frame: 0,
            anchor_frame: 0,
            tick: 0,
            tick_frame: 0,
            tick_millionths: 0,
        };
        clock.go_to(0);
        clock
    }

    /// Anchors the ticks at the next block.
    pub fn reset(&mut self) {
        *self = Clock::prepare(self.sample_rate_hz);
    }

    /// Anchors the ticks at a frame of the present block: it is time 0 now, and tick 0 comes next.
    pub fn anchor(&mut self, frame: u64) {
        self.anchor_frame = frame;
        self.go_to(0);
    }

    /// First frame of the present block, frames since the last reset.
    pub fn block_frame(&self) -> u64 {
        self.block_frame
    }

    /// The present block is done.
    pub fn advance(&mut self, frame_count: u32) {
        self.block_frame += u64::from(frame_count);
    }

    /// Frame of the next tick, frames since the last reset: anchor + round(k · rate / 1000).
    #[inline]
    pub fn tick_frame(&self) -> u64 {
        self.tick_frame
    }

    /// Number of the next tick.
    #[inline]
    pub fn tick(&self) -> u64 {
        self.tick
    }

    /// Time of the next tick.
    #[inline]
    pub fn tick_s(&self) -> f64 {
        // From a signed number it is one instruction, and 2^63 ticks do not pass.
        self.tick as i64 as f64 / TICKS_PER_SECOND
    }

    /// Time since the anchor of a frame not before it.
    pub fn frame_s(&self, frame: u64) -> f64 {
        (frame - self.anchor_frame) as f64 / self.sample_rate_hz
    }

    /// The next tick has been played.
    #[inline]
    pub fn next_tick(&mut self) {
        self.tick += 1;
        self.tick_millionths += self.millionths_per_tick;
        let frames = self.tick_millionths / WHOLE;
        self.tick_frame += frames;
        self.tick_millionths -= frames * WHOLE;
    }

    /// Leaves out every tick before `frame`, at no cost for the time between.
    pub fn skip_to(&mut self, frame: u64) {
        if self.tick_frame >= frame {
            return;
        }
        let near =
            ((frame - self.anchor_frame) as f64 * TICKS_PER_SECOND / self.sample_rate_hz) as u64;
        self.go_to(near.saturating_sub(1).max(self.tick));
        while self.tick_frame < frame {
            self.next_tick();
        }
    }

    /// Tick k is at frame round(k · rate / 1000), halves upward.
    fn go_to(&mut self, tick: u64) {
        let millionths = u128::from(tick) * u128::from(self.millionths_per_tick);
        let rounded = millionths + u128::from(WHOLE / 2);
        self.tick = tick;
        self.tick_frame = self.anchor_frame + (rounded / u128::from(WHOLE)) as u64;
        self.tick_millionths = (rounded % u128::from(WHOLE)) as u64;
    }
}
