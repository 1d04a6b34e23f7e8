//! Two files beside each other: what is told as different, where, by how much, and what is not.

use super::room::{LINE, QUARTER, settings, take};
use polso::offline::contrast::{Contrast, Tolerance, as_text, contrast};
use polso::offline::midi::{Division, TrackEvent, read::read};
use polso::offline::shape_bytes;

/// Differences as they are read, without the sum below them.
fn told(first: &[u8], second: &[u8], within: &[&str]) -> Vec<String> {
    let within = within.iter().map(|text| text.parse::<Tolerance>().unwrap());
    let within = within.fold(Tolerance::default(), Tolerance::and);
    let found = contrast(&read(first).unwrap(), &read(second).unwrap(), &within).unwrap();
    let text = as_text(&found);
    let rows = text.lines().take(found.differences.len() + found.notices.len());
    rows.map(|row| row.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

#[track_caller]
fn check(first: &str, second: &str, within: &[&str], expected: &[&str]) {
    let (first, second) = (take(QUARTER, &[first]), take(QUARTER, &[second]));
    assert_eq!(told(&first, &second, within), expected);
}

#[test]
fn a_note_is_missing_new_harder_or_longer() {
    let note = "0 903C50, 480 803C40, 3000 FF0100";
    check(note, note, &[], &[]);
    let more = "0 903C50, 480 803C40, 1920 904050, 2000 804040, 3000 FF0100";
    check(note, more, &[], &["2.1 track 1 channel 1 notes 0 against 1: 1 added"]);
    check(more, note, &[], &["2.1 track 1 channel 1 notes 1 against 0: 1 missing"]);
    let harder = "0 903C5A, 480 803C40, 3000 FF0100";
    let row = "1.1 track 1 channel 1 velocities 1 against 1: 1 changed, at most 10 steps apart";
    check(note, harder, &[], &[row]);
    check(note, harder, &["9.9steps"], &[row]);
    check(note, harder, &["10steps"], &[]);
    // 48 ticks of 480 at 120 a minute.
    let longer = "0 903C50, 528 803C40, 3000 FF0100";
    let row = "1.1 track 1 channel 1 note ends 1 against 1: 1 changed, at most 50 ms apart";
    check(note, longer, &[], &[row]);
    check(note, longer, &["50ms"], &[]);
    let endless = "0 903C50, 3000 FF0100";
    check(note, endless, &[], &["1.1 track 1 channel 1 note ends 1 against 1: 1 missing"]);
    let later = "10 903C50, 480 803C40, 3000 FF0100";
    let row = "1.1 track 1 channel 1 notes 1 against 1: 1 missing, 1 added";
    check(note, later, &["10ms"], &[row]);
    check(note, later, &["11ms"], &[]);
}

#[test]
fn a_level_is_compared_as_the_receiver_holds_it() {
    let ramp = "0 B00B28, 480 B00B32, 960 B00B3C, 1920 B00B46";
    let coarse = "0 B00B28, 960 B00B3C, 1920 B00B46";
    let row = "1.2 track 1 channel 1 cc 11 3 against 2: 1 missing, at most 10 steps apart";
    check(ramp, coarse, &[], &[row]);
    check(ramp, coarse, &["9steps"], &[row]);
    check(ramp, coarse, &["10steps"], &[]);
    let other = "0 B00B28, 480 B00B32, 960 B00B3C, 1920 B00B40";
    let row = "2.1 track 1 channel 1 cc 11 1 against 1: 1 changed, at most 6 steps apart";
    check(ramp, other, &[], &[row]);
    // The same levels 10 ticks later: 10.4 ms.
    let later = "10 B00B28, 490 B00B32, 970 B00B3C, 1920 B00B46";
    let row = "1.2 track 1 channel 1 cc 11 3 against 3: 3 missing, 3 added, at most 10 steps apart";
    check(ramp, later, &["10ms"], &[row]);
    check(ramp, later, &["10.5ms"], &[]);
    // A repeated value is a message more, and no other sound.
    let again = "0 B00B28, 480 B00B32, 500 B00B32, 960 B00B3C, 1920 B00B46";
    check(ramp, again, &[], &["1.2 track 1 channel 1 cc 11 3 against 4: 1 added"]);
    check(ramp, again, &["1steps"], &[]);
    check(
        ramp,
        "1920 FF0100",
        &["127steps"],
        &[
            "1.1 track 1 channel 1 cc 11 3 against 0: 3 missing",
            "2.1 track 1 text 0 against 1: 1 added",
            "2.1 track 1 channel 1 cc 11 1 against 0: 1 missing",
        ],
    );
}

#[test]
fn the_bend_is_told_in_cents_and_a_tempo_in_milliseconds() {
    // 410 steps of 8192 over 200 cents.
    let row = "1.1 track 1 channel 1 pitch bend 1 against 1: 1 changed, at most 10 cents apart";
    check("0 E00040", "0 E01A43", &[], &[row]);
    check("0 E00040", "0 E01A43", &["10.1cents"], &[]);
    // The same where the file tells a range of 12.5 semitones: 512 steps of 8192 over 1250 cents.
    let told = |bend: &str| format!("0 B06500, 0 B06400, 0 B0060C, 0 B02632, 0 B0657F, 0 {bend}");
    let row = "1.1 track 1 channel 1 pitch bend 1 against 1: 1 changed, at most 78.1 cents apart";
    check(&told("E00040"), &told("E00044"), &[], &[row]);
    // What another parameter is told is no range, and neither is what no parameter is told.
    let row = "1.1 track 1 channel 1 pitch bend 1 against 1: 1 changed, at most 12.5 cents apart";
    for numbers in ["0 B06500, 0 B06401, 0 B0060C", "0 B06300, 0 B06200, 0 B0060C", "0 B0060C"] {
        let told = |bend: &str| format!("{numbers}, 0 {bend}");
        check(&told("E00040"), &told("E00044"), &[], &[row]);
    }
    // Quarter notes of 500 and of 600 ms.
    let row = "1.1 track 1 tempo 1 against 1: 1 changed, at most 100 ms apart";
    check("0 FF510307A120", "0 FF51030927C0", &[], &[row]);
}

#[test]
fn what_has_no_level_is_the_same_or_not() {
    check(
        "0 C001, 0 F00243F7, 9 FF5902 0001",
        "0 C002, 0 F00244F7, 9 FF5902 0101",
        &[],
        &[
            "1.1 track 1 key signature 1 against 1: 1 missing, 1 added",
            "1.1 track 1 system exclusive 1 against 1: 1 missing, 1 added",
            "1.1 track 1 channel 1 program 1 against 1: 1 missing, 1 added",
        ],
    );
    check(
        "0 FF0100",
        "480 FF0100",
        &[],
        &[
            "1.1 track 1 text 1 against 1: 1 missing, 1 added",
            "1.1 track 1 track end 1 against 1: 1 missing, 1 added",
        ],
    );
}

#[test]
fn a_finer_file_is_the_same_music() {
    let coarse = take(Division::Quarter(96), &["0 903C50, 0 B00B20, 96 803C40, 97 B00B30"]);
    let fine = take(Division::Quarter(1000), &["0 903C50, 0 B00B20, 1000 803C40, 1010 B00B30"]);
    let rows = told(&coarse, &fine, &[]);
    // 97 of 96 ticks lies between 1010 and 1011 of 1000.
    assert_eq!(rows.len(), 2, "{rows:?}");
    assert!(rows[1].contains("cc 11"), "{rows:?}");
    assert_eq!(told(&coarse, &fine, &["1ms"]), [""; 0]);
    let frames = take(Division::Frame { frames_per_s: 25, ticks: 40 }, &["0 FF0100"]);
    let error = contrast(&read(&coarse).unwrap(), &read(&frames).unwrap(), &Tolerance::default());
    assert_eq!(
        error.unwrap_err().to_string(),
        "the first file counts quarter notes, the second 25 film frames a second; allowed is the \
         same in both"
    );
}

#[test]
fn files_of_other_tracks_are_compared_by_channel() {
    let (one, two) = ("0 903C50, 480 803C40", "0 914050, 480 814040");
    let both = "0 903C50, 0 914050, 480 803C40, 480 814040";
    let rows = told(&take(QUARTER, &[one, two]), &take(QUARTER, &[both]), &[]);
    let notice = "note the first file has 2 tracks and the second 1, so channels are compared \
        across all tracks";
    assert_eq!(rows, ["1.2 the file track end 2 against 1: 1 missing", notice]);
}

#[test]
fn a_shape_is_like_itself_and_another_seed_is_not() {
    let bytes = take(QUARTER, &[LINE]);
    let shaped = |seed: u64| {
        let mut settings = settings("erhu", "perform");
        settings.patch.seed = seed;
        read(&shape_bytes(&bytes, &settings).unwrap().bytes).unwrap()
    };
    let found =
        |first, second| -> Contrast { contrast(&first, &second, &Tolerance::default()).unwrap() };
    assert_eq!(found(shaped(1), shaped(1)).differences, []);
    let other = found(shaped(1), shaped(2));
    let outputs: Vec<&str> = other.differences.iter().map(|row| row.output.as_str()).collect();
    // Chance moves the pitch, and where the body stands to it, so the level swings otherwise.
    let is_swing = |name: &&str| ["pitch bend", "cc 11"].contains(name);
    assert!(!outputs.is_empty() && outputs.iter().all(is_swing), "{outputs:?}");
    assert_eq!(other.notices.len(), 1, "{:?}", other.notices);
    // An edit of one message by one step is found in its bar.
    let (whole, mut edited) = (shaped(1), shaped(1));
    let is_level = |event: &&mut TrackEvent| event.bytes[..2] == [0xB0, 11];
    let event = edited.tracks[0].events.iter_mut().rfind(is_level).unwrap();
    let (value, tick) = (event.bytes[2] ^ 1, event.tick);
    event.bytes = [0xB0, 11, value].as_slice().into();
    let row = &found(whole, edited).differences[0];
    assert_eq!((row.bar, row.changed), (Some(tick / 3840 + 1), 1));
    assert_eq!((row.largest, row.unit), (Some(1.0), Some("steps")));
}

#[test]
fn a_tolerance_that_makes_no_sense_is_refused() {
    let check = |text: &str| {
        let rule = "a number from 0 to 16383 and its unit: steps, cents or ms, as in 2steps or \
            0.5ms";
        let sentence = text.parse::<Tolerance>().unwrap_err();
        assert_eq!(sentence, format!("--within is `{text}`; allowed is {rule}"));
    };
    for text in ["", "3", "ms", "-1ms", "3 metres", "NaNms", "16384steps", "1e9ms"] {
        check(text);
    }
}
