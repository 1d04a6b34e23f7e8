//! The take beside a shaped file: written with it, given back for it, and never a wrong one.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use super::room::{LINE, QUARTER, take};
use polso::offline::midi::{Division, File, read::read, write::write};

const TEXT: u8 = 0x01;
const NAME: u8 = 0x03;
const MARKER: u8 = 0x06;
const SEQUENCER_SPECIFIC: u8 = 0x7F;
/// The metas of which a shaped file's own are some.
const WORDS: [u8; 3] = [TEXT, MARKER, SEQUENCER_SPECIFIC];

fn polso(folder: &Path, line: &str) -> Output {
    let words: Vec<&str> = line.split_whitespace().collect();
    Command::new(env!("CARGO_BIN_EXE_polso")).args(words).current_dir(folder).output().unwrap()
}

/// Runs a line and gives what it says, with its exit code.
fn said(folder: &Path, line: &str) -> (Option<i32>, String) {
    let Output { status, stdout, stderr } = polso(folder, line);
    let both = [stdout, stderr].map(|bytes| String::from_utf8(bytes).unwrap()).concat();
    (status.code(), both)
}

/// A folder with `in.mid`, shaped to `out.mid`.
fn room() -> tempfile::TempDir {
    let room = tempfile::tempdir().unwrap();
    fs::write(room.path().join("in.mid"), take(QUARTER, &[LINE])).unwrap();
    let (code, said) = said(room.path(), "shape in.mid -o out.mid -i erhu");
    assert_eq!(code, Some(0), "{said}");
    assert!(said.ends_with("\ntake       out.take.mid keeps it\n"), "{said}");
    assert_eq!(bytes(room.path(), "out.take.mid"), bytes(room.path(), "in.mid"));
    room
}

fn bytes(folder: &Path, name: &str) -> Vec<u8> {
    fs::read(folder.join(name)).unwrap()
}

/// Saves a file as a program does that keeps no metas of these kinds, with `edit` on top.
fn save_without(folder: &Path, name: &str, kinds: &[u8], edit: impl FnOnce(&mut File)) {
    let mut file = read(&bytes(folder, name)).unwrap();
    for track in &mut file.tracks {
        track.events.retain(|event| event.bytes[0] != 0xFF || !kinds.contains(&event.bytes[1]));
    }
    edit(&mut file);
    fs::write(folder.join(name), write(&file).unwrap()).unwrap();
}

/// The metas that a program does not keep, and what else it does.
type Loss = (&'static [u8], fn(&mut File));

/// Nothing but what sounds is left, and no controller either.
fn only_notes(file: &mut File) {
    for track in &mut file.tracks {
        track.events.retain(|event| matches!(event.bytes[0] >> 4, 8 | 9));
    }
}

#[test]
fn the_take_beside_comes_back_to_the_byte_where_the_record_is_gone() {
    let losses: [Loss; 5] = [
        (&[SEQUENCER_SPECIFIC], |_| {}),
        (&WORDS, |_| {}),
        (&WORDS, only_notes),
        (&WORDS, |file| assert!(file.rescale(Division::Quarter(1920)))),
        (&[SEQUENCER_SPECIFIC, NAME], |file| file.tracks.push(Default::default())),
    ];
    for (kinds, edit) in losses {
        let room = room();
        save_without(room.path(), "out.mid", kinds, edit);
        let expected = "from the take beside it, out.take.mid\nthe take is exactly as it was\n";
        let peeled = said(room.path(), "peel out.mid -o back.mid");
        assert_eq!(peeled, (Some(0), expected.to_owned()), "{kinds:?}");
        assert_eq!(bytes(room.path(), "back.mid"), bytes(room.path(), "in.mid"), "{kinds:?}");
        // Without it there is nothing to be given.
        fs::remove_file(room.path().join("out.take.mid")).unwrap();
        let sentence = "out.mid: this is no shaped file, or its record is gone and no take lies \
                        beside it\n";
        let alone = said(room.path(), "peel out.mid -o alone.mid");
        assert_eq!(alone, (Some(2), sentence.to_owned()), "{kinds:?}");
        assert!(!room.path().join("alone.mid").exists());
    }
}

#[test]
fn keys_struck_again_and_keyswitches_are_no_notes_of_the_take() {
    let tapped = "0 B00140, 0 904850, 960 904A60, 1440 804A40, 2400 804840";
    let spoken = "0 B00110, 0 FF0617 61727469 63756C61 74696F6E 3A207069 7A7A6963 61746F,\
        0 904850, 480 804840, 960 904A60, 1440 804A40";
    let switched = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/switched.target.toml");
    for (line, target, more) in [(tapped, "perform-12", 1), (spoken, switched, 1)] {
        let room = tempfile::tempdir().unwrap();
        fs::write(room.path().join("in.mid"), take(QUARTER, &[line])).unwrap();
        let (code, text) =
            said(room.path(), &format!("shape in.mid -o out.mid -i violin -t {target}"));
        assert_eq!(code, Some(0), "{text}");
        save_without(room.path(), "out.mid", &WORDS, only_notes);
        let ons = |name: &str| {
            let file = read(&bytes(room.path(), name)).unwrap();
            file.tracks[0].events.iter().filter(|event| event.bytes[0] == 0x90).count()
        };
        assert_eq!(ons("out.mid"), ons("in.mid") + more, "{target}");
        let (code, text) = said(room.path(), "peel out.mid -o back.mid");
        assert_eq!(code, Some(0), "{target}: {text}");
        assert_eq!(bytes(room.path(), "back.mid"), bytes(room.path(), "in.mid"));
    }
}

#[test]
fn a_take_beside_that_is_another_is_never_given() {
    let check = |kinds: &[u8], beside: &str, why: &str| {
        let room = room();
        save_without(room.path(), "out.mid", kinds, |_| {});
        fs::write(room.path().join("out.take.mid"), take(QUARTER, &[beside])).unwrap();
        let sentence = format!(
            "out.mid: its record is gone, and the take beside it is not the one that was shaped: \
             {why}; nothing is given back\n"
        );
        let peeled = said(room.path(), "peel out.mid -o back.mid");
        assert_eq!(peeled, (Some(2), sentence));
        assert!(!room.path().join("back.mid").exists());
    };
    // The very notes under another hand: the marker's digest tells.
    let digest = "its digest is not the one that the marker has";
    check(&[SEQUENCER_SPECIFIC], &LINE.replace("B00150", "B00151"), digest);
    // 3 ms are 3 ticks of 480 at 120 a minute; 1 ms is within what programs round.
    let late = LINE.replace("480 903E50", "483 903E50");
    check(&WORDS, &late, "the file has another D4 at 0.50 s");
    let other = LINE.replace("903E50", "903F50").replace("803E40", "803F40");
    check(&WORDS, &other, "its Eb4 at 0.50 s is not in the file");
    let longer = format!("{LINE}, 3000 903C50, 3300 803C40");
    check(&WORDS, &longer, "its C4 at 3.12 s is not in the file");
    let shorter = LINE.replace(", 1440 904050", "").replace(", 2880 804040", "");
    check(&WORDS, &shorter, "the file has another E4 at 1.50 s");
    check(&WORDS, "0 B00110, 480 B00120", "it has no notes");
}

#[test]
fn a_note_edited_since_is_not_lost_with_the_record() {
    let room = room();
    save_without(room.path(), "out.mid", &[SEQUENCER_SPECIFIC], |file| {
        let at = file.tracks[0].events.iter().rposition(|event| event.bytes[0] == 0x90).unwrap();
        let event = &mut file.tracks[0].events[at];
        event.bytes = [0x90, 0x43, event.bytes[2]][..].into();
    });
    let sentence = "out.mid: its record is gone, and its notes were edited since it was shaped: the \
                    file has another G4 at 1.50 s; the take beside it is the one that was shaped, \
                    without those edits\n";
    assert_eq!(said(room.path(), "peel out.mid -o back.mid"), (Some(2), sentence.to_owned()));
}

#[test]
fn a_file_with_its_record_follows_it_and_says_if_the_take_beside_is_another() {
    let room = room();
    let other = LINE.replace("B00150", "B00151");
    fs::write(room.path().join("out.take.mid"), take(QUARTER, &[&other])).unwrap();
    let (code, text) = said(room.path(), "peel out.mid -o back.mid");
    assert_eq!(code, Some(0));
    let end = "from the file itself\nthe take is exactly as it was\nnote       the take beside it is \
               another; the file's own record was followed\n";
    assert!(text.ends_with(end), "{text}");
    assert_eq!(bytes(room.path(), "back.mid"), bytes(room.path(), "in.mid"));
}

#[test]
fn an_edit_in_a_file_with_its_record_stays_whatever_lies_beside() {
    let room = room();
    save_without(room.path(), "out.mid", &[], |file| {
        let pedal = [0xB0, 64, 127][..].into();
        file.tracks[0].events.insert(0, polso::offline::midi::TrackEvent { tick: 0, bytes: pedal });
    });
    let (code, text) = said(room.path(), "peel out.mid -o back.mid");
    assert_eq!(code, Some(0));
    let note = "note       the take beside it has none of the edits; the file's own record was \
                followed\n";
    assert!(text.contains("left       ") && text.ends_with(note), "{text}");
    let back = read(&bytes(room.path(), "back.mid")).unwrap();
    assert!(back.tracks[0].events.iter().any(|event| event.bytes[..] == [0xB0, 64, 127]));
}

/// A program that lays all tracks into one and counts otherwise has edited nothing.
#[test]
fn a_file_that_was_only_counted_and_sorted_anew_gives_the_take_beside_it() {
    let room = tempfile::tempdir().unwrap();
    fs::write(room.path().join("in.mid"), take(QUARTER, &["0 FF0304 65726875", LINE])).unwrap();
    said(room.path(), "shape in.mid -o out.mid -i erhu");
    save_without(room.path(), "out.mid", &[], |file| {
        let second = file.tracks.remove(1);
        file.tracks[0].events.extend(second.events);
        file.tracks[0].events.sort_by_key(|event| event.tick);
        file.tracks[0].end_tick = second.end_tick;
        file.format = 0;
    });
    let (code, text) = said(room.path(), "peel out.mid -o back.mid");
    let expected = "from the take beside it, out.take.mid\nthe take is exactly as it was\n";
    assert_eq!((code, text.as_str()), (Some(0), expected));
    assert_eq!(bytes(room.path(), "back.mid"), bytes(room.path(), "in.mid"));
}

#[test]
fn shaping_again_peels_by_the_same_rule_or_is_refused() {
    let shaped = bytes(room().path(), "out.mid");
    for kinds in [&[SEQUENCER_SPECIFIC][..], &WORDS] {
        let room = room();
        save_without(room.path(), "out.mid", kinds, |_| {});
        let (code, text) = said(room.path(), "shape out.mid -o again.mid -i erhu");
        assert_eq!(code, Some(2));
        assert!(text.starts_with("out.mid: the file is shaped already ("), "{text}");
        let (code, text) = said(room.path(), "shape out.mid -o again.mid -i erhu --force");
        assert_eq!(code, Some(0), "{text}");
        let note = "the file was shaped before and has been peeled first, from the take beside it";
        assert!(text.contains(note), "{text}");
        assert_eq!(bytes(room.path(), "again.mid"), shaped);
        assert_eq!(bytes(room.path(), "again.take.mid"), bytes(room.path(), "in.mid"));
        let traced = said(room.path(), "trace out.mid -i erhu --force --every 1000").1;
        let from_take = said(room.path(), "trace in.mid -i erhu --every 1000").1;
        assert_eq!(traced, format!("{from_take}{note}\n"));

        let other = LINE.replace("1440 904050", "1460 904050");
        fs::write(room.path().join("out.take.mid"), take(QUARTER, &[&other])).unwrap();
        let (code, text) = said(room.path(), "shape out.mid -o third.mid -i erhu --force");
        assert_eq!(code, Some(2), "{text}");
        assert!(!room.path().join("third.mid").exists());
    }
    // With a marker alone and nothing beside it no second layer is laid over the first.
    let room = room();
    save_without(room.path(), "out.mid", &[SEQUENCER_SPECIFIC], |_| {});
    fs::remove_file(room.path().join("out.take.mid")).unwrap();
    let (code, text) = said(room.path(), "shape out.mid -o again.mid -i erhu --force");
    assert_eq!(code, Some(2));
    assert!(text.contains("its record is gone and no take lies beside it"), "{text}");
    assert!(!room.path().join("again.mid").exists());
}

#[test]
fn another_version_of_a_take_beside_its_own_file_is_a_take() {
    // Somebody keeps the raw take beside one with a mended wheel, under our name for it.
    let room = tempfile::tempdir().unwrap();
    fs::write(room.path().join("in.take.mid"), take(QUARTER, &[LINE])).unwrap();
    let mended = LINE.replace("240 B00150", "240 B00152");
    fs::write(room.path().join("in.mid"), take(QUARTER, &[&mended])).unwrap();
    let (code, text) = said(room.path(), "shape in.mid -o out.mid -i erhu");
    assert_eq!(code, Some(0), "{text}");
    assert_eq!(bytes(room.path(), "out.take.mid"), bytes(room.path(), "in.mid"));
    assert_eq!(said(room.path(), "peel in.mid -o back.mid").0, Some(2));
}

/// Both files are written or neither, and none over another without `--force`.
#[test]
fn the_take_and_its_shape_are_written_together() {
    let room = room();
    let path = room.path();
    let names = || {
        let names = fs::read_dir(path).unwrap().map(|entry| entry.unwrap().file_name());
        let mut names: Vec<String> = names.map(|name| name.into_string().unwrap()).collect();
        names.sort();
        names
    };
    // An own take is no obstacle, another one is.
    fs::remove_file(path.join("out.mid")).unwrap();
    assert_eq!(said(path, "shape in.mid -o out.mid -i erhu").0, Some(0));
    fs::write(path.join("out.take.mid"), "precious").unwrap();
    fs::remove_file(path.join("out.mid")).unwrap();
    let exists = "out.take.mid: the file exists; --force overwrites it\n".to_owned();
    assert_eq!(said(path, "shape in.mid -o out.mid -i erhu"), (Some(2), exists));
    let stale = "out.take.mid: another take lies there, and peel would give it back for this one; \
                 move it away, or leave out --no-take\n";
    let none = said(path, "shape in.mid -o out.mid -i erhu --no-take --force");
    assert_eq!(none, (Some(2), stale.to_owned()));
    assert_eq!(names(), ["in.mid", "out.take.mid"]);
    // A folder stands where the shaped file would go: the take's place is as it was.
    fs::create_dir(path.join("out.mid")).unwrap();
    assert_eq!(said(path, "shape in.mid -o out.mid -i erhu --force").0, Some(2));
    assert_eq!(bytes(path, "out.take.mid"), b"precious");
    fs::remove_file(path.join("out.take.mid")).unwrap();
    assert_eq!(said(path, "shape in.mid -o out.mid -i erhu --force").0, Some(2));
    assert_eq!(names(), ["in.mid", "out.mid"]);
    fs::remove_dir(path.join("out.mid")).unwrap();
    assert_eq!(said(path, "shape in.mid -o out.mid -i erhu --no-take").0, Some(0));
    assert_eq!(names(), ["in.mid", "out.mid"]);
    // None beside a pipe.
    assert_eq!(polso(path, "shape in.mid -o - -i erhu").status.code(), Some(0));
    assert_eq!(names(), ["in.mid", "out.mid"]);
}
