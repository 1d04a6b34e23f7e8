//! This computer's hand reads what is played just now, the project's what was recorded.

use std::path::Path;
use std::process::Command;
use std::{env, fs};

use polso::engine::patch::Patch;
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use serde_json::{Value, json};

use super::clap::Clap;
use super::project::{kept, opened, project, stored, text};
use super::room::{Heard, Host, Said, Song, check_equal, engine, play, without_numbers};
use super::take::{END, frame, off, on, take, wheel};
use super::vst3::Vst3;

/// Names the folder for settings, in a process of a test's own.
const FOLDER: &str = "POLSO_TEST_SETTINGS";

/// A wheel that is full at half its way: the same source, another range.
fn short_wheel() -> String {
    text("wheel").replace("high = 0.98", "high = 0.5").replace("\"wheel\"", "\"short-wheel\"")
}

/// Runs a test once more in a process of its own, on whose computer this hand was chosen; there,
/// `body` is given the folder for settings.
fn on_a_computer_of(hand: &str, test: &str, body: impl FnOnce(&Path)) {
    if let Some(folder) = env::var_os(FOLDER) {
        return body(Path::new(&folder));
    }
    let folder = tempfile::tempdir().expect("a folder");
    // As each system has it.
    for place in ["polso", "Library/Application Support/Polso", "Polso"] {
        let place = folder.path().join(place);
        fs::create_dir_all(&place).expect("a folder");
        fs::write(place.join("hand.toml"), hand).expect("the hand");
    }
    let mut command = Command::new(env::current_exe().expect("this program"));
    command.args(["--exact", test, "--nocapture"]);
    for name in [FOLDER, "XDG_CONFIG_HOME", "HOME", "APPDATA"] {
        command.env(name, folder.path());
    }
    let done = command.output().expect("it runs");
    let said = String::from_utf8_lossy(&done.stdout) + String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success() && said.contains("1 passed"), "{said}");
}

/// What a fresh plugin plays under a hand.
fn under(hand: &str) -> Patch {
    let state = State::new(text("erhu"), text("generic"), hand, 0);
    *SlotPatches::of(&state).expect("patches").first().expect("a patch")
}

fn running() -> Option<Song> {
    Some(Song::running(8.0, 120.0))
}

fn recording() -> Option<Song> {
    running().map(|song| Song { is_recording: true, ..song })
}

fn standing() -> Option<Song> {
    running().map(|song| Song { is_running: false, ..song })
}

/// Which of these controllers of the hand's pass: those are not read.
fn passed(heard: &[Heard]) -> Vec<u8> {
    let number = |it: &Heard| match it.said {
        Said::Message(polso::engine::Message::Controller { number: number @ 1..=2, .. }, _) => {
            Some(number)
        }
        _ => None,
    };
    let mut numbers: Vec<u8> = heard.iter().filter_map(number).collect();
    numbers.dedup();
    numbers
}

/// A note under a wheel and a breath that both move.
fn both() -> Vec<(u64, Said)> {
    let breath = |at: f64, value| {
        let message = polso::engine::Message::Controller { channel: 0, number: 2, value };
        (frame(at), Said::Message(message, -1))
    };
    vec![on(0.1, 69, 1), wheel(0.2, 80), breath(0.3, 90), off(0.6, 69, 1)]
}

/// Plays both controllers; what passes is not read.
fn passes(host: &mut impl Host, song: Option<Song>) -> Vec<u8> {
    passed(&play(host, &[256], &both(), frame(1.0), song))
}

#[test]
fn another_range_reads_a_standing_song_and_not_a_running_one() {
    let test = "hands::another_range_reads_a_standing_song_and_not_a_running_one";
    on_a_computer_of(&short_wheel(), test, |_| {
        let cases = [(short_wheel(), standing()), (text("wheel").to_owned(), running())];
        for (hand, song) in cases {
            let expected = engine(&under(&hand), &take(), END, song);
            let clap = play(&mut Clap::open(), &[256, 441], &take(), END, song);
            check_equal("CLAP", &clap, &expected);
            let vst3 = play(&mut Vst3::open("Polso"), &[256, 441], &take(), END, song);
            check_equal("VST3", &without_numbers(&vst3), &without_numbers(&expected));
        }
    });
}

#[test]
fn another_source_reads_what_stands_or_is_recorded_and_not_what_runs() {
    let test = "hands::another_source_reads_what_stands_or_is_recorded_and_not_what_runs";
    on_a_computer_of(text("breath"), test, |_| {
        for (song, unread) in [(standing(), 1), (None, 1), (recording(), 1), (running(), 2)] {
            assert_eq!(passes(&mut Clap::open(), song), [unread], "CLAP, {song:?}");
            assert_eq!(passes(&mut Vst3::open("Polso"), song), [unread], "VST3, {song:?}");
        }
    });
}

#[test]
fn what_was_recorded_keeps_its_hand_on_every_computer() {
    let test = "hands::what_was_recorded_keeps_its_hand_on_every_computer";
    on_a_computer_of(text("breath"), test, |folder| {
        let mut clap = Clap::open();
        passes(&mut clap, standing());
        let state = |clap: &mut Clap| State::parse(&kept(&clap.save())).expect("a state");
        assert!(!state(&mut clap).hand_is_recorded(), "only played");
        play(&mut clap, &[256], &[], frame(0.1), recording());
        assert!(!state(&mut clap).hand_is_recorded(), "another track is recorded");
        passes(&mut clap, recording());
        let (saved, recorded) = (clap.save(), state(&mut clap));
        assert!(recorded.hand_is_recorded());
        assert_eq!(recorded.hands(), [text("breath")]);
        assert_eq!(passes(&mut clap, running()), [1], "the breath reads its lane");
        // VST3 keeps it likewise.
        let mut vst3 = Vst3::open("Polso");
        passes(&mut vst3, recording());
        let whole: Value = serde_json::from_slice(&vst3.save()).expect("JSON");
        let field = whole["fields"]["state"].as_str().expect("a field");
        let field: String = serde_json::from_str(field).expect("a text");
        assert_eq!(State::parse(&field).expect("a state").hands(), [text("breath")]);
        // On another computer, on which no hand was chosen.
        fs::remove_dir_all(folder).expect("it goes");
        let mut again = opened(&saved);
        assert_eq!(again.save(), saved, "byte for byte");
        assert_eq!(passes(&mut again, running()), [1]);
        let mut vst3 = Vst3::open("Polso");
        assert!(vst3.restore(&stored(&kept(&saved), &json!({}))));
        assert_eq!(passes(&mut vst3, running()), [1]);
    });
}

/// Of an older project nobody knows what its lane was recorded with, but by the project's hand.
#[test]
fn a_recorded_lane_keeps_the_projects_hand_while_others_record() {
    let test = "hands::a_recorded_lane_keeps_the_projects_hand_while_others_record";
    on_a_computer_of(text("breath"), test, |_| {
        let state = State::new(text("erhu"), text("generic"), text("wheel"), 0).to_text();
        let mut older: Value = serde_json::from_str(&state).expect("JSON");
        older.as_object_mut().expect("fields").remove("hand_recorded");
        let older = older.to_string();
        let recorded = state.replace("\"hand_recorded\":false", "\"hand_recorded\":true");
        for (name, kept_text) in [("older", older), ("recorded", recorded)] {
            let mut clap = opened(&project(&kept_text, &json!({})));
            assert_eq!(passes(&mut clap, recording()), [2], "CLAP, {name}");
            let state = State::parse(&kept(&clap.save())).expect("a state");
            assert!(state.hand_is_recorded(), "{name}");
            assert_eq!(state.hands(), [text("wheel")], "{name}");
            assert_eq!(passes(&mut clap, standing()), [1], "CLAP, {name}: a hand plays");
            let mut vst3 = Vst3::open("Polso");
            assert!(vst3.restore(&stored(&kept_text, &json!({}))));
            assert_eq!(passes(&mut vst3, recording()), [2], "VST3, {name}");
        }
    });
}

#[test]
fn a_file_that_is_no_hand_changes_nothing() {
    let test = "hands::a_file_that_is_no_hand_changes_nothing";
    on_a_computer_of("polso = \"hand\"\nformat = 99\n", test, |_| {
        let expected = engine(&under(text("wheel")), &take(), END, None);
        let heard = play(&mut Clap::open(), &[256], &take(), END, None);
        check_equal("no hand", &heard, &expected);
        // What is recorded then is the project's hand's, whichever is chosen later.
        let mut clap = Clap::open();
        assert_eq!(passes(&mut clap, recording()), [2]);
        let state = State::parse(&kept(&clap.save())).expect("a state");
        assert_eq!((state.hands(), state.hand_is_recorded()), (vec![text("wheel")], true));
    });
}
