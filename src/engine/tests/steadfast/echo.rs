//! A cable that leads back is noticed and stops; two lines that play alike are not taken for one.

use polso_engine::patch::{Patch, Source};
use polso_engine::{Input, Layer, Message, Origin, Timed};
use polso_engine::{Section, View};

use super::test_host::Die;
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, patch, patch_with, perform};

/// A swelling wheel over slurred notes.
fn score(end_s: f64) -> Score {
    let mut score = Score::new().wheel_follows(0.0, end_s, |s| 0.5 - 0.4 * libm::cos(s * 2.1));
    for note in 0..(end_s / 0.6) as u32 {
        let on_s = 0.1 + 0.6 * f64::from(note);
        score = score.note(on_s, on_s + 0.65, 66 + (note % 5) as u8 * 2);
    }
    score
}

/// Plays in blocks of a millisecond; what goes out at the addresses of outputs comes back
/// `late_ms` later, until the end or until something is told, when the cable is pulled out.
fn fed_back(
    patch: &Patch,
    late_ms: u64,
    told: Option<(u64, Input)>,
    end_ms: u64,
) -> (Vec<View>, Vec<Sent>) {
    let mut engine = Section::prepare(RATE_HZ, patch);
    let events = score(end_ms as f64 / 1000.0).timed(RATE_HZ);
    let mut tape = Tape::default();
    let (mut next, mut returned) = (0, 0);
    let mut views = Vec::new();
    for block in 0..end_ms {
        let (start, end) = (block * 48, block * 48 + 48);
        let mut input = Vec::new();
        if let Some((_, own)) = told.filter(|(at_ms, _)| *at_ms == block) {
            returned = usize::MAX;
            input.push(Timed { frame: 0, tag: 0, input: own });
        }
        while let Some((frame, timed)) = events.get(next).filter(|(frame, _)| *frame < end) {
            input.push(Timed { frame: (frame - start) as u32, ..*timed });
            next += 1;
        }
        while let Some(sent) = tape.sent.get(returned).copied() {
            let at = sent.frame + late_ms * 48;
            if at >= end {
                break;
            }
            returned += 1;
            let is_note = matches!(sent.message, Message::NoteOn { .. } | Message::NoteOff { .. });
            if !is_note {
                let frame = at.saturating_sub(start) as u32;
                input.push(Timed { frame, tag: 0, input: Input::Midi(sent.message) });
            }
        }
        input.sort_by_key(|timed| timed.frame);
        engine.process(48, &input, &mut tape);
        tape.block_frame = end;
        views.push(engine.view());
    }
    (views, tape.sent)
}

#[test]
fn an_output_that_comes_back_stands_still_within_half_a_second() {
    for (target, layers) in [
        ("generic", [Layer::Dynamics, Layer::VibratoWidth].as_slice()),
        ("perform", [Layer::Dynamics, Layer::Pitch].as_slice()),
    ] {
        for late_ms in [1, 10, 37, 250] {
            let (views, sent) = fed_back(&patch("erhu", target), late_ms, None, 4000);
            let first = views.iter().position(|view| view.frozen.is_some());
            let first = first.unwrap_or_else(|| panic!("{target}, {late_ms} ms: never noticed"));
            // A longer way round needs to be gone twice.
            let within_ms = if late_ms <= 10 { 500 } else { 500 + 2 * late_ms };
            assert!(first as u64 <= within_ms, "{target}, {late_ms} ms: after {first} ms");
            for layer in layers {
                let mut own = sent.iter().filter(|sent| sent.origin == Origin::Layer(*layer));
                let last_ms = own.next_back().expect("it spoke").frame / 48;
                assert!(last_ms < 1500, "{target}, {late_ms} ms: {layer:?} spoke at {last_ms} ms");
            }
            // And what went round does not go on going round.
            let late = sent.iter().filter(|sent| sent.frame > 3000 * 48);
            let passed = late.filter(|sent| matches!(sent.origin, Origin::Passed(_))).count();
            assert!(passed < 100, "{target}, {late_ms} ms: {passed} in the last second");
        }
    }
}

#[test]
fn one_click_lets_it_move_again() {
    let (views, sent) = fed_back(&patch("erhu", "generic"), 10, Some((2000, Input::Thaw)), 4000);
    assert!(views[1999].frozen.is_some() && views[3999].frozen.is_none());
    let told = |layer| {
        let own = sent.iter().filter(|sent| sent.origin == Origin::Layer(layer));
        own.filter(|sent| sent.frame >= 2000 * 48).count()
    };
    assert!(told(Layer::Dynamics) > 40, "{}", told(Layer::Dynamics));
}

/// The cable has not gone because the song has: what stood still goes on standing.
#[test]
fn a_jump_and_a_panic_let_nothing_move_again() {
    let jump = Input::Locate { beat: 0.0, tempo_bpm: 120.0, running: false };
    for told in [jump, Input::Panic] {
        let (views, sent) = fed_back(&patch("erhu", "generic"), 10, Some((2000, told)), 2600);
        let frozen = [1999, 2000, 2001, 2599].map(|ms: usize| views[ms].frozen);
        assert_eq!(frozen, [Some(Layer::Dynamics); 4], "{told:?}");
        let own = sent.iter().filter(|sent| sent.origin == Origin::Layer(Layer::Dynamics));
        let late = own.filter(|sent| sent.frame > 2000 * 48).count();
        assert_eq!(late, 0, "{told:?}");
    }
}

/// What another line sends, heard on our channel beside our own play.
fn doubled(other: Vec<(f64, Message)>, patch: &Patch, end_s: f64) -> Option<Layer> {
    let mut score = score(end_s);
    for (seconds, message) in other {
        score = score.message(seconds, message);
    }
    let mut engine = Section::prepare(RATE_HZ, patch);
    crate::rehearsal::perform_on(&mut engine, RATE_HZ, &[64], &score, end_s);
    engine.view().frozen
}

fn controllers(sent: &[Sent]) -> Vec<(f64, Message)> {
    let own = sent.iter().filter(|sent| matches!(sent.message, Message::Controller { .. }));
    own.map(|sent| (sent.frame as f64 / RATE_HZ, sent.message)).collect()
}

#[test]
fn lines_that_double_each_other_are_not_taken_for_an_echo() {
    let own = patch("erhu", "generic");
    // The same line at the same time, and the recorded wheel itself on the level's address.
    let same = perform(&own, RATE_HZ, &[64], &score(8.0), 8.0);
    assert_eq!(doubled(controllers(&same), &own, 8.0), None, "in unison");
    let wheel = |s: f64| ((0.5 - 0.4 * libm::cos((s - 0.03) * 2.1)) * 127.0).round() as u8;
    let polls = (4..1000).map(|poll| f64::from(poll) * 0.008);
    let curve = polls.map(|s| (s, Message::Controller { channel: 0, number: 11, value: wheel(s) }));
    assert_eq!(doubled(curve.collect(), &own, 8.0), None, "the same curve on CC 11");
    // Another player's hand on the same part: late by a wandering 20 to 90 ms, a little off.
    for seed in 0..30 {
        let mut die = Die(seed);
        let (lag_s, sway_s) = (die.between(0.03, 0.07), die.between(0.01, 0.02));
        let (speed, depth) = (die.between(0.5, 3.0), die.between(0.36, 0.42));
        let motion = move |s: f64| {
            let s = s - lag_s - sway_s * libm::sin(s * speed);
            0.5 - depth * libm::cos(s * 2.1)
        };
        let other = patch_with(
            ["erhu", "violin"][seed as usize % 2],
            "generic",
            Source::Controller(1),
            seed,
            1.0,
        );
        let hand = Score::new().wheel_follows(0.0, 8.0, motion).note(0.15, 7.5, 70);
        let sent = perform(&other, RATE_HZ, &[64], &hand, 8.0);
        assert_eq!(doubled(controllers(&sent), &own, 8.0), None, "seed {seed}");
    }
}
