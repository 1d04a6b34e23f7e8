//! The hand-off between whoever changes the settings and the player, in every order of their steps.
//!
//! `src/host/hand_off.rs` is included as it is; `exchange.rs` beside this file stands in for the
//! one over crossbeam's cells. The model knows what Rust's atomics promise and no more, so a wrong
//! order of memory is found on machines that would forgive it.

mod exchange;
#[path = "../../../src/host/hand_off.rs"]
#[allow(missing_docs, dead_code, reason = "the plugin's own file")]
mod hand_off;

#[cfg(test)]
mod tests;
