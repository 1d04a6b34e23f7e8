//! The program against the outside world: folk melodies, recorded hands and other readers.

mod broken;
mod corpus;
mod curves;
mod data;
mod example;
mod gesture;
mod instruments;
mod invariants;
mod line;
mod peel;
mod performing;
mod readers;
mod smf;
