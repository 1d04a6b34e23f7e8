//! The editor by its names and keys, without a display: what is pressed happens, and is seen to happen.

mod room;

mod curves;
mod history;

mod choosing;
mod hand;
mod host;
mod outputs;

mod files;
mod slots;

mod access;
mod looks;
mod mishaps;
mod shown;
mod still;
mod wishes;

mod first_use;
mod program;
