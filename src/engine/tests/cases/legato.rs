//! How one note joins the next: every zone, what a leap adds and haste takes, and no chatter.

use crate::music::{at, bare, only, run, strike};
use crate::rehearsal::{Score, output, watch};
use polso_engine::Mode;
use polso_engine::patch::{Address, JoinedVelocity, Patch};
use polso_engine::reason::Reason;
use polso_engine::{Layer, Message};

/// The mode and the reason just after a time.
fn check(sentence: &str, patch: &Patch, score: &Score, at_s: f64, mode: Mode, reason: Reason) {
    let (views, _) = watch(patch, score, at_s + 0.002);
    let view = at(&views, at_s + 0.001);
    assert_eq!((view.mode, view.legato_reason), (mode, reason), "{sentence}");
}

/// A violin without strings: no rule but the zones, edges .30 .65 .90.
fn free_violin() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.strings.count = 0;
    patch.strings.forced_open_keys = 0;
    patch
}

/// One key held, and a second slurred to it after `ioi_s` at 2 s, under a gesture that stands.
fn slur(gesture: f64, ioi_s: f64, from: u8, to: u8) -> Score {
    Score::new().gesture(0.0, gesture).on(2.0 - ioi_s, from).on(2.0, to)
}

/// Nobody has touched the controller: it is at rest, and has chosen nothing.
#[test]
fn a_gesture_that_never_moved_chooses_nothing() {
    let slurred = |score: Score| score.on(1.0, 64).on(2.0, 66);
    for (sentence, score, reason) in [
        ("untouched", slurred(Score::new()), Reason::GestureUnknown),
        ("laid to 0", slurred(Score::new().gesture(0.0, 0.0)), Reason::Zone),
    ] {
        check(sentence, &free_violin(), &score, 2.0, Mode::Quick, reason);
    }
}

/// The gesture at which a first slur changes its mode: below the lower mode, from there on the
/// upper.
fn check_edge(sentence: &str, threshold: f64, modes: [Mode; 2], ioi_s: f64, from: u8, to: u8) {
    for (gesture, mode) in [(threshold - 1e-6, modes[0]), (threshold + 1e-6, modes[1])] {
        let sentence = format!("{sentence} at gesture {gesture}");
        let score = slur(gesture, ioi_s, from, to);
        check(&sentence, &free_violin(), &score, 2.0, mode, Reason::Zone);
    }
}

/// Slurs of a second after which the gesture takes these values, and the modes they get.
fn check_walk(sentence: &str, walk: &[(f64, Mode)]) {
    let keys = [64, 66];
    let mut score = Score::new().gesture(0.0, walk[0].0).on(0.5, 66);
    for (place, &(gesture, _)) in walk.iter().enumerate() {
        let on_s = 1.5 + place as f64;
        score = score.gesture(on_s - 0.9, gesture).note(on_s, on_s + 1.01, keys[place % 2]);
        if place == 0 {
            score = score.off(1.51, 66);
        }
    }
    let (views, _) = watch(&free_violin(), &score, 1.5 + walk.len() as f64);
    for (place, &(gesture, mode)) in walk.iter().enumerate() {
        let view = at(&views, 1.501 + place as f64);
        assert_eq!(view.mode, mode, "{sentence}: slur {place} at {gesture}");
    }
}

#[test]
fn the_gesture_chooses_among_four_zones() {
    use Mode::{Joined, Quick, Slide, Slow};
    for (gesture, mode) in [
        (0.0, Quick),
        (0.29, Quick),
        (0.31, Joined),
        (0.64, Joined),
        (0.66, Slow),
        (0.89, Slow),
        (0.91, Slide),
        (1.0, Slide),
    ] {
        let sentence = format!("gesture {gesture}");
        check(&sentence, &free_violin(), &slur(gesture, 1.0, 64, 66), 2.0, mode, Reason::Zone);
    }
}

#[test]
fn a_leap_adds_up_to_a_tenth() {
    use Mode::{Joined, Quick, Slide, Slow};
    // 0.10·clamp((interval − 2)/10, 0, 1): a second nothing, a fifth 0.05, a sixth (9) 0.07, an
    // octave 0.10 and so has a twelfth, downwards as upwards.
    check_edge("a semitone", 0.30, [Quick, Joined], 1.0, 64, 65);
    check_edge("a second", 0.30, [Quick, Joined], 1.0, 64, 66);
    check_edge("a third", 0.28, [Quick, Joined], 1.0, 64, 68);
    check_edge("a fifth", 0.25, [Quick, Joined], 1.0, 64, 71);
    check_edge("a fifth down", 0.25, [Quick, Joined], 1.0, 71, 64);
    check_edge("an octave", 0.20, [Quick, Joined], 1.0, 64, 76);
    check_edge("a twelfth", 0.20, [Quick, Joined], 1.0, 64, 83);
    check_edge("a sixth", 0.58, [Joined, Slow], 1.0, 64, 73);
    check_edge("an octave", 0.80, [Slow, Slide], 1.0, 64, 76);
}

#[test]
fn haste_takes_up_to_thirty_five_hundredths() {
    use Mode::{Joined, Quick, Slow};
    // 0.35·clamp((0.25 − ioi)/0.15, 0, 1): at 0.25 s nothing, 0.22 s 0.07, 0.175 s 0.175,
    // 0.13 s 0.28, 0.12 s 0.30333.
    check_edge("0.25 s", 0.30, [Quick, Joined], 0.25, 64, 66);
    check_edge("0.22 s", 0.37, [Quick, Joined], 0.22, 64, 66);
    check_edge("0.175 s", 0.475, [Quick, Joined], 0.175, 64, 66);
    check_edge("0.13 s", 0.58, [Quick, Joined], 0.13, 64, 66);
    check_edge("0.12 s", 0.603_333_333, [Quick, Joined], 0.12, 64, 66);
    check_edge("0.13 s", 0.93, [Joined, Slow], 0.13, 64, 66);
    // A leap and haste together: 0.30 − 0.05 + 0.175.
    check_edge("a fifth after 0.175 s", 0.425, [Quick, Joined], 0.175, 64, 71);
}

#[test]
fn every_edge_holds_the_last_mode_for_three_hundredths_both_ways() {
    use Mode::{Joined, Quick, Slide, Slow};
    check_walk(
        "about .30",
        &[
            (0.2, Quick),
            (0.32, Quick),
            (0.34, Joined),
            (0.28, Joined),
            (0.26, Quick),
            (0.31, Quick),
        ],
    );
    check_walk(
        "about .65",
        &[
            (0.5, Joined),
            (0.67, Joined),
            (0.69, Slow),
            (0.63, Slow),
            (0.61, Joined),
            (0.66, Joined),
        ],
    );
    check_walk(
        "about .90",
        &[(0.8, Slow), (0.92, Slow), (0.94, Slide), (0.88, Slide), (0.86, Slow), (0.91, Slow)],
    );
    check_walk("over two edges at once", &[(0.2, Quick), (0.95, Slide), (0.5, Joined)]);
}

#[test]
fn a_dithering_edge_gives_no_change_of_mode() {
    for (edge, mode) in [(0.30, Mode::Joined), (0.65, Mode::Slow), (0.90, Mode::Slide)] {
        let dither =
            (0..12).map(|slur| (if slur % 2 == 0 { edge + 0.02 } else { edge - 0.02 }, mode));
        check_walk(&format!("about {edge}"), &dither.collect::<Vec<_>>());
    }
}

#[test]
fn a_fresh_note_leaves_the_last_mode_standing() {
    // Quick, then a fresh note, then a slur at 0.32, inside the hysteresis above .30: still quick.
    let before = Score::new().gesture(0.0, 0.2).note(0.5, 1.51, 64).note(1.5, 2.0, 66);
    let score = before.gesture(2.1, 0.32).note(3.0, 4.01, 64).on(4.0, 66);
    check("fresh between", &free_violin(), &score, 3.0, Mode::Fresh, Reason::NotJoined);
    check("and on", &free_violin(), &score, 4.0, Mode::Quick, Reason::Zone);
    // With no quick slur before, 0.32 is joined.
    let alone = Score::new().gesture(0.0, 0.32).note(3.0, 4.01, 64).on(4.0, 66);
    check("alone", &free_violin(), &alone, 4.0, Mode::Joined, Reason::Zone);
}

#[test]
fn the_last_mode_is_that_after_the_rules() {
    // The eighth note of a run at 0.7 is quick by rule, where 0.7 − 0.35 = 0.35 is joined; the
    // next, slow slur at 0.32 is then inside the hysteresis of quick.
    let keys = [64, 66, 68, 69, 71, 69, 68];
    let score = run(Score::new().gesture(0.0, 0.7), 1.0, 0.1, 0.11, &keys).on(1.7, 66);
    let score = score.gesture(1.8, 0.32).on(2.7, 64);
    check("before", &free_violin(), &score, 1.2, Mode::Joined, Reason::Zone);
    check("fast", &free_violin(), &score, 1.7, Mode::Quick, Reason::TooFast);
    check("then slow", &free_violin(), &score, 2.7, Mode::Quick, Reason::Zone);
}

#[test]
fn notes_that_do_not_join_are_fresh() {
    let hand = Score::new().gesture(0.0, 0.5);
    let violin = free_violin();
    let detached = hand.clone().note(1.0, 1.9, 64).on(2.0, 66);
    check("detached", &violin, &detached, 2.0, Mode::Fresh, Reason::NotJoined);
    let same = hand.clone().on(1.0, 64).on(2.0, 64);
    check("the same key again", &violin, &same, 2.0, Mode::Fresh, Reason::SameKey);
    let chord = hand.clone().on(2.0, 64).on(2.02, 71);
    check("a chord", &violin, &chord, 2.02, Mode::Fresh, Reason::Chord);
    let touching = hand.note(1.6, 2.0, 64).on(2.0, 66);
    check("off and on at one time", &violin, &touching, 2.0, Mode::Fresh, Reason::NotJoined);
}

#[test]
fn a_join_gap_joins_what_nearly_touches() {
    // With 20 ms of gap a note 15 ms after the release joins, one 25 ms after it does not.
    let mut patch = free_violin();
    patch.legato.join_gap_s = 0.020;
    let hand = Score::new().gesture(0.0, 0.5);
    let near = hand.clone().note(1.0, 1.4, 64).on(1.415, 66);
    check("15 ms", &patch, &near, 1.415, Mode::Joined, Reason::Zone);
    let far = hand.clone().note(1.0, 1.4, 64).on(1.425, 66);
    check("25 ms", &patch, &far, 1.425, Mode::Fresh, Reason::NotJoined);
    check("without a gap", &free_violin(), &near, 1.415, Mode::Fresh, Reason::NotJoined);
}

#[test]
fn a_trill_keeps_its_mode_however_the_hand_moves() {
    // A-B-A-B in 0.14 s each: joined at 0.6 − 0.35·(0.11/0.15) = 0.34333; the hand then goes to
    // 0.2, where the fifth would be quick.
    let keys = [64, 66, 64, 66, 64];
    let score = run(Score::new().gesture(0.0, 0.6), 1.0, 0.14, 0.15, &keys).gesture(1.43, 0.2);
    check("the second", &free_violin(), &score, 1.14, Mode::Joined, Reason::Zone);
    check("the fourth", &free_violin(), &score, 1.42, Mode::Joined, Reason::Trill);
    check("the fifth", &free_violin(), &score, 1.56, Mode::Joined, Reason::Trill);
    // Three notes up and down are none.
    let score = run(Score::new().gesture(0.0, 0.2), 1.0, 0.14, 0.15, &[64, 66, 64]);
    check("a mordent", &free_violin(), &score, 1.28, Mode::Quick, Reason::Zone);
}

#[test]
fn the_speed_of_a_join_reads_as_velocity() {
    // lerp(20, 120, clamp((0.60 − ioi)/0.48, 0, 1)): 0.48 s is a quarter, 0.36 s half the way.
    let mut patch = only(free_violin(), output(Layer::Pitch, Address::PitchBend, -1.0, 1.0));
    patch.target.joined_velocity = JoinedVelocity::Speed { slow: 20, fast: 120 };
    for (ioi_s, velocity) in [(1.0, 20), (0.6, 20), (0.48, 45), (0.36, 70), (0.24, 95), (0.12, 120)]
    {
        let (_, sent) = watch(&patch, &slur(0.5, ioi_s, 64, 66), 2.1);
        let joined = sent.iter().rfind(|sent| matches!(sent.message, Message::NoteOn { .. }));
        assert_eq!(joined.map(|sent| sent.message), Some(strike(66, velocity)), "ioi {ioi_s}");
    }
}
