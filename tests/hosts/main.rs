//! The built plugin, loaded by two small hosts as any studio would load it.

#[path = "../../src/engine/tests/die.rs"]
mod die;
#[path = "../../src/engine/tests/steadfast/interruptions.rs"]
mod interruptions;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
#[path = "../outside/smf.rs"]
#[allow(dead_code, reason = "only read here")]
mod smf;
#[path = "../../src/engine/tests/steadfast/test_host.rs"]
#[allow(dead_code, reason = "the hosts use a part of it")]
mod test_host;

#[allow(dead_code, reason = "the windows use the rest")]
mod booth;
#[allow(dead_code, reason = "the windows use the rest")]
mod clap;
#[allow(dead_code, reason = "not every test looks at all of it")]
mod in_process;
mod lists;
mod project;
mod room;
mod take;
mod vst3;
mod vst3_events;

mod chosen;
mod clap_controls;
mod clap_frames;
mod clap_state;
mod digests;
#[cfg(feature = "editor")]
mod edits;
mod hands;
mod interrupted;
mod next_year;
#[cfg(feature = "editor")]
mod performed;
mod printed;
mod rates;
mod song;
mod stretches;
mod unload;
mod vst3_frames;
mod wrong;
