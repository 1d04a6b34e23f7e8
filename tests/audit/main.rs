//! What a live player could not play: each rule at its limit, against an oracle, and in music.

// The room, then the proofs from the small to the large.
mod comings;
#[path = "../../src/engine/tests/die.rs"]
mod die;
mod room;
#[path = "../sample/mod.rs"]
mod sample;
#[path = "../written/mod.rs"]
mod written;

mod limits;
mod oracle;
mod passages;
mod program;

mod folk;
