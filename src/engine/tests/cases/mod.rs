//! Literal cases: what a player does, and what must come of it.

mod articulation;
mod bend;
mod chance;
mod chord;
mod doubt;
mod exchange;
mod gesture;
mod join;
mod legato;
mod level;
mod niente;
mod note_on;
mod onset;
mod onset_age;
mod order;
mod portamento;
mod reset;
mod slide;
mod slur;
mod strings;
mod style;
mod swing;
mod tail;
mod wish;
