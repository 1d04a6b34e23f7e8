//! The engine alone: musical cases, promises under improvised takes, and interruptions.

mod die;
mod shipped;

mod room;

mod rehearsal;

mod music;

mod parts;

mod cases;

mod repeats;
mod section;

mod bypass;
mod cable;
mod controls;
mod thinning;
mod told_again;

mod promise;

mod steadfast;
