//! A key that lies under the line: the line goes on and ends as if it were not there.

use crate::music::{at, even_violin, strike, words};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::Patch;
use polso_engine::reason::Reason;
use polso_engine::{Message, Mode, Phrase};

/// G4 from 1 s on, others over it, and then E5: how that begins.
fn check(sentence: &str, others: &[(f64, f64, u8)], on_s: f64, mode: Mode, reason: Reason) {
    let (views, _) = watch(&even_violin(), &over(others).on(on_s, 76), on_s + 0.003);
    let view = at(&views, on_s + 0.002);
    assert_eq!((view.mode, view.legato_reason), (mode, reason), "{sentence}");
}

/// G4 lies from 1 s on under these notes.
fn over(others: &[(f64, f64, u8)]) -> Score {
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 67);
    others.iter().fold(score, |score, &(on_s, off_s, key)| score.note(on_s, off_s, key))
}

/// What goes out from a time on, notes only.
fn heard(patch: &Patch, score: &Score, from_s: f64) -> Vec<String> {
    let (_, sent) = watch(patch, score, 7.0);
    let sent: Vec<_> = sent.into_iter().filter(|it| crate::music::time_s(it) >= from_s).collect();
    words(&sent).into_iter().filter(|word| word.starts_with('o')).collect()
}

#[test]
fn a_second_and_two_others_make_a_drone() {
    let two = [(1.2, 1.4, 72), (1.5, 1.7, 74)];
    check("0.999 s", &two, 1.999, Mode::Joined, Reason::Zone);
    check("1.0 s", &two, 2.0, Mode::Fresh, Reason::NotJoined);
    check("long after", &two, 4.0, Mode::Fresh, Reason::NotJoined);
    check("one other", &two[..1], 2.5, Mode::Joined, Reason::Zone);
    check(
        "one other and one that sounds",
        &[two[0], (1.5, 3.0, 74)],
        2.5,
        Mode::Joined,
        Reason::Zone,
    );
    // A note that began before it counts for nothing.
    let score = Score::new().gesture(0.0, 0.5).note(0.8, 1.1, 64).on(1.0, 67);
    let (views, _) = watch(&even_violin(), &score.note(1.2, 1.4, 72).on(2.5, 76), 2.6);
    assert_eq!(at(&views, 2.51).mode, Mode::Joined);
}

#[test]
fn beside_a_drone_notes_join_each_other() {
    // D5 is held when E5 comes, and lifted after it.
    let others = [(1.2, 1.4, 72), (1.5, 1.7, 74), (3.0, 4.05, 74)];
    check("joined", &others, 4.0, Mode::Joined, Reason::Zone);
    let (views, _) = watch(&even_violin(), &over(&others), 3.5);
    // D5 came alone: not from the drone.
    assert_eq!((at(&views, 3.1).mode, at(&views, 3.1).key), (Mode::Fresh, Some(74)));
}

#[test]
fn the_last_release_of_the_others_ends_the_line() {
    let others = [(1.2, 1.8, 72), (1.9, 3.0, 74)];
    let score = over(&others).off(5.0, 67);
    let (views, _) = watch(&even_violin(), &score, 5.5);
    assert_eq!(at(&views, 2.5).key, Some(74));
    for at_s in [3.01, 4.0, 4.99] {
        let view = at(&views, at_s);
        assert_eq!((view.key, view.phrase), (None, Phrase::Rest), "at {at_s} s");
        assert_eq!(view.vibrato_reason, Reason::DroneAlone, "at {at_s} s");
    }
    assert_eq!(at(&views, 3.01).tail_reason, Reason::DroneUnderEnd);
    assert_eq!(at(&views, 5.01).vibrato_reason, Reason::Rest);
    // Both offs pass at once, though both notes were long.
    assert_eq!(heard(&even_violin(), &score, 2.9), ["off 74 @ 3000", "off 67 @ 5000"]);
    // With one other it is no drone: the line goes back to it, and its end is drawn out.
    let score = over(&others[1..]).off(5.0, 67);
    let (views, _) = watch(&even_violin(), &score, 5.1);
    assert_eq!(at(&views, 4.0).key, Some(67));
    assert_eq!(heard(&even_violin(), &score, 2.9), ["off 74 @ 3000", "off 67 @ 5260"]);
}

#[test]
fn where_the_drone_has_its_own_channel_the_others_keep_their_tail() {
    let apart = |seconds: f64, message: fn(u8) -> Message| (seconds, message(1));
    let on = |channel| Message::NoteOn { channel, key: 67, velocity: 64 };
    let off = |channel| Message::NoteOff { channel, key: 67, velocity: 64 };
    let score = Score::new().gesture(0.0, 0.5);
    let (on_s, on) = apart(1.0, on);
    let (off_s, off) = apart(5.0, off);
    let score = score.message(on_s, on).message(off_s, off);
    let score = score.note(1.2, 1.8, 72).note(1.9, 3.2, 74).note(3.25, 3.6, 76);
    let (views, _) = watch(&even_violin(), &score, 5.1);
    // In the tail the next note joins, and the drone sounds on.
    assert_eq!(at(&views, 3.22).phrase, Phrase::Tail);
    assert_eq!(at(&views, 3.26).mode, Mode::Joined);
    let expected = ["on 76 66 @ 3250", "off 74 @ 3250", "off 76 @ 3600", "off 67 @ 5000"];
    assert_eq!(heard(&even_violin(), &score, 3.245), expected);
    // Long after the release a fresh note ends the tail, not the drone.
    let score = Score::new().gesture(0.0, 0.5).message(on_s, on).message(off_s, off);
    let score = score.note(1.2, 1.8, 72).note(1.9, 3.2, 74).note(3.4, 3.6, 76);
    let ends: Vec<_> = self::heard(&even_violin(), &score, 3.1);
    let ends: Vec<_> = ends.into_iter().filter(|word| word.starts_with("off")).collect();
    assert_eq!(ends, ["off 74 @ 3400", "off 76 @ 3600", "off 67 @ 5000"]);
}

#[test]
fn a_silence_beside_a_drone_ends_the_phrase() {
    // Sixteenths, 0.4 s of nothing but the drone, then a slur: the pace is that of a phrase start,
    // so its vibrato waits as there.
    let mut score = over(&[]);
    for note in 0..20 {
        let on_s = 1.1 + 0.12 * f64::from(note);
        score = score.note(on_s, on_s + 0.1, [72, 74, 76][note as usize % 3]);
    }
    let (views, _) = watch(&even_violin(), &score.on(3.9, 74), 5.0);
    assert_eq!(at(&views, 4.026).width_cents, 0.0);
    assert!(at(&views, 4.04).width_cents > 0.0, "{:?}", at(&views, 4.04));
}

#[test]
fn the_lower_key_of_a_trill_is_no_drone() {
    // C5 stays down under fast taps of D5: every one of them joins, however long it goes on.
    let mut score = Score::new().gesture(0.0, 0.5).on(1.0, 72);
    for tap in 0..20 {
        let on_s = 1.14 + 0.2 * f64::from(tap);
        score = score.note(on_s, on_s + 0.1, 74);
    }
    let (views, _) = watch(&even_violin(), &score.off(6.5, 72), 6.6);
    for tap in 1..20 {
        let on_s = 1.14 + 0.2 * f64::from(tap);
        assert_ne!(at(&views, on_s + 0.002).mode, Mode::Fresh, "tap {tap}");
    }
    assert_eq!(at(&views, 6.0).key, Some(72));
}

#[test]
fn a_drone_that_lifts_is_a_key_as_any_other_when_it_comes_again() {
    let two = [(1.2, 1.4, 72), (1.5, 1.7, 74)];
    let score = over(&two).off(2.5, 67).on(2.6, 67).on(3.7, 76);
    let (views, _) = watch(&even_violin(), &score, 3.8);
    assert_eq!(at(&views, 3.71).mode, Mode::Joined);
    // Struck again while it is down, its first sound ends.
    let score = over(&two).on(3.0, 67).off(3.5, 67).off(4.5, 67);
    let expected = ["off 67 @ 3000", "on 67 66 @ 3000", "off 67 @ 4760"];
    assert_eq!(heard(&even_violin(), &score, 2.9), expected);
}

#[test]
fn a_stop_ends_a_drone_of_the_song_and_leaves_one_of_a_hand() {
    let two = [(1.2, 1.8, 72), (1.9, 2.2, 74)];
    let stop = polso_engine::Input::Song { beat: 4.0, tempo_bpm: 120.0, running: false };
    let song = crate::music::song(0.0);
    let score = over(&two).at(0.0, song).at(3.0, stop);
    assert_eq!(heard(&even_violin(), &score, 2.9), ["off 67 @ 3000"]);
    let hand = polso_engine::Input::Live(strike(67, 64));
    let score = Score::new().at(0.0, song).gesture(0.0, 0.5).at(1.0, hand);
    let score = score.note(1.2, 1.8, 72).note(1.9, 2.2, 74).at(3.0, stop).off(4.0, 67);
    assert_eq!(heard(&even_violin(), &score, 2.9), ["off 67 @ 4000"]);
}

#[test]
fn a_key_that_owns_the_line_when_it_becomes_a_drone_keeps_it() {
    // The others have come and gone before it is a second old, so the line went back to it. It
    // vibrates on under another player's keyswitch and a pedal, and ends without being drawn out.
    let pedal = |score: Score| score.controller(2.6, 64, 127).controller(2.7, 64, 0);
    let score = pedal(over(&[(1.2, 1.3, 72), (1.4, 1.5, 74)]).note(2.3, 2.4, 24));
    let (views, _) = watch(&even_violin(), &score.clone().off(4.0, 67), 4.5);
    let view = at(&views, 3.9);
    assert_eq!((view.key, view.phrase), (Some(67), Phrase::Sounding));
    assert_eq!(view.vibrato_reason, Reason::VibratoSounds);
    assert_eq!(at(&views, 4.1).tail_reason, Reason::DroneEnd);
    assert_eq!(at(&views, 4.1).phrase, Phrase::Rest);
    assert_eq!(heard(&even_violin(), &score.off(4.0, 67), 2.9), ["off 67 @ 4000"]);
}
