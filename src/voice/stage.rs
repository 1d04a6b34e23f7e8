//! Where the lines stand: each from its own side, together in one room.

use crate::room::Room;
use crate::{RATE_HZ, TICK_SAMPLES_MAX};

/// The most lines of a stage.
pub const STAGE_LINES_MAX: usize = 64;
/// How far to the sides the outermost of several lines stand, of 1.
const SPREAD: f64 = 0.6;

/// A stage. It is large (a third of a megabyte): make it before the sound begins, in a box.
#[derive(Clone, Debug)]
pub struct Stage {
    /// Left and right gain of each line.
    gains: [[f64; 2]; STAGE_LINES_MAX],
    room: Option<Room>,
    mono: [f64; TICK_SAMPLES_MAX],
    sides: [[f64; TICK_SAMPLES_MAX]; 2],
}

impl Stage {
    /// A stage for so many lines, from left to right; one stands in the middle. Any thread.
    pub fn new(rate_hz: f64, line_count: usize, has_room: bool) -> Stage {
        let rate_hz = rate_hz.max(*RATE_HZ.start()).min(*RATE_HZ.end());
        let last = line_count.min(STAGE_LINES_MAX).saturating_sub(1).max(1) as f64;
        let gains = core::array::from_fn(|line| {
            let side = if line_count > 1 { SPREAD * (2.0 * line as f64 / last - 1.0) } else { 0.0 };
            // Equal power, 1 in the middle.
            let angle = core::f64::consts::FRAC_PI_4 * (1.0 + side.clamp(-1.0, 1.0));
            let root = core::f64::consts::SQRT_2;
            [root * libm::cos(angle), root * libm::sin(angle)]
        });
        let room = has_room.then(|| Room::new(rate_hz));
        let none = [0.0; TICK_SAMPLES_MAX];
        Stage { gains, room, mono: none, sides: [none; 2] }
    }

    /// Hears a line's samples of the present tick. Those beyond a tick's length, and lines beyond
    /// [`STAGE_LINES_MAX`], are not heard. Audio thread.
    pub fn hear(&mut self, line: usize, samples: &[f64]) {
        let Some([left, right]) = self.gains.get(line).copied() else { return };
        for (place, sample) in samples.iter().take(TICK_SAMPLES_MAX).enumerate() {
            self.mono[place] += sample;
            self.sides[0][place] += left * sample;
            self.sides[1][place] += right * sample;
        }
    }

    /// What is heard of the present tick, left and right; the next one begins. Audio thread.
    pub fn take(&mut self, out: &mut [[f32; 2]]) {
        for (place, out) in out.iter_mut().take(TICK_SAMPLES_MAX).enumerate() {
            let back = match &mut self.room {
                Some(room) => room.hear(self.mono[place]),
                None => [0.0; 2],
            };
            *out = [0, 1].map(|side| (self.sides[side][place] + back[side]) as f32);
            self.mono[place] = 0.0;
            self.sides[0][place] = 0.0;
            self.sides[1][place] = 0.0;
        }
    }

    /// The room is still. Audio thread.
    pub fn is_silent(&self) -> bool {
        self.room.as_ref().is_none_or(Room::is_silent)
    }
}
