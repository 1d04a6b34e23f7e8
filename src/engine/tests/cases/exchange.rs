//! Other settings and turned knobs in the midst of a note: it goes on, and nothing begins anew.

use approx::assert_abs_diff_eq;
use polso_engine::patch::{Address, ChoicePatch, Patch, SlidePatch};
use polso_engine::{Input, Layer, NoteWish, Parameter, Section, View, Wish};

use crate::music::{bare, bends, even_violin, only, song, with, words};
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, output, patch_with, perform_on};
use polso_engine::Timed;
use polso_engine::patch::Source;

/// Plays a score and takes other settings at a time.
fn with_load(
    first: &Patch,
    load_s: f64,
    second: &Patch,
    score: &Score,
    after: &Score,
    end_s: f64,
) -> (Vec<Sent>, Vec<Sent>, View) {
    let mut engine = Section::prepare(RATE_HZ, first);
    let before = perform_on(&mut engine, RATE_HZ, &[48], score, load_s);
    engine.load(second);
    let sent = perform_on(&mut engine, RATE_HZ, &[48], after, end_s);
    (before, sent, engine.view())
}

/// The width, rate and pitch of a held note at the end, with and without a load at 1.53 s.
#[test]
fn the_same_settings_in_mid_note_leave_the_vibrato_where_it_was() {
    let patch = patch_with("violin", "perform", Source::Controller(1), 3, 1.0);
    let score = Score::new().wheel(0.0, 80).on(0.1, 70);
    for end_s in [0.03, 0.2, 0.6, 1.4] {
        let mut plain = Section::prepare(RATE_HZ, &patch);
        perform_on(&mut plain, RATE_HZ, &[48], &score, 1.53);
        perform_on(&mut plain, RATE_HZ, &[48], &Score::new(), end_s);
        let (plain, view) =
            (plain.view(), with_load(&patch, 1.53, &patch, &score, &Score::new(), end_s).2);
        for (found, expected) in [
            (view.pitch_cents, plain.pitch_cents),
            (view.width_cents, plain.width_cents),
            (view.rate_hz, plain.rate_hz),
            (view.dynamics, plain.dynamics),
            (view.gesture, plain.gesture),
        ] {
            assert_abs_diff_eq!(found, expected, epsilon = 1e-9);
        }
        assert_eq!((view.mode, view.legato_reason), (plain.mode, plain.legato_reason));
    }
}

/// What goes out leaves the old number for the new one over 50 ms.
#[test]
fn a_value_goes_from_the_old_settings_to_the_new_ones_in_fifty_milliseconds() {
    let level = |max| {
        let mut own = output(Layer::Gesture, Address::Controller(20), 0.0, 1.0);
        own.high = max;
        only(bare("erhu", "generic"), own)
    };
    let curve = |value: f64| {
        let mut patch = level(1.0);
        patch.hand.response = polso_engine::patch::Response::Points(
            polso_engine::math::curve::Curve::through(&[(0.0, 0.0), (0.5, value), (1.0, 1.0)])
                .expect("a curve"),
        );
        patch
    };
    let score = Score::new().gesture(0.0, 0.5).on(0.1, 70);
    let (_, sent, _) = with_load(&curve(0.2), 1.0, &curve(0.8), &score, &Score::new(), 0.2);
    let said = crate::music::said(&sent, 20);
    assert_eq!(said.first().map(|it| it.1), Some(25), "{said:?}");
    assert_eq!(said.last().map(|it| it.1), Some(102), "{said:?}");
    let last_ms = said.last().expect("numbers").0 * 1000.0;
    assert!((45.0..=52.0).contains(&last_ms), "{said:?}");
    // u²(3 − 2u): in the middle half of the way.
    let middle = crate::music::value_at(&said, 0.025).expect("a number");
    assert!(middle.abs_diff(63) <= 3, "{said:?}");
}

#[test]
fn a_wish_that_waited_for_other_settings_is_gone() {
    let patch = even_violin();
    let play = |loads: bool| {
        let mut engine = Section::prepare(RATE_HZ, &patch);
        let mut tape = Tape::default();
        perform_on(&mut engine, RATE_HZ, &[48], &Score::new().gesture(0.0, 0.8).on(0.1, 70), 1.0);
        let wish =
            Wish { channel: 0, key: 74, asked: NoteWish { is_still: true, ..NoteWish::NONE } };
        // In a block of no frames, so that the note of the next one begins at the same time.
        let timed = |input| [Timed { frame: 0, tag: 0, input }];
        engine.process(0, &timed(Input::Wish(wish)), &mut tape);
        if loads {
            engine.load(&patch);
        }
        engine.process(48, &timed(Input::Midi(crate::music::strike(74, 64))), &mut tape);
        engine.process(48_000, &[], &mut tape);
        engine.view().width_cents
    };
    assert_eq!(play(false), 0.0);
    assert!(play(true) > 10.0);
}

/// The song goes on while nothing sounds: the place of the next note decides its chance.
#[test]
fn other_settings_at_rest_leave_the_song_where_it_stands() {
    let patch = patch_with("violin", "perform", Source::Controller(1), 3, 1.0);
    let play = |load_s: Option<f64>| {
        let score = Score::new().at(0.5, song(3.0)).wheel(0.0, 90);
        let mut engine = Section::prepare(RATE_HZ, &patch);
        perform_on(&mut engine, RATE_HZ, &[48], &score, 1.0);
        if load_s.is_some() {
            engine.load(&patch);
        }
        let sent = perform_on(&mut engine, RATE_HZ, &[48], &Score::new().on(1.0, 70), 3.0);
        let bends = bends(&sent);
        assert!(bends.len() > 50);
        bends.into_iter().filter(|(at_s, _)| *at_s > 1.1).collect::<Vec<_>>()
    };
    assert_eq!(play(Some(1.0)), play(None));
}

/// It did nothing until the hand moved.
#[test]
fn a_knob_turned_in_mid_note_under_a_still_hand_is_heard() {
    let view = |knob: Option<(Parameter, f64)>| {
        let score = Score::new().gesture(0.0, 0.6).on(0.1, 70);
        let score = match knob {
            Some((knob, value)) => score.at(2.0, Input::Parameter(knob, value)),
            None => score,
        };
        let mut engine = Section::prepare(RATE_HZ, &bare("erhu", "perform"));
        perform_on(&mut engine, RATE_HZ, &[48], &score, 3.0);
        engine.view()
    };
    let plain = view(None);
    let half = view(Some((Parameter::VibratoWidth, 0.5)));
    assert_abs_diff_eq!(half.width_cents, 0.5 * plain.width_cents, epsilon = 1e-9);
    let fast = view(Some((Parameter::VibratoRate, 1.25)));
    assert_abs_diff_eq!(fast.rate_hz, 1.25 * plain.rate_hz, epsilon = 1e-9);
    assert_eq!(view(Some((Parameter::Style, 1.0))).weights, [0.0, 0.0, 1.0, 0.0]);
    assert_eq!(view(Some((Parameter::Style, 0.0))).weights, [1.0, 0.0, 0.0, 0.0]);
    let low = view(Some((Parameter::Ceiling, 0.5)));
    assert_abs_diff_eq!(low.dynamics, 0.12 + 0.88 * 0.5 * 0.6, epsilon = 1e-9);
    let high = view(Some((Parameter::Floor, 0.5)));
    assert_abs_diff_eq!(high.dynamics, 0.56 + 0.44 * 0.6, epsilon = 1e-9);
}

/// The second settings do not drive what the first have moved.
#[test]
fn what_nothing_drives_any_more_goes_to_rest_once() {
    let two = |first: u8, second: u8| {
        let mut own = [first, second]
            .map(|number| output(Layer::Gesture, Address::Controller(number), 0.0, 1.0));
        (own[0].rest, own[1].rest) = (11, 12);
        with(only(bare("erhu", "generic"), own[0]), own[1])
    };
    let score = Score::new().gesture(0.0, 0.5);
    let of = |sent: &[Sent], number: u8| {
        let said = crate::music::said(sent, number);
        said.into_iter().map(|(_, value)| value).collect::<Vec<_>>()
    };
    let (_, sent, _) = with_load(&two(20, 21), 0.5, &two(21, 22), &score, &Score::new(), 0.5);
    assert_eq!((of(&sent, 20), of(&sent, 21), of(&sent, 22)), (vec![11], vec![64], vec![64]));
    // It stands at its rest already.
    let at_rest = Score::new().gesture(0.0, 11.0 / 127.0);
    let (_, sent, _) = with_load(&two(20, 21), 0.5, &two(21, 22), &at_rest, &Score::new(), 0.5);
    assert_eq!(of(&sent, 20), [0; 0]);
    // Two changes before anybody plays: what only the first moved is put to rest all the same.
    let mut engine = Section::prepare(RATE_HZ, &two(20, 21));
    perform_on(&mut engine, RATE_HZ, &[48], &score, 0.5);
    engine.load(&two(30, 31));
    engine.load(&two(21, 32));
    let sent = perform_on(&mut engine, RATE_HZ, &[48], &Score::new(), 0.5);
    assert_eq!((of(&sent, 20), of(&sent, 21), of(&sent, 30)), (vec![11], vec![64], vec![]));
    let again = perform_on(&mut engine, RATE_HZ, &[48], &Score::new().at(0.1, Input::Resync), 0.5);
    assert_eq!(of(&again, 20), [0; 0]);
}

/// A held keyswitch of the old settings comes up, and the new ones are told with their note.
#[test]
fn a_keyswitch_of_the_old_settings_comes_up_at_the_next_tick() {
    let mut patch = bare("erhu", "perform");
    patch.target.output_count = 0;
    let keys = |first: u8| {
        let keys = [0, 1, 2, 3, 4].map(|place| Some(first + place));
        ChoicePatch::Keyswitch { keys, velocity: 100, is_held: true }
    };
    patch.target.mode = keys(24);
    patch.dynamics.velocity_share = 0.0;
    let mut other = patch;
    other.target.mode = keys(36);
    other.target.slide = Some(SlidePatch { time: 40, says_source_key: true });
    let score = Score::new().gesture(0.0, 0.5).on(0.1, 70);
    let after = Score::new().on(0.5, 74);
    let (before, sent, _) = with_load(&patch, 1.0, &other, &score, &after, 0.6);
    assert_eq!(words(&before), ["switch 24 @ 100", "on 70 64 @ 100"]);
    let expected = ["unswitch 24 @ 0", "switch 38 @ 500", "cc 65 0 @ 500", "on 74 64 @ 500"];
    assert_eq!(words(&sent)[..4], expected);
}
