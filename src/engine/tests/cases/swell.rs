//! A fast swell: the level goes in steps so fine that nobody hears them.

use crate::music::said;
use crate::rehearsal::{Score, patch, watch};
use polso_engine::View;
use polso_engine::patch::Patch;

/// The length of the swell, and when it begins.
const SWELL_S: f64 = 0.3;
const START_S: f64 = 1.0;
/// What the gesture moves in this time, the level may move at once.
const MOVE_TICKS: usize = 10;

/// Decibels that the gesture asks for.
fn asked_db(patch: &Patch, view: &View) -> f64 {
    -patch.dynamics.span_db * (1.0 - view.dynamics) + 20.0 * libm::log10(view.expression)
}

/// Decibels that a receiver makes of a number (GM2 v1.2a, 3.3.4).
fn heard_db(number: u8) -> f64 {
    40.0 * libm::log10(f64::from(number) / 127.0)
}

/// The furthest that the level goes at once over a swell, and the furthest that the gesture moves
/// in 10 ms, decibels. No step goes further than the gesture does about that time, by more than
/// one step of the controller.
fn check(instrument: &str, target: &str, from: f64, to: f64) -> (f64, f64) {
    let mut patch = patch(instrument, target);
    for style in &mut patch.vibrato.styles {
        // The swing of the vibrato is no motion of the gesture's.
        style.level_swing_db = 0.0;
    }
    let score = Score::new().wheel_follows(0.0, 3.0, |seconds| {
        let share = ((seconds - START_S) / SWELL_S).clamp(0.0, 1.0);
        from + (to - from) * share * share * (3.0 - 2.0 * share)
    });
    let (views, sent) = watch(&patch, &score.on(0.2, 74), 3.0);
    let said = said(&sent, 11);
    let asked: Vec<f64> = views.iter().map(|view| asked_db(&patch, view)).collect();
    let moves: Vec<f64> =
        asked.windows(MOVE_TICKS + 1).map(|it| (it[MOVE_TICKS] - it[0]).abs()).collect();
    let (mut step_count, mut furthest_db) = (0, 0.0_f64);
    for pair in said.windows(2).filter(|pair| pair[0].0 >= START_S) {
        let ((before_s, before), (after_s, after)) = (pair[0], pair[1]);
        let about = (before_s * 1000.0) as usize - MOVE_TICKS..=(after_s * 1000.0) as usize;
        let moved_db = moves[about].iter().copied().fold(0.0, f64::max);
        let number = before.min(after);
        let one_db = heard_db(number + 1) - heard_db(number);
        let step_db = (heard_db(after) - heard_db(before)).abs();
        assert!(
            step_db <= moved_db + one_db + 1e-9,
            "{instrument}, {target}, {from} to {to}: {step_db} dB at {after_s} s, where the gesture \
             moves {moved_db}"
        );
        step_count += 1;
        furthest_db = furthest_db.max(step_db);
    }
    assert!(step_count >= 20, "{instrument}, {target}: {step_count} steps");
    let moved_db = moves[(START_S * 1000.0) as usize..].iter().copied().fold(0.0, f64::max);
    (furthest_db, moved_db)
}

#[test]
fn a_fast_swell_is_not_heard_in_steps() {
    for target in ["generic", "perform"] {
        for instrument in ["erhu", "violin", "dizi-d"] {
            for (from, to) in [(0.15, 1.0), (1.0, 0.15), (0.3, 0.8)] {
                let (step_db, moved_db) = check(instrument, target, from, to);
                println!(
                    "{instrument}, {target}, {from} to {to}: at most {step_db:.2} dB at once, where \
                     the gesture moves {moved_db:.2}"
                );
            }
        }
    }
}
