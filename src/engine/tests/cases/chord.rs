//! Notes that begin together, keys that lie under others, and which of them owns the line.

use crate::music::{at, bare, even_violin, strike};
use crate::rehearsal::{Score, watch};
use polso_engine::Mode;
use polso_engine::patch::Patch;
use polso_engine::reason::Reason;
use polso_engine::{Message, Origin};

/// The key that owns the line at each time.
fn check(sentence: &str, score: &Score, owners: &[(f64, Option<u8>)]) {
    check_on(sentence, &even_violin(), score, owners);
}

/// The same for other settings.
fn check_on(sentence: &str, patch: &Patch, score: &Score, owners: &[(f64, Option<u8>)]) {
    let (views, _) = watch(patch, score, owners.last().expect("a time").0);
    for &(at_s, key) in owners {
        assert_eq!(at(&views, at_s).key, key, "{sentence}: at {at_s} s");
    }
}

fn half() -> Score {
    Score::new().gesture(0.0, 0.5)
}

/// The velocity that went out with the note of a key.
fn velocity_of(patch: &Patch, score: &Score, wanted: u8) -> u8 {
    let (_, sent) = watch(patch, score, 3.0);
    let velocity = sent.iter().rev().find_map(|sent| match (sent.origin, sent.message) {
        (Origin::Note(_), Message::NoteOn { key, velocity, .. }) if key == wanted => Some(velocity),
        _ => None,
    });
    velocity.expect("the note")
}

#[test]
fn the_upper_note_of_a_chord_owns_the_line_in_either_order() {
    for (first, second) in [(72, 76), (76, 72)] {
        let score = half().on(1.0, first).on(1.02, second);
        check("20 ms apart", &score, &[(1.01, Some(first)), (1.03, Some(76)), (2.0, Some(76))]);
        let score = half().on(1.0, first).on(1.035, second);
        check("35 ms apart", &score, &[(1.04, Some(76))]);
        let score = half().on(1.0, first).on(1.0, second);
        check("at one time", &score, &[(1.0, Some(76))]);
    }
    // One more millisecond, and the newest owns.
    let score = half().on(1.0, 76).on(1.036, 72);
    check("36 ms apart", &score, &[(1.04, Some(72))]);
    // Three notes, each within 35 ms of the last, for one who sounds three at once.
    let score = half().on(1.0, 74).on(1.03, 77).on(1.06, 70);
    let owners = [(1.04, Some(77)), (1.065, Some(77))];
    let mut patch = even_violin();
    patch.notes.voice_count = 3;
    check_on("rolled", &patch, &score, &owners);
    // A violin sounds two: the third is where the line goes.
    check("two voices", &score, &[(1.04, Some(77)), (1.065, Some(70))]);
}

#[test]
fn when_the_owner_lifts_the_newest_key_still_held_owns_the_line() {
    let score = half().on(1.0, 72).on(1.5, 76).on(2.0, 74).off(2.5, 74).off(3.0, 72).off(3.5, 76);
    let owners = [(2.4, Some(74)), (2.6, Some(76)), (3.1, Some(76)), (4.2, None)];
    check("three keys", &score, &owners);
    let score = half().on(1.0, 72).on(1.01, 76).off(2.0, 76).off(3.0, 72);
    check("a double stop", &score, &[(1.9, Some(76)), (2.1, Some(72)), (3.9, None)]);
}

#[test]
fn a_chord_passes_its_velocities_and_does_not_join() {
    // The first note is fresh: round(0.5·90 + 0.5·(1 + 126·0.53)) = round(45 + 33.89) = 79. The
    // second passes as struck.
    let patch = bare("violin", "perform");
    let score = half().message(1.0, strike(76, 90)).message(1.02, strike(72, 90));
    assert_eq!(velocity_of(&patch, &score, 76), 79);
    assert_eq!(velocity_of(&patch, &score, 72), 90);
    let (views, _) = watch(&patch, &score, 1.1);
    assert_eq!((at(&views, 1.1).mode, at(&views, 1.1).legato_reason), (Mode::Fresh, Reason::Chord));
}

#[test]
fn the_next_time_counts_from_the_chords_first_note() {
    // The slur comes 0.11 s after the second note but 0.13 s after the first:
    // 0.6 − 0.35·(0.12/0.15) = 0.32 is joined; after 0.11 s 0.27333 is quick.
    let score = Score::new().gesture(0.0, 0.6).on(1.0, 72).on(1.02, 76).on(1.13, 77);
    let (views, _) = watch(&even_violin(), &score, 1.2);
    assert_eq!(
        (at(&views, 1.14).mode, at(&views, 1.14).legato_reason),
        (Mode::Joined, Reason::Zone)
    );
    let single = Score::new().gesture(0.0, 0.6).on(1.02, 76).on(1.13, 77);
    let (views, _) = watch(&even_violin(), &single, 1.2);
    assert_eq!(
        (at(&views, 1.14).mode, at(&views, 1.14).legato_reason),
        (Mode::Quick, Reason::Zone)
    );
}

#[test]
fn a_chord_does_not_touch_the_pace() {
    // Pace 0.5 for the first note: its vibrato begins 0.126 s after the owner, the second note at
    // 1.02 s, and half the growth of 0.3 s later stands at half of 40 cents.
    let (views, _) = watch(&even_violin(), &half().on(1.0, 72).on(1.02, 76), 2.0);
    assert_eq!(at(&views, 1.146).width_cents, 0.0);
    assert!((at(&views, 1.296).width_cents - 20.0).abs() < 1e-6);
}

#[test]
fn a_lower_second_note_leaves_the_vibrato_of_the_upper_alone() {
    let (views, _) = watch(&even_violin(), &half().on(1.0, 76).on(1.02, 72), 2.0);
    assert_eq!(at(&views, 1.126).width_cents, 0.0);
    assert!((at(&views, 1.276).width_cents - 20.0).abs() < 1e-6);
}

#[test]
fn a_double_stop_on_a_forced_open_string_shares_no_vibrato_over_one_bend() {
    // G3 and B3 within 35 ms over one bend wheel: no pitch vibrato, and it says why; once G3
    // lifts, B3 has its own again, 30 ms later.
    for (first, second) in [(55, 59), (59, 55)] {
        let score = half().on(1.0, first).on(1.01, second).off(3.0, 55).off(4.0, 59);
        let (views, sent) = watch(&even_violin(), &score, 3.9);
        assert_eq!(at(&views, 2.5).width_cents, 0.0);
        assert_eq!(at(&views, 2.5).vibrato_reason, Reason::DoubleStopOnOpenString);
        let is_bent = |&&(at_s, bend): &&(f64, u16)| at_s < 3.0 && bend != 8192;
        assert_eq!(crate::music::bends(&sent).iter().find(is_bent), None);
        assert_eq!(at(&views, 3.5).vibrato_reason, Reason::VibratoSounds);
        assert!((at(&views, 3.5).width_cents - 40.0).abs() < 1e-6);
    }
}

#[test]
fn a_receiver_with_its_own_vibrato_is_asked_for_it_in_a_double_stop() {
    // The generic receiver has no bend that the two notes would share.
    let mut patch = bare("violin", "generic");
    patch.vibrato.register_per_semitone = 0.0;
    let (views, _) = watch(&patch, &half().on(1.0, 55).on(1.01, 59), 3.0);
    assert_eq!(at(&views, 3.0).vibrato_reason, Reason::VibratoSounds);
    assert!((at(&views, 3.0).width_cents - 40.0).abs() < 1e-6);
}

#[test]
fn a_held_open_string_from_long_before_is_no_double_stop() {
    let score = half().on(1.0, 55).on(2.0, 59);
    let (views, _) = watch(&even_violin(), &score, 4.0);
    assert_eq!(at(&views, 4.0).vibrato_reason, Reason::VibratoSounds);
}
