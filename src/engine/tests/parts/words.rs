//! Names and sentences that stand in tables, files and windows, and what is to be looked at.

use polso_engine::patch::Address;
use polso_engine::{Layer, Mode, Phrase, Reason, Section};

use crate::rehearsal::{RATE_HZ, Score, patch, perform_on};

#[test]
fn a_phrase_and_a_mode_have_stable_names() {
    let phrases = [Phrase::Rest, Phrase::Sounding, Phrase::Tail].map(Phrase::name);
    assert_eq!(phrases, ["rest", "sounding", "tail"]);
    let modes = Mode::ALL.map(Mode::name);
    assert_eq!(modes, ["fresh", "quick", "joined", "slow", "slide"]);
}

#[test]
fn every_reason_has_a_stable_code_and_a_sentence_of_its_own() {
    let codes = [
        "rest",
        "vibrato-sounds",
        "note-too-young",
        "fast-run",
        "trill",
        "forced-open",
        "open-string",
        "style-is-plain",
        "double-stop-on-open-string",
        "not-joined",
        "chord",
        "zone",
        "too-fast",
        "same-key",
        "too-wide",
        "no-common-string",
        "open-end",
        "hand-too-fast",
        "long-last-note",
        "short-last-note",
        "pedal-holds",
        "gesture-unknown",
        "output-frozen",
        "wish-no-vibrato",
        "wish-open",
        "wish-no-open-string",
        "wish-slide",
        "wish-no-slide",
        "wish-mode",
        "loudest-already",
        "softest-already",
        "niente",
        "grace",
        "plucked",
        "plucked-end",
        "drone-under-end",
        "drone-end",
        "drone-alone",
        "by-bend",
        "by-portamento",
        "receiver-joins",
        "no-transition",
        "quick-over-strings",
        "quick-beyond-slide",
        "quick-jump",
        "wider-than-bend",
        "scoop",
        "others-sound",
        "may-be-drone",
        "join-ended",
        "struck-again",
        "voices-share-bend",
        "went-on",
    ];
    assert_eq!(Reason::ALL.map(Reason::code), codes);
    let mut sentences: Vec<_> = Reason::ALL.iter().map(|reason| reason.sentence()).collect();
    assert!(sentences.iter().all(|it| it.ends_with('.') && it.len() > 12));
    sentences.sort_unstable();
    sentences.dedup();
    assert_eq!(sentences.len(), Reason::ALL.len());
    assert_eq!(Reason::TooFast.sentence(), "Quick legato: it is a run, faster than 0.16 s a note.");
}

#[test]
fn an_address_takes_seven_or_fourteen_bits() {
    for (address, highest) in [
        (Address::Controller(1), 127),
        (Address::ChannelPressure, 127),
        (Address::PolyPressure, 127),
        (Address::Program, 127),
        (Address::Velocity, 127),
        (Address::ControllerPair(1), 16_383),
        (Address::PitchBend, 16_383),
        (Address::Registered(2), 16_383),
        (Address::NonRegistered(2), 16_383),
    ] {
        assert_eq!(address.raw_max(), highest, "{address:?}");
    }
    assert_eq!(Layer::OUTPUTS.len(), 13);
}

#[test]
fn a_view_moves_while_a_note_sounds_or_anything_but_the_clock_differs() {
    let mut engine = Section::prepare(RATE_HZ, &patch("erhu", "generic"));
    perform_on(&mut engine, RATE_HZ, &[480], &Score::new().wheel(0.0, 60), 1.0);
    let before = engine.view();
    perform_on(&mut engine, RATE_HZ, &[480], &Score::new(), 1.0);
    let after = engine.view();
    assert!(after.time_s > before.time_s);
    assert!(!after.moves_after(&before), "only the clock has gone on");
    perform_on(&mut engine, RATE_HZ, &[480], &Score::new().wheel(0.0, 70), 0.1);
    let moved = engine.view();
    assert!(moved.moves_after(&after) && moved.key.is_none());
    perform_on(&mut engine, RATE_HZ, &[480], &Score::new().on(0.0, 70), 0.1);
    let sounds = engine.view();
    assert!(sounds.moves_after(&sounds));
}
