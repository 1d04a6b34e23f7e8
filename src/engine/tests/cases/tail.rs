//! How a phrase ends: a long last note is drawn out, a short one is not, and what comes next.

use crate::music::{at, even_violin, run, said, words};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::{Address, Patch, Reading};
use polso_engine::{Layer, Message};
use polso_engine::{Mode, Phrase};

/// When the off of a lone note of this length goes out, counted from its release, milliseconds.
fn check(sentence: &str, patch: &Patch, length_s: f64, wait_ms: f64) {
    let score = half().note(1.0, 1.0 + length_s, 72);
    let (_, sent) = watch(patch, &score, 4.0);
    let off = sent.iter().find(|sent| matches!(sent.message, Message::NoteOff { .. }));
    let off = off.expect("an off");
    let waited_ms = (crate::music::time_s(off) - 1.0 - length_s) * 1000.0;
    // An off goes out at the first tick that is not before its time.
    assert!((-1e-6..1.0).contains(&(waited_ms - wait_ms)), "{sentence}: {waited_ms} ms");
}

/// A hand that plays neither soft nor loud.
fn half() -> Score {
    Score::new().gesture(0.0, 0.5)
}

/// A violin whose expression goes to CC 11 by amplitude (GM2) and whose level goes to CC 7.
fn expressive() -> Patch {
    let mut patch = even_violin();
    patch.target.output_count = 0;
    for (layer, number) in [(Layer::Dynamics, 7), (Layer::Expression, 11)] {
        let mut level = crate::rehearsal::output(layer, Address::Controller(number), 0.0, 1.0);
        level.reading = Reading::Gm2;
        patch = crate::music::with(patch, level);
    }
    patch
}

#[test]
fn a_long_last_note_waits_by_its_age() {
    // Pace 0.5 at a phrase start: long from max(0.45, min(0.75, 1.0)) = 0.75 s on. The wait is
    // 260 ms · clamp((age − 0.45)/0.8, 0.3, 1).
    let violin = even_violin();
    check("a moment too short", &violin, 0.749, 0.0);
    check("just long enough: 0.375", &violin, 0.75, 97.5);
    check("0.9 s: 0.5625", &violin, 0.9, 146.25);
    check("1.25 s: the whole", &violin, 1.25, 260.0);
    check("2 s: the whole", &violin, 2.0, 260.0);
    let mut dizi = crate::music::bare("dizi-d", "perform");
    check("dizi, the whole of 140 ms", &dizi, 2.0, 140.0);
    dizi.tail.tail_s = 0.0;
    check("no tail", &dizi, 2.0, 0.0);
}

#[test]
fn what_counts_as_long_depends_on_the_pace() {
    // After a run of 0.1 s the pace is nearly 0.1: 1.5 paces are less than 0.45 s, so 0.45 s is
    // long, and gets the least, 0.3 of 260 ms.
    let after_run = |length_s: f64| {
        let score = run(half(), 1.0, 0.1, 0.11, &[72; 16]);
        let score = score.note(2.6, 2.6 + length_s, 74);
        let (views, _) = watch(&even_violin(), &score, 3.5);
        views.iter().filter(|view| view.phrase == Phrase::Tail).count()
    };
    assert_eq!(after_run(0.449), 0);
    assert_eq!(after_run(0.45), 78);
    assert_eq!(after_run(0.65), 78, "0.25, held at 0.3");
    // At a slow pace nothing shorter than a second is long: times of 2 s, pace 1.1 and more.
    let slow = |length_s: f64| {
        let score = half().note(1.0, 3.01, 72).note(3.0, 5.01, 74).note(5.0, 5.0 + length_s, 72);
        let (views, _) = watch(&even_violin(), &score, 6.5);
        views.iter().filter(|view| view.phrase == Phrase::Tail).count()
    };
    // Pace 0.5 → 1.1 → 1.46. At 1 s the share is 0.6875: 178.75 ms.
    assert_eq!(slow(0.999), 0);
    assert_eq!(slow(1.0), 179);
}

#[test]
fn a_note_of_just_the_limit_is_long_at_every_sample_rate() {
    // On and off are rounded to frames, so 0.75 s may come a frame short.
    for rate_hz in [44_100.0, 48_000.0, 88_200.0, 96_000.0, 192_000.0] {
        for on_s in [1.0, 1.123_7, 1.333_333, 2.700_05] {
            let score = half().note(on_s, on_s + 0.75, 72);
            let sent =
                crate::rehearsal::perform(&even_violin(), rate_hz, &[512], &score, on_s + 1.5);
            let off_s = sent.iter().rfind(|sent| matches!(sent.message, Message::NoteOff { .. }));
            let waited_s = off_s.expect("an off").frame as f64 / rate_hz - on_s - 0.75;
            assert!(
                (0.097..0.099).contains(&waited_s),
                "{waited_s} s at {rate_hz} Hz from {on_s} s"
            );
        }
    }
}

#[test]
fn the_expression_falls_eighteen_decibels_along_the_smooth_step() {
    // 260 ms: a quarter −2.8125 dB, half −9 dB, all −18 dB; as amplitudes 10^(dB/20).
    let (views, _) = watch(&even_violin(), &half().note(1.0, 3.0, 72), 3.3);
    for (at_s, amplitude) in
        [(2.999, 1.0), (3.065, 0.723_394), (3.13, 0.354_813), (3.26, 0.125_893), (3.3, 0.125_893)]
    {
        let expression = at(&views, at_s).expression;
        assert!((expression - amplitude).abs() < 1e-6, "{expression} at {at_s} s");
    }
    // GM2, 127·√amplitude: −18 dB is 127·10^(−18/40) = 45.06.
    let (_, sent) = watch(&expressive(), &half().note(1.0, 3.0, 72), 3.3);
    assert_eq!(said(&sent, 11).first(), Some(&(0.0, 127)));
    assert_eq!(said(&sent, 11).last().map(|said| said.1), Some(45));
    // The level itself does not move: 0.53 of 30 dB, 127·10^(−14.1/40) = 56.4.
    assert_eq!(said(&sent, 7).last().map(|said| said.1), Some(56));
}

#[test]
fn the_expression_stays_down_a_quarter_second_and_comes_back_in_forty_milliseconds() {
    // The off is at 3.26 s: down until 3.51, half way (−9 dB) at 3.53, full from 3.55.
    let (views, _) = watch(&even_violin(), &half().note(1.0, 3.0, 72), 4.0);
    for (at_s, amplitude) in [(3.51, 0.125_893), (3.53, 0.354_813), (3.55, 1.0), (4.0, 1.0)] {
        let expression = at(&views, at_s).expression;
        assert!((expression - amplitude).abs() < 1e-6, "{expression} at {at_s} s");
    }
}

#[test]
fn a_new_note_within_sixty_milliseconds_joins() {
    // Released at 3 s, the next at 3.05 s: no fresh note, the old off with the new note, expression
    // back in 40 ms from where it was: u = 50/260, −1.7410 dB, half of that 20 ms on.
    let score = half().note(1.0, 3.0, 72).note(3.05, 3.3, 74);
    let (views, sent) = watch(&even_violin(), &score, 3.4);
    assert_eq!(at(&views, 3.051).mode, Mode::Joined);
    let notes: Vec<_> = words(&sent).into_iter().filter(|word| word.starts_with('o')).collect();
    assert_eq!(notes, ["on 72 66 @ 1000", "on 74 66 @ 3050", "off 72 @ 3050", "off 74 @ 3300"]);
    for (at_s, db) in [(3.05, -1.741_01), (3.07, -0.870_51), (3.09, 0.0), (3.2, 0.0)] {
        let amplitude = libm::exp10(db / 20.0);
        let expression = at(&views, at_s).expression;
        assert!((expression - amplitude).abs() < 1e-5, "{expression} at {at_s} s");
    }
}

#[test]
fn a_later_note_ends_the_tail_restores_and_begins_afresh() {
    // At 3.07 s: the old off, the expression full, the note, all in one frame; its velocity is
    // round(0.5·64 + 0.5·(1 + 126·0.53)) = round(65.89).
    let score = half().note(1.0, 3.0, 72).note(3.07, 3.3, 74);
    let (views, sent) = watch(&expressive(), &score, 3.4);
    assert_eq!(at(&views, 3.071).mode, Mode::Fresh);
    assert_eq!(at(&views, 3.07).expression, 1.0);
    let at_once: Vec<_> =
        words(&sent).into_iter().filter(|word| word.ends_with("@ 3070")).collect();
    assert_eq!(at_once, ["off 72 @ 3070", "cc 11 127 @ 3070", "on 74 66 @ 3070"]);
}

#[test]
fn the_same_key_in_a_tail_is_struck_again() {
    let score = half().note(1.0, 3.0, 72).note(3.05, 3.3, 72);
    let (views, sent) = watch(&expressive(), &score, 3.4);
    assert_eq!(at(&views, 3.051).mode, Mode::Fresh);
    let at_once: Vec<_> =
        words(&sent).into_iter().filter(|word| word.ends_with("@ 3050")).collect();
    assert_eq!(at_once, ["off 72 @ 3050", "cc 11 127 @ 3050", "on 72 66 @ 3050"]);
}

#[test]
fn in_a_double_stop_the_tail_belongs_to_the_last_key() {
    let score = half().on(1.0, 72).on(1.01, 76).off(3.0, 76).off(3.2, 72);
    let (_, sent) = watch(&even_violin(), &score, 4.0);
    let offs: Vec<_> = words(&sent).into_iter().filter(|word| word.starts_with("off")).collect();
    assert_eq!(offs, ["off 76 @ 3000", "off 72 @ 3460"]);
}

#[test]
fn the_ambience_rises_is_held_and_falls() {
    // Violin: 12 steps above the base of 40. Up in 0.15 s from the release, held to 0.4 s after
    // the off (3.26), down over 1.2 s.
    let mut patch = crate::music::bare("violin", "generic");
    patch.target.outputs[4].interval_s = 0.001;
    let (views, sent) = watch(&patch, &half().note(1.0, 3.0, 72), 5.5);
    for (at_s, steps) in [
        (3.0, 0.0),
        (3.05, 3.111_111),
        (3.075, 6.0),
        (3.15, 12.0),
        (3.66, 12.0),
        (3.96, 10.125),
        (4.26, 6.0),
        (4.86, 0.0),
    ] {
        let found = at(&views, at_s).send * 127.0;
        assert!((found - steps).abs() < 1e-6, "{found} at {at_s} s");
        let sent = crate::music::value_at(&said(&sent, 91), at_s).map(f64::from);
        let near = 40.0 + steps;
        assert!(sent.is_some_and(|sent| (sent - near).abs() <= 0.6), "{sent:?} at {at_s} s");
    }
}

#[test]
fn the_ambience_drops_fast_under_a_new_phrase() {
    // Struck again at 3.6 s, while it is held: half gone after 40 ms, all after 80.
    let (views, _) = watch(&even_violin(), &half().note(1.0, 3.0, 72).on(3.6, 74), 4.0);
    for (at_s, steps) in [(3.6, 12.0), (3.64, 6.0), (3.68, 0.0)] {
        let found = at(&views, at_s).send * 127.0;
        assert!((found - steps).abs() < 1e-6, "{found} at {at_s} s");
    }
}

#[test]
fn the_phrase_goes_from_rest_over_sounding_and_tail_to_rest() {
    let (views, _) = watch(&even_violin(), &half().note(1.0, 3.0, 72), 4.0);
    let phrases = [0.5, 1.0, 2.9, 3.0, 3.25, 3.27].map(|at_s| at(&views, at_s).phrase);
    let expected = [
        Phrase::Rest,
        Phrase::Sounding,
        Phrase::Sounding,
        Phrase::Tail,
        Phrase::Tail,
        Phrase::Rest,
    ];
    assert_eq!(phrases, expected);
}
