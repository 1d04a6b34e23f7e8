//! Literal cases: what a player does, and what must come of it.

mod alive;
mod articulation;
mod bend;
mod body;
mod chance;
mod chord;
mod doubt;
mod exchange;
mod gesture;
mod intonation;
mod legato;
mod level;
mod niente;
mod note_on;
mod onset;
mod onset_age;
mod order;
mod reset;
mod slide;
mod slur;
mod strings;
mod style;
mod swing;
mod tail;
mod wish;
