//! Requests for single notes: in a table or as texts, obeyed, refused with a reason, or not read.

use super::room::{QUARTER, promises, settings, take};
use polso::offline::wish::read_table;
use polso::offline::{Settings, shape_bytes, shape_wished};

/// Two joined notes of half a second each, Eb4 to E4 on one string of the erhu, then A4 and D6.
const LINE: &str = "0 B00150, 0 903F50, 480 904050, 490 803F40, 960 904550, 970 804040, \
    1440 905650, 1450 804540, 1920 805640";

fn table(text: &str, settings: &Settings) -> Result<Vec<String>, String> {
    let bytes = take(QUARTER, &[LINE]);
    let table = read_table(text, &settings.styles)?;
    let shaped = shape_wished(&bytes, settings, &table).map_err(|error| error.to_string())?;
    promises(&bytes, &shaped.bytes, settings).unwrap();
    Ok(shaped.report.lines[0].wishes.clone())
}

#[test]
fn a_wish_is_obeyed_or_refused_with_its_reason() {
    let erhu = settings("erhu", "perform");
    let check = |text: &str, expected: &str| {
        assert_eq!(table(text, &erhu).unwrap(), [expected], "{text}");
    };
    check("1.2 E4: slide", "1.2 E4: slide: obeyed");
    check("1.2 64: no slide  # by number", "1.2 E4: no slide: obeyed");
    check("1.3 A4: no vibrato, pressed", "1.3 A4: pressed, no vibrato: obeyed");
    check("1.3 A4: open", "1.3 A4: open: obeyed");
    let none = "The wish for an open string is refused: no string has this open note.";
    check("1.2 E4: open", &format!("1.2 E4: open: {none}"));
    let wide = "Slow legato instead of a slide: the interval is too wide.";
    check("1.4 D6: slide", &format!("1.4 D6: slide: {wide}"));
    check("1.1 Eb4: slide", "1.1 Eb4: slide: A fresh note: no other key was held.");
    check("1.2+1/8 E4: slide", "1.2 E4: slide: obeyed");
    assert_eq!(table("# nothing\n\n", &erhu).unwrap(), [""; 0]);
}

#[test]
fn a_wish_that_cannot_be_read_or_met_is_told_with_its_line() {
    let erhu = settings("erhu", "generic");
    let check = |text: &str, expected: &str| assert_eq!(table(text, &erhu).unwrap_err(), expected);
    check("1.2 E4", "line 1: `1.2 E4` is no request; allowed is BAR.BEAT KEY: WISH, ...");
    let place = "allowed is bar.beat from 1.1, as 12.3 or 12.3+1/2";
    check("\n0.1 E4: open", &format!("line 2: place is `0.1`; {place}"));
    check("1.2+3/2 E4: open", &format!("line 1: place is `1.2+3/2`; {place}"));
    check("1.2 H4: open", "line 1: key is `H4`; allowed is a key 0 to 127 or its name, 69 or A4");
    let wishes = "no vibrato, open, slide, no slide, plain, rolled, pressed";
    check("1.2 E4: loud", &format!("line 1: wish is `loud`; allowed is {wishes}"));
    check("1.4 E4: slide", "line 1: no E4 begins within a quarter of a beat of 1.4");
    check("1.2+1/2 E4: slide", "line 1: no E4 begins within a quarter of a beat of 1.2.5");
}

#[test]
fn a_text_in_the_take_is_a_wish_and_stays() {
    let erhu = settings("erhu", "perform");
    // "wish: no vibrato" at A4.
    let text = |words: &str| {
        let digits: String = words.bytes().map(|byte| format!("{byte:02X}")).collect();
        format!("960 FF01{:02X}{digits}", words.len())
    };
    let with = |words: &str| {
        take(QUARTER, &[&LINE.replace("960 9045", &format!("{}, 960 9045", text(words)))])
    };
    let bytes = with("wish: no vibrato");
    let shaped = shape_bytes(&bytes, &erhu).unwrap();
    promises(&bytes, &shaped.bytes, &erhu).unwrap();
    assert_eq!(shaped.report.lines[0].wishes, ["1.3 A4: no vibrato: obeyed"]);
    let named = shape_bytes(&with("wish A4: slide"), &erhu).unwrap();
    assert_eq!(named.report.lines[0].wishes.len(), 1);
    assert_eq!(
        shape_bytes(&with("wishful: thinking"), &erhu).unwrap().report.lines[0].wishes.len(),
        0
    );
    let error = shape_bytes(&with("wish C4: slide"), &erhu).unwrap_err().to_string();
    assert_eq!(error, "track 1, tick 1920: `wish C4: slide`: no such note begins here");
}

#[test]
fn a_note_without_vibrato_by_wish_does_not_bend() {
    // One long note under a full gesture, with and without the wish.
    let bytes = take(QUARTER, &["0 B00170, 0 904650, 1920 804640"]);
    let erhu = settings("erhu", "perform");
    let bends = |text: &str| {
        let table = read_table(text, &erhu.styles).unwrap();
        let shaped = shape_wished(&bytes, &erhu, &table).unwrap();
        let file = polso::offline::midi::read::read(&shaped.bytes).unwrap();
        file.tracks[0].events.iter().filter(|event| event.bytes[0] == 0xE0).count()
    };
    assert!(bends("") > 100, "{}", bends(""));
    assert!(bends("1.1 Bb4: pressed") > 100);
    assert!(bends("1.1 Bb4: no vibrato") <= 1, "{}", bends("1.1 Bb4: no vibrato"));
}
