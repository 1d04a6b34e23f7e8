//! What a live player could not play: each rule at its limit, against an oracle, and in music.

// The room, then the proofs from the small to the large.
mod room;

mod limits;
mod oracle;
mod passages;
mod program;

mod folk;
