//! The program against the outside world: folk melodies, recorded hands and other readers.

mod broken;
mod corpus;
mod curves;
mod data;
#[path = "../../src/engine/tests/die.rs"]
mod die;
mod digests;
mod economy;
mod example;
mod fewest;
mod gesture;
mod heard_centre;
mod heard_colour;
mod heard_driven;
mod heard_joins;
mod heard_levels;
mod heard_send;
mod heard_silence;
mod heard_slides;
mod heard_vibrato;
mod heard_voice;
mod instruments;
mod intonation;
mod invariants;
mod line;
mod look;
mod parts;
mod peel;
mod performing;
mod readers;
mod real_notes;
mod receiver;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
#[path = "../sample/mod.rs"]
mod sample;
mod saved;
mod smf;
mod smoothing;
mod survival;
mod unevenness;
#[path = "../written/mod.rs"]
mod written;
