//! What only a host brings: the hand of this computer, and a performance that is printed.

use polso::editor::feed::Order;
use polso::editor::printing::song::{Printed, PrintedEvent, PrintedSong};
use polso::engine::Message;
use polso::offline::midi::read;

use crate::room::{Room, texts};

#[test]
fn the_hand_of_this_computer_is_chosen_once_and_forgotten_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("settings/polso/hand.toml");
    let mut room = Room::with(&texts("erhu", "generic", "breath"));
    room.tap.set_computer_hand_path(&path);
    room.press("Page Hand");
    assert!(room.is_there("What you play just now is read by the project's hand."));
    room.press("Play by this hand in every project on this computer");
    let text = std::fs::read_to_string(&path).expect("the file");
    assert_eq!(text, texts("erhu", "generic", "breath").hand);
    assert_eq!(room.tap.orders(), [Order::ComputerHand]);
    room.press("Record anew by this computer's hand");
    assert_eq!(room.tap.orders(), [Order::RecordAnew]);
    room.press("Forget the hand of this computer");
    assert!(!path.exists());
    assert_eq!(room.tap.orders(), [Order::ComputerHand]);
}

fn note(beat: f64, key: u8) -> [PrintedEvent; 2] {
    let event = |beat, message| PrintedEvent { beat, what: Printed::Message(message) };
    [
        event(beat, Message::NoteOn { channel: 0, key, velocity: 90 }),
        event(beat + 1.0, Message::NoteOff { channel: 0, key, velocity: 64 }),
    ]
}

fn song() -> PrintedSong {
    let events = [note(1.0, 69), note(5.0, 71), note(9.0, 72)].concat();
    PrintedSong { events, end_beat: 12.0, ..PrintedSong::default() }
}

#[test]
fn chosen_bars_are_printed_and_a_file_that_is_there_is_asked_about() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("performed.mid");
    let mut room = Room::erhu();
    room.press("Page Print");
    room.type_into("Print into a MIDI file: path", path.to_str().expect("a path"));
    room.press("Print into a MIDI file");
    let nothing = "nothing was performed since the song last started";
    assert_eq!(room.model().sentence(), Some(nothing));
    room.tap.set_song(song());
    for (bars, sentence) in [("2-3", "2-3"), ("9..9", "nothing was performed in the bars 9..9")] {
        room.type_into("Bars to print", bars);
        room.press("Print into a MIDI file");
        let said = room.model().sentence().unwrap_or_default().to_owned();
        assert!(said.contains(sentence), "{bars}: {said}");
        assert!(!path.exists());
    }
    room.type_into("Bars to print", "2..2");
    room.press("Print into a MIDI file");
    let keys = |path: &std::path::Path| {
        let file = read::read(&std::fs::read(path).expect("the file")).expect("a MIDI file");
        let messages = file.tracks[1].events.iter().filter_map(|event| event.message());
        let keys = messages.filter_map(|message| match message {
            Message::NoteOn { key, .. } => Some(key),
            _ => None,
        });
        keys.collect::<Vec<_>>()
    };
    assert_eq!(keys(&path), [71]);
    room.type_into("Bars to print", "1..3");
    room.press("Print into a MIDI file");
    assert_eq!(keys(&path), [71], "it is asked about first");
    room.press("Overwrite the file");
    assert_eq!(keys(&path), [69, 71, 72]);
}

#[test]
fn the_track_is_turned_to_printed() {
    let mut room = Room::erhu();
    room.press("Page Print");
    assert!(room.is_there("1200 events, up to bar 17. 3 found no room and are missing."));
    room.press("Printed: everything passes untouched");
    assert_eq!(room.tap.orders(), [Order::Printed(true)]);
}
