//! Two keys almost at once: a chord, a grace and its note, or two notes.

use crate::music::{at, bare, even_violin, strike, words};
use crate::rehearsal::{Score, watch};
use polso_engine::Mode;
use polso_engine::patch::{JoinedVelocity, Patch};
use polso_engine::reason::Reason;
use polso_engine::{Message, Origin};

/// What the last key of these, each with its seconds, is; all stay down. Then which owns the line.
fn check(sentence: &str, patch: &Patch, keys: &[(f64, u8)], reason: Reason, owner: u8) {
    let score = keys.iter().fold(half(), |score, &(on_s, key)| score.on(on_s, key));
    let last_s = keys.last().expect("a key").0;
    let (views, _) = watch(patch, &score, last_s + 0.003);
    let view = at(&views, last_s + 0.002);
    let mode = match reason {
        Reason::Grace => Mode::Quick,
        Reason::Zone => Mode::Joined,
        _ => Mode::Fresh,
    };
    assert_eq!((view.legato_reason, view.mode), (reason, mode), "{sentence}");
    assert_eq!(view.key, Some(owner), "{sentence}");
}

/// A hand in the joined zone, even after all that haste takes.
fn half() -> Score {
    Score::new().gesture(0.0, 0.7)
}

fn voices(voice_count: u8) -> Patch {
    let mut patch = even_violin();
    patch.notes.voice_count = voice_count;
    patch
}

#[test]
fn thirty_five_milliseconds_part_a_chord_from_a_slur() {
    let violin = even_violin();
    for (second_s, reason) in
        [(1.034, Reason::Chord), (1.035, Reason::Chord), (1.036, Reason::Zone)]
    {
        check(&format!("{second_s} s"), &violin, &[(1.0, 72), (second_s, 76)], reason, 76);
    }
    for (second_s, reason) in
        [(1.034, Reason::Grace), (1.035, Reason::Grace), (1.036, Reason::Zone)]
    {
        check(&format!("{second_s} s"), &violin, &[(1.0, 71), (second_s, 72)], reason, 72);
    }
}

#[test]
fn two_semitones_are_a_grace_and_three_a_double_stop() {
    let violin = even_violin();
    for (semitones, is_chord) in [(1, false), (2, false), (3, true), (4, true), (12, true)] {
        let reason = if is_chord { Reason::Chord } else { Reason::Grace };
        let (above, below) = (72 + semitones, 72 - semitones);
        check("from below", &violin, &[(1.0, below), (1.02, 72)], reason, 72);
        let owner = if is_chord { above } else { 72 };
        check("from above", &violin, &[(1.0, above), (1.02, 72)], reason, owner);
    }
}

#[test]
fn an_instrument_has_no_chord_of_more_notes_than_voices() {
    let erhu = voices(1);
    check("one voice", &erhu, &[(1.0, 72), (1.02, 79)], Reason::Grace, 79);
    check("one voice", &erhu, &[(1.0, 79), (1.02, 72)], Reason::Grace, 72);
    let three = [(1.0, 72), (1.01, 76), (1.02, 79)];
    check("two voices", &voices(2), &three, Reason::Grace, 79);
    check("three voices", &voices(3), &three, Reason::Chord, 79);
    let down = [(1.0, 79), (1.01, 76), (1.02, 72)];
    check("two voices", &voices(2), &down, Reason::Grace, 72);
    check("three voices", &voices(3), &down, Reason::Chord, 79);
    // Near any key that was struck with it, not only the last.
    let near = [(1.0, 72), (1.01, 76), (1.02, 74)];
    check("near the first", &voices(3), &near, Reason::Grace, 74);
    let near = [(1.0, 72), (1.01, 77), (1.02, 73)];
    check("near the first only", &voices(3), &near, Reason::Grace, 73);
}

#[test]
fn a_grace_leads_into_a_double_stop() {
    // B is left for C, which sounds with E: two voices, and the upper owns the line.
    let keys = [(1.0, 71), (1.02, 72), (1.04, 76)];
    check("from below", &even_violin(), &keys, Reason::Chord, 76);
    // A grace from above does not stay the upper note.
    let keys = [(1.0, 77), (1.02, 76), (1.04, 70)];
    check("from above", &even_violin(), &keys, Reason::Chord, 76);
}

#[test]
fn a_soon_note_after_a_lifted_key_is_fresh() {
    let violin = even_violin();
    let score = half().note(1.0, 1.015, 71).on(1.02, 72);
    let (views, _) = watch(&violin, &score, 1.1);
    let view = at(&views, 1.03);
    assert_eq!((view.mode, view.legato_reason), (Mode::Fresh, Reason::NotJoined));
    // It counts as any note does: the next slur comes 0.11 s after it, 0.6 − 0.35·(0.14/0.15) is
    // quick, where 0.13 s would be joined.
    let score = Score::new().gesture(0.0, 0.6).note(1.0, 1.015, 71).on(1.02, 72).on(1.13, 74);
    let (views, _) = watch(&violin, &score, 1.2);
    assert_eq!(at(&views, 1.14).mode, Mode::Quick);
    // The same key, held or not, is fresh as ever.
    check("the same key", &violin, &[(1.0, 72), (1.02, 72)], Reason::SameKey, 72);
}

#[test]
fn a_grace_takes_nothing_from_the_time_the_pace_and_the_zones() {
    // After the grace the next slur counts 0.13 s from the grace itself:
    // 0.6 − 0.35·(0.12/0.15) = 0.32 is joined; 0.11 s would be 0.27333, quick.
    let hand = Score::new().gesture(0.0, 0.6);
    let score = hand.clone().on(1.0, 71).on(1.02, 72).on(1.13, 74);
    let (views, _) = watch(&even_violin(), &score, 1.2);
    assert_eq!((at(&views, 1.03).mode, at(&views, 1.14).mode), (Mode::Quick, Mode::Joined));
    // The pace stays 0.5 as at every phrase start: the vibrato begins 0.126 s after 1.02 s.
    let (views, _) = watch(&even_violin(), &half().on(1.0, 71).on(1.02, 72), 2.0);
    assert_eq!(at(&views, 1.146).width_cents, 0.0);
    assert!(at(&views, 1.16).width_cents > 0.0);
    // Joined at 0.5; a grace is quick; 0.28 then lies in the hysteresis of joined, not of quick.
    let score = Score::new().gesture(0.0, 0.5).note(0.5, 1.51, 64).note(1.5, 2.51, 66);
    let score = score.gesture(2.0, 0.28).note(2.5, 3.01, 63).note(2.52, 4.0, 64).on(3.6, 66);
    let mut patch = even_violin();
    patch.strings.count = 0;
    let (views, _) = watch(&patch, &score, 3.7);
    let modes = [1.6, 2.51, 2.53, 3.61].map(|at_s| at(&views, at_s).mode);
    assert_eq!(modes, [Mode::Joined, Mode::Joined, Mode::Quick, Mode::Joined]);
}

#[test]
fn a_vibrato_that_a_slur_keeps_goes_on_through_a_grace() {
    // C5 has swung for a second, so a slur keeps all of its vibrato: a dip, and 40 cents again
    // 0.31 s later. A grace into D5 is no fast note that would take it away.
    for score in [half().on(1.0, 72).on(2.0, 74), half().on(1.0, 72).on(2.0, 73).on(2.02, 74)] {
        let (views, _) = watch(&even_violin(), &score.gesture(0.0, 0.5), 2.5);
        assert!((at(&views, 1.9).width_cents - 40.0).abs() < 1e-6);
        assert!(
            (at(&views, 2.09).width_cents - 6.0).abs() < 1e-6,
            "{}",
            at(&views, 2.09).width_cents
        );
        assert!((at(&views, 2.4).width_cents - 40.0).abs() < 1e-6);
    }
}

#[test]
fn a_grace_goes_out_as_hard_as_a_joined_note_and_a_chord_as_struck() {
    let sent = |joined_velocity, keys: [u8; 2]| {
        let mut patch = bare("violin", "perform");
        patch.target.joined_velocity = joined_velocity;
        let score = Score::new().gesture(0.0, 0.5).message(1.0, strike(keys[0], 90));
        let (_, sent) = watch(&patch, &score.message(1.02, strike(keys[1], 110)), 1.1);
        let velocity = |sent: &crate::rehearsal::Sent| match (sent.origin, sent.message) {
            (Origin::Note(_), Message::NoteOn { velocity, .. }) => Some(velocity),
            _ => None,
        };
        sent.iter().filter_map(velocity).collect::<Vec<u8>>()
    };
    // 0.5·90 + 33.89 and 0.5·110 + 33.89.
    assert_eq!(sent(JoinedVelocity::Blended, [71, 72]), [79, 89]);
    assert_eq!(sent(JoinedVelocity::Played, [71, 72]), [79, 110]);
    assert_eq!(sent(JoinedVelocity::Blended, [68, 72]), [79, 110]);
}

#[test]
fn the_keys_of_a_grace_end_as_played() {
    let mut patch = bare("violin", "perform");
    patch.target.output_count = 0;
    patch.dynamics.velocity_share = 0.0;
    patch.tail.tail_s = 0.0;
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.2, 71).note(1.02, 1.6, 72);
    let (_, sent) = watch(&patch, &score, 2.0);
    let expected = ["on 71 64 @ 1000", "on 72 64 @ 1020", "off 71 @ 1200", "off 72 @ 1600"];
    assert_eq!(words(&sent), expected);
}
