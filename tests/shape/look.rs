//! What `look` finds in a file: notes, keyswitches, controllers, lanes to be written over, words.

use super::room::{LINE, QUARTER, settings, take, track};
use polso::offline::look::{KeyGroup, Look, LookedLane, LookedPart, look_bytes};
use polso::offline::midi::{Division, File, write::write};
use polso::offline::shape_bytes;

fn look(tracks: &[&str]) -> Look {
    look_bytes(&take(QUARTER, tracks)).unwrap()
}

fn part(look: &Look, track: usize, channel: u8) -> &LookedPart {
    let own = look.tracks.iter().find(|it| it.track == track).unwrap();
    own.parts.iter().find(|part| part.channel == channel).unwrap()
}

fn lane<'a>(part: &'a LookedPart, address: &str) -> &'a LookedLane {
    part.lanes.iter().find(|lane| lane.address == address).unwrap()
}

/// Notes in words: key, on and off in ticks; at 120 a minute 480 ticks are half a second.
fn notes(notes: &[(u8, u64, u64)]) -> String {
    let mut events: Vec<(u64, String)> = Vec::new();
    for (key, on, off) in notes {
        events.push((*on, format!("{on} 90{key:02X}50")));
        events.push((*off, format!("{off} 80{key:02X}40")));
    }
    // At one tick an off comes first.
    events.sort_by_key(|(tick, words)| (*tick, words.contains(" 90")));
    events.into_iter().map(|(_, words)| words).collect::<Vec<_>>().join(", ")
}

#[test]
fn the_song_is_told_in_seconds_bars_tempo_and_metre() {
    // 3/4 (FF 58) from the start, 6/8 from bar 3; 60 a minute (FF 51), then 120 from bar 3.
    let words = "0 FF580403021808, 0 FF51030F4240, 2880 FF580406031808, 2880 FF510307A120, \
        0 903C50, 4320 803C40";
    let mut sorted: Vec<&str> = words.split(", ").collect();
    sorted.sort_by_key(|word| word.split_once(' ').unwrap().0.parse::<u64>().unwrap());
    let song = look(&[&sorted.join(", ")]).song;
    // Two bars of three quarters at 60 take 6 s, one of six eighths at 120 1.5 s.
    assert_eq!((song.length_s, song.bars), (7.5, Some(3)));
    let tempo = song.tempo.unwrap();
    assert_eq!((tempo.first_bpm, tempo.lowest_bpm, tempo.highest_bpm), (60.0, 60.0, 120.0));
    assert_eq!((tempo.changes, tempo.is_stated), (1, true));
    let metres: Vec<_> = song.metres.iter().map(|it| (it.bar, it.beats, it.value)).collect();
    assert_eq!(metres, [(1, 3, 4), (3, 6, 8)]);
}

#[test]
fn what_a_file_leaves_out_is_not_said_to_stand_there() {
    let song = look(&["0 903C50, 480 803C40"]).song;
    assert!(!song.tempo.unwrap().is_stated && !song.metres[0].is_stated);
    let film = Division::Frame { frames_per_s: 25, ticks: 40 };
    let song = look_bytes(&take(film, &["0 903C50, 1000 803C40"])).unwrap().song;
    assert_eq!((song.length_s, song.bars), (1.0, None));
    assert!(song.tempo.is_none() && song.metres.is_empty() && song.quarter_ticks.is_none());
}

#[test]
fn overlaps_and_chords_are_counted() {
    let check = |played: &[(u8, u64, u64)], share: f64, voices: usize, chords: (usize, usize)| {
        let look = look(&[&notes(played)]);
        let notes = part(&look, 1, 1).notes.as_ref().unwrap();
        assert_eq!((notes.overlap_share, notes.voices), (share, voices), "{played:?}");
        assert_eq!((notes.chords, notes.chord_keys), chords, "{played:?}");
    };
    // One after the other, the off at the very tick of the next on.
    check(&[(60, 0, 480), (62, 480, 960)], 0.0, 1, (0, 0));
    // Legato: half of the notes begin under another.
    check(&[(60, 0, 490), (62, 480, 960)], 0.5, 2, (0, 0));
    // 33 ticks are 34 ms, 34 are 35.4: within 35 ms it is a chord (DESIGN 4.2).
    check(&[(60, 0, 480), (64, 33, 480)], 0.5, 2, (1, 2));
    check(&[(60, 0, 480), (64, 34, 480)], 0.5, 2, (0, 0));
    // Two semitones apart it is a grace.
    check(&[(60, 0, 480), (62, 10, 480)], 0.5, 2, (0, 0));
    check(&[(60, 0, 480), (64, 0, 480), (67, 0, 480)], 2.0 / 3.0, 3, (1, 3));
}

#[test]
fn keys_far_off_that_are_few_and_short_or_held_look_like_keyswitches() {
    let music: Vec<(u8, u64, u64)> =
        (0..10).map(|place| (60 + place as u8, 480 * place, 480 * place + 400)).collect();
    let check = |more: &[(u8, u64, u64)]| -> Vec<KeyGroup> {
        let mut all = music.clone();
        all.extend(more);
        let look = look(&[&notes(&all)]);
        part(&look, 1, 1).notes.as_ref().unwrap().keyswitches.clone()
    };
    // 140 ticks are 146 ms, 144 are 150.
    let found = check(&[(24, 0, 140), (26, 960, 1100)]);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].lowest_key, found[0].highest_key, found[0].notes), (24, 26, 2));
    assert_eq!((found[0].gap_semitones, found[0].held), (34, 0));
    assert!(check(&[(24, 0, 470)]).is_empty(), "a low note that lasts is music");
    assert_eq!(check(&[(24, 0, 1900)])[0].held, 1, "other notes begin while it is down");
    assert_eq!(check(&[(48, 0, 100)]).len(), 1, "an octave away");
    assert!(check(&[(49, 0, 100)]).is_empty(), "a semitone nearer");
    assert_eq!(check(&[(96, 0, 100)])[0].lowest_key, 96, "above as well");
    let many: Vec<(u8, u64, u64)> =
        (0..3).map(|place| (24, 960 * place, 960 * place + 90)).collect();
    assert!(check(&many).is_empty(), "3 of 13 are more than a fifth");
}

#[test]
fn keyswitches_are_no_notes_of_the_line() {
    let held = [(24, 0, 4000), (60, 480, 900), (62, 960, 1400), (64, 1440, 1900), (65, 1920, 2400)];
    let look = look(&[&notes(&held)]);
    let notes = part(&look, 1, 1).notes.as_ref().unwrap();
    assert_eq!((notes.all, notes.notes, notes.lowest_key), (5, 4, 60));
    assert_eq!((notes.overlap_share, notes.voices), (0.0, 1), "but for the held key none overlaps");
}

#[test]
fn every_address_is_told_with_its_values_and_its_pace() {
    // The wheel every 48 ticks, 50 ms; the same value again is no change. RPN 0 (101, 100) is set
    // to 12 semitones by data entry, NRPN 260 (99, 98) to 1.
    let words = "0 B00700, 0 B06500, 0 B06400, 0 B0060C, 0 B06302, 0 B06204, 0 B02601, 0 C028, \
        0 903C50, 0 B00101, 48 B00102, 96 B00103, 96 B00103, 144 B00104, 200 D010, 300 E00040, \
        300 A03C20, 480 803C40";
    let look = look(&[words]);
    let part = part(&look, 1, 1);
    let addresses: Vec<&str> = part.lanes.iter().map(|lane| lane.address.as_str()).collect();
    let expected = [
        "cc1",
        "cc7",
        "pitch bend",
        "channel pressure",
        "poly pressure",
        "program",
        "rpn 0",
        "nrpn 260",
    ];
    assert_eq!(addresses, expected);
    let wheel = lane(part, "cc1");
    assert_eq!((wheel.messages, wheel.lowest, wheel.highest, wheel.steps), (5, 1, 4, 4));
    assert!((wheel.interval_ms.unwrap() - 50.0).abs() < 1e-9);
    assert_eq!((wheel.name, wheel.source.as_deref()), (Some("modulation"), Some("cc1")));
    assert_eq!(lane(part, "rpn 0").highest, 12 << 7);
    assert_eq!((lane(part, "nrpn 260").highest, lane(part, "rpn 0").source.as_deref()), (1, None));
    assert_eq!(lane(part, "cc7").interval_ms, None);
    assert_eq!(part.programs[0].name, Some("Violin"));
}

#[test]
fn data_goes_to_the_parameter_that_was_chosen_last() {
    // Half an NRPN after an RPN is another kind; the null (127, 127) ends it.
    let words = "0 B06500, 0 B06401, 0 B00601, 0 B06300, 0 B06205, 0 B00602, 0 B0657F, 0 B0647F, \
        0 B00603, 0 903C50, 480 803C40";
    let look = look(&[words]);
    let lanes = &part(&look, 1, 1).lanes;
    let found: Vec<(&str, u16)> =
        lanes.iter().map(|lane| (lane.address.as_str(), lane.highest)).collect();
    assert_eq!(found, [("cc6", 3), ("rpn 1", 128), ("nrpn 5", 256)]);
}

#[test]
fn a_lane_is_written_over_if_it_has_two_values_where_the_target_sends() {
    let check = |words: &str, address: &str, layer: Option<&str>, is_written_over: bool| {
        let look = look(&[words]);
        let lane = lane(part(&look, 1, 1), address);
        assert_eq!(
            (lane.layer.as_deref(), lane.is_written_over),
            (layer, is_written_over),
            "{words}"
        );
    };
    let note = "100 903C50, 580 803C40";
    // `show generic`: cc 11 is the dynamics, cc 5 belongs to the portamento.
    check(&format!("0 B00B10, 10 B00B20, {note}"), "cc11", Some("dynamics"), true);
    check(&format!("0 B00B10, {note}, 600 B00B20"), "cc11", Some("dynamics"), true);
    check(&format!("{note}, 600 B00B20, 700 B00B20"), "cc11", Some("dynamics"), false);
    check(&format!("{note}, 600 B00B20, 700 B00B21"), "cc11", Some("dynamics"), true);
    check(&format!("{note}, 600 B00520, 700 B00521"), "cc5", Some("slide"), true);
    check(&format!("{note}, 600 B00120, 700 B00121"), "cc1", None, false);
}

#[test]
fn a_shaped_file_says_by_what() {
    assert_eq!(look(&[LINE]).shaped, None);
    let shaped = shape_bytes(&take(QUARTER, &[LINE]), &settings("erhu", "generic")).unwrap();
    let look = look_bytes(&shaped.bytes).unwrap();
    let by = look.shaped.as_ref().unwrap();
    assert_eq!((by.engine, by.is_own_revision), (Some(polso::engine::REVISION), true));
    assert_eq!(by.instrument.as_deref(), Some("erhu 0123456789abcdef"));
    assert_eq!((by.seed, by.source.as_deref()), (Some(7), Some("cc 1")));
    assert_eq!((by.imperfection, by.bars.as_deref()), (Some(1.0), Some("all")));
    let dynamics = lane(part(&look, 1, 1), "cc11");
    assert!(dynamics.is_moving() && !dynamics.is_written_over, "it is what was sent");
    assert_eq!(look.other_texts, 0, "the marker is no text of the composer's");
    assert_eq!(look.next.words("a.mid", "b.mid"), ["peel", "a.mid", "-o", "b.mid"]);
    assert!(look.to_string().contains("shaped     by Polso, engine revision 2: erhu for generic"));
}

#[test]
fn wishes_and_articulations_are_told_with_their_place() {
    let text = |words: &str| {
        let hex: String = words.bytes().map(|byte| format!("{byte:02X}")).collect();
        format!("FF01{:02X}{hex}", words.len())
    };
    let words = format!(
        "0 {}, 480 {}, 480 {}, 480 903C50, 960 803C40",
        text("Articulation: pizzicato"),
        text("wish C4: no vibrato"),
        text("wishful thinking")
    );
    let look = look(&[&words]);
    let found: Vec<(&str, &str, &str)> =
        look.texts.iter().map(|it| (it.kind, it.beat.as_str(), it.words.as_str())).collect();
    let expected = [
        ("articulation", "1.1", "Articulation: pizzicato"),
        ("wish", "1.2", "wish C4: no vibrato"),
    ];
    assert_eq!((&found[..], look.other_texts), (&expected[..], 1));
}

#[test]
fn names_are_told_in_any_script_and_move_no_cursor() {
    // 二胡 in UTF-8; then a name with an escape sequence and a byte that is no UTF-8.
    let look =
        look(&["0 FF0306E4BA8CE883A1, 0 903C50, 480 803C40", "0 FF0304611B5BFF, 0 FF040178"]);
    assert_eq!(look.tracks[0].name.as_deref(), Some("二胡"));
    assert_eq!(look.tracks[1].name.as_deref(), Some("a [\u{FFFD}"));
    assert_eq!(look.tracks[1].instrument_name.as_deref(), Some("x"));
}

#[test]
fn a_file_without_an_end_to_a_note_or_without_notes_is_looked_at() {
    let look = look(&["0 903C50, 480 B00120"]);
    assert_eq!(part(&look, 1, 1).notes.as_ref().unwrap().open_notes, 1);
    let empty = self::look(&["0 B00120"]);
    assert!(empty.next.words("a", "b").is_empty());
    assert_eq!(empty.next.remarks, ["there are no notes, so there is nothing to shape"]);
}

/// A file of many short notes and messages under an ever-changing tempo is looked at in a time that
/// grows with it: eight times as much takes less than twenty times as long.
#[test]
fn the_time_grows_with_the_file() {
    let bytes = |count: u64| {
        let mut words = String::new();
        for place in 0..count {
            let (tick, key, value) = (place * 10, place % 128, place * 7 % 128);
            words += &format!("{tick} FF510306{:02X}20, ", place % 251);
            words += &format!("{tick} 90{key:02X}40, {tick} B0{key:02X}{value:02X}, ");
        }
        let (header_rest, foreign, tail) = (Vec::new(), Vec::new(), Vec::new());
        let tracks = vec![track(&words)];
        write(&File { format: 1, division: QUARTER, header_rest, tracks, foreign, tail }).unwrap()
    };
    let time_s = |count: u64| {
        let bytes = bytes(count);
        let once = || {
            let start = std::time::Instant::now();
            assert_eq!(
                part(&look_bytes(&bytes).unwrap(), 1, 1).notes.as_ref().unwrap().all as u64,
                count
            );
            start.elapsed().as_secs_f64()
        };
        (0..3).map(|_| once()).fold(f64::INFINITY, f64::min)
    };
    let (small_s, large_s) = (time_s(8_000), time_s(64_000));
    assert!(large_s < 20.0 * small_s, "{small_s} s, then {large_s} s");
}
