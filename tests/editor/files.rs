//! Files are opened, saved under a name, never written over without asking, and shared without the hand.

use std::fs;

use egui_kittest::kittest::Queryable;
use polso::profile::{Any, FileKind};

use crate::room::Room;

#[test]
fn a_file_is_saved_and_one_that_is_there_is_asked_about_first() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    let mut room = Room::erhu();
    room.press("Page Files");
    room.type_into("Save the instrument: path", &path.to_string_lossy());
    room.press("Save the instrument");
    let first = fs::read_to_string(&path).expect("it is there");
    assert_eq!(first, room.model().sheet(FileKind::Instrument).text());

    room.press("Strand style");
    room.type_into("onset in ms", "300");
    room.press("Page Files");
    room.press("Save the instrument");
    assert_eq!(fs::read_to_string(&path).expect("still"), first, "not without asking");
    room.press("Keep the file as it is");
    assert_eq!(fs::read_to_string(&path).expect("still"), first);
    room.press("Save the instrument");
    room.press("Overwrite the file");
    let second = fs::read_to_string(&path).expect("it is there");
    assert!(second.contains("onset_ms = 300"), "{second}");
    assert!(room.harness.query_by_label("Overwrite the file").is_none());
}

#[test]
fn a_file_is_opened_into_the_slot_that_plays_and_joins_the_library() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("own.toml");
    let about = "[about]\nid = \"own-fiddle\"\nnames = { en = \"own fiddle\" }\n";
    let text = format!("polso = \"instrument\"\nformat = 1\nbased_on = \"violin\"\n\n{about}");
    fs::write(&path, text).expect("written");
    let mut room = Room::erhu();
    room.press("Page Files");
    room.type_into("Open an instrument, target or hand: path", &path.to_string_lossy());
    room.press("Open an instrument, target or hand");
    let about = room.model().sheet(FileKind::Instrument).meaning().about().clone();
    assert_eq!(about.id, "own-fiddle", "{:?}", room.model().sentence());
    room.press("Page Choose");
    assert!(room.harness.query_by_label("Choose own-fiddle").is_some());
}

#[test]
fn a_file_with_faults_is_not_opened_and_the_sentence_names_the_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("broken.toml");
    fs::write(&path, "polso = \"hand\"\nformat = 1\n\n[controller]\nsource = \"cc 1\"\nlow = 7\n")
        .expect("written");
    let mut room = Room::erhu();
    let before = room.model().sheet(FileKind::Hand).text().to_owned();
    room.press("Page Files");
    room.type_into("Open an instrument, target or hand: path", &path.to_string_lossy());
    room.press("Open an instrument, target or hand");
    let sentence = room.model().sentence().expect("a sentence");
    assert!(sentence.ends_with("line 6: controller.low is 7; allowed is 0 to 1"), "{sentence}");
    assert_eq!(room.model().sheet(FileKind::Hand).text(), before);
}

#[test]
fn what_is_shared_can_be_used_and_holds_no_hand() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut room = Room::erhu();
    room.press("Page Files");
    let words = "Share instrument and target in a folder; the hand stays private";
    room.type_into(&format!("{words}: path"), &folder.path().to_string_lossy());
    room.press(words);
    let mut kinds = Vec::new();
    for entry in fs::read_dir(folder.path()).expect("a folder") {
        let bytes = fs::read(entry.expect("an entry").path()).expect("a file");
        kinds.push(Any::check(&bytes).expect("it can be used").kind());
    }
    kinds.sort();
    assert_eq!(kinds, [FileKind::Instrument, FileKind::Target]);
}
