//! The built plugin, loaded by two small hosts as any studio would load it.

mod clap;
mod lists;
mod room;
mod take;
mod vst3;

mod clap_controls;
mod clap_frames;
mod clap_state;
mod song;
mod vst3_frames;
