//! Some bars of a take only: nothing outside them changes, and nothing is left open at their end.

use super::room::{LINE, QUARTER, is_ours, promises, settings, take, words};
use polso::engine::Message;
use polso::engine::patch::ModePatch;
use polso::offline::midi::{Division, File, read::read, write::write};
use polso::offline::peel::peel;
use polso::offline::shape_bytes;

/// What differs between the take and its shape, in ticks of the shaped file.
fn changed_ticks(bytes: &[u8], file: &File) -> (u64, u64) {
    let original = read(bytes).unwrap();
    let factor = original.division.factor();
    let mut before: Vec<String> = Vec::new();
    for event in &original.tracks[0].events {
        before.push(format!("{} {:?}", event.tick * factor, event.bytes));
    }
    let after = file.tracks[0].events.iter().filter(|event| !is_ours(event));
    let after: Vec<(u64, String)> =
        after.map(|event| (event.tick, format!("{} {:?}", event.tick, event.bytes))).collect();
    let mut ticks: Vec<u64> =
        after.iter().filter(|(_, word)| !before.contains(word)).map(|(tick, _)| *tick).collect();
    let gone = before.iter().filter(|word| !after.iter().any(|(_, other)| other == *word));
    ticks.extend(gone.map(|word| word.split_once(' ').unwrap().0.parse::<u64>().unwrap()));
    (*ticks.iter().min().unwrap(), *ticks.iter().max().unwrap())
}

#[test]
fn only_the_bars_asked_for_change_and_end_clean() {
    // Four bars of 4/4; a note sounds through every bar line.
    let mut line = String::from("0 B00130");
    for beat in 0..16 {
        let (tick, key) = (240 + 480 * beat, 0x3C + beat % 5);
        line += &format!(", {tick} 90{key:02X}50, {tick} B001{:02X}", 40 + 4 * beat);
        line += &format!(", {} 80{key:02X}40", tick + 480);
    }
    let bytes = take(QUARTER, &[&line]);
    let mut settings = settings("erhu", "perform");
    settings.bars = Some("2..3".parse().unwrap());
    let shaped = shape_bytes(&bytes, &settings).unwrap();
    let file = read(&shaped.bytes).unwrap();
    let (first, last) = changed_ticks(&bytes, &file);
    assert_eq!((first, last), (3840, 11_519), "from bar 2 to the last tick of bar 3");
    let peeled = peel(file.clone()).unwrap();
    assert_eq!(write(&peeled.file).unwrap(), bytes);
    let at = |tick: u64| -> Vec<String> {
        let words = words(&file.tracks[0]);
        words.into_iter().filter(|word| word.starts_with(&format!("{tick} "))).collect()
    };
    assert!(
        at(3840).iter().any(|word| word.contains(" B00B")),
        "the outputs are sent: {:?}",
        at(3840)
    );
    let end = at(11_519);
    assert!(end.contains(&"11519 B00B7F".to_owned()), "levels full: {end:?}");
    assert!(end.contains(&"11519 E00040".to_owned()), "bend centred: {end:?}");
}

/// The offs of key 69 in the shaped file, in ticks of 960 to the quarter.
fn offs_of_69(line: &str, bars: Option<&str>) -> Vec<u64> {
    let mut settings = settings("dizi-d", "generic");
    settings.bars = bars.map(|bars| bars.parse().unwrap());
    let shaped = shape_bytes(&take(QUARTER, &[line]), &settings).unwrap();
    let events = read(&shaped.bytes).unwrap().tracks.remove(0).events;
    let is_off =
        |message: &Message| matches!(message, Message::NoteOff { channel: 0, key: 69, .. });
    events
        .iter()
        .filter(|event| event.message().as_ref().is_some_and(is_off))
        .map(|it| it.tick)
        .collect()
}

#[test]
fn a_tail_never_crosses_the_bars_asked_for() {
    // A long last note, lifted 20 ticks before bar 2, and a short one in bar 2.
    let line = "0 B00150, 0 904550, 1900 804540, 2880 904A50, 3000 804A40";
    let whole = offs_of_69(line, None);
    assert!(whole.len() == 1 && whole[0] > 3840, "drawn out beyond the bar line: {whole:?}");
    assert_eq!(offs_of_69(line, Some("1..1")), [3839], "the last tick inside");
    assert_eq!(offs_of_69(line, Some("2..2")), [3800], "as played: it was lifted outside");
}

#[test]
fn bars_beyond_the_end_of_the_take_do_not_make_it_longer() {
    let line = "0 B00150, 0 904550, 1900 804540";
    assert_eq!(offs_of_69(line, Some("1..1")), offs_of_69(line, None));
    assert_eq!(offs_of_69(line, Some("1..999999")), offs_of_69(line, None));
}

#[test]
fn a_key_that_is_never_lifted_is_lifted_where_its_track_ends() {
    assert_eq!(offs_of_69("0 B00150, 0 904550, 200 FF0100", None), [400]);
}

#[test]
fn keyswitches_that_the_bars_leave_open_are_closed_inside() {
    // A target that holds each keyswitch until the next.
    let mut settings = settings("dizi-d", "generic");
    let keys = [Some(24), Some(25), Some(26), Some(27), Some(28)];
    settings.patch.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held: true };
    settings.bars = Some("1..1".parse().unwrap());
    let line =
        "0 B00150, 0 904550, 1000 904A50, 1010 804540, 3000 804A40, 3000 904550, 3900 804540";
    let shaped = shape_bytes(&take(QUARTER, &[line]), &settings).unwrap();
    let mut held = Vec::new();
    for event in &read(&shaped.bytes).unwrap().tracks[0].events {
        match event.message() {
            Some(Message::NoteOn { key: key @ 24..=28, .. }) => held.push(key),
            Some(Message::NoteOff { key: key @ 24..=28, .. }) => {
                assert!(event.tick < 3840);
                let place = held.iter().position(|held| *held == key).expect("an open keyswitch");
                held.swap_remove(place);
            }
            _ => {}
        }
    }
    assert_eq!(held, [0; 0]);
    let outputs = &shaped.report.lines[0].outputs;
    let switched = outputs.iter().find(|output| output.address == "keyswitch").unwrap();
    assert_eq!((switched.layer.as_str(), switched.messages % 2), ("legato", 0));
}

#[test]
fn bars_that_are_not_there_are_refused_in_words() {
    let check = |division: Division, bars: &str, expected: &str| {
        let mut settings = settings("erhu", "generic");
        settings.bars = Some(bars.parse().unwrap());
        let error = shape_bytes(&take(division, &[LINE]), &settings).unwrap_err();
        assert_eq!(error.to_string(), expected);
    };
    check(QUARTER, "3..9", "--bars begins at bar 3; the take ends in bar 2");
    let frames = Division::Frame { frames_per_s: 25, ticks: 40 };
    check(frames, "1..2", "--bars: this file counts film frames and has no bars");
}

/// Notes of bar 2 (ticks 3840 to 7680) of a take of 960 ticks, without their velocities.
fn notes_in_bar_2(line: &str) -> Vec<String> {
    let bytes = take(QUARTER, &[&format!("0 B00140, {line}, 7680 FF0100")]);
    let mut settings = settings("violin", "perform-12");
    settings.patch.tail.tail_s = 0.0;
    settings.bars = Some("2..2".parse().unwrap());
    let shaped = shape_bytes(&bytes, &settings).unwrap();
    promises(&bytes, &shaped.bytes, &settings).expect("the promises of shaping");
    let is_note = |word: &String| word.contains(" 9") || word.contains(" 8");
    let words = words(&read(&shaped.bytes).unwrap().tracks[0]).into_iter().filter(is_note);
    words.map(|word| word[..word.len() - 2].to_owned()).collect()
}

#[test]
fn a_join_at_the_seam_leaves_every_note_its_own_on_and_off() {
    // C5 goes on into bar 3, and D5 joins it in bar 2: it is struck again there, and the take's own
    // off ends it.
    let struck = ["3840 9048", "5760 904A", "5760 8048", "6720 9048", "6720 804A", "9600 8048"];
    let over_the_end = "1920 904850, 2880 904A50, 3360 804A40, 4800 804840";
    assert_eq!(notes_in_bar_2(over_the_end), struck);
    // D5 has cut C5 in bar 1, where the take stands as it was; it is not struck twice.
    let expected = ["0 9048", "1920 904A", "4800 804A", "6720 8048"];
    let over_the_start = "0 904850, 960 904A50, 2400 804A40, 3360 804840";
    assert_eq!(notes_in_bar_2(over_the_start), expected);
}

/// The notes of the shaped file, in ticks of the shaped file; on and off alternate for each key.
#[track_caller]
fn notes_of(instrument: &str, target: &str, bars: &str, line: &str, cuts: bool) -> Vec<String> {
    let mut settings = settings(instrument, target);
    settings.bars = Some(bars.parse().unwrap());
    settings.patch.target.transition.cuts_jumps |= cuts;
    let bytes = take(QUARTER, &[line]);
    let file = read(&shape_bytes(&bytes, &settings).unwrap().bytes).unwrap();
    let words = words(&file.tracks[0]).into_iter();
    let notes =
        words.filter(|word| matches!(word.split(' ').nth(1), Some(it) if "89".contains(&it[..1])));
    let notes: Vec<String> = notes.map(|word| word[..word.len() - 2].to_owned()).collect();
    let mut down = std::collections::HashSet::new();
    for note in &notes {
        let (status, key) = note.split_once(' ').unwrap().1.split_at(2);
        let has_changed =
            if status == "90" { down.insert(key.to_owned()) } else { down.remove(key) };
        assert!(has_changed, "{note} in {notes:?}");
    }
    assert!(down.is_empty(), "{down:?} in {notes:?}");
    assert!(peel(file).is_ok_and(|peeled| write(&peeled.file).unwrap() == bytes));
    notes
}

/// A join had ended the note before the bars, and the take lifts its key within them: the take's off
/// is gone with the other events of the bars, so one is needed.
#[test]
fn a_note_that_a_join_has_cut_before_the_bars_ends_where_they_begin() {
    let line = "0 B00140, 1440 904E50, 1728 904D50, 2016 804E40, 2784 804D40";
    let notes = notes_of("violin", "perform", "2..3", line, false);
    assert_eq!(notes, ["2880 904E", "3456 904D", "3840 804E", "5975 804D"]);
}

/// A join and the join back at one tick, over a key that the take lifts behind the bars.
#[test]
fn a_note_that_is_struck_again_within_the_bars_waits_for_its_own_off() {
    let line = "0 B00140, 2838 904E50, 4401 905050, 4401 805040, 7638 804E40";
    let expected = ["5676 904E", "8802 9050", "8802 804E", "8802 904E", "8802 8050", "15276 804E"];
    assert_eq!(notes_of("violin", "perform", "2..3", line, true), expected);
    let line = "0 B00140, 3195 904650, 3575 904850, 3575 804840, 3960 804640";
    let notes = notes_of("double-bass", "perform", "..2", line, false);
    assert_eq!(notes.last().map(String::as_str), Some("7920 8046"));
    let line = "0 B00140, 0 902850, 192 903250, 192 803240, 4800 802840";
    notes_of("cello", "perform-12", "1..2", line, false);
}

/// The same key again over the seams: each strike of the performance has its off.
#[test]
fn a_key_that_is_struck_again_over_a_seam_alternates() {
    for target in ["generic", "portamento", "perform-12"] {
        let line = "0 B00140, 1700 904E50, 1910 804E40, 1960 904E50, 2300 904C50, 2400 804E40, \
                    5700 804C40, 5720 904C50, 6000 804C40";
        notes_of("violin", target, "2..3", line, false);
    }
}
