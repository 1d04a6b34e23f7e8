//! Runs: the pace says when every join is quick, and a human hand does not make it flicker.

use crate::die::Die;
use crate::music::bare;
use crate::rehearsal::{RATE_HZ, Score, Tape, watch};
use polso_engine::patch::Patch;
use polso_engine::reason::Reason;
use polso_engine::{Input, Message, Mode, Section, Timed};

/// Keys that go up and down and are no trill.
const KEYS: [u8; 4] = [64, 66, 68, 66];

/// A violin without strings: no rule but the zones and the run.
fn free_violin() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.strings.count = 0;
    patch.strings.forced_open_keys = 0;
    patch
}

/// Slurred notes with these times between them, the first at 1 s.
fn slurs(gesture: f64, iois_s: &[f64]) -> (Score, f64) {
    let (mut score, mut on_s) = (Score::new().gesture(0.0, gesture), 1.0);
    for (place, &ioi_s) in iois_s.iter().enumerate() {
        score = score.note(on_s, on_s + ioi_s + 0.01, KEYS[place % 4]);
        on_s += ioi_s;
    }
    (score.note(on_s, on_s + 0.2, KEYS[iois_s.len() % 4]), on_s)
}

/// Whether the last of these slurs is quick by rule, under a gesture in the slow zone.
fn check(sentence: &str, iois_s: &[f64], is_run: bool) {
    let (score, last_s) = slurs(0.88, iois_s);
    let (views, _) = watch(&free_violin(), &score, last_s + 0.002);
    let view = views.last().expect("a view");
    let reason = if is_run { Reason::TooFast } else { Reason::Zone };
    assert_eq!(view.legato_reason, reason, "{sentence}");
    assert_eq!(view.mode == Mode::Quick, is_run, "{sentence}");
}

#[test]
fn a_run_begins_below_a_pace_of_fifteen_hundredths() {
    // The pace after k notes of d is d + (0.5 − d)·0.6^k: after four of 0.1 s 0.15184, after five
    // 0.13110. The first slurs of every run go by zone.
    check("four of 0.1 s", &[0.1; 4], false);
    check("five of 0.1 s", &[0.1; 5], true);
    // 0.8704·d + 0.0648 after four: 0.14992 and 0.15001.
    check("four of 0.0978 s", &[0.0978; 4], true);
    check("four of 0.0979 s", &[0.0979; 4], false);
}

#[test]
fn a_run_begins_with_less_than_twelve_hundredths_since_the_last_note() {
    // The pace is 0.13906 and 0.13910.
    check("0.1199 s", &[0.1, 0.1, 0.1, 0.1, 0.1199], true);
    check("0.12 s", &[0.1, 0.1, 0.1, 0.1, 0.12], false);
    // A run that is slower than that never begins, though its pace comes to 0.125.
    check("0.125 s", &[0.125; 30], false);
}

#[test]
fn a_run_goes_on_to_a_pace_of_sixteen_hundredths() {
    // From a pace of 0.1, after four notes of t it is 0.8704·t + 0.01296: 0.15997 and 0.16006.
    let slower = |t: f64| [[0.1; 40].as_slice(), &[t; 4]].concat();
    check("0.1689 s", &slower(0.1689), true);
    check("0.1690 s", &slower(0.1690), false);
}

#[test]
fn a_run_ends_with_a_quarter_second_between_two_notes() {
    // From a pace of 0.06 it is 0.136 after either.
    let late = |t: f64| [[0.06; 40].as_slice(), &[t]].concat();
    check("0.25 s", &late(0.25), true);
    check("0.2501 s", &late(0.2501), false);
}

#[test]
fn a_chord_or_a_grace_in_a_run_leaves_it_a_run() {
    // 20 ms after the last note but one; the last still counts 0.1 s from that.
    for key in [90, 67] {
        let (score, last_s) = slurs(0.88, &[0.1; 8]);
        let score = score.note(last_s - 0.08, last_s - 0.07, key);
        let (views, _) = watch(&free_violin(), &score, last_s + 0.002);
        assert_eq!(views.last().expect("a view").legato_reason, Reason::TooFast, "key {key}");
    }
}

#[test]
fn a_chord_or_a_grace_begins_no_run() {
    // At 0.125 s a note there is never a run; the note 20 ms after the last but one makes none.
    for key in [90, 67] {
        let (score, last_s) = slurs(0.88, &[0.125; 32]);
        let score = score.note(last_s - 0.105, last_s - 0.09, key);
        let (views, _) = watch(&free_violin(), &score, last_s + 0.002);
        assert_eq!(views.last().expect("a view").legato_reason, Reason::Zone, "key {key}");
    }
}

#[test]
fn a_phrase_begins_with_no_run() {
    // 0.36 s of silence, then a slur after 0.1 s; the pace is 0.34.
    let (score, last_s) = slurs(0.88, &[0.06; 40]);
    let next_s = last_s + 0.2 + 0.36;
    let score = score.note(next_s, next_s + 0.2, 64).note(next_s + 0.1, next_s + 0.2, 66);
    let (views, _) = watch(&free_violin(), &score, next_s + 0.102);
    assert_eq!(views.last().expect("a view").legato_reason, Reason::Zone);
}

/// The modes of 48 slurred sixteenths as a person plays them, each within 8 ms of its time.
fn human_run(gesture: f64, tempo_bpm: f64, seed: u64) -> Vec<Mode> {
    let mut die = Die(seed);
    let sixteenth_s = 15.0 / tempo_bpm;
    let on_s: Vec<f64> = (0..=48)
        .map(|place| 1.0 + sixteenth_s * f64::from(place) + die.between(-0.008, 0.008))
        .collect();
    let mut engine = Section::prepare(RATE_HZ, &free_violin());
    let mut tape = Tape::default();
    let mut modes = Vec::new();
    let mut start = 0;
    let mut play = |engine: &mut Section, seconds: f64, input: Input| {
        let frame = (seconds * RATE_HZ).round() as u64;
        let length = (frame - start) as u32 + 1;
        engine.process(length, &[Timed { frame: length - 1, tag: 0, input }], &mut tape);
        start = frame + 1;
    };
    play(&mut engine, 0.0, Input::Gesture(gesture));
    for (place, &seconds) in on_s.iter().enumerate() {
        let key = KEYS[place % 4];
        let strike = Message::NoteOn { channel: 0, key, velocity: 64 };
        play(&mut engine, seconds, Input::Midi(strike));
        modes.push(engine.view().mode);
        if place > 0 {
            let lift = Message::NoteOff { channel: 0, key: KEYS[(place - 1) % 4], velocity: 64 };
            play(&mut engine, seconds + 0.01, Input::Midi(lift));
        }
    }
    modes.split_off(1)
}

#[test]
fn a_human_run_under_a_still_hand_changes_its_mode_three_times_at_most() {
    // From a detached first note on; at every gesture in steps of a hundredth, in every zone.
    let mut worst = 0;
    for tempo_bpm in [114.0, 120.0, 126.0, 132.0, 138.0] {
        for step in 0..=100 {
            for seed in 0..4 {
                let gesture = f64::from(step) / 100.0;
                let modes = human_run(gesture, tempo_bpm, 1000 * step as u64 + seed);
                let changes = modes.windows(2).filter(|two| two[0] != two[1]).count();
                assert!(changes <= 3, "{changes} changes at {tempo_bpm} bpm, gesture {gesture}");
                worst = worst.max(changes);
            }
        }
    }
    // Where it begins joined or slower it does change: the test sees what it looks for.
    assert!(worst >= 1, "{worst}");
}
