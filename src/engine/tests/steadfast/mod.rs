//! What happens when the music is interrupted: stops, jumps, loops, panics, other sounds and files.

mod echo;
mod interruptions;
mod loops;
mod random;
mod returns;
mod starts;
mod table;
mod test_host;
