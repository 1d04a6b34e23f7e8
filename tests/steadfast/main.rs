//! What happens when the music is interrupted: stops, jumps, loops, panics, other sounds and files.

#[path = "../die/mod.rs"]
mod die;
#[path = "../music/mod.rs"]
mod music;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;

mod echo;
mod interruptions;
mod loops;
mod random;
mod starts;
mod table;
mod test_host;
