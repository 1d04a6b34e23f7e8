//! Requests for single notes: in a table or as texts, obeyed, refused with a reason, or not read.

use polso::engine::patch::Source;
use polso::offline::midi::{Division, read::read};
use polso::offline::take::wish::read_table;
use polso::offline::{Settings, shape_bytes};
use polso::profile::{Instrument, Target, check, hand_for, load, patch};

use super::room::{QUARTER, promises, settings, take, traced};

/// Two joined notes of half a second each, Eb4 to E4 on one string of the erhu, then A4 and D6.
const LINE: &str = "0 B00150, 0 903F50, 480 904050, 490 803F40, 960 904550, 970 804040, \
    1440 905650, 1450 804540, 1920 805640";

pub fn with(text: &str, settings: &Settings) -> Result<Settings, String> {
    Ok(Settings { wishes: read_table(text, &settings.styles)?, ..settings.clone() })
}

/// What came of each wish of a table for [`LINE`].
fn answers(text: &str, settings: &Settings) -> Result<Vec<String>, String> {
    let settings = with(text, settings)?;
    shaped(&take(QUARTER, &[LINE]), &settings)
}

/// What came of each wish; the shaped file keeps every promise, its way back too.
pub fn shaped(bytes: &[u8], settings: &Settings) -> Result<Vec<String>, String> {
    let shaped = shape_bytes(bytes, settings).map_err(|error| error.to_string())?;
    promises(bytes, &shaped.bytes, settings).unwrap();
    Ok(shaped.report.lines[0].wishes.clone())
}

/// A text event of a kind, in the words of [`take`].
pub fn text(tick: u64, kind: u8, words: &str) -> String {
    let digits: String = words.bytes().map(|byte| format!("{byte:02X}")).collect();
    format!("{tick} FF{kind:02X}{:02X}{digits}", words.len())
}

/// [`LINE`] with a text before its A4.
fn take_with(kind: u8, words: &str) -> Vec<u8> {
    let line = LINE.replace("960 9045", &format!("{}, 960 9045", text(960, kind, words)));
    take(QUARTER, &[&line])
}

#[test]
fn a_wish_is_obeyed_or_refused_with_its_reason() {
    let erhu = settings("erhu", "perform");
    let check = |text: &str, expected: &str| {
        assert_eq!(answers(text, &erhu).unwrap(), [expected], "{text}");
    };
    check("1.2 E4: slide", "1.2 E4: slide: obeyed");
    check("1.2 64: no slide  # by number", "1.2 E4: no slide: obeyed");
    check("1.3 A4: no vibrato, pressed", "1.3 A4: pressed, no vibrato: obeyed");
    check("1.3 A4: open", "1.3 A4: open: obeyed");
    check("1.1 D#4: no vibrato", "1.1 Eb4: no vibrato: obeyed");
    let none = "refused. No open string: none of the strings has this note.";
    check("1.2 E4: open", &format!("1.2 E4: open: {none}"));
    let wide = "refused. Slow legato instead of a slide: the interval is too wide.";
    check("1.4 D6: slide", &format!("1.4 D6: slide: {wide}"));
    check("1.1 Eb4: slide", "1.1 Eb4: slide: refused. A fresh note: no other key was held.");
    check("1.2+1/8 E4: slide", "1.2+1/8 E4: slide: obeyed");
    check("1.2 E4: legato slow", "1.2 E4: legato slow: obeyed");
    assert_eq!(answers("# nothing\n\n", &erhu).unwrap(), [""; 0]);
}

#[test]
fn a_wish_that_cannot_be_read_or_met_is_told_with_its_line() {
    let erhu = settings("erhu", "generic");
    let check = |text: &str, expected: &str| {
        assert_eq!(answers(text, &erhu).unwrap_err(), format!("wishes, {expected}"));
    };
    let form = "allowed is BAR.BEAT KEY: WISH, as 12.3 A4: open, or \
        BAR.BEAT..BAR.BEAT: WISH, as 12.1..14.4: softer 3 dB";
    check("1.2 E4", &format!("line 1: `1.2 E4` is no wish; {form}"));
    let place = "allowed is bar.beat from 1.1, as 12.3 or 12.3+1/2";
    check("\n0.1 E4: open", &format!("line 2: place is `0.1`; {place}"));
    check("1.2+3/2 E4: open", &format!("line 1: place is `1.2+3/2`; {place}"));
    let key = "allowed is 0 to 127 or a name from C-1 to G9, as Bb3";
    check("1.2 H4: open", &format!("line 1: key is `H4`; {key}"));
    check("1.2 128: open", &format!("line 1: key is `128`; {key}"));
    let wishes = "no vibrato, open, slide, no slide, legato quick|joined|slow|slide, \
        plain, rolled, pressed";
    check("1.2 E4: loud", &format!("line 1: wish is `loud`; allowed is {wishes}"));
    let (slides, both) = ("slide, no slide", "allowed is one way to join");
    check("1.2 E4: slide, no slide", &format!("line 1: wish is `{slides}`; {both}"));
    check("1.2 E4: rolled, plain", "line 1: wish is `rolled, plain`; allowed is one style");
    let open =
        "wish is `open, slide`; allowed is open or slide, as no slide ends on an open string";
    check("1.3 A4: open, slide", &format!("line 1: {open}"));
    check("1.4 E4: slide", "line 1: no E4 begins within a quarter of a beat of bar 1, beat 4");
    let half = "line 1: no E4 begins within a quarter of a beat of bar 1, beat 2.5";
    check("1.2+1/2 E4: slide", half);
    check("9.1 E4: open", "line 1: bar is 9; allowed is 1 to 2, where the take ends");
    let beat = "line 1: beat is 5; allowed is 1 to 4, with a fraction, in bar 1";
    check("1.5 E4: open", beat);
    let film = take(Division::Frame { frames_per_s: 25, ticks: 40 }, &[LINE]);
    let settings = with("1.1 E4: open", &erhu).unwrap();
    let no_bars = "wishes, line 1: this file counts film frames and has no bars";
    assert_eq!(shaped(&film, &settings).unwrap_err(), no_bars);
}

#[test]
fn a_note_a_quarter_of_a_beat_away_is_meant_in_every_bar() {
    let bar = |bar: u64| format!("{} 904550, {} 804540", bar * 1920 + 520, bar * 1920 + 700);
    let notes: Vec<String> = (0..30).map(bar).collect();
    let bytes = take(QUARTER, &[&format!("0 B00150, {}", notes.join(", "))]);
    let wishes: String = (1..=30).map(|bar| format!("{bar}.2+1/3 A4: no vibrato\n")).collect();
    let told = shaped(&bytes, &with(&wishes, &settings("erhu", "perform")).unwrap()).unwrap();
    assert_eq!(told.len(), 30);
    assert!(told.iter().all(|told| told.ends_with(": obeyed")), "{told:?}");
}

#[test]
fn a_text_in_the_take_is_a_wish_and_stays() {
    let erhu = settings("erhu", "perform");
    let check = |kind: u8, words: &str, expected: &[&str]| {
        assert_eq!(shaped(&take_with(kind, words), &erhu).unwrap(), expected, "{words}");
    };
    for kind in [0x01, 0x06, 0x07] {
        check(kind, "wish: no vibrato", &["1.3 A4: no vibrato: obeyed"]);
    }
    check(0x01, "wish A4: no slide", &["1.3 A4: no slide: obeyed"]);
    check(0x05, "wish: sung, not wished", &[]);
    check(0x01, "wishful: thinking", &[]);
    let refused = |words: &str| shaped(&take_with(1, words), &erhu).unwrap_err();
    let none = "track 1, tick 960: no C4 begins within a quarter of a beat of this text";
    assert_eq!(refused("wish C4: slide"), none);
    assert!(refused("wish: loud").starts_with("track 1, tick 960: wish is `loud`; allowed is "));
    // A hand is not on the grid, and a track without notes speaks for the others.
    let late = text(1000, 6, "wish: no vibrato");
    let shaped = |tracks: &[&str]| shaped(&take(QUARTER, tracks), &erhu).unwrap();
    assert_eq!(shaped(&[&late, LINE]), ["1.3 A4: no vibrato: obeyed"]);
}

#[test]
fn a_trace_lists_the_wishes_and_obeys_them() {
    let erhu = with("1.3 A4: no vibrato\n1.4 D6: open", &settings("erhu", "perform")).unwrap();
    let (csv, notices) = traced(&take(QUARTER, &[LINE]), &erhu, 50);
    let none = "refused. No open string: none of the strings has this note.";
    assert_eq!(notices, ["1.3 A4: no vibrato: obeyed".to_owned(), format!("1.4 D6: open: {none}")]);
    let at_a4: Vec<&str> = csv.lines().filter(|row| row.split(',').nth(1) == Some("69")).collect();
    assert!(at_a4.len() > 8, "{}", at_a4.len());
    assert!(at_a4.iter().all(|row| row.contains(",wish-no-vibrato,")), "{at_a4:?}");
}

#[test]
fn a_note_without_vibrato_by_wish_does_not_bend() {
    // One long note under a full gesture, with and without the wish.
    let bytes = take(QUARTER, &["0 B00170, 0 904650, 1920 804640"]);
    let erhu = settings("erhu", "perform");
    let bends = |text: &str| {
        let shaped = shape_bytes(&bytes, &with(text, &erhu).unwrap()).unwrap();
        let file = read(&shaped.bytes).unwrap();
        file.tracks[0].events.iter().filter(|event| event.bytes[0] == 0xE0).count()
    };
    assert!(bends("") > 100, "{}", bends(""));
    assert!(bends("1.1 Bb4: pressed") > 100);
    assert!(bends("1.1 Bb4: no vibrato") <= 1, "{}", bends("1.1 Bb4: no vibrato"));
}

#[test]
fn a_style_by_wish_reaches_a_receiver_that_latches_styles() {
    // A resting gesture asks for plain; the wish for pressed, on a note too short to blend.
    let erhu = load::<Instrument>("erhu").unwrap().profile;
    let target = "polso = \"target\"\nformat = 1\n[about]\nid = \"own\"\nnames = { en = \"own\" }\n\
         author = \"us\"\nlicence = \"MIT\"\n[styles]\nlaw = \"latched\"\n\
         [outputs.style_weight.pressed]\naddress = \"cc 20\"\n";
    let target = check::<Target>(target).unwrap().profile;
    let hand = hand_for(Source::Controller(1)).unwrap().profile;
    let base = settings("erhu", "generic");
    let own = Settings { patch: patch(&erhu, &target, &hand, 7, 1.0).unwrap(), ..base };
    let bytes = take(QUARTER, &["0 B00100, 0 904650, 60 804640, 480 904650, 540 804640"]);
    let values = |text: &str| {
        let shaped = shape_bytes(&bytes, &with(text, &own).unwrap()).unwrap();
        let file = read(&shaped.bytes).unwrap();
        let events = file.tracks[0].events.iter();
        let own = events.filter(|event| event.bytes[0] == 0xB0 && event.bytes[1] == 20);
        own.map(|event| event.bytes[2]).collect::<Vec<u8>>()
    };
    assert_eq!(values(""), [0]);
    assert_eq!(values("1.1 Bb4: pressed"), [0, 127, 0]);
    assert_eq!(values("1.1 Bb4: pressed\n1.2 Bb4: pressed"), [0, 127]);
    assert_eq!(values("1.2 Bb4: pressed"), [0, 127]);
}
