//! Which kind of vibrato: the weights of the styles over the gesture, and how a receiver hears them.

use crate::music::{at, bare, only, said, value_at};
use crate::rehearsal::{Score, output, watch};
use polso_engine::Layer;
use polso_engine::patch::{Address, Patch, StyleLaw};

/// The weights under a gesture that stands, each within a billionth.
fn check(patch: &Patch, gesture: f64, weights: [f64; 4]) {
    let (views, _) = watch(patch, &Score::new().gesture(0.0, gesture), 1.0);
    let found = at(&views, 1.0).weights;
    let is_near = found.iter().zip(weights).all(|(found, weight)| (found - weight).abs() < 1e-9);
    assert!(is_near, "gesture {gesture}: {found:?}, not {weights:?}");
    assert!((found.iter().sum::<f64>() - 1.0).abs() < 1e-9, "gesture {gesture}: {found:?}");
}

/// What a receiver hears of each style on controllers 20, 21 and 22 while the gesture stands.
fn heard(mut patch: Patch, gesture: f64) -> [Option<u8>; 3] {
    patch.target.output_count = 0;
    for place in 0..3 {
        let address = Address::Controller(20 + place);
        patch = crate::music::with(patch, output(Layer::StyleWeight(place), address, 0.0, 1.0));
    }
    let (_, sent) = watch(&patch, &Score::new().gesture(0.0, gesture).on(1.0, 72), 1.5);
    [20, 21, 22].map(|number| value_at(&said(&sent, number), 1.5))
}

#[test]
fn three_styles_cross_between_their_edges() {
    // Edges .10 .30 .72 .92: a quarter of the way sm = 0.15625, half 0.5, three quarters 0.84375.
    let erhu = bare("erhu", "perform");
    check(&erhu, 0.0, [1.0, 0.0, 0.0, 0.0]);
    check(&erhu, 0.10, [1.0, 0.0, 0.0, 0.0]);
    check(&erhu, 0.15, [0.84375, 0.15625, 0.0, 0.0]);
    check(&erhu, 0.20, [0.5, 0.5, 0.0, 0.0]);
    check(&erhu, 0.25, [0.15625, 0.84375, 0.0, 0.0]);
    check(&erhu, 0.30, [0.0, 1.0, 0.0, 0.0]);
    check(&erhu, 0.50, [0.0, 1.0, 0.0, 0.0]);
    check(&erhu, 0.72, [0.0, 1.0, 0.0, 0.0]);
    check(&erhu, 0.77, [0.0, 0.84375, 0.15625, 0.0]);
    check(&erhu, 0.82, [0.0, 0.5, 0.5, 0.0]);
    check(&erhu, 0.87, [0.0, 0.15625, 0.84375, 0.0]);
    check(&erhu, 0.92, [0.0, 0.0, 1.0, 0.0]);
    check(&erhu, 1.0, [0.0, 0.0, 1.0, 0.0]);
}

#[test]
fn two_styles_cross_once_and_one_style_is_all() {
    let violin = bare("violin", "perform");
    check(&violin, 0.20, [0.5, 0.5, 0.0, 0.0]);
    check(&violin, 1.0, [0.0, 1.0, 0.0, 0.0]);
    let mut single = violin;
    single.vibrato.style_count = 1;
    check(&single, 0.0, [1.0, 0.0, 0.0, 0.0]);
    check(&single, 0.7, [1.0, 0.0, 0.0, 0.0]);
}

#[test]
fn four_styles_cross_one_after_the_other() {
    let mut patch = bare("erhu", "perform");
    patch.vibrato.style_count = 4;
    patch.vibrato.styles[3] = patch.vibrato.styles[1];
    patch.vibrato.edges = [(0.1, 0.3), (0.4, 0.6), (0.7, 0.9)];
    check(&patch, 0.5, [0.0, 0.5, 0.5, 0.0]);
    check(&patch, 0.75, [0.0, 0.0, 0.84375, 0.15625]);
    check(&patch, 0.95, [0.0, 0.0, 0.0, 1.0]);
}

#[test]
fn weights_move_along_one_line_at_four_a_second() {
    // The hand jumps from full to rest: pressed 1 → 0 and plain 0 → 1, a quarter second at
    // 4 /s, and all the while they sum to 1. Once the hand has arrived (no later than 0.1 s
    // after), what is left to go points the same way to the end: w − goal keeps its ratios.
    let score = Score::new().gesture(0.0, 1.0).on(0.5, 72).gesture(2.0, 0.0);
    let (views, _) = watch(&bare("erhu", "perform"), &score, 3.0);
    let mut fastest: f64 = 0.0;
    for step in views.windows(6) {
        let sum: f64 = step[5].weights.iter().sum();
        assert!((sum - 1.0).abs() < 1e-9, "{sum} at {} s", step[5].time_s);
        for place in 0..3 {
            fastest = fastest.max((step[5].weights[place] - step[0].weights[place]).abs());
        }
    }
    assert!((fastest - 0.02).abs() < 1e-12, "{fastest} in 5 ms");
    let left = |seconds: f64| {
        let [plain, rolled, pressed, _] = at(&views, seconds).weights;
        [plain - 1.0, rolled, pressed]
    };
    let (early, late) = (left(2.15), left(2.2));
    assert!(early[2] > 0.1, "still on the way: {early:?}");
    for place in [1, 2] {
        let (ratio, later) = (early[place] / early[0], late[place] / late[0]);
        assert!((ratio - later).abs() < 1e-9, "{ratio} became {later}");
    }
    assert_eq!(at(&views, 2.4).weights, [1.0, 0.0, 0.0, 0.0]);
    assert_ne!(at(&views, 2.24).weights, [1.0, 0.0, 0.0, 0.0], "1/4 s at 4 /s");
}

#[test]
fn the_laws_for_receivers_with_styles_of_their_own() {
    // Gesture 0.15: weights 0.84375 and 0.15625. Equal gain: 107.16 and 19.84 of 127. Equal
    // power: sqrt 0.91856 and 0.39528, 116.66 and 50.20. Latched: the heavier one alone.
    let with_law = |law| {
        let mut patch = bare("erhu", "perform");
        patch.vibrato.style_law = law;
        patch
    };
    let gain = heard(with_law(StyleLaw::EqualGain), 0.15);
    assert_eq!(gain, [Some(107), Some(20), Some(0)]);
    let power = heard(with_law(StyleLaw::EqualPower), 0.15);
    assert_eq!(power, [Some(117), Some(50), Some(0)]);
    let latched = heard(with_law(StyleLaw::Latched), 0.15);
    assert_eq!(latched, [Some(127), Some(0), Some(0)]);
    // Half way both powers are 0.707107 (two equal parts of a whole): 89.80.
    let power = heard(with_law(StyleLaw::EqualPower), 0.20);
    assert_eq!(power, [Some(90), Some(90), Some(0)]);
}

#[test]
fn the_quick_way_through_keeps_two_players_apart() {
    // u^n/(uⁿ + (1 − u)ⁿ), n = 2.5, u = 0.15625: 0.0096505/(0.0096505 + 0.653943) = 0.014543.
    let mut patch = bare("erhu", "perform");
    patch.vibrato.quick_through = 2.5;
    assert_eq!(heard(patch, 0.15), [Some(125), Some(2), Some(0)]);
    assert_eq!(heard(patch, 0.25), [Some(2), Some(125), Some(0)]);
}

#[test]
fn a_latched_style_waits_for_the_next_note() {
    let mut patch = bare("erhu", "perform");
    patch.vibrato.style_law = StyleLaw::Latched;
    let rolled = output(Layer::StyleWeight(1), Address::Controller(21), 0.0, 1.0);
    let score = Score::new().gesture(0.0, 0.0).note(0.5, 2.0, 72).gesture(1.0, 0.5).on(2.5, 72);
    let (_, sent) = watch(&only(patch, rolled), &score, 3.0);
    assert_eq!(said(&sent, 21), [(0.0, 0), (2.5, 127)]);
}

#[test]
fn the_position_runs_along_the_list_of_styles() {
    // Three styles stand at 0, ½ and 1: 0.15625·½ = 0.078125 of 127 is 9.92; 0.5 is 63.5;
    // half way from the second to the third 0.75, 95.25.
    for (gesture, value) in [(0.0, 0), (0.15, 10), (0.5, 64), (0.82, 95), (1.0, 127)] {
        let style = output(Layer::Style, Address::Controller(70), 0.0, 1.0);
        let patch = only(bare("erhu", "perform"), style);
        let (_, sent) = watch(&patch, &Score::new().gesture(0.0, gesture).on(0.5, 72), 1.0);
        assert_eq!(value_at(&said(&sent, 70), 1.0), Some(value), "gesture {gesture}");
    }
}

/// Of two styles that weigh the same the first one counts for a whole note.
#[test]
fn a_latched_note_between_two_styles_keeps_the_first() {
    let mut erhu = bare("erhu", "perform");
    erhu.vibrato.style_law = StyleLaw::Latched;
    let mut latched_at = |position| {
        erhu.vibrato.style_position = Some(position);
        heard(erhu, 0.5)
    };
    assert_eq!(latched_at(0.25), [Some(127), Some(0), Some(0)]);
    assert_eq!(latched_at(0.26), [Some(0), Some(127), Some(0)]);
}
