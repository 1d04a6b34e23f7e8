//! Stretches of the song in which something is asked for: as far as is asked, without a step, and alike
//! however the song gets there.

use polso_engine::patch::{Change, Patch, RETOUCHES_MAX, Retouch};
use polso_engine::{Input, LegatoWish, Mode, NoteWish, Reason, View};

use crate::music::{at, bare, song};
use crate::rehearsal::{RATE_HZ, Score, Sent, perform, watch};

/// Where the song stands a second after its start at 120 quarters a minute.
const BEATS_PER_S: f64 = 2.0;

fn violin(retouches: &[Retouch]) -> Patch {
    let mut patch = bare("violin", "perform");
    for retouch in retouches {
        assert!(patch.retouches.add(*retouch));
    }
    patch
}

/// From 2 s to 4 s, coming and going over half a second.
fn stretch(change: Change) -> Retouch {
    let beat = |seconds: f64| seconds * BEATS_PER_S;
    Retouch { from_beat: beat(2.0), to_beat: beat(4.0), fade_beats: beat(0.5), change }
}

/// One long note under a gesture that stands, in a song that runs from its start.
fn held(gesture: f64) -> Score {
    Score::new().gesture(0.0, gesture).at(0.0, song(0.0)).on(0.1, 74)
}

/// Every view of the plain line and of the one with a stretch.
fn both(score: &Score, retouches: &[Retouch], end_s: f64) -> [Vec<View>; 2] {
    [&[], retouches].map(|own| watch(&violin(own), score, end_s).0)
}

/// What a value comes to before, in and behind the stretch, and its largest step a millisecond beside
/// the plain line's.
#[track_caller]
fn check(
    change: Change,
    gesture: f64,
    value: fn(&View) -> f64,
    expected: fn(f64) -> f64,
    step_max: f64,
) {
    let [plain, own] = both(&held(gesture), &[stretch(change)], 5.0);
    for seconds in [0.5, 1.4, 4.1, 4.9] {
        let (plain, own) = (value(at(&plain, seconds)), value(at(&own, seconds)));
        assert!((plain - own).abs() < 1e-9, "{change:?} at {seconds}: {plain}, {own}");
    }
    for seconds in [2.01, 2.5, 3.0, 3.49] {
        let (plain, own) = (value(at(&plain, seconds)), value(at(&own, seconds)));
        let expected = expected(plain);
        assert!((own - expected).abs() < 1e-6, "{change:?} at {seconds}: {own}, not {expected}");
    }
    let differences: Vec<f64> = plain.iter().zip(&own).map(|(a, b)| value(b) - value(a)).collect();
    let steps = differences.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let step = steps.fold(0.0, f64::max);
    assert!(step <= step_max, "{change:?}: a step of {step}");
}

#[test]
fn a_stretch_is_as_soft_and_as_narrow_as_it_is_asked() {
    // The steepest part of the way over 0.5 s goes 1.5 times as fast as the mean.
    let fastest = |whole: f64| 1.01 * 1.5 * whole / 500.0;
    check(Change::Level(-3.0), 0.7, |view| view.level_db, |db| db - 3.0, fastest(3.0));
    check(Change::Level(2.5), 0.7, |view| view.level_db, |db| db + 2.5, fastest(2.5));
    // The style moves every 5 ms.
    let width = |view: &View| view.width_cents;
    check(Change::Width(0.7), 0.7, width, |cents| 0.7 * cents, 5.0 * fastest(0.3 * 60.0));
    check(Change::Width(0.0), 0.7, width, |_| 0.0, 5.0 * fastest(60.0));
    check(Change::Rate(-0.5), 0.7, |view| view.rate_hz, |hz| hz - 0.5, 5.0 * fastest(0.5));
    check(Change::Rate(0.8), 0.7, |view| view.rate_hz, |hz| hz + 0.8, 5.0 * fastest(0.8));
}

#[test]
fn under_a_moving_hand_a_narrower_vibrato_unfolds_as_the_wide_one() {
    let mut score = held(0.4);
    for place in 0..400 {
        let seconds = 1.0 + 0.01 * f64::from(place);
        score = score.gesture(seconds, 0.4 + 0.4 * f64::from(place) / 400.0);
    }
    let mut patches = [violin(&[]), violin(&[stretch(Change::Width(0.7))])];
    patches.iter_mut().for_each(|patch| patch.vibrato.arch = 0.1);
    let [plain, own] = patches.map(|patch| watch(&patch, &score, 4.0).0);
    for seconds in [2.01, 2.2, 3.0, 3.4] {
        let share = at(&own, seconds).width_cents / at(&plain, seconds).width_cents;
        assert!((share - 0.7).abs() < 0.001, "{share} at {seconds}");
    }
}

#[test]
fn stretches_lie_over_each_other() {
    let [plain, own] =
        both(&held(0.7), &[stretch(Change::Level(-3.0)), stretch(Change::Level(1.0))], 3.0);
    assert!((at(&own, 3.0).level_db - at(&plain, 3.0).level_db + 2.0).abs() < 1e-6);
    let [plain, own] =
        both(&held(0.7), &[stretch(Change::Width(0.7)), stretch(Change::Width(0.5))], 3.0);
    assert!((at(&own, 3.0).width_cents / at(&plain, 3.0).width_cents - 0.35).abs() < 1e-6);
}

#[test]
fn where_there_is_no_room_the_level_says_so() {
    let limited = |gesture, level_db| {
        let patch = violin(&[stretch(Change::Level(level_db))]);
        let views = watch(&patch, &held(gesture), 5.0).0;
        [1.0, 3.0, 4.5].map(|seconds| at(&views, seconds).limited)
    };
    assert_eq!(limited(1.0, 3.0), [None, Some(Reason::LoudestAlready), None]);
    assert_eq!(limited(0.7, 2.0), [None; 3]);
    assert_eq!(limited(0.7, -10.0), [None; 3]);
    let mut floor = violin(&[stretch(Change::Level(-24.0))]);
    floor.dynamics.span_db = 20.0;
    let views = watch(&floor, &held(0.5), 4.0).0;
    assert_eq!(at(&views, 3.0).limited, Some(Reason::SoftestAlready));
    assert_eq!(at(&views, 3.0).dynamics, 0.0);
}

/// How long the last off waits behind a note that ends within the stretch.
fn tail_s(retouches: &[Retouch]) -> f64 {
    let score = held(0.7).off(3.0, 74);
    let sent = perform(&violin(retouches), RATE_HZ, &[64], &score, 6.0);
    let is_off =
        |sent: &&Sent| matches!(sent.message, polso_engine::Message::NoteOff { key: 74, .. });
    sent.iter().find(is_off).expect("an off").frame as f64 / RATE_HZ - 3.0
}

#[test]
fn an_ending_is_longer_or_shorter_as_it_is_asked() {
    let plain = tail_s(&[]);
    for factor in [1.5, 0.7] {
        let own = tail_s(&[stretch(Change::Tail(factor))]);
        assert!((own - factor * plain).abs() < 1e-4, "{own} of {plain}");
    }
    assert!(tail_s(&[stretch(Change::Tail(0.0))]) < 0.03);
}

/// Modes and reasons of a slur of four notes, half a second each from 1.5 s on, under a gesture that
/// would slide.
fn joins(legato: LegatoWish) -> Vec<(Mode, Reason)> {
    let wish = NoteWish { legato: Some(legato), ..NoteWish::NONE };
    let mut score = Score::new().gesture(0.0, 0.5).at(0.0, song(0.0)).on(1.0, 72);
    for (place, key) in [74, 72, 74, 72, 74, 72].into_iter().enumerate() {
        score = score.on(1.5 + 0.5 * place as f64, key);
    }
    let views = watch(&violin(&[stretch(Change::Notes(wish))]), &score, 4.6).0;
    let seconds = [1.6, 2.1, 2.6, 3.1, 3.6, 4.1];
    seconds.map(|seconds| (at(&views, seconds).mode, at(&views, seconds).legato_reason)).into()
}

#[test]
fn every_note_that_begins_in_a_stretch_joins_as_it_is_asked() {
    let (plain, asked) = ((Mode::Joined, Reason::Zone), (Mode::Slow, Reason::WishMode));
    let slow = joins(LegatoWish::Mode(Mode::Slow));
    assert_eq!(slow, [plain, asked, asked, asked, asked, plain]);
    assert_eq!(joins(LegatoWish::NoSlide), [plain; 6]);
}

#[test]
fn a_wish_for_one_note_goes_over_that_of_its_stretch() {
    let pressed = NoteWish { style: Some(2), ..NoteWish::NONE };
    let still = NoteWish { is_still: true, ..NoteWish::NONE };
    let patch = violin(&[stretch(Change::Notes(still))]);
    let score = |asked| {
        let wish = polso_engine::Wish { channel: 0, key: 76, asked };
        held(0.7).off(2.0, 74).at(2.2, Input::Wish(wish)).on(2.2, 76)
    };
    let reason = |asked| at(&watch(&patch, &score(asked), 3.5).0, 3.4).vibrato_reason;
    assert_eq!(reason(NoteWish::NONE), Reason::WishStill);
    assert_eq!(reason(pressed), Reason::VibratoSounds);
}

fn locate(beat: f64) -> Input {
    Input::Locate { beat, tempo_bpm: 120.0, running: true }
}

/// The line of a phrase that begins at a beat, told from there on.
fn phrase_from(patch: &Patch, start: Input) -> Vec<View> {
    let score = Score::new().gesture(0.0, 0.7).at(1.0, start).on(1.2, 74);
    watch(patch, &score, 3.0).0.split_off(1001)
}

#[test]
fn a_jump_into_a_stretch_sounds_as_if_it_had_been_reached() {
    let patch = violin(&[stretch(Change::Level(-3.0)), stretch(Change::Width(0.5))]);
    for beat in [3.2, 4.0, 7.3, 0.0] {
        let jumped = phrase_from(&patch, locate(beat));
        let begun = phrase_from(&patch, song(beat));
        let values = |view: &View| (view.level_db, view.width_cents);
        for (jumped, begun) in jumped.iter().zip(&begun).skip(201) {
            let (jumped, begun) = (values(jumped), values(begun));
            assert!((jumped.0 - begun.0).abs() < 1e-9 && (jumped.1 - begun.1).abs() < 1e-6);
        }
    }
    // The first number told after a jump is that of the place it goes to.
    let told = |beat| {
        let score = Score::new().gesture(0.0, 0.7).at(1.0, locate(beat));
        let sent = perform(&patch, RATE_HZ, &[64], &score, 1.2);
        let expressions = crate::music::said(&sent, 11);
        let after: Vec<u8> =
            expressions.iter().filter(|(at_s, _)| *at_s >= 0.9999).map(|(_, it)| *it).collect();
        assert_eq!(after.len(), 1, "{expressions:?}");
        after[0]
    };
    assert!(told(5.0) < told(0.0), "{} {}", told(5.0), told(0.0));
}

#[test]
fn loops_over_a_stretch_are_alike_to_the_bit() {
    let patch = violin(&[stretch(Change::Level(-3.0)), stretch(Change::Width(0.5))]);
    let mut score = Score::new().gesture(0.0, 0.7);
    for pass in 0..3 {
        let start_s = f64::from(pass) * 3.0;
        score = score.at(start_s, locate(2.0)).note(start_s + 0.25, start_s + 2.75, 74);
    }
    let sent = perform(&patch, RATE_HZ, &[64], &score, 9.0);
    let pass = |number: u64| -> Vec<_> {
        let start = number * 144_000;
        let own = sent.iter().filter(|it| (start..start + 144_000).contains(&it.frame));
        own.map(|it| (it.frame - start, it.message)).collect()
    };
    assert_eq!(pass(1), pass(2));
}

#[test]
fn a_line_that_rests_before_a_stretch_wakes_for_it() {
    // Nothing moves until the stretch begins, far behind the last event.
    let far =
        Retouch { from_beat: 40.0, to_beat: 60.0, fade_beats: 1.0, change: Change::Level(-6.0) };
    let mut patch = violin(&[far]);
    patch.vibrato.width_scale = 0.0;
    let score = held(0.7);
    let views = watch(&patch, &score, 22.0).0;
    let fall_db = at(&views, 19.0).level_db - at(&views, 21.0).level_db;
    assert!((fall_db - 6.0).abs() < 1e-6, "{fall_db}");
}

#[test]
fn settings_with_a_stretch_may_come_while_the_note_sounds() {
    let [plain, own] = [violin(&[]), violin(&[stretch(Change::Level(-3.0))])];
    let mut section = polso_engine::Section::prepare(RATE_HZ, &plain);
    let until = |section: &mut polso_engine::Section, score: &Score, end_s| {
        crate::rehearsal::watch_on(section, score, end_s).0
    };
    let before = until(&mut section, &held(0.7), 3.0);
    section.load(&own);
    let after = until(&mut section, &Score::new(), 0.5);
    let fall_db = at(&before, 2.9).level_db - at(&after, 0.4).level_db;
    assert!((fall_db - 3.0).abs() < 1e-6, "{fall_db}");
    let steps = after.windows(2).map(|pair| (pair[1].level_db - pair[0].level_db).abs());
    assert!(steps.fold(0.0, f64::max) < 0.3);
}

#[test]
fn there_is_room_for_so_many_and_no_more() {
    let mut patch = violin(&[]);
    let one = stretch(Change::Level(-0.1));
    assert!((0..RETOUCHES_MAX).all(|_| patch.retouches.add(one)));
    assert!(!patch.retouches.add(one));
    assert_eq!(patch.retouches.all().len(), RETOUCHES_MAX);
}
