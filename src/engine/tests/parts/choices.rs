//! What a receiver is told to choose, and what the hand's settings say of their source.

use polso_engine::patch::{
    ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, LEGATO, ModePatch, Source,
};

use crate::rehearsal::patch;

const KEYS: ModePatch = ChoicePatch::Keyswitch {
    keys: [Some(24), None, Some(26), Some(27), Some(28)],
    velocity: 100,
    is_held: false,
};
const PROGRAMS: ModePatch = ChoicePatch::Program([Some(3), Some(4), None, Some(5), Some(6)]);
const VALUES: ModePatch =
    ChoicePatch::Controller { number: 32, values: [Some(0), Some(10), Some(20), None, Some(40)] };

#[test]
fn each_way_of_telling_has_its_value_or_none() {
    for (choice, values) in [
        (KEYS, [Some(24), None, Some(26), Some(27), Some(28)]),
        (PROGRAMS, [Some(3), Some(4), None, Some(5), Some(6)]),
        (VALUES, [Some(0), Some(10), Some(20), None, Some(40)]),
        (ChoicePatch::Silent, [None; 5]),
    ] {
        assert_eq!([0, 1, 2, 3, 4].map(|place| choice.value(place)), values);
        assert_eq!(choice.value(5), None);
    }
}

/// Two ways are shared where one undoes the other.
#[test]
fn two_choices_share_their_way_by_kind_and_controllers_by_number() {
    let controller = |number| ChoicePatch::<2>::Controller { number, values: [None; 2] };
    let key = ChoicePatch::Keyswitch { keys: [None; 2], velocity: 1, is_held: true };
    let program = ChoicePatch::Program([None; 2]);
    for (choice, [by_key, by_program, by_32, by_33, by_none]) in [
        (KEYS, [true, false, false, false, false]),
        (PROGRAMS, [false, true, false, false, false]),
        (VALUES, [false, false, true, false, false]),
        (ChoicePatch::Silent, [false; 5]),
    ] {
        assert_eq!(choice.shares(&key), by_key);
        assert_eq!(choice.shares(&program), by_program);
        assert_eq!(choice.shares(&controller(32)), by_32);
        assert_eq!(choice.shares(&controller(33)), by_33);
        assert_eq!(choice.shares(&ChoicePatch::<2>::Silent), by_none);
    }
}

#[test]
fn an_articulation_that_the_receiver_lacks_is_the_usual_one() {
    let mut keys = [None; ARTICULATIONS_MAX];
    (keys[2], keys[5]) = (Some(30), Some(31));
    let choice = ChoicePatch::Keyswitch { keys, velocity: 100, is_held: false };
    let patch = ArticulationPatch { choice, usual: 2 };
    assert_eq!([0, 2, 5, 9].map(|place| patch.played(place)), [2, 2, 5, 2]);
    assert_eq!(ArticulationPatch::NONE.played(7), LEGATO);
}

#[test]
fn a_key_chooses_the_articulation_at_its_place() {
    let mut hand = patch("erhu", "generic").hand;
    (hand.articulation_keys[0], hand.articulation_keys[9]) = (Some(21), Some(23));
    let chosen = [21, 22, 23, 0].map(|key| hand.articulation_of(key));
    assert_eq!(chosen, [Some(0), None, Some(9), None]);
}

#[test]
fn three_sources_come_with_each_note_and_three_are_pressure() {
    for (source, is_per_note, is_pressure) in [
        (Source::Controller(1), false, false),
        (Source::ControllerPair(1), false, false),
        (Source::ChannelPressure, false, true),
        (Source::PolyPressure, true, true),
        (Source::PitchBend, false, false),
        (Source::Parameter, false, false),
        (Source::MpeTimbre, true, false),
        (Source::MpePressure, true, true),
    ] {
        assert_eq!((source.is_per_note(), source.is_pressure()), (is_per_note, is_pressure));
    }
}
