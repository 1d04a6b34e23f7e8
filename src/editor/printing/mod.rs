//! A performance is printed: written into a MIDI file that lands at the right bars of any sequencer.

pub mod song;

pub mod receiver_state;

pub mod excerpt;

pub mod file;
