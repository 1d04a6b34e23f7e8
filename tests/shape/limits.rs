//! Takes that ask for more than any player does: refused in one sentence, before the time goes.

use polso::offline::midi::Track;
use polso::offline::shape_bytes;

use super::room::{QUARTER, file, settings, take, track};

/// A line with a gesture and a note of a second.
const NOTE: &str = "0 B00150, 0 904550, 960 804540";

/// What is wrong with a take of these tracks.
fn refused(tracks: Vec<Track>) -> String {
    let bytes = file(QUARTER, tracks);
    shape_bytes(&bytes, &settings("erhu", "perform")).unwrap_err().to_string()
}

/// Words of a text event at tick 0, in the words of [`take`].
fn text(words: &str) -> String {
    let digits: String = words.bytes().map(|byte| format!("{byte:02X}")).collect();
    format!("0 FF01{:02X}{digits}", words.len())
}

#[test]
fn wishes_for_a_chord_of_hundreds_are_refused() {
    let line = |count: usize| {
        let wishes = vec![text("wish: no vibrato"); count];
        let notes = vec!["0 904550".to_owned(); count];
        [wishes, vec!["0 B00150".to_owned()], notes].concat().join(", ")
    };
    let told = "notes with a wish over all lines are more than 250000; shape fewer tracks at once";
    assert_eq!(refused(vec![track(&line(501))]), told);
    let report = shape_bytes(&take(QUARTER, &[&line(100)]), &settings("erhu", "perform"));
    assert_eq!(report.unwrap().report.lines[0].wishes.len(), 100 * 100);
}

#[test]
fn wishes_for_thousands_of_lines_are_refused() {
    let mut tracks = vec![track(&vec![text("wish A4: open"); 2001].join(", "))];
    tracks.extend(vec![track(NOTE); 2000]);
    let told =
        "wishes to look for over all lines are more than 4000000; shape fewer tracks at once";
    assert_eq!(refused(tracks), told);
}

#[test]
fn articulations_for_hundreds_of_lines_are_refused() {
    let mut tracks = vec![track(&vec![text("articulation: staccato"); 501].join(", "))];
    tracks.extend(vec![track(NOTE); 500]);
    let told = "changes of the articulation over all lines are more than 250000; shape fewer \
                tracks at once";
    assert_eq!(refused(tracks), told);
}

#[test]
fn tempos_for_thousands_of_lines_are_refused() {
    let tempos: Vec<String> = (0..5001).map(|tick| format!("{tick} FF510307A120")).collect();
    let mut tracks = vec![track(&tempos.join(", "))];
    tracks.extend(vec![track(NOTE); 2000]);
    let told =
        "changes of the tempo over all lines are more than 10000000; shape fewer tracks at once";
    assert_eq!(refused(tracks), told);
}

#[test]
fn a_refusal_lists_a_hundred_lines_and_says_how_many_more_there_are() {
    let silent = track("0 904550, 960 804540");
    let told = refused(vec![silent.clone(); 120]);
    assert!(told.ends_with("; track 100 channel 1 (1 notes, no moving controller); and 20 more"));
    let mut settings = settings("erhu", "perform");
    settings.tracks = vec![121];
    let told = shape_bytes(&file(QUARTER, vec![silent; 120]), &settings).unwrap_err().to_string();
    assert!(told.ends_with(", 99, 100, and 20 more"), "{told}");
}
