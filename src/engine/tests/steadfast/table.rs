//! Each row of the table of interruptions, one by one.

use polso_engine::math::curve::Curve;
use polso_engine::patch::{Address, ModePatch, Patch, Reading};
use polso_engine::{Input, Layer, Message, Origin};
use polso_engine::{Phrase, Section};

use crate::music::{bare, bends, controller, said, song, time_s, value_at, words};
use crate::rehearsal::{RATE_HZ, Score, Sent, perform_on, watch};

/// Level on CC 7, expression on CC 11 and a bend; keyswitches 24 to 28.
pub fn whole(instrument: &str, is_held: bool) -> Patch {
    let mut patch = bare(instrument, "perform");
    patch.target.output_count = 0;
    for (layer, number) in [(Layer::Dynamics, 7), (Layer::Expression, 11)] {
        let mut level = crate::rehearsal::output(layer, Address::Controller(number), 0.0, 1.0);
        (level.reading, level.rest) = (Reading::Gm2, 127);
        patch = crate::music::with(patch, level);
    }
    let mut bend = crate::rehearsal::output(Layer::Pitch, Address::PitchBend, -1.0, 1.0);
    (bend.rest, bend.interval_s) = (8192, 0.005);
    let keys = [Some(24), Some(25), Some(26), Some(27), Some(28)];
    patch.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held };
    crate::music::with(patch, bend)
}

fn half() -> Score {
    Score::new().gesture(0.0, 0.5).at(0.0, song(0.0))
}

fn stop() -> Input {
    Input::Song { beat: 4.0, tempo_bpm: 120.0, running: false }
}

fn locate(beat: f64) -> Input {
    Input::Locate { beat, tempo_bpm: 120.0, running: true }
}

fn live(key: u8) -> Input {
    Input::Live(crate::music::strike(key, 64))
}

/// Everything that goes out between two times, in words.
fn span(sent: &[Sent], from_s: f64, to_s: f64) -> Vec<String> {
    let within = |sent: &&Sent| (from_s - 1e-9..to_s + 1e-9).contains(&time_s(sent));
    words(&sent.iter().filter(within).copied().collect::<Vec<_>>())
}

fn has(words: &[String], word: &str) -> bool {
    words.iter().any(|own| own == word)
}

#[test]
fn a_stop_ends_the_songs_notes_and_leaves_a_hands_keys() {
    let score = half().on(0.5, 69).at(0.7, live(76)).at(1.5, stop());
    let (views, sent) = watch(&whole("violin", false), &score, 3.0);
    let at_stop = span(&sent, 1.49, 1.5);
    assert!(has(&at_stop, "off 69 @ 1500"), "{at_stop:?}");
    assert!(!has(&words(&sent), "off 76 @ 1500"));
    assert_eq!(crate::music::at(&views, 2.9).key, Some(76));
    // A note struck while the song stands is a hand's too: starting and stopping leaves it.
    let score = Score::new().gesture(0.0, 0.5).on(0.3, 72).at(0.5, song(0.0)).at(1.0, stop());
    let (views, _) = watch(&whole("violin", false), &score, 1.5);
    assert_eq!(crate::music::at(&views, 1.5).key, Some(72));
}

#[test]
fn a_hands_key_under_the_songs_note_has_the_line_again_after_a_stop() {
    let score = half().at(0.5, live(76)).on(0.8, 69).at(1.5, stop());
    let (views, _) = watch(&whole("violin", false), &score, 2.0);
    assert_eq!(crate::music::at(&views, 1.4).key, Some(69));
    assert_eq!(
        (crate::music::at(&views, 2.0).key, crate::music::at(&views, 2.0).phrase),
        (Some(76), Phrase::Sounding)
    );
}

#[test]
fn a_stop_takes_the_bend_home_in_thirty_milliseconds() {
    for wheel in [8192, 10_000, 0] {
        let score = half().on(0.5, 69).message(1.0, crate::music::bend(wheel)).at(2.0, stop());
        let (_, sent) = watch(&whole("violin", false), &score, 3.0);
        let bends = bends(&sent);
        assert!(bends.iter().any(|(at_s, value)| *at_s > 1.5 && *value != 8192), "it was bent");
        assert_eq!(value_at(&bends, 2.030), Some(8192), "{wheel}: home in time");
        assert!(bends.iter().all(|(at_s, value)| *at_s <= 2.030 || *value == 8192));
        // It goes there and does not snap: no step is half the way.
        let (before, after): (Vec<_>, Vec<_>) =
            bends.iter().copied().partition(|(at_s, _)| *at_s <= 2.0);
        let from = f64::from(before.last().expect("a bend").1) - 8192.0;
        let mut last = from;
        for (_, value) in after {
            let now = f64::from(value) - 8192.0;
            assert!((now - last).abs() <= 0.5 * from.abs() + 200.0, "{last} to {now}");
            last = now;
        }
    }
}

#[test]
fn a_stop_lifts_the_songs_pedal_and_a_held_keyswitch_and_leaves_a_feet_pedal() {
    let score = half().controller(0.2, 64, 127).note(0.5, 1.0, 69).at(1.5, stop());
    let (views, sent) = watch(&whole("violin", true), &score, 2.0);
    let at_stop = span(&sent, 1.5, 1.5);
    assert!(has(&at_stop, "cc 64 0 @ 1500") && has(&at_stop, "unswitch 24 @ 1500"), "{at_stop:?}");
    assert_eq!(crate::music::at(&views, 1.6).phrase, Phrase::Rest);
    let score = half().at(0.2, Input::Live(controller(64, 127))).note(0.5, 1.0, 69).at(1.5, stop());
    let (views, sent) = watch(&whole("violin", true), &score, 2.0);
    assert_eq!(said(&sent, 64), [(0.2, 127)]);
    assert_eq!(crate::music::at(&views, 1.6).phrase, Phrase::Sounding);
}

#[test]
fn a_locate_ends_everything_and_tells_everything() {
    // In the midst of a tail, with the bend off its centre and a key of a hand.
    let score = half().at(0.5, live(76)).note(0.6, 2.0, 69).message(1.0, crate::music::bend(9000));
    let score = score.message(2.0, Message::NoteOff { channel: 0, key: 76, velocity: 64 });
    let (views, sent) = watch(&whole("violin", true), &score.at(2.05, locate(8.0)), 2.3);
    assert_eq!(crate::music::at(&views, 2.04).phrase, Phrase::Tail);
    let jump = span(&sent, 2.05, 2.05);
    assert_eq!(jump.iter().filter(|word| word.starts_with("off")).count(), 1, "{jump:?}");
    for word in ["unswitch 25 @ 2050", "cc 7 56 @ 2050", "cc 11 127 @ 2050", "bend 8192 @ 2050"] {
        assert!(has(&jump, word), "{word}: {jump:?}");
    }
    let after = span(&sent, 2.051, 2.3);
    assert!(after.is_empty(), "nothing is left to do: {after:?}");
}

#[test]
fn after_a_locate_the_gesture_is_settled_and_its_next_value_is_taken_at_once() {
    let swell = Score::new().at(0.0, song(0.0)).wheel_follows(0.1, 1.0, |seconds| 0.9 * seconds);
    let (views, _) = watch(&whole("violin", false), &swell.clone().at(1.0, locate(0.0)), 1.1);
    let last = views.last().expect("a view");
    assert_eq!(last.raw, Some(last.gesture), "it stands where the hand is");
    assert_eq!(last.time_s, 0.1, "time begins anew");
    let (views, sent) =
        watch(&whole("violin", false), &swell.at(1.0, locate(0.0)).wheel(1.1, 30).on(1.1, 72), 1.1);
    assert_eq!(views.last().expect("a view").gesture, 30.0 / 127.0);
    // Told again before the first note, since the wheel has moved.
    let words = span(&sent, 1.1, 1.1);
    let place = |start: &str| words.iter().position(|word| word.starts_with(start));
    assert!(place("cc 11") < place("on 72") && place("cc 11").is_some(), "{words:?}");
    assert!(place("cc 7") < place("switch 24") && place("switch 24") < place("on 72"), "{words:?}");
}

#[test]
fn the_first_note_after_a_locate_tells_nothing_twice_if_nothing_arrived() {
    let score = half().note(0.2, 0.4, 72).at(1.0, locate(0.0)).on(1.2, 72);
    let (_, sent) = watch(&whole("violin", false), &score, 1.2);
    assert_eq!(span(&sent, 1.1, 1.2), ["switch 24 @ 1200", "on 72 66 @ 1200"]);
    let score = half().note(0.2, 0.4, 72).at(1.0, locate(0.0)).controller(1.1, 10, 5).on(1.2, 72);
    let (_, sent) = watch(&whole("violin", false), &score, 1.2);
    assert!(has(&span(&sent, 1.2, 1.2), "cc 11 127 @ 1200"));
}

#[test]
fn a_program_or_bank_is_passed_and_everything_told_again_after_fifty_milliseconds() {
    let program = Message::Program { channel: 0, program: 5 };
    for message in [program, controller(0, 3), controller(32, 3)] {
        let score = half().on(0.5, 72).message(1.0, message);
        let (_, sent) = watch(&whole("violin", true), &score, 1.2);
        let passed = sent.iter().find(|sent| sent.message == message).expect("passed");
        assert_eq!(time_s(passed), 1.0);
        let again = span(&sent, 1.0495, 1.0505);
        for word in ["cc 7 56 @ 1050", "cc 11 127 @ 1050", "switch 24 @ 1050"] {
            assert!(has(&again, word), "{word}: {again:?}");
        }
        assert!(again.iter().any(|word| word.starts_with("bend")), "{again:?}");
        let between = span(&sent, 1.001, 1.049);
        assert!(!between.iter().any(|word| word.starts_with("switch")), "{between:?}");
    }
}

#[test]
fn panic_lifts_the_pedal() {
    let score = half().controller(0.2, 64, 127).note(0.5, 1.0, 69).at(1.5, Input::Panic);
    let (views, sent) = watch(&whole("violin", true), &score, 1.6);
    assert_eq!(said(&sent, 64), [(0.2, 127), (1.5, 0)]);
    assert_eq!(crate::music::at(&views, 1.6).phrase, Phrase::Rest);
}

#[test]
fn a_host_that_deactivates_gets_what_is_owed_first_thing_afterwards() {
    let mut engine = Section::prepare(RATE_HZ, &whole("violin", true));
    let score = half().controller(0.2, 64, 127).on(0.5, 69);
    perform_on(&mut engine, RATE_HZ, &[64], &score, 1.0);
    engine.reset();
    assert!(engine.owes_offs());
    let sent = perform_on(&mut engine, RATE_HZ, &[64], &Score::new().on(0.0, 80), 0.1);
    let owed: Vec<_> =
        sent.iter().take_while(|sent| sent.origin == Origin::Owed).copied().collect();
    assert_eq!(words(&owed), ["cc 64 0 @ 0", "off 24 @ 0", "off 69 @ 0"]);
}

#[test]
fn another_profile_in_silence_keeps_the_hand_where_it_is() {
    let mut engine = Section::prepare(RATE_HZ, &whole("violin", false));
    perform_on(&mut engine, RATE_HZ, &[64], &Score::new().wheel(0.1, 100), 1.0);
    engine.load(&whole("erhu", false));
    let sent = perform_on(&mut engine, RATE_HZ, &[64], &Score::new().on(0.1, 60), 0.2);
    assert_eq!(engine.view().gesture, 100.0 / 127.0);
    let level = said(&sent, 7);
    assert_eq!(level.first().map(|said| said.0), Some(0.0), "told at once");
}

#[test]
fn another_profile_in_mid_note_crosses_over_in_fifty_milliseconds() {
    let mut loud = whole("violin", false);
    loud.dynamics.floor = 0.9;
    for outputs in 0..loud.target.output_count {
        loud.target.outputs[outputs].interval_s = 0.001;
    }
    let mut quiet = loud;
    (quiet.dynamics.floor, quiet.dynamics.ceiling) = (0.1, 0.2);
    for style in &mut quiet.vibrato.styles {
        style.width_cents = Curve::constant(0.0);
    }
    let mut engine = Section::prepare(RATE_HZ, &loud);
    let before = perform_on(&mut engine, RATE_HZ, &[64], &half().on(0.2, 69), 2.0);
    engine.load(&quiet);
    let after = perform_on(&mut engine, RATE_HZ, &[64], &Score::new(), 1.0);
    let is_note =
        |sent: &&Sent| matches!(sent.message, Message::NoteOn { .. } | Message::NoteOff { .. });
    assert_eq!(after.iter().filter(is_note).count(), 0, "the note goes on");
    assert_eq!(engine.view().key, Some(69));
    let (old, level) = (said(&before, 7).last().expect("a level").1, said(&after, 7));
    let new = level.last().expect("a level").1;
    assert!(old > new + 30, "{old} and {new}");
    let steps = level.windows(2).map(|pair| i16::from(pair[0].1) - i16::from(pair[1].1));
    assert!(steps.clone().all(|step| (0..=6).contains(&step)), "{level:?}");
    assert!((i16::from(old) - i16::from(level[0].1)).abs() <= 2, "{old}: {level:?}");
    let last_s = level.last().expect("a level").0;
    assert!((0.045..=0.052).contains(&last_s), "{last_s}");
    assert_eq!(value_at(&bends(&after), 0.052), Some(8192), "and so does the pitch");
}

#[test]
fn what_the_new_target_does_not_drive_is_put_to_rest() {
    // A level on CC 7 that the new target sends on CC 11 instead: the receiver multiplies both.
    let old = whole("violin", false);
    let mut new = bare("violin", "perform");
    new.target.output_count = 0;
    let level = crate::rehearsal::output(Layer::Dynamics, Address::Controller(11), 0.0, 1.0);
    new = crate::music::with(new, level);
    for is_sounding in [true, false] {
        let mut engine = Section::prepare(RATE_HZ, &old);
        let score = if is_sounding { half().on(0.2, 69) } else { half() };
        let before = perform_on(&mut engine, RATE_HZ, &[64], &score, 2.0);
        assert_ne!(said(&before, 7).last().expect("a level").1, 127);
        engine.load(&new);
        engine.load(&new);
        let after = perform_on(&mut engine, RATE_HZ, &[64], &Score::new(), 1.0);
        assert_eq!(said(&after, 7).iter().map(|said| said.1).collect::<Vec<_>>(), [127]);
        assert!(!said(&after, 11).is_empty());
    }
}

#[test]
fn another_rate_is_a_hard_cut() {
    let mut engine = Section::prepare(RATE_HZ, &whole("violin", false));
    perform_on(&mut engine, RATE_HZ, &[64], &half().on(0.5, 69), 1.0);
    engine.retime(96_000.0);
    let sent = perform_on(&mut engine, 96_000.0, &[64], &Score::new(), 0.1);
    let first = sent.first().expect("a message");
    assert_eq!((first.frame, first.origin), (0, Origin::Owed));
    assert_eq!(first.message, Message::NoteOff { channel: 0, key: 69, velocity: 64 });
}
