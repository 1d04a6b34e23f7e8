//! When a key that stays down has become a drone: it is old, and others have come and gone over it.

use crate::math::grain::grain;

/// A key this old can be a drone.
const DRONE_S: f64 = 1.0;

/// The two newest notes whose keys have come up, by their serials: what is still down and older
/// than both has seen two begin and end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PassedNotes {
    newest_serial: u64,
    second_serial: u64,
}

impl PassedNotes {
    /// None has come up.
    pub const NONE: PassedNotes = PassedNotes { newest_serial: 0, second_serial: 0 };

    /// The key of a note has come up.
    pub fn pass(&mut self, serial: u64) {
        self.second_serial = self.second_serial.max(serial.min(self.newest_serial));
        self.newest_serial = self.newest_serial.max(serial);
    }

    /// A note whose key has been down since `on_s` has become a drone.
    pub fn makes_drone(&self, serial: u64, on_s: f64, now_s: f64) -> bool {
        serial < self.second_serial && grain(now_s - on_s) >= DRONE_S
    }
}
