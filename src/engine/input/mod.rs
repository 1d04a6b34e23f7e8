//! What arrives: messages, the song's position, controls and wishes.

pub mod message;

pub mod parameter;
pub(crate) mod song;
pub mod wish;

pub mod event;

pub(crate) mod order;

pub use event::{Input, Timed};
pub use message::{Channel, Key, Message};
pub use parameter::Parameter;
pub use wish::{LegatoWish, NoteWish, Wish};
