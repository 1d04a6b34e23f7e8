//! The layers: each one musical consequence of the gesture, holding its state and no settings.

pub mod dynamics;

pub mod onset;
pub mod style;

pub mod blend;
pub mod body;
pub mod character;
pub mod unfolding;
pub mod vibrato;

pub mod legato;
pub mod transition;

pub mod niente;

pub mod tail;

pub mod values;

pub mod fade;
