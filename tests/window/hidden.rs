//! A host without windows is not shown that there is one, and is survived.

use clack_extensions::gui::PluginGui;

use super::clap::{Clap, NOTE_EFFECT, THROUGH};
use super::room::{Host, RATE_HZ, play};
use super::stage::stage;
use super::take::{END, take};

#[test]
fn a_host_without_windows_plays_and_is_offered_none() {
    let _stage = stage();
    for id in [NOTE_EFFECT, THROUGH] {
        let mut clap = Clap::load(id);
        let gui: Option<PluginGui> = clap.plugin.plugin_handle().get_extension();
        assert!(gui.is_none(), "the framework would end the process when it is opened");
        clap.activate(RATE_HZ);
        assert!(play(&mut clap, &[256], &take(), END, None).len() > 100);
        let mut clap = Clap::with_windows(id);
        let gui: Option<PluginGui> = clap.plugin.plugin_handle().get_extension();
        assert!(gui.is_some(), "and one with windows is");
        clap.activate(RATE_HZ);
        clap.block(64, &[], None);
    }
}
