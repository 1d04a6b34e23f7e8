//! A hand that does not move says nothing, whatever its controller mutters.

use polso_engine::Message;

use super::improvised::Die;
use crate::rehearsal::{RATE_HZ, Score, patch, perform, watch};

/// Flutter between `step` and its neighbour: it visits the neighbour for less than 0.25 s and
/// stays at home for less than `home_s`.
struct Flutter {
    step: u8,
    neighbour: u8,
    home_s: f64,
}

impl Flutter {
    fn about(step: u8, by: i8) -> Flutter {
        Flutter { step, neighbour: step.saturating_add_signed(by), home_s: 0.6 }
    }

    fn play(&self, mut score: Score, from_s: f64, to_s: f64, seed: u64) -> Score {
        let mut die = Die(seed);
        let mut now_s = from_s;
        while now_s < to_s {
            score = score.wheel(now_s, self.neighbour);
            now_s += die.between(0.001, 0.249);
            score = score.wheel(now_s, self.step);
            now_s += die.between(0.001, self.home_s);
        }
        score
    }
}

/// Everything that the targets say after `from_s`.
fn heard_after(score: &Score, from_s: f64, end_s: f64) -> Vec<Message> {
    let mut heard = Vec::new();
    for target in ["generic", "perform"] {
        let sent = perform(&patch("erhu", target), RATE_HZ, &[512], score, end_s);
        let later = sent.iter().filter(|sent| sent.frame as f64 / RATE_HZ > from_s);
        heard.extend(later.map(|sent| sent.message));
    }
    heard
}

#[test]
fn an_untouched_controller_that_flutters_by_one_step_sends_nothing() {
    for step in 1..127 {
        for by in [-1, 1] {
            let flutter = Flutter::about(step, by);
            let score = flutter.play(Score::new().wheel(0.1, step), 1.6, 10.0, u64::from(step));
            assert_eq!(heard_after(&score, 1.5, 10.0), [], "about {step} by {by}");
        }
    }
}

#[test]
fn a_wheel_that_was_moved_and_left_sends_nothing_however_it_flutters() {
    for step in 1..127 {
        for by in [-1, 1] {
            let moved = move |s: f64| f64::from(step) / 127.0 * s.min(1.0);
            let score = Score::new().wheel_follows(0.0, 1.0, moved);
            let score = Flutter::about(step, by).play(score, 2.0, 10.0, u64::from(step));
            assert_eq!(heard_after(&score, 1.9, 10.0), [], "about {step} by {by}");
        }
    }
}

/// However slowly it moved before: after 3 s at rest a step onward is flutter again.
#[test]
fn a_wheel_that_crept_and_was_left_for_three_seconds_sends_nothing() {
    for gap_s in [0.7, 1.1, 1.9, 2.9] {
        let steps = (0..12).map(|step| (gap_s * f64::from(step), 40 + step));
        let score = steps.fold(Score::new(), |score, (at_s, step)| score.wheel(at_s, step as u8));
        let left_s = gap_s * 11.0;
        for by in [-1, 1] {
            let flutter = Flutter::about(51, by);
            let score = flutter.play(score.clone(), left_s + 3.001, left_s + 12.0, 7);
            assert_eq!(heard_after(&score, left_s + 1.0, left_s + 12.0), [], "{gap_s} s by {by}");
        }
    }
}

/// Right after a move a step onward still belongs to it; from then on the controller only flutters.
#[test]
fn flutter_right_after_a_move_moves_the_line_once_at_most() {
    for seed in 0..20 {
        let score = Score::new().wheel_follows(0.0, 1.0, |s| 64.0 / 127.0 * s.min(1.0));
        let flutter = Flutter { home_s: 0.249, ..Flutter::about(64, 1) };
        let score = flutter.play(score, 1.1, 10.0, seed);
        assert_eq!(heard_after(&score, 2.0, 10.0), []);
    }
}

#[test]
fn a_held_note_over_a_fluttering_wheel_sends_nothing_either() {
    // A forced-open note: no vibrato moves by itself.
    let held = Score::new().wheel(0.1, 64).on(0.5, 62);
    let score = Flutter::about(64, 1).play(held, 1.6, 20.0, 9);
    assert_eq!(heard_after(&score, 1.5, 20.0), []);
}

#[test]
fn a_step_that_stays_is_believed_after_a_quarter_of_a_second() {
    let score = Score::new().wheel(0.1, 64).wheel(2.0, 65);
    let (views, _) = watch(&patch("erhu", "perform"), &score, 3.0);
    assert_eq!(views[2_249].gesture, views[1_900].gesture);
    assert!(views[2_400].gesture > views[1_900].gesture);
}

#[test]
fn both_ends_of_the_travel_can_be_reached() {
    // Slowly and quickly, from one step away too: the rails are exempt from the flutter hold.
    for steps in [[126, 127, 0], [1, 0, 127], [64, 127, 1], [12, 0, 126]] {
        let score = steps.iter().enumerate().fold(Score::new(), |score, (place, &step)| {
            score.wheel(0.2 + 0.4 * place as f64, step)
        });
        let (views, _) = watch(&patch("erhu", "perform"), &score, 2.0);
        let ends: Vec<f64> = (0..3).map(|place| views[580 + 400 * place].gesture).collect();
        for (step, end) in steps.iter().zip(&ends) {
            match step {
                0 | 1 => assert!(*end == 0.0, "{step} gives {end}"),
                126 | 127 => assert!(*end == 1.0, "{step} gives {end}"),
                _ => assert!((0.01..0.99).contains(end), "{step} gives {end}"),
            }
        }
    }
}

/// One step back onto a rail is no flutter: it is believed long before a quarter of a second.
#[test]
fn a_step_onto_a_rail_is_believed_at_once() {
    let mut bare = patch("erhu", "perform");
    (bare.hand.low, bare.hand.high) = (0.0, 1.0);
    (bare.hand.dead_zone_rest, bare.hand.dead_zone_full) = (0.0, 0.0);
    for (rail, beside, expected) in [(0, 1, 0.0), (127, 126, 1.0)] {
        let score = Score::new().wheel(0.1, rail).wheel(0.5, beside).wheel(1.0, rail);
        let (views, _) = watch(&bare, &score, 1.3);
        assert!(views[999].gesture != expected, "{beside} is believed by then");
        let miss = (views[1_200].gesture - expected).abs();
        assert!(miss < 1e-3, "{rail}: {miss} away after 0.2 s");
    }
}
