//! A project is closed and opened again: the same sound, and nothing lost that it held.

use nice_plug::params::persist::PersistentField;
use polso::engine::Message;
use polso::engine::patch::Source;
use polso::host::project::Project;
use polso::host::slot_patches::SlotPatches;
use polso::host::state::{STATE_BYTES_MAX, State};
use polso::profile::patch::SEED;
use serde_json::{Value, json};

use super::clap::Clap;
use super::project::{kept, opened, project, text, with_length};
use super::room::{Said, check_equal, engine, play};
use super::take::{END, on, take, wheel};

#[test]
fn a_project_of_its_own_files_renders_as_the_engine_does_with_them() {
    // A violin of the composer's own, which is in no library.
    let own = text("violin").replace("id = \"violin\"", "id = \"my-violin\"");
    assert_ne!(own, text("violin"));
    let state = State::new(&own, text("perform"), text("wheel"), 99);
    let patches = SlotPatches::of(&state).expect("patches");
    let expected = engine(patches.first().expect("a patch"), &take(), END, None);
    let mut clap = opened(&project(&state.to_text(), &json!({})));
    check_equal("its own violin", &play(&mut clap, &[512], &take(), END, None), &expected);
    let again = clap.save();
    check_equal("reopened", &play(&mut opened(&again), &[64], &take(), END, None), &expected);
    assert_eq!(opened(&again).save(), again, "saved twice, the same bytes");
}

#[test]
fn a_project_opened_while_it_plays_takes_over() {
    let state = State::new(text("violin"), text("perform"), text("wheel"), 5);
    let expected =
        engine(SlotPatches::of(&state).expect("patches").first().expect("one"), &take(), END, None);
    let mut clap = Clap::open();
    play(&mut clap, &[64], &[], 640, None);
    assert!(clap.restore(&project(&state.to_text(), &json!({}))));
    let heard = play(&mut clap, &[64], &take(), END, None);
    // The receiver's own vibrato rate, which the new target does not drive, goes to rest first.
    let rate = Message::Controller { channel: 0, number: 76, value: 64 };
    assert_eq!((heard[0].frame, &heard[0].said), (0, &Said::Message(rate, -1)));
    check_equal("taken over", &heard[1..], &expected);
}

#[test]
fn a_project_of_another_revision_says_so_until_something_is_changed() {
    let state = State::new(text("violin"), text("perform"), text("wheel"), 5);
    assert_eq!(state.other_revision(), None);
    let mut older: Value = serde_json::from_str(&state.to_text()).expect("JSON");
    older["engine_revision"] = json!(1);
    let project = Project::shipped();
    project.set(older.to_string());
    let sentence = "This project was made with engine revision 1; revision 2 plays it now, and it \
                    sounds different.";
    assert_eq!(project.other_revision().as_deref(), Some(sentence));
    let (_, openings) = project.opened();
    assert!(matches!(project.edit(openings, |_| ()), Ok(false)));
    assert_eq!(project.other_revision().as_deref(), Some(sentence));
    let changed = project.edit(openings, |state| state.set_targets(&[text("generic")]));
    assert!(matches!(changed, Ok(true)));
    assert_eq!(project.other_revision(), None);
}

#[test]
fn a_state_of_format_1_becomes_one_of_slots_and_loses_nothing() {
    let quoted = |id: &str| Value::String(text(id).to_owned()).to_string();
    let old = include_str!("kept/format-1.json")
        .replace("\"@instrument@\"", &quoted("dizi-d"))
        .replace("\"@target@\"", &quoted("perform"));
    let state = State::parse(&old).expect("it is read");
    assert_eq!((state.instruments(), state.seed()), (vec![text("dizi-d")], 7));
    let expected =
        engine(SlotPatches::of(&state).expect("patches").first().expect("one"), &take(), END, None);
    let mut clap = opened(&project(&old, &json!({})));
    check_equal("format 1", &play(&mut clap, &[512], &take(), END, None), &expected);
    let new: Value = serde_json::from_str(&kept(&clap.save())).expect("JSON");
    assert_eq!(new["format"], 2);
    assert_eq!(new["instruments"], json!([text("dizi-d")]));
    assert_eq!(new["colour"], "amber", "unknown fields stay");
    assert_eq!(new.get("instrument"), None);
}

#[test]
fn text_that_cannot_be_read_is_saved_back_as_it_was() {
    let newer = State::shipped().to_text().replace("\"format\":2", "\"format\":99");
    let broken = State::new("polso = \"instrument\"", text("generic"), text("wheel"), 1).to_text();
    let long = format!("\"{}\"", "x".repeat(STATE_BYTES_MAX));
    let expected = {
        let shipped = SlotPatches::of(&State::in_place_of_unread()).expect("patches");
        engine(shipped.first().expect("a patch"), &take(), END, None)
    };
    for garbage in ["", "{", "[1, 2]", "\u{7}\u{0}", "{\"polso\": 3}", &newer, &broken, &long] {
        let mut clap = opened(&project(garbage, &json!({})));
        assert_eq!(kept(&clap.save()), garbage);
        let short: String = garbage.chars().take(30).collect();
        check_equal(&short, &play(&mut clap, &[1024], &take(), END, None), &expected);
    }
}

/// Fresh plugins had the seed 1 once. A project that says nothing of it sounds as it did then.
#[test]
fn a_project_without_a_seed_sounds_as_it_did() {
    let nothing = json!({ "version": "0.1.0", "params": {}, "fields": {} });
    let clap = opened(&with_length(nothing.to_string().as_bytes()));
    assert_eq!(seed_of(clap), 1, "without a text");
    let seedless = State::shipped().to_text().replace("\"seed\":0,", "");
    assert_ne!(seedless, State::shipped().to_text());
    let fresh = Project::shipped();
    let playing = || fresh.hand_off().take().expect("settings").first().expect("a patch").seed;
    assert_eq!(playing(), SEED, "a fresh plugin plays what the program plays");
    fresh.set(seedless);
    assert_eq!(playing(), 1, "without a seed");
    let one = State::new(text("erhu"), text("generic"), text("wheel"), 1);
    assert_eq!(seed_of(opened(&project(&one.to_text(), &json!({})))), 1, "of the first versions");
    assert_eq!(seed_of(Clap::open()), SEED);
}

/// The seed that a plugin keeps.
fn seed_of(mut clap: Clap) -> u64 {
    State::parse(&kept(&clap.save())).expect("a state").seed()
}

/// The first projects drew their styles into a lane whose lower half meant "by gesture".
#[test]
fn the_style_of_the_first_projects_means_what_it_meant() {
    let with_style = |position| {
        let said = (0, Said::Control("Vibrato style", (position + 0.05) / 1.05));
        std::iter::once(said).chain(take()).collect::<Vec<_>>()
    };
    let state = State::new(text("erhu"), text("perform"), text("wheel"), 1).to_text();
    let fresh = project(&state, &json!({}));
    let played =
        |bytes: &[u8], events: &[(u64, Said)]| play(&mut opened(bytes), &[512], events, END, None);
    let (by_gesture, half) = (played(&fresh, &take()), played(&fresh, &with_style(0.5)));
    assert_ne!(by_gesture, half, "the style is heard");
    // As the first versions kept it, and as their lanes said it, in parts of the whole lane.
    let old = |value: f32| project(&state, &json!({ "style": { "f32": value } }));
    check_equal("kept", &played(&old(0.5), &take()), &half);
    check_equal("kept by gesture", &played(&old(-0.2), &take()), &by_gesture);
    let lane = |share| {
        let said = (0, Said::Control("Vibrato style (first projects)", share));
        std::iter::once(said).chain(take()).collect::<Vec<_>>()
    };
    check_equal("drawn", &played(&fresh, &lane(0.75)), &half);
    check_equal("drawn by gesture", &played(&fresh, &lane(0.4)), &by_gesture);
    check_equal("both", &played(&old(1.0), &with_style(0.5)), &half);
}

#[test]
fn a_field_that_is_no_text_is_kept_as_one() {
    let whole = json!({ "version": "", "params": {}, "fields": { "state": "{\"polso\": [}" } });
    assert_eq!(kept(&opened(&with_length(whole.to_string().as_bytes())).save()), "{\"polso\": [}");
}

#[test]
fn damage_anywhere_never_ends_the_host() {
    let whole = Clap::open().save();
    let mut clap = Clap::open();
    for place in (0..whole.len()).step_by(211) {
        let mut bytes = whole.clone();
        bytes[place] ^= 0x15;
        clap.restore(&bytes);
        clap.restore(&whole[..place]);
    }
    assert!(clap.restore(&whole));
    let expected = play(&mut Clap::open(), &[64], &take(), END, None);
    clap.deactivate();
    clap.activate(48_000.0);
    check_equal("after all that", &play(&mut clap, &[64], &take(), END, None), &expected);
}

#[test]
fn controls_that_a_state_does_not_name_go_to_neutral() {
    let mut clap = Clap::open();
    let turn = [(0, Said::Control("Vibrato width", 0.1)), (0, Said::Control("Seed", 0.5))];
    play(&mut clap, &[64], &turn, 64, None);
    assert!((clap.value("Vibrato width") - 0.1).abs() < 1e-6);
    let params = json!({ "seed": { "i32": 3 } });
    assert!(clap.restore(&project(&State::shipped().to_text(), &params)));
    let control = clap.control("Vibrato width").clone();
    assert_eq!(clap.value("Vibrato width"), control.default);
    assert_eq!(clap.value("Seed").round(), 3.0);
}

#[test]
fn slots_are_changed_by_a_control_among_those_that_the_state_holds() {
    let mut state = State::new(text("erhu"), text("perform"), text("wheel"), 1);
    state.set_instruments(&[text("erhu"), text("violin")]);
    let patches = SlotPatches::of(&state).expect("patches");
    let violin = engine(patches.patch(1, 0).expect("a violin"), &take(), END, None);
    let slot = |number: u32| (0, Said::Control("Instrument slot", f64::from(number - 1) / 3.0));
    let events = |number| std::iter::once(slot(number)).chain(take()).collect::<Vec<_>>();
    let mut clap = opened(&project(&state.to_text(), &json!({})));
    check_equal("slot 2", &play(&mut clap, &[64], &events(2), END, None), &violin);
    let erhu = engine(patches.patch(0, 0).expect("an erhu"), &take(), END, None);
    let mut clap = opened(&project(&state.to_text(), &json!({})));
    check_equal("an empty slot", &play(&mut clap, &[64], &events(4), END, None), &erhu);
}

#[test]
fn each_instruments_slot_may_have_a_hand_of_its_own() {
    let mut state = State::new(text("erhu"), text("perform"), text("wheel"), 1);
    state.set_instruments(&[text("erhu"), text("violin")]);
    let pedal = text("wheel").replace("source = \"cc 1\"", "source = \"cc 4\"");
    assert_ne!(pedal, text("wheel"));
    state.set_hands(&[text("wheel"), &pedal]);
    let patches = SlotPatches::of(&state).expect("patches");
    let patches = [0, 1].map(|slot| *patches.patch(slot, 0).expect("a patch"));
    assert_eq!(patches.map(|it| it.hand.source), [Source::Controller(1), Source::Controller(4)]);
    let slot = (0, Said::Control("Instrument slot", 1.0 / 3.0));
    let events: Vec<_> = std::iter::once(slot).chain(take()).collect();
    let expected = engine(&patches[1], &take(), END, None);
    let saved = opened(&project(&state.to_text(), &json!({}))).save();
    check_equal("slot 2", &play(&mut opened(&saved), &[64], &events, END, None), &expected);
}

#[test]
fn reset_forgets_what_was_played() {
    let mut clap = Clap::open();
    let expected = play(&mut clap, &[64], &take(), END, None);
    play(&mut clap, &[64], &[wheel(0.0, 60), wheel(0.1, 99)], 48_000, None);
    clap.reset();
    check_equal("again", &play(&mut clap, &[64], &take(), END, None), &expected);
    play(&mut clap, &[64], &[on(0.0, 60, 1)], 640, None);
}
