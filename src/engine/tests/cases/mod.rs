//! Literal cases: what a player does, and what must come of it.

mod articulation;
mod bend;
mod chance;
mod chord;
mod doubt;
mod exchange;
mod gesture;
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
mod swell;
mod swing;
mod tail;
mod wish;
