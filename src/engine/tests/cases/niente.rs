//! Out of nothing and into nothing: niente and dal niente, from where in the song the hand has come up.

use crate::music::{at, even_violin, song};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::{Address, Patch, Reading};
use polso_engine::reason::Reason;
use polso_engine::{Layer, View};

/// The expression's amplitude at these times.
#[track_caller]
fn check(sentence: &str, patch: &Patch, score: &Score, amplitudes: &[(f64, f64)]) {
    let (views, _) = watch(patch, score, amplitudes.last().expect("a time").0);
    for &(at_s, amplitude) in amplitudes {
        let found = at(&views, at_s).expression;
        assert!((found - amplitude).abs() < 1e-6, "{sentence}: {found} at {at_s} s");
    }
}

/// The expression of a gesture: full from 0.10 on, 48 dB down at 0.02, even between them.
fn amplitude(x: f64) -> f64 {
    libm::exp10(-48.0 * (0.10 - x.clamp(0.02, 0.10)) / 0.08 / 20.0)
}

fn db(view: &View) -> f64 {
    20.0 * libm::log10(view.expression)
}

/// A hand that plays neither soft nor loud.
fn half() -> Score {
    Score::new().gesture(0.0, 0.5)
}

/// A hand that came up once and stands at 0 from 0.2 s on.
fn down() -> Score {
    half().gesture(0.2, 0.0)
}

/// The gesture moves evenly from one place to another, a value every millisecond.
fn line(mut score: Score, (from_s, from): (f64, f64), (to_s, to): (f64, f64)) -> Score {
    let count = ((to_s - from_s) * 1000.0).round() as u32;
    for step in 0..=count {
        let share = f64::from(step) / f64::from(count);
        score = score.gesture(from_s + 0.001 * f64::from(step), from + (to - from) * share);
    }
    score
}

/// When the gesture first is where it should be from a time on, seconds.
fn first_s(views: &[View], from_s: f64, is_there: impl Fn(f64) -> bool) -> f64 {
    let after = views.iter().find(|view| view.time_s >= from_s && is_there(view.gesture));
    after.expect("the gesture comes there").time_s
}

#[test]
fn a_gesture_at_nothing_takes_the_sound_there_with_it() {
    let (views, _) = watch(&even_violin(), &half().on(1.0, 72).gesture(1.5, 0.0), 3.0);
    let low_s = first_s(&views, 1.5, |x| x <= 0.02);
    for view in views.iter().filter(|view| view.time_s < low_s + 0.1499) {
        let expected = amplitude(view.gesture);
        assert!(
            (view.expression - expected).abs() < 1e-9,
            "{} at {}",
            view.expression,
            view.time_s
        );
    }
    // Silent at once after 0.15 s there, and it says why.
    for view in views.iter().filter(|view| view.time_s > low_s + 0.1511) {
        assert_eq!((view.expression, view.silence), (0.0, Some(Reason::Niente)));
    }
    assert_eq!(at(&views, 1.4).silence, None);
}

#[test]
fn just_above_nothing_is_soft_and_no_silence() {
    let score = half().on(1.0, 72).gesture(1.5, 0.0201);
    check("0.0201", &even_violin(), &score, &[(2.0, amplitude(0.0201)), (4.0, amplitude(0.0201))]);
    check("0.02", &even_violin(), &half().on(1.0, 72).gesture(1.5, 0.02), &[(4.0, 0.0)]);
    check("0.1", &even_violin(), &half().on(1.0, 72).gesture(1.5, 0.10), &[(2.0, 1.0), (4.0, 1.0)]);
    let between = half().on(1.0, 72).gesture(1.5, 0.06);
    check("0.06", &even_violin(), &between, &[(4.0, libm::exp10(-1.2))]);
}

#[test]
fn a_short_visit_to_nothing_is_no_silence() {
    // At or below .02 for less than 0.15 s.
    let (views, _) =
        watch(&even_violin(), &half().on(1.0, 72).gesture(1.5, 0.0).gesture(1.63, 0.5), 3.0);
    let least = views.iter().map(|view| view.expression).fold(1.0, f64::min);
    assert!((least - amplitude(0.02)).abs() < 1e-9, "{least}");
    assert_eq!(at(&views, 3.0).expression, 1.0);
}

/// It once entered at −26 dB of a violin and at −15 of a flute.
#[test]
fn a_crescendo_of_four_seconds_begins_at_nothing_and_rises_evenly() {
    let score = line(down().on(1.0, 72), (2.0, 0.0), (6.0, 1.0));
    let (views, _) = watch(&even_violin(), &score, 6.5);
    assert_eq!(at(&views, 2.0).expression, 0.0);
    let enters = views.iter().position(|view| view.time_s > 1.5 && view.expression > 0.0);
    let enters = enters.expect("it sounds");
    // In its first 10 ms it is no louder than 46 dB below full.
    assert!(
        db(&views[enters]) < -47.5 && db(&views[enters + 10]) < -46.0,
        "{}",
        db(&views[enters])
    );
    let full_s = first_s(&views, 2.0, |x| x >= 0.10);
    let full = (full_s * 1000.0) as usize;
    // 48 dB over 0.08 at 0.25 /s: 1.5 dB in 10 ms.
    for place in enters..full - 10 {
        let step_db = db(&views[place + 10]) - db(&views[place]);
        assert!((step_db - 1.5).abs() < 0.03, "{step_db} dB from {place} ms on");
    }
    assert!(views[full..].iter().all(|view| view.expression == 1.0));
}

#[test]
fn a_decrescendo_goes_to_nothing_evenly_and_comes_back() {
    let score = line(half().on(1.0, 72), (2.0, 0.5), (4.0, 0.0));
    let (views, _) = watch(&even_violin(), &line(score, (5.0, 0.0), (6.0, 0.4)), 6.5);
    let mut steepest: f64 = 0.0;
    for pair in views.windows(11).filter(|pair| pair[0].expression * pair[10].expression > 0.0) {
        steepest = steepest.max((db(&pair[10]) - db(&pair[0])).abs());
    }
    // 0.25 and 0.4 /s: 1.5 and 2.4 dB in 10 ms, at the gesture's own speed.
    assert!((2.3..2.5).contains(&steepest), "{steepest}");
    assert_eq!((at(&views, 4.6).expression, at(&views, 6.5).expression), (0.0, 1.0));
}

/// From 20 dB below its goal to its goal. Levels are dynamics and expression together.
#[test]
fn a_breaths_attack_of_50_ms_is_heard_within_65() {
    let mut patch = crate::music::bare("dizi-d", "perform");
    (patch.hand.is_breath, patch.dynamics.niente) = (true, true);
    let score = line(down().on(1.0, 72), (2.0, 0.0), (2.05, 0.8));
    let (views, _) = watch(&patch, &score, 2.5);
    let heard_db = |view: &View| db(view) - 22.0 * (1.0 - view.dynamics);
    let goal_db = heard_db(at(&views, 2.5));
    let since = |below_db: f64| {
        let is_heard = |view: &&View| view.time_s >= 2.0 && heard_db(view) >= goal_db - below_db;
        views.iter().find(is_heard).expect("it is heard").time_s
    };
    let (begins_s, arrives_s) = (since(20.0), since(0.5));
    println!("heard from {begins_s} to {arrives_s} s");
    assert!(arrives_s - begins_s <= 0.065_001, "{begins_s} to {arrives_s}");
}

#[test]
fn a_fresh_note_begins_with_the_value_of_its_moment() {
    // At nothing for long: silence from its on, and not before the note ends.
    check("dal niente", &even_violin(), &down().on(1.0, 72), &[(1.0, 0.0), (2.0, 0.0)]);
    let soft = half().gesture(0.2, 0.05).on(1.0, 72);
    check("soft", &even_violin(), &soft, &[(1.0, amplitude(0.05)), (2.0, amplitude(0.05))]);
    // There for 0.1 s only: as soft as it gets, and silent 50 ms later.
    let settles_s = first_s(&watch(&even_violin(), &down(), 1.0).0, 0.2, |x| x <= 0.02);
    let recent = down().on(settles_s + 0.1, 72);
    let amplitudes = [(settles_s + 0.1, amplitude(0.0)), (settles_s + 0.16, 0.0)];
    check("just gone", &even_violin(), &recent, &amplitudes);
}

#[test]
fn a_joined_note_at_nothing_stays_there() {
    // Niente in a slurred line: the next slur does not bring the sound back.
    let score = half().note(1.0, 3.01, 72).gesture(1.5, 0.0).on(3.0, 74);
    check("slurred", &even_violin(), &score, &[(2.9, 0.0), (3.0, 0.0), (3.5, 0.0)]);
}

#[test]
fn nothing_happens_in_a_rest() {
    // The hand rests at 0 between two notes for a second: the next at half gesture is whole.
    let score = half().note(1.0, 1.4, 72).gesture(1.5, 0.0).gesture(2.5, 0.5).on(3.0, 74);
    check("a rest", &even_violin(), &score, &[(1.9, 1.0), (2.4, 1.0), (3.0, 1.0), (3.5, 1.0)]);
}

#[test]
fn the_expression_stands_after_the_last_release_and_is_full_a_quarter_second_after_the_off() {
    // Niente, then the key lifts at 3 s: down until the off and 0.25 s more, then back in 40 ms.
    // The last note was long, so its off waits 260 ms. The hand comes up meanwhile: it stands.
    let score = half().note(1.0, 3.0, 72).gesture(1.5, 0.0).gesture(3.1, 0.5);
    let amplitudes = [(3.0, 0.0), (3.26, 0.0), (3.51, 0.0), (3.55, 1.0), (4.0, 1.0)];
    check("released while silent", &even_violin(), &score, &amplitudes);
    // The next note has its own value at once.
    let next = score.gesture(3.2, 0.05).on(3.52, 74);
    check("the next", &even_violin(), &next, &[(3.5, 0.0), (3.52, amplitude(0.05))]);
}

/// The second note of a chord once began the expression anew: it cut a soft chord off.
#[test]
fn a_chords_later_note_does_not_begin_the_expression_again() {
    let score = half().gesture(0.2, 0.05).on(1.0, 72).gesture(1.001, 0.2).on(1.024, 76);
    let (views, _) = watch(&even_violin(), &score, 1.5);
    for view in &views[1000..] {
        assert!((view.expression - amplitude(view.gesture)).abs() < 1e-9, "{}", view.time_s);
    }
}

#[test]
fn an_instrument_that_cannot_fade_never_does() {
    let mut reed = even_violin();
    reed.dynamics.niente = false;
    let score = half().on(1.0, 72).gesture(1.5, 0.0);
    check("a reed", &reed, &score, &[(1.6, 1.0), (2.0, 1.0), (4.0, 1.0)]);
    check("dal niente", &reed, &down().on(1.0, 72), &[(1.0, 1.0), (2.0, 1.0)]);
}

#[test]
fn a_take_that_begins_at_nothing_sounds() {
    // Controller 1 at 0 on the first beat, as many programs write it, and no hand until 3 s.
    let take = Score::new().at(0.0, song(0.0)).wheel(0.0, 0).note(0.5, 2.5, 72);
    check("at 0", &even_violin(), &take, &[(0.5, 1.0), (2.0, 1.0)]);
    // Without a transport too.
    let live = Score::new().wheel(0.0, 0).note(0.5, 2.5, 72);
    check("live at 0", &even_violin(), &live, &[(0.5, 1.0), (2.0, 1.0)]);
    // A wheel that never moved stands at 0, and the note sounds all the same.
    check("unknown", &even_violin(), &Score::new().on(1.0, 72), &[(1.0, 1.0), (3.0, 1.0)]);
    // Once it has come up, nothing is nothing.
    let take = take.wheel(3.0, 80).wheel(3.5, 0).on(5.0, 74);
    check("later", &even_violin(), &take, &[(2.4, 1.0), (5.0, 0.0), (6.0, 0.0)]);
    let live = live.wheel(3.0, 80).wheel(3.5, 0).on(5.0, 74);
    check("live later", &even_violin(), &live, &[(2.4, 1.0), (5.0, 0.0), (6.0, 0.0)]);
}

/// A first value that comes under a note asks for nothing: where the song is past the hand's first
/// rise, it goes from full to where it belongs by 1.5 dB in 10 ms, and follows from there.
#[test]
fn a_first_value_under_a_note_moves_by_a_decibel_and_a_half_in_10_ms() {
    let score = Score::new().at(0.0, song(8.0)).on(0.5, 72).gesture(1.0, 0.04);
    let mut engine = polso_engine::Section::prepare(crate::rehearsal::RATE_HZ, &even_violin());
    engine.restore_niente(Some(48));
    let (views, _) = crate::rehearsal::watch_on(&mut engine, &score, 2.0);
    let steps = views.windows(11).filter(|pair| pair[0].time_s >= 0.9);
    let steepest = steps.map(|pair| (db(&pair[10]) - db(&pair[0])).abs()).fold(0.0, f64::max);
    assert!((steepest - 1.5).abs() < 1e-6, "{steepest}");
    assert!((at(&views, 2.0).expression - amplitude(0.04)).abs() < 1e-9);
}

/// GM2 3.3.4: 40·log10(value/127) dB, so an amplitude a is 127·√a; with a level in between too.
#[test]
fn a_receiver_hears_the_way_to_nothing_in_decibels() {
    let mut level = crate::rehearsal::output(Layer::Expression, Address::Controller(11), 0.0, 1.0);
    level.reading = Reading::Gm2;
    let score = line(half().on(1.0, 72), (1.5, 0.12), (2.5, 0.0));
    let (views, sent) = watch(&crate::music::only(even_violin(), level), &score, 3.0);
    let said = crate::music::said(&sent, 11);
    let within = said.iter().filter(|(_, value)| (20..107).contains(value));
    assert!(within.clone().count() > 20, "{said:?}");
    for (at_s, value) in within {
        let expected = 127.0 * at(&views, *at_s).expression.sqrt();
        assert!((f64::from(*value) - expected).abs() <= 0.51, "{value}, not {expected}");
    }
    // Where only the level has an address, it carries the same: floor 0.06 of 30 dB below it.
    let mut level = crate::rehearsal::output(Layer::Dynamics, Address::Controller(7), 0.0, 1.0);
    level.reading = Reading::Gm2;
    let (views, sent) = watch(&crate::music::only(even_violin(), level), &score, 3.0);
    let said = crate::music::said(&sent, 7);
    let within = said.iter().filter(|(at_s, value)| *at_s > 1.8 && *value > 4);
    assert!(within.clone().count() > 10, "{said:?}");
    for (at_s, value) in within {
        let view = at(&views, *at_s);
        let expected = 127.0 * libm::exp10((db(view) - 30.0 * (1.0 - view.dynamics)) / 40.0);
        assert!((f64::from(*value) - expected).abs() <= 0.6, "{value}, not {expected}");
    }
}
