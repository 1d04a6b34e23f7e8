//! The instruments on which a project's own are based change or vanish: it sounds as it did.

use std::fs;
use std::time::{Duration, Instant};

use polso::engine::patch::Patch;
use polso::host::project::Project;
use polso::host::slot_patches::SlotPatches;
use polso::host::state::{STATE_BYTES_MAX, State};
use polso::profile::{self, Hand, Instrument, Target};
use serde_json::{Value, json};

use super::clap::Clap;
use super::project::{kept, opened, project, text};
use super::room::{check_equal, engine, play};
use super::take::{END, take};

/// The first patch of a state.
fn patch(state: &State) -> Patch {
    *SlotPatches::of(state).expect("patches").first().expect("a patch")
}

/// The three files by name or path.
fn loaded(instrument: &str) -> State {
    let instrument = profile::load::<Instrument>(instrument).expect("an instrument");
    let target = profile::load::<Target>("perform").expect("a target");
    State::of(&instrument, &target, &profile::load::<Hand>("wheel").expect("a hand"), 3)
}

/// The patch of an instrument as it stands, with its parents.
fn today(instrument: &str) -> Patch {
    let instrument = profile::load::<Instrument>(instrument).expect("an instrument").profile;
    let target = profile::load::<Target>("perform").expect("a target").profile;
    let hand = profile::load::<Hand>("wheel").expect("a hand").profile;
    profile::patch(&instrument, &target, &hand, 3, 1.0).expect("a patch")
}

#[test]
fn a_shipped_instrument_is_kept_without_its_parents_and_means_the_same() {
    for id in ["gaohu", "dizi-c", "dizi-g", "cello", "hulusi"] {
        assert!(text(id).contains("based_on"), "{id} is based on another");
        let state = State::new(text(id), text("perform"), text("wheel"), 3);
        assert!(!state.to_text().contains("based_on"), "{id} stands alone");
        assert_eq!(patch(&state), today(id), "{id}");
        assert_eq!(State::parse(&state.to_text()).expect("it is read"), state, "{id}");
        let mut slots = State::shipped();
        slots.set_instruments(&[text("erhu"), text(id)]);
        assert!(!slots.to_text().contains("based_on"), "{id} in the second slot");
    }
}

#[test]
fn a_file_whose_parent_changes_and_then_vanishes_renders_as_it_did() {
    let folder = tempfile::tempdir().expect("a folder");
    let (parent, child) = (folder.path().join("old.toml"), folder.path().join("young.toml"));
    let old = text("dizi-d").replace("id = \"dizi-d\"", "id = \"old\"");
    fs::write(&parent, &old).expect("written");
    let young = text("dizi-g")
        .replace("based_on = \"dizi-d\"", "based_on = \"old.toml\"")
        .replace("id = \"dizi-g\"", "id = \"young\"");
    fs::write(&child, young).expect("written");
    let path = child.to_str().expect("a path");
    let state = loaded(path);
    let expected = engine(&today(path), &take(), END, None);
    let mut clap = opened(&project(&state.to_text(), &json!({})));
    check_equal("at first", &play(&mut clap, &[512], &take(), END, None), &expected);
    let saved = clap.save();
    // Its vibrato now starts at the usual age.
    let wider = old.replace("onset_ms", "# onset_ms");
    assert_ne!(wider, old);
    fs::write(&parent, wider).expect("written");
    assert_ne!(today(path), patch(&state), "the parent matters");
    let mut clap = opened(&saved);
    check_equal("changed", &play(&mut clap, &[64], &take(), END, None), &expected);
    assert_eq!(clap.save(), saved, "and it is saved as it was, byte for byte");
    drop(folder);
    let mut clap = opened(&saved);
    check_equal("vanished", &play(&mut clap, &[64], &take(), END, None), &expected);
}

/// A text alone cannot say where a file's parent stands.
#[test]
fn a_text_that_is_based_on_a_file_is_kept_and_complained_about() {
    let lost = text("dizi-g").replace("based_on = \"dizi-d\"", "based_on = \"old.toml\"");
    let state = State::new(&lost, text("perform"), text("wheel"), 3);
    let fresh = Project::shipped();
    fresh.put(state.clone());
    let complaint = fresh.complaint().expect("a complaint");
    assert!(complaint.contains("based_on") && complaint.contains("old.toml"), "{complaint}");
    let mut clap = opened(&project(&state.to_text(), &json!({})));
    assert_eq!(kept(&clap.save()), state.to_text());
}

/// Kept by the version before, which took instruments as they were given.
#[test]
fn a_kept_state_with_a_based_instrument_is_written_out_and_sounds_the_same() {
    let old = include_str!("kept/format-2-based.json").trim_end();
    let fields: Value = serde_json::from_str(old).expect("JSON");
    let own = fields["instruments"][0].as_str().expect("a text");
    assert!(own.contains("based_on = \"erhu\""));
    let instrument = profile::check::<Instrument>(own).expect("an instrument").profile;
    let target = fields["targets"][0].as_str().expect("a text");
    let target = profile::check::<Target>(target).expect("a target").profile;
    let hand = profile::check::<Hand>(fields["hand"].as_str().expect("a text")).expect("a hand");
    let patch = profile::patch(&instrument, &target, &hand.profile, 11, 1.0).expect("a patch");
    let expected = engine(&patch, &take(), END, None);
    let mut clap = opened(&project(old, &json!({})));
    check_equal("kept", &play(&mut clap, &[512], &take(), END, None), &expected);
    let saved = clap.save();
    assert!(!kept(&saved).contains("based_on"));
    let new: Value = serde_json::from_str(&kept(&saved)).expect("JSON");
    assert_eq!(new["colour"], "amber", "unknown fields stay");
    let mut clap = opened(&saved);
    check_equal("again", &play(&mut clap, &[64], &take(), END, None), &expected);
    assert_eq!(clap.save(), saved);
}

#[test]
fn a_state_too_long_to_be_read_again_is_kept_with_a_sentence_and_what_plays_goes_on() {
    let long = format!("{}\n# {}\n", text("violin"), "x".repeat(STATE_BYTES_MAX));
    let state = State::new(&long, text("generic"), text("wheel"), 1);
    let bytes = state.to_text().len();
    let fresh = Project::shipped();
    let hand_off = fresh.hand_off();
    assert!(hand_off.take().is_some(), "the shipped settings");
    fresh.put(state.clone());
    let expected = format!("the state is {bytes} bytes long; allowed are {STATE_BYTES_MAX}");
    assert_eq!(fresh.complaint(), Some(expected));
    assert!(hand_off.take().is_none(), "nothing new plays");
    assert_eq!(fresh.opened().0, State::shipped());
    let mut clap = opened(&project(&state.to_text(), &json!({})));
    assert_eq!(kept(&clap.save()), state.to_text(), "saved back as it was");
    fresh.put(State::shipped());
    assert_eq!(fresh.complaint(), None);
}

/// As full as a project can be: four and four slots, almost as long as is allowed.
#[test]
fn the_longest_state_is_quickly_loaded() {
    let mut state = State::shipped();
    let own = |id: &str| format!("{}\n# {}\n", text(id), "my own remarks ".repeat(3800));
    let owns = ["erhu", "violin", "dizi-g", "gaohu"].map(own);
    state.set_instruments(&owns.each_ref().map(String::as_str));
    state.set_targets(&["generic", "perform", "generic", "perform"].map(text));
    let length = state.to_text().len();
    assert!((STATE_BYTES_MAX * 8 / 10..=STATE_BYTES_MAX).contains(&length), "{length} bytes");
    let bytes = project(&state.to_text(), &json!({}));
    let mut clap = Clap::open();
    let start = Instant::now();
    assert!(clap.restore(&bytes));
    let spent = start.elapsed();
    println!("four and four slots: {length} bytes, loaded in {spent:?}");
    assert_eq!(kept(&clap.save()).len(), length, "it was read");
    assert!(spent <= Duration::from_millis(50), "loaded in {spent:?}");
}
