//! The articulation that was chosen is kept with the project, and the receiver is told it again.

use polso::engine::Message;
use polso::host::state::State;
use serde_json::{Value, json};

use super::clap::Clap;
use super::project::{kept, opened, project, stored, text};
use super::room::{Heard, Host, Said, play};
use super::take::{frame, off, on};
use super::vst3::Vst3;

/// Keyswitches of the receiver.
const LEGATO: u8 = 0;
const PIZZICATO: u8 = 1;
/// The key of the hand that chooses.
const CHOOSES: u8 = 108;
/// Pizzicato in the common list.
const PLACE: u64 = 9;

fn state() -> State {
    let target = format!(
        "{}\n[articulations]\nby = \"keyswitch\"\nlegato = {LEGATO}\npizzicato = {PIZZICATO}\n",
        text("perform")
    );
    let hand = format!("{}\n[articulations]\npizzicato = {CHOOSES}\n", text("wheel"));
    State::new(text("violin"), &target, &hand, 1)
}

/// The keys that were struck.
fn struck(heard: &[Heard]) -> Vec<u8> {
    let key = |it: &Heard| match it.said {
        Said::Message(Message::NoteOn { key, .. }, _) => Some(key),
        _ => None,
    };
    heard.iter().filter_map(key).collect()
}

/// A note, behind the choosing key if that is asked for.
fn note(host: &mut impl Host, chooses: bool) -> Vec<u8> {
    let choice = [on(0.1, CHOOSES, 1), off(0.2, CHOOSES, 1)];
    let mut events: Vec<_> = choice.into_iter().filter(|_| chooses).collect();
    events.extend([on(0.3, 69, 2), off(0.6, 69, 2)]);
    struck(&play(host, &[256], &events, frame(1.0), None))
}

#[test]
fn it_is_told_again_when_the_project_is_opened() {
    let mut clap = opened(&project(&state().to_text(), &json!({})));
    assert_eq!(kept(&clap.save()), state().to_text(), "nothing was chosen yet");
    assert_eq!(note(&mut clap, true), [PIZZICATO, 69]);
    let saved = clap.save();
    let fields: Value = serde_json::from_str(&kept(&saved)).expect("JSON");
    assert_eq!(fields["articulation"], PLACE);
    let mut clap = opened(&saved);
    assert_eq!(clap.save(), saved, "also before it has played");
    assert_eq!(note(&mut clap, false), [PIZZICATO, 69]);
    assert_eq!(clap.save(), saved);
    let mut vst3 = Vst3::open("Polso");
    assert!(vst3.restore(&stored(&kept(&saved), &json!({}))));
    assert_eq!(note(&mut vst3, false), [PIZZICATO, 69]);
    let field =
        |bytes: &[u8]| serde_json::from_slice::<Value>(bytes).expect("JSON")["fields"].clone();
    assert_eq!(field(&vst3.save()), field(&stored(&kept(&saved), &json!({}))));
}

#[test]
fn a_project_of_an_older_version_has_none_and_takes_the_last_ones_back() {
    let mut clap = opened(&project(&state().to_text(), &json!({})));
    assert_eq!(note(&mut clap, true), [PIZZICATO, 69]);
    // As it was written before anything could be chosen.
    let old = project(&state().to_text(), &json!({}));
    assert!(clap.restore(&old));
    assert_eq!(note(&mut clap, false), [LEGATO, 69]);
    assert_eq!(kept(&clap.save()), state().to_text());
    let beyond = state().to_text().replacen('{', "{\"articulation\":200,", 1);
    let mut clap = opened(&project(&beyond, &json!({})));
    assert_eq!(note(&mut clap, false), [LEGATO, 69], "a place that this version does not know");
    let broken = state().to_text().replacen('{', "{\"articulation\":\"pizz\",", 1);
    let mut clap: Clap = opened(&project(&broken, &json!({})));
    assert_eq!(kept(&clap.save()), broken, "kept as it was");
}
