//! A shaped file that others have edited: peeled as far as can be, and what cannot be is said.

use super::room::{LINE, QUARTER, is_ours, settings, take, words};
use polso::engine::patch::JoinedVelocity;
use polso::engine::{Message, REVISION};
use polso::offline::midi::event::meta_bytes;
use polso::offline::midi::{Division, File, Track, TrackEvent, read::read, write::write};
use polso::offline::peel::{Peeled, peel};
use polso::offline::shape_bytes;

/// Said where nothing else is to be said.
const EDITED: &str = "the file was edited since it was shaped, beside what shaping had added; those \
    edits stay";

/// The line shaped for an erhu whose joined notes stay as hard as played; what it was in words.
fn shaped() -> (File, Vec<String>) {
    let bytes = take(QUARTER, &[LINE]);
    let mut settings = settings("erhu", "generic");
    settings.patch.target.joined_velocity = JoinedVelocity::Played;
    let shaped = shape_bytes(&bytes, &settings).expect("a take");
    (read(&shaped.bytes).unwrap(), words(&read(&bytes).unwrap().tracks[0]))
}

/// Edits the shaped line and peels it: these words of the take are gone and these are there
/// instead, in whatever order within a tick, and this is said.
fn check(edit: impl FnOnce(&mut Vec<Track>), gone: &[&str], instead: &[&str], said: &[&str]) {
    let (mut file, mut expected) = shaped();
    edit(&mut file.tracks);
    let Peeled { file: peeled, leftovers, .. } = peel(file).expect("a shaped file");
    assert_eq!(leftovers, said);
    let before = expected.len();
    expected.retain(|word| !gone.contains(&word.as_str()));
    assert_eq!(before - expected.len(), gone.len(), "{gone:?} are not all of the take");
    expected.extend(instead.iter().map(|word| (*word).to_owned()));
    let mut found: Vec<String> = peeled.tracks.iter().flat_map(words).collect();
    let place = |word: &String| word.split_once(' ').expect("tick and bytes").0.parse::<u64>();
    let sort = |words: &mut Vec<String>| {
        words.sort_by_key(|word| (place(word).expect("a tick"), word.clone()));
    };
    sort(&mut expected);
    sort(&mut found);
    assert_eq!(found, expected);
}

fn is_output(event: &TrackEvent) -> bool {
    matches!(event.message(), Some(Message::Controller { number: 11, .. }))
}

fn is_note(event: &TrackEvent, key: u8) -> bool {
    matches!(event.bytes[0] >> 4, 8 | 9) && event.bytes[1] == key
}

#[test]
fn a_removed_output_is_said_to_be_gone() {
    let edit = |tracks: &mut Vec<Track>| {
        let place = tracks[0].events.iter().rposition(is_output).unwrap();
        tracks[0].events.remove(place);
    };
    check(edit, &[], &[], &["track 1: 1 added messages were gone or changed already"]);
}

#[test]
fn another_number_in_an_outputs_place_stays() {
    let edit = |tracks: &mut Vec<Track>| {
        let event = tracks[0].events.iter_mut().find(|event| is_output(event)).unwrap();
        event.bytes = Message::Controller { channel: 0, number: 7, value: 99 }.into();
    };
    check(
        edit,
        &[],
        &["0 B00763"],
        &[
            "track 1: 1 messages stand among the added ones that shaping did not add; they stay",
            "track 1: 1 added messages were gone or changed already",
        ],
    );
}

#[test]
fn events_of_one_tick_may_be_sorted_anew() {
    // As programs do that keep texts, notes and controllers apart.
    let class = |event: &TrackEvent| match event.bytes[0] >> 4 {
        0xF => 0,
        0x8 => 1,
        0xC => 2,
        0x9 => 4,
        _ => 3,
    };
    for is_backward in [false, true] {
        let edit = |tracks: &mut Vec<Track>| {
            tracks[0].events.sort_by_key(|event| {
                let class = class(event);
                (event.tick, if is_backward && class > 0 { 9 - class } else { class })
            });
        };
        // The take's own program change, and its first controller.
        let count = if is_backward { 2 } else { 1 };
        let said = format!(
            "track 1: {count} messages stand among the added ones that shaping did not add; they \
             stay"
        );
        check(edit, &[], &[], &[&said]);
    }
}

#[test]
fn channels_may_be_sorted_into_tracks_of_their_own() {
    let edit = |tracks: &mut Vec<Track>| {
        let all = std::mem::take(&mut tracks[0].events);
        let (texts, events): (Vec<_>, Vec<_>) =
            all.into_iter().partition(|event| event.bytes[0] == 0xFF);
        tracks[0].events = texts;
        let end_tick = tracks[0].end_tick;
        tracks.push(Track { events, end_tick });
    };
    let own = "track 2: 1 messages stand among the added ones that shaping did not add; they stay";
    let said = "1 channels stand in other tracks than when they were shaped; so they stay";
    check(edit, &[], &[], &[own, said]);
}

#[test]
fn a_moved_note_stands_where_it_was_moved() {
    // Shaping had changed its velocity and its off: the take's own does not come back beside it.
    let edit = |tracks: &mut Vec<Track>| {
        for event in tracks[0].events.iter_mut().filter(|event| is_note(event, 0x40)) {
            event.bytes = [event.bytes[0], 0x42, event.bytes[2]][..].into();
        }
    };
    let said = [
        "track 1: 2 messages stand among the added ones that shaping did not add; they stay",
        "track 1: 2 added messages were gone or changed already",
        "track 1: 2 events of notes were edited since; the edited ones stay",
    ];
    check(edit, &["1440 904050", "2880 804040"], &["1440 90425B", "3168 804240"], &said);
}

#[test]
fn a_deleted_note_comes_back_with_the_take() {
    let edit = |tracks: &mut Vec<Track>| {
        tracks[0].events.retain(|event| !is_note(event, 0x40));
    };
    check(edit, &[], &[], &["track 1: 2 added messages were gone or changed already"]);
}

#[test]
fn a_note_that_shaping_left_alone_may_be_moved() {
    let edit = |tracks: &mut Vec<Track>| {
        for event in tracks[0].events.iter_mut().filter(|event| is_note(event, 0x3E)) {
            event.bytes = [event.bytes[0], 0x41, event.bytes[2]][..].into();
        }
    };
    check(edit, &["480 903E50", "960 803E40"], &["480 904150", "960 804140"], &[EDITED]);
}

#[test]
fn what_others_add_stays() {
    let place_of = |track: &Track| {
        let is_there = |event: &TrackEvent| event.tick > 1200 && event.tick.is_multiple_of(2);
        track.events.iter().position(is_there).expect("an event on a tick of the take")
    };
    let edit = |tracks: &mut Vec<Track>| {
        let place = place_of(&tracks[0]);
        let bytes = Message::Controller { channel: 0, number: 64, value: 127 }.into();
        let tick = tracks[0].events[place].tick;
        tracks[0].events.insert(place, TrackEvent { tick, bytes });
    };
    let track = &shaped().0.tracks[0];
    let added = format!("{} B0407F", track.events[place_of(track)].tick / 2);
    let said = "track 1: 1 messages stand among the added ones that shaping did not add; they stay";
    check(edit, &[], &[&added], &[said]);
}

#[test]
fn without_its_marker_a_file_keeps_its_fine_ticks() {
    let (mut file, _) = shaped();
    file.tracks[0].events.retain(|event| !is_ours(event) || event.meta(6).is_none());
    let Peeled { file: peeled, leftovers, .. } = peel(file).unwrap();
    assert_eq!(peeled.division, Division::Quarter(960));
    assert_eq!(leftovers, ["the marker is gone, so the ticks stay as fine as they are"]);
}

#[test]
fn another_resolution_is_no_obstacle() {
    // Read and written at half the resolution, as a program with ticks of its own does: the digest
    // tells the take's own.
    let (mut file, _) = shaped();
    file.division = Division::Quarter(480);
    for track in &mut file.tracks {
        track.end_tick /= 2;
        track.events.iter_mut().for_each(|event| event.tick /= 2);
    }
    let Peeled { file: peeled, leftovers, .. } = peel(file).unwrap();
    assert_eq!(leftovers, [""; 0]);
    assert_eq!(write(&peeled).unwrap(), take(QUARTER, &[LINE]));
}

#[test]
fn a_file_that_another_revision_had_shaped_says_so() {
    let said = |engine: u32| {
        let (mut file, _) = shaped();
        for event in file.tracks.iter_mut().flat_map(|track| &mut track.events) {
            if let Some(text) = event.meta(6) {
                let text = String::from_utf8(text.to_vec()).expect("the marker");
                let other =
                    text.replace(&format!("engine {REVISION};"), &format!("engine {engine};"));
                event.bytes = meta_bytes(6, other.as_bytes());
            }
        }
        let peeled = peel(file).expect("a shaped file");
        assert_eq!(peeled.engine, Some(engine));
        // The take is the very same, whoever had shaped it.
        assert_eq!(peeled.leftovers, [""; 0]);
        peeled.other_revision()
    };
    assert_eq!(said(REVISION), None);
    let sentence = "engine revision 1 had shaped it; this is revision 2, so the same take shaped \
                    again sounds different";
    assert_eq!(said(1).as_deref(), Some(sentence));
}

#[test]
fn nothing_is_peeled_that_was_never_shaped() {
    let bytes = take(QUARTER, &[LINE]);
    let error = peel(read(&bytes).unwrap()).unwrap_err().to_string();
    assert_eq!(error, "this is no shaped file, or its record is gone and no take lies beside it");
    // And what is peeled was the very take.
    let (file, _) = shaped();
    assert_eq!(write(&peel(file).unwrap().file).unwrap(), bytes);
}
