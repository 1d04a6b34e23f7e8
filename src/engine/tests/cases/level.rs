//! How loud a line is: what a gesture stands for, accents, velocities, and how a receiver hears it.

use crate::music::{at, bare, only, said, strike, value_at};
use crate::rehearsal::{Score, output, watch};
use polso_engine::math::curve::Curve;
use polso_engine::patch::{Address, Patch, Reading, Source};
use polso_engine::{Layer, Message, Origin};

/// What the level's controller says under a gesture that stands.
fn check(patch: &Patch, gesture: f64, value: u8) {
    let (_, sent) = watch(patch, &Score::new().gesture(0.0, gesture).on(1.0, 72), 2.0);
    assert_eq!(value_at(&said(&sent, 7), 2.0), Some(value), "gesture {gesture}");
}

/// A violin from 0 to 1 over `span_db`, its level on CC 7 under this reading.
fn levelled(span_db: f64, reading: Reading) -> Patch {
    let mut patch = bare("violin", "perform");
    patch.dynamics.floor = 0.0;
    patch.dynamics.ceiling = 1.0;
    patch.dynamics.span_db = span_db;
    let mut level = output(Layer::Dynamics, Address::Controller(7), 0.0, 1.0);
    level.reading = reading;
    let expression = output(Layer::Expression, Address::Controller(11), 0.0, 1.0);
    crate::music::with(only(patch, level), expression)
}

/// The velocity that goes out for a fresh note.
fn fresh_velocity(patch: &Patch, gesture: f64, velocity: u8) -> u8 {
    let score = Score::new().gesture(0.0, gesture).message(1.0, strike(72, velocity));
    let (_, sent) = watch(patch, &score, 1.1);
    let out = sent.iter().find_map(|sent| match (sent.origin, sent.message) {
        (Origin::Note(_), Message::NoteOn { velocity, .. }) => Some(velocity),
        _ => None,
    });
    out.expect("a note-on")
}

#[test]
fn a_gm2_receiver_hears_decibels() {
    // GM2 v1.2a, 3.3.4: dB = 40·log10(value/127). Over 90 dB the gesture for a level of d dB is
    // 1 + d/90.
    let gm2 = levelled(90.0, Reading::Gm2);
    for (value, db) in [
        (127, 0.0),
        (126, -0.1373),
        (100, -4.1521),
        (96, -4.8613),
        (64, -11.9049),
        (32, -23.9461),
        (16, -35.9873),
        (1, -84.1521),
    ] {
        check(&gm2, 1.0 + db / 90.0, value);
    }
}

#[test]
fn a_receiver_with_dynamic_layers_hears_a_position() {
    let position = levelled(30.0, Reading::Straight);
    check(&position, 0.0, 0);
    check(&position, 0.25, 32); // 31.75
    check(&position, 0.6, 76); // 76.2
    check(&position, 1.0, 127);
}

#[test]
fn a_measured_receiver_hears_its_own_table() {
    // Two straight pieces: −30 dB at 0.2 of the range, −10 dB at 0.4, 0 dB at 1. A third of the
    // gesture from the top is −10 dB. Slopes differ by 0.01 and 0.06 a decibel, so between the
    // points the curve is PCHIP's; on the points it is the table.
    let curve = Curve::through(&[(-30.0, 0.2), (-10.0, 0.4), (0.0, 1.0)]).expect("a table");
    let table = levelled(30.0, Reading::Table(curve));
    check(&table, 0.0, 25); // 0.2·127 = 25.4
    check(&table, 2.0 / 3.0, 51); // 0.4·127 = 50.8
    check(&table, 1.0, 127);
}

#[test]
fn an_inverted_output_counts_down() {
    let mut patch = levelled(30.0, Reading::Straight);
    patch.target.outputs[0].is_inverted = true;
    patch.target.outputs[0].min = 10;
    patch.target.outputs[0].max = 110;
    check(&patch, 0.0, 110);
    check(&patch, 0.25, 85);
    check(&patch, 1.0, 10);
}

#[test]
fn floor_ceiling_and_curve_make_the_level() {
    // D = floor + (ceiling − floor)·C(x); the view tells D.
    let mut patch = bare("violin", "perform");
    for (floor, ceiling, gesture, level) in [
        (0.06, 1.0, 0.0, 0.06),
        (0.06, 1.0, 0.5, 0.53),
        (0.12, 0.95, 1.0, 0.95),
        (0.45, 1.0, 0.2, 0.56),
    ] {
        patch.dynamics.floor = floor;
        patch.dynamics.ceiling = ceiling;
        let (views, _) = watch(&patch, &Score::new().gesture(0.0, gesture).on(1.0, 72), 2.0);
        let found = at(&views, 2.0).dynamics;
        assert!((found - level).abs() < 1e-9, "{found}, not {level}");
    }
}

#[test]
fn an_accent_dies_away_in_an_eighth_of_a_second() {
    // 0.12·max(0, (vel − 64)/63)·e^(−t/0.12) on 0.06: at 127 0.12, after 0.12 s 0.044146, after
    // 0.36 s 0.0059744; at 95 0.059048 to begin with; at 64 and below none.
    let patch = bare("violin", "perform");
    let accent = |velocity: u8, age_s: f64| {
        let score = Score::new().gesture(0.0, 0.0).message(1.0, strike(72, velocity));
        at(&watch(&patch, &score, 2.0).0, 1.0 + age_s).dynamics - 0.06
    };
    for (velocity, age_s, level) in [
        (127, 0.0, 0.12),
        (127, 0.12, 0.044_145_5),
        (127, 0.36, 0.005_974_45),
        (95, 0.0, 0.059_047_6),
        (95, 0.12, 0.021_722_4),
        (64, 0.0, 0.0),
        (1, 0.05, 0.0),
    ] {
        let found = accent(velocity, age_s);
        assert!((found - level).abs() < 1e-6, "velocity {velocity} at {age_s} s: {found}");
    }
}

#[test]
fn a_joined_note_has_no_accent() {
    let patch = bare("violin", "perform");
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 2.1, 72).message(2.0, strike(74, 127));
    let (views, _) = watch(&patch, &score, 2.5);
    for at_s in [2.0, 2.01, 2.1] {
        let level = at(&views, at_s).dynamics;
        assert!((level - 0.53).abs() < 1e-9, "{level} at {at_s} s");
    }
}

#[test]
fn a_breath_makes_its_own_accents() {
    // Our first numbers: the dizi's accent is 0 by breath and 0.15 by keys.
    let breath = Source::Controller(2);
    for (source, struck, plain) in [(Source::Controller(1), 0.40, 0.25), (breath, 0.25, 0.25)] {
        let patch = crate::rehearsal::patch_with("dizi-d", "perform", source, 1, 0.0);
        let score = |velocity| Score::new().message(1.0, strike(74, velocity));
        let level = |velocity| at(&watch(&patch, &score(velocity), 1.0).0, 1.0).dynamics;
        assert!((level(127) - struck).abs() < 1e-9, "{source:?}: {}", level(127));
        assert!((level(64) - plain).abs() < 1e-9, "{source:?}: {}", level(64));
    }
}

#[test]
fn the_level_moves_by_eight_a_second_at_most_but_jumps_with_a_fresh_note() {
    // The hand jumps from 0 to 1 under a light arm: 0.94 of the range at 8 /s is 117.5 ms.
    let mut patch = bare("violin", "perform");
    patch.hand.weight = 0.5;
    let score = Score::new().gesture(0.0, 0.0).on(1.0, 72).gesture(2.0, 1.0);
    let (views, _) = watch(&patch, &score, 3.0);
    let steps = views.windows(2).skip(1100).map(|pair| pair[1].dynamics - pair[0].dynamics);
    let fastest = steps.fold(0.0, f64::max);
    assert!((fastest - 0.008).abs() < 1e-12, "{fastest} a millisecond");
    let (views, _) = watch(&patch, &Score::new().gesture(0.5, 1.0).on(0.5, 72), 1.0);
    assert_eq!(at(&views, 0.499).dynamics, 0.06);
    assert_eq!(at(&views, 0.5).dynamics, 1.0);
}

#[test]
fn a_fresh_notes_velocity_is_half_the_hands() {
    // round((1 − w)·vel + w·(1 + 126·D)), w 0.5: D is 0.06 at rest, 0.53 half way, 1 at full.
    let violin = bare("violin", "perform");
    assert_eq!(fresh_velocity(&violin, 0.0, 64), 36); // 32 + 4.28
    assert_eq!(fresh_velocity(&violin, 0.0, 127), 68); // 63.5 + 4.28
    assert_eq!(fresh_velocity(&violin, 0.5, 64), 66); // 32 + 33.89
    assert_eq!(fresh_velocity(&violin, 1.0, 64), 96); // 32 + 63.5 = 95.5
    assert_eq!(fresh_velocity(&violin, 1.0, 127), 127);
    assert_eq!(fresh_velocity(&violin, 0.0, 1), 5); // 0.5 + 4.28
    let mut share = violin;
    share.dynamics.velocity_share = 0.0;
    assert_eq!(fresh_velocity(&share, 1.0, 37), 37);
    share.dynamics.velocity_share = 1.0;
    assert_eq!(fresh_velocity(&share, 0.5, 37), 68); // 1 + 66.78
}

#[test]
fn where_expression_has_no_address_the_level_carries_it() {
    // A tail of −18 dB on the level of 0.53 of 30 dB. GM2: 127·10^((−14.1 − 18)/40) = 20.0.
    // Position: added in decibels, 1 − 32.1/30 is below nothing, 0; half way down (−9 dB)
    // 1 − 23.1/30 = 0.23, 29.2 of 127.
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 3.0, 72);
    for (reading, half_way, end) in [(Reading::Gm2, 34, 20), (Reading::Straight, 29, 0)] {
        let mut level = output(Layer::Dynamics, Address::Controller(7), 0.0, 1.0);
        level.reading = reading;
        let patch = only(bare("violin", "perform"), level);
        let (_, sent) = watch(&patch, &score, 3.3);
        assert_eq!(value_at(&said(&sent, 7), 3.13), Some(half_way));
        assert_eq!(value_at(&said(&sent, 7), 3.3), Some(end));
    }
}

#[test]
fn niente_takes_a_level_without_expression_to_zero() {
    let mut level = output(Layer::Dynamics, Address::Controller(7), 0.0, 1.0);
    for reading in [Reading::Gm2, Reading::Straight] {
        level.reading = reading;
        let patch = only(bare("violin", "perform"), level);
        let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).gesture(2.0, 0.0);
        let (_, sent) = watch(&patch, &score, 3.0);
        assert_eq!(value_at(&said(&sent, 7), 3.0), Some(0));
    }
}
