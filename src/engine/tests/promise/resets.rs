//! After a reset the engine is as new, and the ticks it leaves out while nothing moves are missed
//! by nobody.

use polso_engine::patch::{Address, Patch, Source};
use polso_engine::{Input, Layer, Message, Origin, Parameter, Timed};
use polso_engine::{Losses, Section, View};

use super::improvised::{Manner, improvise};
use super::receivers;
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, patch_with, perform_on};

/// Everything heard, and everything seen after each block of 5 ms.
fn witness(engine: &mut Section, score: &Score, length_s: f64) -> (Vec<Sent>, Vec<View>) {
    let mut tape = Tape::default();
    let mut views = Vec::new();
    let events = score.timed(RATE_HZ);
    let mut rest = &events[..];
    while tape.block_frame < (length_s * RATE_HZ) as u64 {
        let end = tape.block_frame + 240;
        let (now, later) = rest.split_at(rest.partition_point(|(frame, _)| *frame < end));
        rest = later;
        let place = |(frame, timed): &(u64, Timed)| Timed {
            frame: (frame - tape.block_frame) as u32,
            ..*timed
        };
        engine.process(240, &now.iter().map(place).collect::<Vec<_>>(), &mut tape);
        tape.block_frame = end;
        views.push(engine.view());
    }
    (tape.sent, views)
}

/// Turns every knob back to neutral, and forgets from where on a hand may fall silent: they are meant
/// to outlive a reset.
fn turn_back(engine: &mut Section) {
    engine.restore_niente(None);
    let input = Parameter::ALL.map(|knob| {
        let input = Input::Parameter(knob, knob.range().1);
        Timed { frame: 0, tag: 0, input }
    });
    engine.process(0, &input, &mut Tape::default());
}

/// What is owed from before: offs, and the bends centred.
fn is_owed(sent: &Sent) -> bool {
    let centres = matches!(sent.message, Message::PitchBend { value: 8192, .. });
    sent.origin == Origin::Owed || centres && sent.frame == 0
}

fn check_as_new(what: &str, used: &mut Section, patch: &Patch, seed: u64) {
    let score = improvise(seed, &receivers::manner(patch, 4.0, 0.0));
    let mut fresh = Section::prepare(RATE_HZ, patch);
    assert_eq!(used.losses(), Losses::default(), "{what}");
    let (own, own_views) = witness(used, &score, 5.0);
    let (new, new_views) = witness(&mut fresh, &score, 5.0);
    let own: Vec<&Sent> = own.iter().filter(|sent| !is_owed(sent)).collect();
    let new: Vec<&Sent> = new.iter().filter(|sent| !is_owed(sent)).collect();
    let differs = own.iter().zip(&new).position(|(a, b)| a != b);
    assert_eq!((own.len(), differs), (new.len(), None), "{what}: messages");
    let differs = own_views.iter().zip(&new_views).position(|(a, b)| a != b);
    assert_eq!(differs, None, "{what}: what is seen");
}

#[test]
fn after_a_reset_the_engine_is_as_new() {
    for (name, patch) in receivers::all() {
        for seed in 0..6 {
            let mut engine = Section::prepare(RATE_HZ, &patch);
            let before = improvise(seed + 70, &receivers::manner(&patch, 3.0, 0.0));
            // Left at any moment: in the midst of notes, tails, glides.
            witness(&mut engine, &before, 1.0 + 0.3 * seed as f64);
            turn_back(&mut engine);
            engine.reset();
            check_as_new(&format!("{name}, seed {seed}, reset"), &mut engine, &patch, seed);
        }
    }
}

#[test]
fn after_a_load_and_a_retime_the_engine_is_as_new() {
    let patches = receivers::all();
    for (place, (name, patch)) in patches.iter().enumerate() {
        let (_, other) = &patches[(place + 5) % patches.len()];
        let mut engine = Section::prepare(44_100.0, other);
        let before = improvise(7, &receivers::manner(other, 3.0, 0.0));
        perform_on(&mut engine, 44_100.0, &[333], &before, 2.3);
        turn_back(&mut engine);
        engine.retime(RATE_HZ);
        engine.load(patch);
        check_as_new(&format!("{name}, load"), &mut engine, patch, 3);
        turn_back(&mut engine);
        engine.finish(&mut Tape::default());
        check_as_new(&format!("{name}, finish"), &mut engine, patch, 4);
    }
}

/// A patch whose send says nothing, and its twin whose send is never the same as before, so that
/// no tick is ever left out; both have one constant number to send.
fn twins(patch: &Patch) -> (Patch, Patch) {
    let mut easy = *patch;
    let place = easy.target.output_count;
    easy.target.outputs[place] = receivers::output(Layer::Send, Address::Controller(95));
    easy.target.output_count += 1;
    for output in &mut easy.target.outputs {
        if output.layer == Layer::Send {
            output.rest = output.min;
        }
    }
    easy.tail.lift = 0.0;
    let mut restless = easy;
    restless.tail.lift = f64::NAN;
    (easy, restless)
}

#[test]
fn ticks_that_are_left_out_change_nothing() {
    let mut rested = 0;
    for (name, patch) in receivers::all() {
        let (easy, restless) = twins(&patch);
        for seed in 0..4 {
            let manner = Manner { is_wild: seed % 2 == 1, ..receivers::manner(&patch, 6.0, 0.0) };
            // Slow enough to come to rest in between: each event four times as late.
            let score = improvise(300 + seed, &manner).stretched(4.0);
            let (easy_sent, easy_views) =
                witness(&mut Section::prepare(RATE_HZ, &easy), &score, 26.0);
            let mut twin = Section::prepare(RATE_HZ, &restless);
            let (sent, views) = witness(&mut twin, &score, 26.0);
            // After a panic even the twin rests, until the next note.
            assert!(manner.is_wild || !twin.is_settled(), "{name}: the twin rests");
            let differs = easy_sent.iter().zip(&sent).position(|(a, b)| a != b);
            assert_eq!((easy_sent.len(), differs), (sent.len(), None), "{name}, seed {seed}");
            for (own, other) in easy_views.iter().zip(&views) {
                assert_eq!(*own, View { send: 0.0, ..*other }, "{name}, seed {seed}");
            }
            let pairs = easy_views.windows(2);
            rested += pairs.filter(|v| v[0] == View { time_s: v[0].time_s, ..v[1] }).count();
        }
    }
    assert!(rested > 10_000, "they hardly ever rest: {rested}");
}

/// The breath before a rest must be as long forgotten as it is without the rest.
#[test]
fn a_breath_gap_after_a_long_rest_is_heard_the_same() {
    let mut patch = patch_with("erhu", "generic", Source::Controller(2), 1, 0.0);
    patch.hand.weight = 0.5;
    let (easy, restless) = twins(&patch);
    let mut score = Score::new().controller(0.1, 2, 120).on(0.2, 62).controller(0.5, 2, 60);
    score = score.off(5.0, 62).controller(5.01, 2, 0).on(5.05, 62).off(6.0, 62);
    let own = witness(&mut Section::prepare(RATE_HZ, &easy), &score, 8.0);
    let other = witness(&mut Section::prepare(RATE_HZ, &restless), &score, 8.0);
    assert!(own.0 == other.0);
    for (own, other) in own.1.iter().zip(&other.1) {
        assert_eq!(*own, View { send: 0.0, ..*other });
    }
}
