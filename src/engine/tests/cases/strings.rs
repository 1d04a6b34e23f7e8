//! Which string a note is on: open strings that cannot be vibrated, those that need not be, and
//! how high on its string a note lies.

use crate::music::{at, bare, bends, run};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::{OpenPolicy, Patch};
use polso_engine::reason::Reason;

/// Width and reason of a note in the middle of its life, under the whole gesture.
fn check(sentence: &str, patch: &Patch, key: u8, width_cents: f64, reason: Reason) {
    let (views, sent) = watch(patch, &Score::new().gesture(0.0, 1.0).on(1.0, key), 3.0);
    let view = at(&views, 3.0);
    assert!(
        (view.width_cents - width_cents).abs() < 1e-6,
        "{sentence}: {} cents, not {width_cents}",
        view.width_cents
    );
    assert_eq!(view.vibrato_reason, reason, "{sentence}");
    let is_bent = bends(&sent).iter().any(|&(_, bend)| bend != 8192);
    assert_eq!(is_bent, width_cents > 0.0, "{sentence}");
}

/// Violin, 90 cents at full gesture, 0.03 wider for each semitone above the fifth.
fn violin(policy: OpenPolicy) -> Patch {
    let mut patch = bare("violin", "perform");
    patch.strings.policy = policy;
    patch
}

#[test]
fn the_lowest_open_string_is_never_vibrated() {
    // Definition and common practice, no source: no finger stops it.
    for policy in [OpenPolicy::Stopped, OpenPolicy::Open, OpenPolicy::Auto] {
        check("violin G3", &violin(policy), 55, 0.0, Reason::ForcedOpen);
    }
    check("erhu D4", &bare("erhu", "perform"), 62, 0.0, Reason::ForcedOpen);
}

#[test]
fn other_open_pitches_follow_the_policy() {
    // Stopped: D4 lies 7 semitones up the G string, A4 on D, E5 on A: 1 + 0.03·2 = 1.06 of 90.
    for key in [62, 69, 76] {
        check("stopped", &violin(OpenPolicy::Stopped), key, 95.4, Reason::VibratoSounds);
        check("open", &violin(OpenPolicy::Open), key, 0.0, Reason::OpenString);
        check("auto, slow", &violin(OpenPolicy::Auto), key, 95.4, Reason::VibratoSounds);
    }
    // A stopped note is vibrated under each.
    check("E4 under open", &violin(OpenPolicy::Open), 64, 90.0 * 0.91, Reason::VibratoSounds);
}

#[test]
fn auto_leaves_strings_open_only_in_fast_passages() {
    // Ten notes of 0.2 s: pace 0.2 + 0.3·0.6^10 = 0.2018, below 0.25: D4 rings open. Ten of
    // 0.3 s: 0.3 + 0.2·0.6^10 = 0.3012: it is stopped.
    let violin = violin(OpenPolicy::Auto);
    for (step_s, reason, width_cents) in
        [(0.2, Reason::OpenString, 0.0), (0.3, Reason::VibratoSounds, 95.4)]
    {
        let last_s = 1.0 + 10.0 * step_s;
        let score = Score::new().gesture(0.0, 1.0);
        let score = run(score, 1.0, step_s, step_s, &[64; 10]).on(last_s, 62);
        let view = *at(&watch(&violin, &score, last_s + 2.0).0, last_s + 2.0);
        assert_eq!(view.vibrato_reason, reason, "{step_s} s a note");
        assert!((view.width_cents - width_cents).abs() < 1e-6, "{}", view.width_cents);
    }
}

#[test]
fn the_register_widens_the_vibrato_up_the_string() {
    // 1 + 0.03·(n − 5), n above the open note of the highest string below the key; within
    // 0.6 and 1.6. 90 cents times that.
    let violin = violin(OpenPolicy::Stopped);
    for (key, n, factor) in [
        (56, 1, 0.88),
        (60, 5, 1.0),
        (61, 6, 1.03),
        (62, 7, 1.06), // stopped on the string below
        (63, 1, 0.88), // on its own string again
        (70, 1, 0.88),
        (77, 1, 0.88),
        (88, 12, 1.21),
        (96, 20, 1.45),
        (101, 25, 1.6),
        (103, 27, 1.6), // 1.66, held at 1.6
    ] {
        check(&format!("key {key}, n {n}"), &violin, key, 90.0 * factor, Reason::VibratoSounds);
    }
    // k 0.12 would give 1 − 0.48 at n = 1: held at 0.6.
    let mut steep = violin;
    steep.vibrato.register_per_semitone = 0.12;
    check("a steep register", &steep, 70, 54.0, Reason::VibratoSounds);
    // Winds have no strings: 60 cents of finger everywhere.
    check("dizi low", &bare("dizi-d", "perform"), 69, 60.0, Reason::VibratoSounds);
    check("dizi high", &bare("dizi-d", "perform"), 98, 60.0, Reason::VibratoSounds);
}

#[test]
fn the_register_moves_over_thirty_milliseconds() {
    // From C4 (n 5, 1.0) to F5 on the E string (n 1, 0.88), a slur without a dip after a second:
    // half way 0.94.
    let mut violin = violin(OpenPolicy::Stopped);
    violin.vibrato.join_keep = 1.0;
    let score = Score::new().gesture(0.0, 1.0).note(1.0, 2.01, 60).on(2.0, 77);
    let (views, _) = watch(&violin, &score, 2.5);
    for (at_s, factor) in [(2.0, 1.0), (2.015, 0.94), (2.03, 0.88), (2.5, 0.88)] {
        let width = at(&views, at_s).width_cents;
        assert!((width - 90.0 * factor).abs() < 1e-6, "{width} at {at_s} s");
    }
}

#[test]
fn an_open_string_by_policy_fades_in_thirty_milliseconds_and_keeps_the_envelope() {
    // E4 slurred to open D4 and back, half a second each: S_open 1 → 0 → 1 while E stays whole.
    let mut violin = violin(OpenPolicy::Open);
    violin.vibrato.join_keep = 1.0;
    violin.vibrato.register_per_semitone = 0.0;
    let score = Score::new().gesture(0.0, 1.0).note(1.0, 2.01, 64).note(2.0, 2.51, 62).on(2.5, 64);
    let (views, _) = watch(&violin, &score, 3.0);
    for (at_s, width_cents) in
        [(2.0, 90.0), (2.015, 45.0), (2.03, 0.0), (2.5, 0.0), (2.515, 45.0), (2.53, 90.0)]
    {
        let width = at(&views, at_s).width_cents;
        assert!((width - width_cents).abs() < 1e-6, "{width} at {at_s} s");
    }
}

#[test]
fn no_vibrato_has_its_reason() {
    let plain = Score::new().gesture(0.0, 0.05).on(1.0, 64);
    let young = Score::new().gesture(0.0, 1.0).on(1.98, 64);
    let fast = run(Score::new().gesture(0.0, 1.0), 0.5, 0.1, 0.1, &[64; 16]);
    let unmoved = Score::new().on(1.0, 64);
    let ended = Score::new().gesture(0.0, 1.0).note(1.0, 1.3, 64);
    for (score, reason) in [
        (plain, Reason::StyleIsPlain),
        (young, Reason::NoteTooYoung),
        (fast, Reason::FastRun),
        (unmoved, Reason::GestureUnknown),
        (ended, Reason::Rest),
    ] {
        let (views, _) = watch(&violin(OpenPolicy::Stopped), &score, 2.0);
        assert_eq!(at(&views, 2.0).vibrato_reason, reason, "{}", reason.code());
    }
}
