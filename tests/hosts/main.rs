//! The built plugin, loaded by two small hosts as any studio would load it.

#[path = "../../src/engine/tests/steadfast/desk.rs"]
#[allow(dead_code, reason = "the hosts use a part of the desk")]
mod desk;
#[path = "../../src/engine/tests/die.rs"]
mod die;
#[path = "../../src/engine/tests/steadfast/interruptions.rs"]
mod interruptions;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
#[path = "../outside/smf.rs"]
#[allow(dead_code, reason = "only read here")]
mod smf;

#[allow(dead_code, reason = "the windows use the rest")]
mod booth;
#[allow(dead_code, reason = "the windows use the rest")]
mod clap;
mod lists;
mod project;
mod room;
mod take;
mod vst3;

mod chosen;
mod clap_controls;
mod clap_frames;
mod clap_state;
mod digests;
mod interrupted;
mod next_year;
mod song;
mod unload;
mod vst3_frames;
