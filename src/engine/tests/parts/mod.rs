//! The parts alone, by literal numbers: curves, clocks, chance, messages, words, strings.

mod chance;
mod choices;
mod curves;
mod messages;
mod strings;
mod time;
mod words;
