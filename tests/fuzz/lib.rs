//! The same growers and checks as in `tests/grown`, for a fuzzer that watches which code it reaches.

#[path = "../../src/engine/tests/die.rs"]
mod die;
#[path = "../../src/engine/tests/promise/improvised.rs"]
#[allow(dead_code, reason = "only its manner is needed")]
mod improvised;
#[path = "../../src/engine/tests/promise/receivers.rs"]
#[allow(dead_code, reason = "only its patches are needed")]
mod receivers;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
#[path = "../shape/room.rs"]
#[allow(dead_code, reason = "only its promises are needed")]
mod room;
#[path = "../sane/mod.rs"]
mod sane;

#[path = "../grown/draw.rs"]
mod draw;

#[path = "../grown/events.rs"]
pub mod events;
#[path = "../grown/file.rs"]
pub mod file;
#[path = "../grown/profile.rs"]
pub mod profile;
#[path = "../grown/state.rs"]
pub mod state;
