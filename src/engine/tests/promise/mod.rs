//! What the engine promises, held against improvised takes with everything on.

mod improvised;
mod receivers;

mod blocks;
mod rates;

mod bounds;
mod gesture;
mod notes;
mod owed;
mod resets;
mod rest;
mod shapes;
mod vibrato;
