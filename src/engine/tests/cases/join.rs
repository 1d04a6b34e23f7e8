//! Joins by bend: how long the pitch takes from note to note, what is cut, what is struck again, and when it jumps.

use crate::music::{at, bare, bends, value_at, words};
use crate::rehearsal::{Score, Sent, perform, watch};
use polso_engine::patch::{Patch, TransitionWay};
use polso_engine::reason::Reason;
use polso_engine::{Input, Message, Mode, View};

/// A violin of this bend range that only bends from note to note: no vibrato, no levels, no tail.
pub fn plain(range_semitones: f64) -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.bend_range_semitones = range_semitones;
    patch.target.outputs[0] = patch.target.outputs[1];
    patch.target.output_count = 1;
    patch.vibrato.style_count = 1;
    patch.dynamics.velocity_share = 0.0;
    patch.tail.tail_s = 0.0;
    patch
}

/// A wind instrument likewise.
fn blown() -> Patch {
    let dizi = bare("dizi-d", "perform");
    Patch { legato: dizi.legato, strings: dizi.strings, ..plain(12.0) }
}

/// Under a still gesture the first key from 1 s on, the second from 1.5 s on, both held.
fn slur(gesture: f64, keys: [u8; 2]) -> Score {
    Score::new().gesture(0.0, gesture).on(1.0, keys[0]).on(1.5, keys[1])
}

/// From a tenth to nine tenths of the way, milliseconds, read between the ticks.
fn tenths_ms(views: &[View], from_s: f64) -> f64 {
    let first = (from_s * 1000.0).round() as usize;
    let whole = views[first].transition_cents;
    let share = |view: &View| 1.0 - view.transition_cents / whole;
    let crosses_at = |wanted: f64| {
        let place = (first..).find(|&ms| share(&views[ms + 1]) >= wanted).expect("a crossing");
        let (before, after) = (share(&views[place]), share(&views[place + 1]));
        place as f64 + (wanted - before) / (after - before)
    };
    crosses_at(0.9) - crosses_at(0.1)
}

/// The mode that a gesture gives, and its time for an interval.
fn check_time(patch: &Patch, gesture: f64, keys: [u8; 2], mode: Mode, ms: f64) {
    let (views, _) = watch(patch, &slur(gesture, keys), 2.5);
    let view = at(&views, 1.5);
    assert_eq!(view.mode, mode, "{gesture} {keys:?}");
    let whole = 100.0 * (f64::from(keys[0]) - f64::from(keys[1]));
    assert!((view.transition_cents - whole).abs() < 1e-9, "{keys:?}: {}", view.transition_cents);
    let found = tenths_ms(&views, 1.5);
    assert!((found - ms).abs() < 0.15, "{mode:?} {keys:?}: {found} ms, not {ms}");
    // From one cut of the logistic to the other it takes 2·ln 99/4.2227 = 2.1764 times as long.
    let ends_s = 1.5 + 0.001 * (2.1764 * ms).ceil();
    assert_eq!(at(&views, ends_s).transition_cents, 0.0, "{mode:?} {keys:?} at {ends_s}");
}

#[test]
fn a_joins_time_grows_with_its_interval() {
    use Mode::{Joined, Quick, Slide, Slow};
    let violin = plain(12.0);
    for (gesture, mode, semitone, tone, fifth) in [
        (0.10, Quick, 6.0, 6.0, 6.0),
        (0.50, Joined, 10.0, 16.0, 30.0),
        (0.75, Slow, 25.0, 28.0, 98.0),
        (1.00, Slide, 80.0, 80.0, 154.0),
    ] {
        check_time(&violin, gesture, [72, 73], mode, semitone);
        check_time(&violin, gesture, [72, 74], mode, tone);
        check_time(&violin, gesture, [74, 72], mode, tone);
        check_time(&violin, gesture, [72, 79], mode, fifth);
        check_time(&violin, gesture, [79, 72], mode, fifth);
    }
    check_time(&violin, 0.5, [88, 100], Joined, 30.0);
    check_time(&violin, 0.75, [88, 100], Slow, 100.0);
    check_time(&violin, 1.0, [88, 97], Slide, 198.0);
    check_time(&violin, 1.0, [88, 100], Slide, 200.0);
}

#[test]
fn a_join_is_quick_where_no_string_or_no_breath_carries_it() {
    let check = |patch: &Patch, keys: [u8; 2], ms: f64, reason: Reason| {
        // Half a second after the first note, which is too young for a drone.
        check_time(patch, 0.75, keys, Mode::Slow, ms);
        let (views, _) = watch(patch, &slur(0.75, keys), 1.6);
        assert_eq!(at(&views, 1.5).transition_reason, reason, "{keys:?}");
    };
    // The G string ends at G4, and A flat 4 lies on the D string.
    check(&plain(12.0), [62, 68], 6.0, Reason::QuickOverStrings);
    check(&plain(12.0), [62, 67], 70.0, Reason::ByBend);
    // A finger comes down on the open G string.
    check(&plain(12.0), [55, 57], 6.0, Reason::QuickOverStrings);
    // The dizi slides over three semitones at most.
    check(&blown(), [74, 77], 42.0, Reason::ByBend);
    check(&blown(), [74, 78], 6.0, Reason::QuickBeyondSlide);
}

/// Notes and their milliseconds, without the bends.
fn notes(sent: &[Sent]) -> Vec<String> {
    words(sent).into_iter().filter(|word| word.starts_with('o')).collect()
}

fn check_notes(sentence: &str, patch: &Patch, score: &Score, expected: &[&str]) {
    assert_eq!(notes(&perform(patch, 48_000.0, &[64], score, 5.0)), expected, "{sentence}");
}

#[test]
fn a_join_by_bend_cuts_the_note_that_it_leaves_whatever_the_finger_does() {
    for mode in [0.1, 0.5, 0.75, 1.0] {
        let score = slur(mode, [72, 74]).off(1.8, 72).off(2.5, 74);
        let expected = ["on 72 64 @ 1000", "on 74 64 @ 1500", "off 72 @ 1500", "off 74 @ 2500"];
        check_notes(&format!("{mode}"), &plain(12.0), &score, &expected);
    }
}

#[test]
fn in_one_frame_the_bend_comes_first_and_the_cut_last() {
    let (_, sent) = watch(&plain(2.0), &slur(0.5, [72, 74]), 1.52);
    let expected = ["bend 0 @ 1500", "on 74 64 @ 1500", "off 72 @ 1500", "bend 57 @ 1502"];
    assert_eq!(words(&sent)[2..6], expected);
    // Every 2 ms while it is fast, and home at its end: 16 ms · 2.176 = 34.8.
    let (_, sent) = watch(&plain(2.0), &slur(0.5, [72, 74]), 2.0);
    let times = |sent: &[Sent]| -> Vec<f64> {
        let bends = bends(sent).into_iter().filter(|(at_s, _)| *at_s > 1.49);
        bends.map(|(at_s, _)| (at_s * 1000.0).round()).collect()
    };
    assert!(times(&sent).windows(2).all(|pair| pair[1] - pair[0] == 2.0), "{:?}", times(&sent));
    assert_eq!(bends(&sent).last(), Some(&(1.536, 8192)));
    // A slow slide of a fifth is told every 5 ms.
    let (_, sent) = watch(&plain(12.0), &slur(1.0, [72, 79]), 2.5);
    let fewest = times(&sent).windows(2).map(|pair| pair[1] - pair[0]).fold(9.0, f64::min);
    assert_eq!(fewest, 5.0);
    assert_eq!(bends(&sent).last().map(|it| it.1), Some(8192));
}

#[test]
fn a_key_that_is_still_held_is_struck_again_with_a_join_back() {
    // As hard as before: C5 at 64, D5 at 90.
    let d5 = Message::NoteOn { channel: 0, key: 74, velocity: 90 };
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).message(1.5, d5).off(2.0, 74);
    let score = score.off(3.0, 72);
    let expected = [
        "on 72 64 @ 1000",
        "on 74 90 @ 1500",
        "off 72 @ 1500",
        "on 72 64 @ 2000",
        "off 74 @ 2000",
        "off 72 @ 3000",
    ];
    check_notes("one key under another", &plain(12.0), &score, &expected);
    let (views, _) = watch(&plain(12.0), &score, 2.5);
    let view = at(&views, 2.0);
    assert_eq!((view.key, view.transition_cents), (Some(72), 200.0));
    assert_eq!((view.mode, view.transition_reason), (Mode::Joined, Reason::StruckAgain));
    assert!((tenths_ms(&views, 2.0) - 16.0).abs() < 0.1);
    // One that has lifted meanwhile is not.
    let score = slur(0.5, [72, 74]).off(1.8, 72).off(2.0, 74);
    let expected = ["on 72 64 @ 1000", "on 74 64 @ 1500", "off 72 @ 1500", "off 74 @ 2000"];
    check_notes("a key that has lifted", &plain(12.0), &score, &expected);
    // Two keys lie under the third, and the newer comes first.
    let score = slur(0.5, [72, 74]).on(2.0, 76).off(2.5, 76).off(3.0, 74).off(3.5, 72);
    let expected = [
        "on 72 64 @ 1000",
        "on 74 64 @ 1500",
        "off 72 @ 1500",
        "on 76 64 @ 2000",
        "off 74 @ 2000",
        "on 74 64 @ 2500",
        "off 76 @ 2500",
        "on 72 64 @ 3000",
        "off 74 @ 3000",
        "off 72 @ 3500",
    ];
    check_notes("three keys", &plain(12.0), &score, &expected);
}

#[test]
fn an_unfinished_way_goes_on_from_where_the_line_stands() {
    // D5 slides to C5, and 50 ms later, far from there, goes on to B4.
    let score = Score::new().gesture(0.0, 1.0).on(1.0, 74).on(1.5, 72).on(1.55, 71);
    let (views, _) = watch(&plain(12.0), &score, 2.0);
    let sounding =
        |ms: usize| f64::from(views[ms].key.expect("a note")) * 100.0 + views[ms].transition_cents;
    let (before, after) = (sounding(1549), sounding(1550));
    assert!(before > 7300.0 && before < 7395.0, "{before}");
    assert!((before - after).abs() < 15.0, "{before} {after}");
    assert_eq!(sounding(1950), 7100.0);
}

#[test]
fn the_sounding_pitch_is_the_same_before_and_after_the_note_on() {
    // With the violin's whole vibrato, 90 cents, on a wheel of an octave.
    let mut patch = bare("violin", "perform");
    patch.target.bend_range_semitones = 12.0;
    for gesture in [0.1, 0.5, 0.75, 1.0] {
        for keys in [[72, 74], [74, 72], [72, 79], [79, 72], [88, 99]] {
            let score = slur(gesture, keys).off(1.5001, keys[0]);
            let sent = perform(&patch, 48_000.0, &[64], &score, 1.6);
            let on = sent.iter().rposition(|it| matches!(it.message, Message::NoteOn { .. }));
            let (before, at_on) = sent.split_at(on.expect("a note"));
            let frame = at_on[0].frame;
            let cents = |sent: &[Sent], key: u8| {
                let (_, bend) = *bends(sent).last().expect("a bend");
                f64::from(key) * 100.0 + (f64::from(bend) - 8192.0) / 8192.0 * 1200.0
            };
            let earlier: Vec<Sent> = before.iter().filter(|it| it.frame < frame).copied().collect();
            let (from, to) = (cents(&earlier, keys[0]), cents(before, keys[1]));
            assert!((from - to).abs() <= 15.0, "{gesture} {keys:?}: {from} then {to}");
        }
    }
}

#[test]
fn beyond_the_bend_range_the_pitch_jumps_and_a_slide_scoops() {
    let check = |gesture, keys, from_cents: f64, reason, cuts: bool| {
        let score = slur(gesture, keys).off(1.8, keys[0]).off(2.5, keys[1]);
        let (views, sent) = watch(&plain(2.0), &score, 3.0);
        let view = at(&views, 1.5);
        assert_eq!((view.transition_cents, view.transition_reason), (from_cents, reason));
        let off = format!("off {} @ {}", keys[0], if cuts { 1500 } else { 1800 });
        assert!(notes(&sent).contains(&off), "{gesture} {keys:?}: {:?}", notes(&sent));
        views
    };
    for gesture in [0.1, 0.5, 0.72] {
        check(gesture, [72, 75], 0.0, Reason::WiderThanBend, false);
        check(gesture, [72, 74], -200.0, Reason::ByBend, true);
    }
    // A fifth up from two semitones below, in the time of a whole fifth: 7 · 22 ms.
    let views = check(1.0, [72, 79], -200.0, Reason::Scoop, true);
    assert!((tenths_ms(&views, 1.5) - 154.0).abs() < 0.1);
    check(1.0, [79, 72], 200.0, Reason::Scoop, true);
    // A target may cut where the pitch jumps too.
    let mut patch = plain(2.0);
    patch.target.transition.cuts_jumps = true;
    let score = slur(0.5, [72, 77]).off(1.8, 72).off(2.5, 77);
    let expected = ["on 72 64 @ 1000", "on 77 64 @ 1500", "off 72 @ 1500", "off 77 @ 2500"];
    check_notes("cut", &patch, &score, &expected);
}

#[test]
fn an_old_key_that_shares_no_string_may_be_a_drone_and_stays() {
    // D4 on the G string, A4 beyond it: after 0.999 s quick and cut, after a second left alone.
    let score = |age_s: f64| {
        let score = Score::new().gesture(0.0, 0.5).on(1.0, 62).on(1.0 + age_s, 69);
        score.off(3.0, 69).off(3.5, 62)
    };
    let reason = |age_s: f64| {
        let (views, _) = watch(&plain(12.0), &score(age_s), 2.5);
        at(&views, 1.0 + age_s).transition_reason
    };
    assert_eq!((reason(0.999), reason(1.0)), (Reason::QuickOverStrings, Reason::MayBeDrone));
    let expected = ["on 62 64 @ 1000", "on 69 64 @ 2000", "off 69 @ 3000", "off 62 @ 3500"];
    check_notes("a drone", &plain(12.0), &score(1.0), &expected);
    // A key on the same string is no drone, however old, nor is the open G under its own string.
    for (low, high) in [(64, 66), (55, 57)] {
        let score = Score::new().gesture(0.0, 0.5).on(1.0, low).on(3.0, high).off(3.5, low);
        let expected = [
            format!("on {low} 64 @ 1000"),
            format!("on {high} 64 @ 3000"),
            format!("off {low} @ 3000"),
        ];
        assert_eq!(notes(&perform(&plain(12.0), 48_000.0, &[64], &score, 4.0)), expected);
    }
}

#[test]
fn while_another_key_sounds_the_bend_is_nobodys() {
    let check = |sentence: &str, score: &Score, at_s: f64, reason: Reason| {
        let (views, _) = watch(&plain(12.0), score, at_s + 0.1);
        let view = at(&views, at_s);
        assert_eq!((view.transition_cents, view.transition_reason), (0.0, reason), "{sentence}");
    };
    let half = || Score::new().gesture(0.0, 0.5);
    let over_a_drone = half().on(1.0, 62).on(2.5, 72).on(3.0, 74);
    check("over a drone", &over_a_drone, 3.0, Reason::OthersSound);
    let from_a_chord = half().on(1.0, 72).on(1.01, 76).on(1.5, 77);
    check("from a double stop", &from_a_chord, 1.5, Reason::OthersSound);
    let pedalled = half().controller(0.5, 64, 127).on(1.0, 72).on(1.5, 74);
    check("under the pedal", &pedalled, 1.5, Reason::OthersSound);
    check("a fresh note", &half().note(1.0, 1.4, 72).on(1.5, 74), 1.5, Reason::NotJoined);
    // A chord's second note 20 ms into the way to its first ends it in its frame.
    let meanwhile = slur(1.0, [72, 74]).on(1.52, 81);
    let (views, sent) = watch(&plain(12.0), &meanwhile, 1.6);
    assert!(at(&views, 1.519).transition_cents < -150.0);
    assert_eq!(at(&views, 1.52).transition_cents, 0.0);
    assert_eq!(at(&views, 1.52).transition_reason, Reason::JoinEnded);
    assert_eq!(value_at(&bends(&sent), 1.52), Some(8192));
    assert_eq!(
        words(&sent).iter().rev().take(2).collect::<Vec<_>>(),
        ["on 81 64 @ 1520", "bend 8192 @ 1520"]
    );
}

#[test]
fn a_stop_takes_the_bend_home_in_thirty_milliseconds_and_a_jump_at_once() {
    let stop = Input::Song { beat: 4.0, tempo_bpm: 120.0, running: false };
    let jump = Input::Locate { beat: 0.0, tempo_bpm: 120.0, running: true };
    for (input, within_s) in [(stop, 0.030), (jump, 0.0), (Input::Panic, 0.0)] {
        // Among the first of a slide that takes 335 ms.
        let score = slur(1.0, [72, 79]).at(0.0, crate::music::song(0.0)).at(1.6, input);
        let sent = perform(&plain(12.0), 48_000.0, &[64], &score, 2.0);
        let at_s = value_at(&bends(&sent), 1.5999).map(|bend| bend < 8192 - 2000);
        assert_eq!(at_s, Some(true), "{input:?}");
        assert_eq!(value_at(&bends(&sent), 1.6 + within_s), Some(8192), "{input:?}");
        let mut down = std::collections::BTreeSet::new();
        for sent in &sent {
            match sent.message {
                Message::NoteOn { key, .. } => assert!(down.insert(key), "{key} twice"),
                Message::NoteOff { key, .. } => assert!(down.remove(&key), "{key} is up"),
                _ => {}
            }
        }
        assert!(down.is_empty(), "{input:?}: {down:?}");
    }
}

#[test]
fn the_players_bend_is_added_and_a_way_needs_a_bend_to_go_by() {
    // A quarter tone up of ±2: 2048 steps, beside a way of a semitone, 4096.
    let score = slur(0.5, [72, 73]).message(0.5, crate::music::bend(10_240));
    let (_, sent) = watch(&plain(2.0), &score, 2.0);
    assert_eq!(value_at(&bends(&sent), 1.5), Some(10_240 - 4096));
    assert_eq!(bends(&sent).last().map(|it| it.1), Some(10_240));
    let mut none = plain(2.0);
    none.target.output_count = 0;
    let (views, _) = watch(&none, &slur(0.5, [72, 74]), 2.0);
    assert_eq!(at(&views, 1.6).transition_reason, Reason::NoTransition);
    none.target.transition.way = TransitionWay::Receiver;
    let (views, _) = watch(&none, &slur(0.5, [72, 74]), 2.0);
    assert_eq!(at(&views, 1.6).transition_reason, Reason::ReceiverJoins);
}
