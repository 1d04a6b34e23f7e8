//! Wishes for stretches: in a table or as a text, as far as they are asked, and what came of each.

use polso::offline::midi::Division;

use super::room::{QUARTER, settings, take, traced};
use super::wish::{shaped, text, with};

/// A wheel at 100 and a slur of eight notes, a beat each at 120 a minute: two bars, and a third for
/// the end.
fn line() -> String {
    let keys = [62, 64, 66, 67, 69, 71, 69, 67];
    let mut events = vec!["0 B00164".to_owned()];
    for (place, key) in keys.into_iter().enumerate() {
        let tick = 480 * place;
        events.push(format!("{tick} 90{key:02X}50"));
        if place > 0 {
            events.push(format!("{} 80{:02X}40", tick + 10, keys[place - 1]));
        }
    }
    events.push(format!("5000 80{:02X}40", keys[7]));
    events.join(", ")
}

fn answers(table: &str) -> Result<Vec<String>, String> {
    let settings = with(table, &settings("erhu", "perform"))?;
    shaped(&take(QUARTER, &[&line()]), &settings)
}

#[track_caller]
fn check(table: &str, expected: &str) {
    assert_eq!(answers(table).unwrap(), [expected], "{table}");
}

#[track_caller]
fn refuses(table: &str, expected: &str) {
    assert_eq!(answers(table).unwrap_err(), format!("wishes, line 1: {expected}"), "{table}");
}

#[test]
fn a_stretch_is_obeyed_or_refused_with_its_reason() {
    check("1.1..1.4: softer 3 dB", "1.1..1.4: softer 3 dB: obeyed");
    check("1..2: vibrato 70 %", "1..2: vibrato 70 %: obeyed");
    check(
        "1..2: slower vibrato 0.5 Hz over 2 beats",
        "1..2: slower vibrato 0.5 Hz over 2 beats: obeyed",
    );
    check("2..3: ending longer", "2..3: ending longer: obeyed");
    check("1..2: ending longer", "1..2: ending longer: refused. No phrase ends there.");
    check("1.2..2.2: legato slow", "1.2..2.2: legato slow: obeyed");
    check(
        "1.1..1.1: legato slow",
        "1.1..1.1: legato slow: refused. A fresh note: no other key was held.",
    );
    check("3.4..3.4: softer 3 dB", "3.4..3.4: softer 3 dB: refused. No note sounds there.");
    let top = "The level is at its top, and no louder note can be asked for.";
    check("1..2: louder 24 dB", &format!("1..2: louder 24 dB: refused. {top}"));
    let none = "No open string: none of the strings has this note.";
    // Of D4 and E4 only the first is a string of the erhu.
    check("1.1..1.2: open", &format!("1.1..1.2: open: obeyed by 1 of 2 notes. {none}"));
    let both = answers("1.1..2.4: softer 2 dB, no vibrato").unwrap();
    assert_eq!(both, ["1.1..2.4: softer 2 dB: obeyed", "1.1..2.4: no vibrato: obeyed"]);
}

#[test]
fn a_stretch_that_cannot_be_read_is_told_with_its_line() {
    let place = "allowed is a bar from 1, as 12, or bar.beat, as 12.3 or 12.3+1/2";
    refuses("0..2: open", &format!("place is `0`; {place}"));
    refuses("1.1..x: open", &format!("place is `x`; {place}"));
    refuses("2..1: open", "stretch is `2..1`; allowed is an end not before its beginning");
    refuses("1.3..1.2: open", "stretch is `1.3..1.2`; allowed is an end not before its beginning");
    refuses("1..2: softer 30 dB", "wish is `softer 30 dB`; allowed is softer 0 to 24 dB");
    refuses("1..2: softer", "wish is `softer`; allowed is softer 0 to 24 dB");
    refuses("1..2: vibrato 70", "wish is `vibrato 70`; allowed is vibrato 0 to 200 %");
    refuses("1..2: vibrato nan %", "wish is `vibrato nan %`; allowed is vibrato 0 to 200 %");
    refuses(
        "1..2: softer 3 dB over 1 s",
        "over is `1 s`; allowed is 0 to 16 beats, as over 1/2 beat",
    );
    refuses("1..9: open", "bar is 9; allowed is 1 to 3, where the take ends");
    refuses("1.5..2.1: open", "beat is 5; allowed is 1 to 4, with a fraction, in bar 1");
    let stretch = "wish is `softer 3 dB`, which is for a stretch, as 12.3..12.4: softer 3 dB";
    refuses("1.2 E4: softer 3 dB", stretch);
    let words = answers("1..2: loud").unwrap_err();
    assert!(words.contains("vibrato N %, softer N dB"), "{words}");
    assert!(words.contains("ending longer, ending shorter, no vibrato"), "{words}");
    let many = "1..2: softer 0.1 dB\n".repeat(129);
    let many = answers(&many).unwrap_err();
    let room = "there are more wishes for stretches of one line; allowed is 128";
    assert_eq!(many, format!("wishes, line 129: {room}"));
    let film = take(Division::Frame { frames_per_s: 25, ticks: 40 }, &[&line()]);
    let asked = with("1..2: softer 3 dB", &settings("erhu", "perform")).unwrap();
    let no_bars = "wishes, line 1: this file counts film frames and has no bars";
    assert_eq!(shaped(&film, &asked).unwrap_err(), no_bars);
}

#[test]
fn a_text_in_the_take_begins_a_stretch() {
    let with_text = |words: &str| {
        let line = line().replace("960 9042", &format!("{}, 960 9042", text(960, 1, words)));
        shaped(&take(QUARTER, &[&line]), &settings("erhu", "perform"))
    };
    let told = |words: &str| with_text(words).unwrap();
    assert_eq!(told("wish for 2 beats: softer 3 dB"), ["1.3 for 2 beats: softer 3 dB: obeyed"]);
    assert_eq!(told("wish for 1+1/2 bars: open, no vibrato").len(), 2);
    let length = "track 1, tick 960: length is `0 beats`; \
        allowed is above 0 to 10000 beats or bars, as for 6 beats";
    assert_eq!(with_text("wish for 0 beats: softer 3 dB").unwrap_err(), length);
    assert!(with_text("wish for 2 beats: loud").unwrap_err().contains("wish is `loud`"));
}

/// Values of a column of a trace, a row every 10 ms.
fn column(table: &str, name: &str) -> Vec<f64> {
    let settings = with(table, &settings("erhu", "perform")).unwrap();
    let (csv, _) = traced(&take(QUARTER, &[&line()]), &settings, 10);
    let mut rows = csv.lines();
    let place = rows.next().unwrap().split(',').position(|it| it == name).expect(name);
    rows.map(|row| row.split(',').nth(place).unwrap().parse().unwrap()).collect()
}

#[test]
fn the_trace_shows_as_much_as_was_asked() {
    let [plain, soft] = ["", "1.3..2.2: softer 3 dB"].map(|table| column(table, "level_db"));
    let differences: Vec<f64> = plain.iter().zip(&soft).map(|(a, b)| b - a).collect();
    let at = |seconds: f64| differences[(seconds * 100.0) as usize];
    assert!(at(0.5).abs() < 0.01 && at(3.1).abs() < 0.01, "{} {}", at(0.5), at(3.1));
    for seconds in [1.01, 1.5, 2.0, 2.8] {
        assert!((at(seconds) + 3.0).abs() < 0.1, "{} dB at {seconds}", at(seconds));
    }
    let steps = differences.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    assert!(steps.fold(0.0, f64::max) < 0.4, "10 ms of a fade of 125 ms");
    let [plain, narrow] = ["", "1.3..2.2: vibrato 70 %"].map(|table| column(table, "width_cents"));
    let inside = plain.iter().zip(&narrow).take(280).skip(101).filter(|(plain, _)| **plain > 10.0);
    let shares: Vec<f64> = inside.map(|(plain, narrow)| narrow / plain).collect();
    assert!(shares.len() > 50 && shares.iter().all(|share| (share - 0.7).abs() < 0.01));
}

#[test]
fn a_stretch_of_one_track_leaves_the_others_alone() {
    let other = line().replace("90", "91").replace("80", "81").replace("B001", "B101");
    let own = format!("{}, {}", text(0, 1, "wish for 2 bars: softer 3 dB"), line());
    let bytes = take(QUARTER, &[&own, &other]);
    let shaped = polso::offline::shape_bytes(&bytes, &settings("erhu", "perform")).unwrap();
    let told: Vec<usize> = shaped.report.lines.iter().map(|line| line.wishes.len()).collect();
    assert_eq!(told, [1, 0]);
}
