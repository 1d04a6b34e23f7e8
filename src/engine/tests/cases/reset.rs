//! What ends or clears things: reset of all controllers, the pedal, panic, all notes off.

use crate::music::{at, bare, even_violin, said, value_at, words};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::{Address, ModePatch, Patch, Reading, Source};
use polso_engine::reason::Reason;
use polso_engine::{Input, Layer, Message};
use polso_engine::{Mode, Phrase};

/// Everything that goes out between two times, in words.
fn check(sentence: &str, patch: &Patch, score: &Score, span_s: (f64, f64), expected: &[&str]) {
    let (_, sent) = watch(patch, score, span_s.1);
    let within = |sent: &&crate::rehearsal::Sent| crate::music::time_s(sent) >= span_s.0 - 1e-9;
    let sent: Vec<_> = sent.iter().filter(within).copied().collect();
    assert_eq!(words(&sent), expected, "{sentence}");
}

/// A violin that sends its level on CC 7, its expression on CC 11, its send on CC 91 and a bend.
fn whole() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.output_count = 0;
    for (layer, number) in [(Layer::Dynamics, 7), (Layer::Expression, 11)] {
        let mut level = crate::rehearsal::output(layer, Address::Controller(number), 0.0, 1.0);
        (level.reading, level.rest) = (Reading::Gm2, 127);
        patch = crate::music::with(patch, level);
    }
    let mut bend = crate::rehearsal::output(Layer::Pitch, Address::PitchBend, -1.0, 1.0);
    bend.rest = 8192;
    crate::music::with(patch, bend)
}

fn notes_only() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.output_count = 0;
    patch.dynamics.velocity_share = 0.0;
    patch
}

fn half() -> Score {
    Score::new().gesture(0.0, 0.5)
}

#[test]
fn reset_all_controllers_passes_and_what_it_cleared_is_told_again() {
    // RP-015: CC 11 → 127, pressure 0, bend centred, pedals up; 7, 10, 91 and the program stay.
    // The receiver has done so, so the expression and the bend are said again, the level is not.
    let mut patch = whole();
    patch.hand.source = Source::Parameter;
    let score = half().message(0.2, crate::music::bend(12_288)).controller(0.5, 121, 0);
    let expected = ["cc 121 0 @ 500", "cc 11 127 @ 500", "bend 8192 @ 500"];
    check("CC 121", &patch, &score, (0.4, 1.0), &expected);
}

#[test]
fn reset_all_controllers_takes_the_wheel_to_zero_but_not_a_volume_pedal() {
    // RP-015 sets CC 1 to 0 and leaves CC 7 alone.
    for (number, gesture) in [(1, 0.0), (7, 64.0 / 127.0), (11, 1.0), (10, 64.0 / 127.0)] {
        let mut patch = bare("violin", "perform");
        patch.hand.source = Source::Controller(number);
        let score = Score::new().controller(0.5, number, 64).controller(1.0, 121, 0);
        let (views, _) = watch(&patch, &score, 2.0);
        assert!((at(&views, 2.0).gesture - gesture).abs() < 1e-6, "CC {number}");
    }
}

#[test]
fn a_reset_does_not_make_an_unknown_wheel_known() {
    // A song that begins with CC 121: the wheel has not moved, so the note is not dal niente.
    let score = Score::new().controller(0.1, 121, 0).on(1.0, 72);
    let (views, _) = watch(&even_violin(), &score, 2.0);
    assert_eq!((at(&views, 1.0).raw, at(&views, 1.0).expression), (None, 1.0));
    assert_eq!(at(&views, 2.0).expression, 1.0);
}

#[test]
fn reset_all_controllers_takes_every_pressure_to_zero() {
    // RP-015: channel pressure and the pressure of each key to 0, in mid-note.
    for source in [Source::ChannelPressure, Source::PolyPressure, Source::MpePressure] {
        let mut patch = bare("violin", "perform");
        patch.hand.source = source;
        let channel = Message::ChannelPressure { channel: 0, value: 100 };
        let poly = Message::PolyPressure { channel: 0, key: 72, value: 100 };
        let score = Score::new().on(0.5, 72).message(1.0, channel).message(1.0, poly);
        let (views, _) = watch(&patch, &score.controller(2.0, 121, 0), 3.0);
        assert!((at(&views, 1.9).gesture - 100.0 / 127.0).abs() < 1e-6, "{source:?}");
        assert!(at(&views, 3.0).gesture < 1e-6, "{source:?}: {}", at(&views, 3.0).gesture);
    }
}

#[test]
fn reset_all_controllers_ends_a_niente_and_a_pedalled_note() {
    // A niente: the expression is full at once. The hand is still at 0 but has not asked for what
    // comes now, so it falls by 1.5 dB in 10 ms: 4.65 dB in 31 ticks, and to nothing from 48.
    // A pedalled note: the pedal is up, the line rests.
    let score = half().on(1.0, 72).gesture(1.5, 0.0).controller(3.0, 121, 0);
    let (views, _) = watch(&even_violin(), &score, 3.4);
    let db = |at_s: f64| 20.0 * libm::log10(at(&views, at_s).expression);
    assert_eq!((at(&views, 2.99).expression, at(&views, 3.33).expression), (0.0, 0.0));
    assert!((db(3.0) + 0.15).abs() < 1e-9 && (db(3.03) + 4.65).abs() < 1e-9, "{}", db(3.0));
    let score = half().on(1.0, 72).controller(1.2, 64, 127).off(2.0, 72).controller(3.0, 121, 0);
    let (views, _) = watch(&even_violin(), &score, 3.1);
    assert_eq!(at(&views, 2.99).phrase, Phrase::Sounding);
    assert_eq!(at(&views, 3.01).phrase, Phrase::Rest);
}

#[test]
fn a_pedalled_note_sounds_but_is_not_a_held_key() {
    // The pedal passes, the off passes at once, the line still sounds; the next note is fresh.
    let score = half().controller(0.5, 64, 127).note(1.0, 2.5, 72).note(3.0, 4.0, 74);
    let expected = ["cc 64 127 @ 500", "on 72 64 @ 1000", "off 72 @ 2500", "on 74 64 @ 3000"];
    check("pedalled", &notes_only(), &score, (0.4, 3.5), &expected);
    let (views, _) = watch(&even_violin(), &score, 3.5);
    assert_eq!((at(&views, 2.9).phrase, at(&views, 2.9).key), (Phrase::Sounding, Some(72)));
    assert_eq!(at(&views, 2.9).tail_reason, Reason::PedalHolds);
    assert!(at(&views, 2.9).width_cents > 39.0, "and it is vibrated still");
    assert_eq!(
        (at(&views, 3.1).mode, at(&views, 3.1).legato_reason),
        (Mode::Fresh, Reason::NotJoined)
    );
}

#[test]
fn a_switch_is_down_from_sixty_four_on() {
    // MIDI 1.0: 0–63 off, 64–127 on.
    for (value, phrase) in [(63, Phrase::Rest), (64, Phrase::Sounding)] {
        let score = half().controller(0.5, 64, value).note(1.0, 1.3, 72);
        let (views, _) = watch(&even_violin(), &score, 2.0);
        assert_eq!(at(&views, 2.0).phrase, phrase, "pedal at {value}");
        // And half up again: 63 lets go.
        let score = half().controller(0.5, 64, 127).note(1.0, 1.3, 72).controller(1.5, 64, value);
        let (views, _) = watch(&even_violin(), &score, 2.0);
        assert_eq!(at(&views, 2.0).phrase, phrase, "pedal back to {value}");
    }
}

#[test]
fn a_pedal_that_lifts_under_a_held_key_ends_nothing() {
    let score = half().controller(0.5, 64, 127).on(1.0, 72).controller(2.0, 64, 0).off(3.0, 72);
    let expected = ["cc 64 0 @ 2000", "off 72 @ 3260"];
    check("held", &notes_only(), &score, (1.5, 3.5), &expected);
}

#[test]
fn panic_ends_every_key_and_keyswitch_and_puts_all_at_rest() {
    let mut patch = whole();
    let keys = [Some(24), Some(25), Some(26), Some(27), Some(28)];
    patch.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held: true };
    let score = Score::new().wheel(0.0, 60).on(0.2, 72).on(0.3, 76);
    let score = score.at(0.35, Input::Panic).wheel(0.5, 100);
    let expected = [
        "off 72 @ 350",
        "off 76 @ 350",
        "unswitch 25 @ 350",
        "cc 7 127 @ 350",
        "cc 11 127 @ 350",
        "bend 8192 @ 350",
    ];
    check("panic", &patch, &score, (0.34, 1.5), &expected);
    // What was released stays released, and the next note brings everything back.
    let after = score.off(2.0, 76).on(2.5, 74);
    let (views, sent) = watch(&patch, &after, 2.6);
    assert_eq!(at(&views, 2.55).phrase, Phrase::Sounding);
    assert_eq!(at(&views, 2.55).mode, Mode::Fresh);
    let last = words(&sent).into_iter().filter(|word| word.ends_with("@ 2500")).collect::<Vec<_>>();
    // D = 0.06 + 0.94·100/127 = 0.80016, −5.9953 dB: 127·10^(−5.9953/40) = 89.9.
    assert_eq!(last[..2], ["cc 7 90 @ 2500", "switch 24 @ 2500"]);
    assert!(!words(&sent).iter().any(|word| word == "off 76 @ 2000"));
}

#[test]
fn all_sound_off_and_all_notes_off_are_panics_that_pass() {
    for number in [120, 123] {
        let score = half().on(0.2, 72).controller(0.3, number, 0);
        let (_, sent) = watch(&whole(), &score, 1.0);
        let words: Vec<_> =
            words(&sent).into_iter().filter(|word| word.ends_with("@ 300")).collect();
        assert!(words.contains(&"off 72 @ 300".to_string()), "{words:?}");
        assert!(words.contains(&format!("cc {number} 0 @ 300")), "{words:?}");
    }
}

#[test]
fn other_messages_pass_and_an_address_used_by_someone_else_is_said_again() {
    let score = half().on(1.0, 72).controller(1.1, 10, 30).controller(1.12, 7, 5);
    let (_, sent) = watch(&whole(), &score, 1.125);
    assert_eq!(said(&sent, 10), [(1.1, 30)]);
    // D = 0.53 of 30 dB: 56. Someone's 5 stands for no longer than it takes the level to look.
    let level = said(&sent, 7);
    assert_eq!(level[level.len() - 2..].iter().map(|said| said.1).collect::<Vec<_>>(), [5, 56]);
    assert_eq!(value_at(&level, 1.125), Some(56));
}

/// What the pedal holds is no silence: a run under it is a run, and no row of phrase starts.
#[test]
fn a_run_under_the_pedal_is_one_phrase() {
    let reason = |pedal: u8| {
        let score = half().controller(0.5, 64, pedal);
        let score = crate::music::run(score, 1.0, 0.1, 0.05, &[72; 16]);
        let (views, _) = watch(&crate::music::even_violin(), &score, 2.6);
        crate::music::at(&views, 2.52).vibrato_reason
    };
    assert_eq!((reason(0), reason(127)), (Reason::FastRun, Reason::FastRun));
}
