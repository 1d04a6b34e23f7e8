//! Another player's keys, far outside the instrument: they pass, and the line knows nothing of them.

use crate::music::{at, even_violin, song, strike, words};
use crate::rehearsal::{Score, output, watch};
use polso_engine::patch::{Address, Patch};
use polso_engine::{Input, Layer, Message, Mode};

/// A violin that sends notes only.
fn notes_only() -> Patch {
    let mut patch = even_violin();
    patch.target.output_count = 0;
    patch
}

/// What goes out with keys of this number beside a line, whose notes alone sound as ever.
fn check(sentence: &str, key: u8, passes: bool) {
    let line = Score::new().gesture(0.0, 0.5).note(1.0, 3.0, 72).note(2.9, 4.0, 74);
    let beside = line.clone().message(2.0, strike(key, 101)).off(2.05, key);
    let (alone, _) = watch(&notes_only(), &line, 4.5);
    let (views, sent) = watch(&notes_only(), &beside, 4.5);
    assert_eq!(views == alone, passes, "{sentence}");
    let own = |word: &String| word.contains(&format!(" {key}"));
    let heard: Vec<String> = words(&sent).into_iter().filter(own).collect();
    let untouched = [format!("on {key} 101 @ 2000"), format!("off {key} @ 2050")];
    assert_eq!(heard == untouched, passes, "{sentence}: {heard:?}");
}

#[test]
fn more_than_a_fifth_outside_the_range_a_key_is_another_players() {
    // The violin goes from 55 to 103.
    check("eight below", 47, true);
    check("seven below", 48, false);
    check("seven above", 110, false);
    check("eight above", 111, true);
    check("the lowest", 0, true);
    check("the highest", 127, true);
}

#[test]
fn such_keys_count_for_nothing() {
    // A run of them leaves the pace, the owner, the vibrato, the legato and the tail as they are;
    // one that is held joins nothing and keeps no phrase.
    let mut score = Score::new().gesture(0.0, 0.5).on(0.2, 24).on(1.0, 72);
    for tap in 0..20 {
        let on_s = 1.05 + 0.05 * f64::from(tap);
        score = score.note(on_s, on_s + 0.02, 25);
    }
    let plain = Score::new().gesture(0.0, 0.5).on(1.0, 72).off(3.0, 72).note(4.0, 4.2, 74);
    let score = score.off(3.0, 72).note(4.0, 4.2, 74).off(6.0, 24);
    let (views, _) = watch(&even_violin(), &score, 6.5);
    let (alone, _) = watch(&even_violin(), &plain, 6.5);
    assert!(views == alone);
    assert_eq!(at(&views, 4.1).mode, Mode::Fresh);
}

#[test]
fn such_keys_are_no_breath_gap() {
    // A player's pressure that falls within 30 ms of a note's off is articulation; a keyswitch
    // that comes up is no note. Both hands go to nothing for good at 2 s.
    let mut patch = even_violin();
    patch.hand.source = polso_engine::patch::Source::ChannelPressure;
    let press = |value| Message::ChannelPressure { channel: 0, value };
    let score = Score::new().message(0.0, press(100)).on(1.0, 72);
    let fallen = score.clone().message(2.0, press(0));
    let beside = score.note(1.9, 1.99, 24).message(2.0, press(0));
    let (alone, _) = watch(&patch, &fallen, 3.0);
    let (views, _) = watch(&patch, &beside, 3.0);
    assert!(views == alone);
}

#[test]
fn such_keys_alternate_and_end() {
    let patch = notes_only();
    // Struck twice: the second ends with the second release.
    let score = Score::new().on(1.0, 24).on(1.5, 24).off(1.8, 24).off(2.2, 24);
    let expected = ["on 24 64 @ 1000", "off 24 @ 1500", "on 24 64 @ 1500", "off 24 @ 2200"];
    assert_eq!(words(&watch(&patch, &score, 3.0).1), expected);
    // At a stop the song's end and a hand's stay; a locate and a panic end both.
    let stop = Input::Song { beat: 4.0, tempo_bpm: 120.0, running: false };
    let locate = Input::Locate { beat: 4.0, tempo_bpm: 120.0, running: true };
    for (input, ends) in [
        (stop, vec!["off 24 @ 2000", "off 25 @ 3000"]),
        (locate, vec!["off 24 @ 2000", "off 25 @ 2000"]),
        (Input::Panic, vec!["off 24 @ 2000", "off 25 @ 2000"]),
        (Input::Bypass(true), vec!["off 24 @ 2000", "off 25 @ 2000"]),
    ] {
        let score =
            Score::new().at(0.0, song(0.0)).on(1.0, 24).at(1.1, Input::Live(strike(25, 64)));
        let score = score.at(2.0, input).off(3.0, 25).off(3.0, 24);
        let heard = words(&watch(&patch, &score, 4.0).1);
        let offs: Vec<_> = heard.iter().filter(|word| word.starts_with("off")).collect();
        assert_eq!(offs, ends.iter().collect::<Vec<_>>(), "{input:?}");
    }
}

#[test]
fn a_key_that_the_hand_claims_is_its_own() {
    let mut patch = notes_only();
    patch.hand.articulation_keys[9] = Some(24);
    let score = Score::new().note(1.0, 1.1, 24).note(1.2, 1.3, 25);
    assert_eq!(words(&watch(&patch, &score, 2.0).1), ["on 25 64 @ 1200", "off 25 @ 1300"]);
}

#[test]
fn another_instrument_in_mid_note_leaves_none_of_them_sounding() {
    // A key that was another player's is the new instrument's own, and comes up as it went down.
    let mut engine = polso_engine::Section::prepare(crate::rehearsal::RATE_HZ, &notes_only());
    let mut tape = crate::rehearsal::Tape::default();
    let mut play = |engine: &mut polso_engine::Section, message: Message, frames: u32| {
        let input = Input::Midi(message);
        let event = polso_engine::Timed { frame: 0, tag: 0, input };
        engine.process(frames, &[event], &mut tape);
    };
    play(&mut engine, strike(72, 64), 4800);
    play(&mut engine, strike(40, 64), 4800);
    let mut cello = notes_only();
    (cello.notes.lowest_key, cello.notes.highest_key) = (36, 84);
    engine.load(&cello);
    play(&mut engine, Message::NoteOff { channel: 0, key: 40, velocity: 64 }, 4800);
    play(&mut engine, Message::NoteOff { channel: 0, key: 72, velocity: 64 }, 48_000);
    assert!(!engine.owes_offs(), "{:?}", words(&tape.sent));
}

#[test]
fn pressure_on_such_a_key_is_not_the_players() {
    // The gesture is the pressure on the newest held note: the line's, not the keyswitch's.
    let mut patch = even_violin();
    patch.hand.source = polso_engine::patch::Source::PolyPressure;
    let patch =
        crate::music::only(patch, output(Layer::Gesture, Address::Controller(20), 0.0, 1.0));
    let press = |key, value| Message::PolyPressure { channel: 0, key, value };
    let score = Score::new().on(1.0, 72).message(1.1, press(72, 127)).on(1.2, 24);
    let (views, _) = watch(&patch, &score.message(1.3, press(24, 0)), 2.0);
    assert!(at(&views, 2.0).gesture > 0.99, "{}", at(&views, 2.0).gesture);
}
