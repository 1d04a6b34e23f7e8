//! The pitch never snaps, the styles share one whole, the rate and the level never hurry.

use polso_engine::View;
use polso_engine::patch::{Patch, VoiceKind};
use polso_engine::{Input, Message};

use super::improvised::{Manner, improvise};
use super::receivers;
use crate::rehearsal::{RATE_HZ, Score, watch};

const LENGTH_S: f64 = 7.0;
const TICK_S: f64 = 0.001;
/// Styles take a step as often as the pitch goes out.
const STEP_TICKS: usize = 5;

/// The tame takes of a patch, as seen at every tick, with the seconds of their notes' events.
fn watched(patch: &Patch, seed: u64) -> (Vec<View>, Vec<f64>) {
    let manner = Manner { is_wild: false, ..receivers::manner(patch, LENGTH_S, 0.0) };
    let score = improvise(seed, &manner);
    let (views, sent) = watch(patch, &score, LENGTH_S + 1.0);
    let is_note =
        |message: &Message| matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. });
    let played = score.timed(RATE_HZ).into_iter().filter_map(|(frame, timed)| match timed.input {
        Input::Midi(message) if is_note(&message) => Some(frame),
        _ => None,
    });
    let heard = sent.iter().filter(|sent| is_note(&sent.message)).map(|sent| sent.frame);
    let mut notes_s: Vec<f64> = played.chain(heard).map(|frame| frame as f64 / RATE_HZ).collect();
    notes_s.sort_by(f64::total_cmp);
    (views, notes_s)
}

/// Whether a note event lies in the interval.
fn has_note(notes_s: &[f64], from_s: f64, to_s: f64) -> bool {
    let first = notes_s.partition_point(|&note_s| note_s < from_s);
    notes_s.get(first).is_some_and(|&note_s| note_s <= to_s)
}

/// DESIGN 4.3: |Δp| over any Δt ≤ 1.3·2πf·Δt·W/2 + 2 cents; within 80 ms of a note event
/// W·min(1, Δt/25 ms) more, and |ΔW| always. W and f as they are at that moment, with what
/// unevenness, the arch of a long note and the settling of its pitch make of them.
fn check_continuity(name: &str, patch: &Patch, seed: u64) -> f64 {
    let (views, notes_s) = watched(patch, seed);
    let mut moved = 0.0;
    for ticks in [1_usize, 2, 5, 12, 25, 40] {
        let dt_s = ticks as f64 * TICK_S;
        for (place, pair) in views.windows(ticks + 1).enumerate() {
            let (first, last) = (&pair[0], &pair[ticks]);
            let width = pair.iter().map(|view| view.width_cents).fold(0.0, f64::max);
            let rate = pair.iter().map(|view| view.rate_hz).fold(0.0, f64::max);
            let swing = 1.3 * std::f64::consts::TAU * rate * dt_s * width / 2.0 + 2.0;
            let narrowed = (last.width_cents - first.width_cents).abs();
            let now_s = place as f64 * TICK_S;
            let note = match has_note(&notes_s, now_s - 0.080, now_s + dt_s) {
                true => width * (dt_s / 0.025).min(1.0),
                false => 0.0,
            };
            let step = (last.pitch_cents - first.pitch_cents).abs();
            assert!(
                step <= swing + narrowed + note,
                "{name}, seed {seed}: {step} cents in {ticks} ms at {now_s} s: {first:?} {last:?}"
            );
            moved += if ticks == 1 { step } else { 0.0 };
        }
    }
    moved
}

/// Those of the receivers that are played as one line, whose view is of one voice from beginning to end.
fn of_one_line() -> Vec<(&'static str, Patch)> {
    let mut all = receivers::all();
    all.retain(|(_, patch)| patch.voices.kind == VoiceKind::Line);
    all
}

#[test]
fn the_pitch_never_snaps() {
    let mut moved = 0.0;
    for (name, patch) in of_one_line() {
        for seed in 0..12 {
            moved += check_continuity(name, &patch, seed);
            let mut even = patch;
            even.vibrato.rate_spread = 0.0;
            even.vibrato.width_spread = 0.0;
            moved += check_continuity(name, &even, 1_000 + seed);
        }
    }
    assert!(moved > 100_000.0, "the pitch hardly moves: {moved} cents");
}

#[test]
fn the_styles_share_one_whole_and_none_moves_faster_than_four_a_second() {
    let mut fastest: f64 = 0.0;
    for (name, patch) in receivers::all() {
        for seed in 0..8 {
            let (views, _) = watched(&patch, seed);
            for step in views.windows(STEP_TICKS + 1) {
                let (first, last) = (&step[0], &step[STEP_TICKS]);
                let sum: f64 = last.weights.iter().sum();
                assert!((sum - 1.0).abs() <= 1e-9, "{name}: {:?}", last.weights);
                for (last, first) in last.weights.iter().zip(first.weights) {
                    let per_s = (last - first).abs() / (STEP_TICKS as f64 * TICK_S);
                    assert!((-1e-12..=1.0 + 1e-12).contains(last), "{name}: {last}");
                    assert!(per_s <= 4.0 + 1e-9, "{name}, seed {seed}: {per_s} a second");
                    fastest = fastest.max(per_s);
                }
            }
        }
    }
    assert!(fastest > 3.9, "never put to the test: {fastest}");
}

#[test]
fn the_rate_slews_by_three_hertz_a_second_at_most() {
    let mut fastest: f64 = 0.0;
    for (name, mut patch) in of_one_line() {
        // Before the unevenness of its cycles.
        patch.vibrato.rate_spread = 0.0;
        for seed in 0..8 {
            let (views, _) = watched(&patch, seed);
            for pair in views.windows(2) {
                let per_s = (pair[1].rate_hz - pair[0].rate_hz).abs() / TICK_S;
                assert!(per_s <= 3.0 + 1e-9, "{name}, seed {seed}: {per_s} Hz a second");
                fastest = fastest.max(per_s);
            }
        }
    }
    assert!(fastest > 2.9, "never put to the test: {fastest}");
}

#[test]
fn the_level_slews_by_eight_a_second_at_most_between_note_ons() {
    let mut fastest: f64 = 0.0;
    for (name, mut patch) in receivers::all() {
        // The hardest accents that a file may ask for die away faster than the level may fall.
        patch.dynamics.accent = 1.0;
        patch.hand.weight = 0.5;
        for seed in 0..8 {
            let (views, notes_s) = watched(&patch, seed);
            for (place, pair) in views.windows(2).enumerate() {
                let now_s = place as f64 * TICK_S;
                if has_note(&notes_s, now_s, now_s + TICK_S) {
                    continue;
                }
                let per_s = (pair[1].dynamics - pair[0].dynamics).abs() / TICK_S;
                assert!(per_s <= 8.0 + 1e-9, "{name}, seed {seed}: {per_s} a second");
                fastest = fastest.max(per_s);
            }
        }
    }
    assert!(fastest > 7.9, "never put to the test: {fastest}");
}

#[test]
fn a_swing_starts_on_the_pitch_itself() {
    for (name, patch) in receivers::all() {
        let mut even = patch;
        even.vibrato.styles.iter_mut().for_each(|style| style.centre = 0.0);
        let full = if patch.hand.is_inverted { 0.05 } else { 0.95 };
        let score = Score::new().gesture(0.1, full).on(0.5, 74).off(3.0, 74);
        let (views, _) = watch(&even, &score, 3.5);
        let first = views.iter().find(|view| view.width_cents > 0.0);
        let first = first.unwrap_or_else(|| panic!("{name} has no vibrato"));
        // In the first tick it goes at most 7 Hz · 1 ms of a turn: 2 % of the width.
        assert!(first.pitch_cents.abs() < 0.05 * first.width_cents, "{name}: {first:?}");
    }
}
