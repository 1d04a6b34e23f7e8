//! Articulations: chosen by keys that never sound, told before the note, and again whenever forgotten.

use crate::music::{bare, strike, words};
use crate::rehearsal::{RATE_HZ, Score, Tape, watch};
use polso_engine::Section;
use polso_engine::patch::{
    ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, LEGATO, ModePatch, Patch,
};
use polso_engine::{Input, Message, Timed};

/// Everything that goes out from a time on, in words.
fn check(sentence: &str, patch: &Patch, score: &Score, from_s: f64, expected: &[&str]) {
    let end_s = score.timed(1000.0).last().expect("an event").0 as f64 / 1000.0 + 1.0;
    let (_, sent) = watch(patch, score, end_s);
    let sent: Vec<_> =
        sent.into_iter().filter(|sent| crate::music::time_s(sent) >= from_s).collect();
    assert_eq!(words(&sent), expected, "{sentence}");
}

/// The first names of the common list, each at its place.
const NAMES: [&str; 10] = [
    "legato",
    "detached",
    "tenuto",
    "staccato",
    "marcato",
    "harmonics",
    "muted",
    "spiccato",
    "tremolo",
    "pizzicato",
];

fn named(name: &str) -> u8 {
    NAMES.iter().position(|own| *own == name).expect("a name") as u8
}

/// A violin that sends notes, as hard as they are struck, and no tail.
fn notes_only() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.output_count = 0;
    patch.dynamics.velocity_share = 0.0;
    patch.tail.tail_s = 0.0;
    patch
}

/// A choice's values: legato 30, staccato 31, pizzicato 32.
fn values() -> [Option<u8>; ARTICULATIONS_MAX] {
    let mut values = [None; ARTICULATIONS_MAX];
    for (name, value) in [("legato", 30), ("staccato", 31), ("pizzicato", 32)] {
        values[usize::from(named(name))] = Some(value);
    }
    values
}

fn told(choice: ChoicePatch<ARTICULATIONS_MAX>) -> Patch {
    let mut patch = notes_only();
    patch.target.articulation = ArticulationPatch { choice, usual: LEGATO };
    patch
}

fn by_keys(is_held: bool) -> Patch {
    told(ChoicePatch::Keyswitch { keys: values(), velocity: 100, is_held })
}

/// The hand's key 12 is legato, 13 staccato, 14 pizzicato.
fn with_keys(mut patch: Patch) -> Patch {
    for (name, key) in [("legato", 12), ("staccato", 13), ("pizzicato", 14)] {
        patch.hand.articulation_keys[usize::from(named(name))] = Some(key);
    }
    patch
}

fn choose(score: Score, seconds: f64, name: &str) -> Score {
    score.at(seconds, Input::Articulation(named(name)))
}

/// Two notes, detached: from 1 and from 2 s.
fn two() -> Score {
    Score::new().gesture(0.0, 0.5).note(1.0, 1.2, 72).note(2.0, 2.2, 74)
}

#[test]
fn an_articulation_is_told_before_its_note_and_only_when_it_is_news() {
    let score = choose(choose(two(), 1.5, "pizzicato"), 1.6, "pizzicato").note(3.0, 3.2, 72);
    let expected = [
        "switch 30 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 30 @ 1010",
        "off 72 @ 1200",
        "switch 32 @ 2000",
        "on 74 64 @ 2000",
        "unswitch 32 @ 2010",
        "off 74 @ 2200",
        "on 72 64 @ 3000",
        "off 72 @ 3200",
    ];
    check("tapped", &by_keys(false), &score, 0.0, &expected);
    let expected = ["unswitch 30 @ 2000", "switch 32 @ 2000", "on 74 64 @ 2000", "off 74 @ 2200"];
    check("held", &by_keys(true), &choose(two(), 1.5, "pizzicato"), 1.5, &expected);
    let program = told(ChoicePatch::Program(values()));
    let expected = ["program 31 @ 2000", "on 74 64 @ 2000", "off 74 @ 2200"];
    check("program", &program, &choose(two(), 1.5, "staccato"), 1.5, &expected);
    let controller = told(ChoicePatch::Controller { number: 32, values: values() });
    let expected = ["cc 32 31 @ 2000", "on 74 64 @ 2000", "off 74 @ 2200"];
    check("controller", &controller, &choose(two(), 1.5, "staccato"), 1.5, &expected);
}

#[test]
fn an_articulation_that_the_receiver_lacks_is_played_as_the_usual_one() {
    let score = choose(choose(two(), 1.5, "tremolo"), 0.5, "pizzicato");
    let expected = [
        "switch 32 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 32 @ 1010",
        "off 72 @ 1200",
        "switch 30 @ 2000",
        "on 74 64 @ 2000",
        "unswitch 30 @ 2010",
        "off 74 @ 2200",
    ];
    check("no tremolo", &by_keys(false), &score, 0.0, &expected);
    // Beyond the list there is nothing to choose.
    let score = two().at(1.5, Input::Articulation(ARTICULATIONS_MAX as u8));
    check("beyond", &by_keys(false), &score, 1.5, &["on 74 64 @ 2000", "off 74 @ 2200"]);
    // A receiver that is told none hears none.
    let expected = ["on 74 64 @ 2000", "off 74 @ 2200"];
    check("silent", &notes_only(), &choose(two(), 1.5, "pizzicato"), 1.5, &expected);
}

#[test]
fn a_key_that_chooses_never_sounds_and_holds_from_its_own_moment_on() {
    let patch = with_keys(by_keys(false));
    let expected = ["switch 32 @ 2000", "on 74 64 @ 2000", "unswitch 32 @ 2010", "off 74 @ 2200"];
    check("before the note", &patch, &two().note(1.5, 1.6, 14), 1.5, &expected);
    check("over the note", &patch, &two().note(1.5, 2.1, 14), 1.5, &expected);
    let live = two().at(1.5, Input::Live(strike(14, 64))).off(1.6, 14);
    check("by a live hand", &patch, &live, 1.5, &expected);
    // At the note's own frame, though it was written down after it.
    check("with the note", &patch, &two().note(2.0, 2.1, 14), 1.5, &expected);
    // During a note it waits for the next one; nothing ends, joins or counts.
    let score = two().note(1.1, 1.15, 13).note(1.15, 1.16, 14);
    let (views, _) = watch(&patch, &score, 3.0);
    assert_eq!(crate::music::at(&views, 1.18).key, Some(72));
    assert_eq!(crate::music::at(&views, 2.1).mode, polso_engine::Mode::Fresh);
    check("during a note", &patch, &score, 1.9, &expected);
}

#[test]
fn a_mode_by_keys_comes_after_the_articulation_and_under_legato_only() {
    let mut patch = by_keys(false);
    let keys = [Some(24), Some(25), Some(26), Some(27), Some(28)];
    patch.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held: false };
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.7, 72).note(1.5, 2.2, 74);
    let score = choose(score.note(2.1, 2.5, 76).note(2.4, 2.9, 74), 2.0, "pizzicato");
    let score = choose(score, 2.95, "legato").note(3.0, 3.2, 72);
    let expected = [
        "switch 30 @ 1000",
        "unswitch 30 @ 1000",
        "switch 24 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 24 @ 1010",
        "switch 26 @ 1500",
        "on 74 64 @ 1500",
        "unswitch 26 @ 1510",
        "off 72 @ 1700",
        "switch 32 @ 2100",
        "on 76 64 @ 2100",
        "unswitch 32 @ 2110",
        "off 74 @ 2200",
        "on 74 64 @ 2400",
        "off 76 @ 2500",
        "off 74 @ 2900",
        "switch 30 @ 3000",
        "unswitch 30 @ 3000",
        "switch 24 @ 3000",
        "on 72 64 @ 3000",
        "unswitch 24 @ 3010",
        "off 72 @ 3200",
    ];
    check("one way for both", &patch, &score, 0.0, &expected);
    // A mode that goes another way does not disturb it, and is told as ever.
    let values = [Some(0), Some(20), Some(40), Some(60), Some(80)];
    patch.target.mode = ModePatch::Controller { number: 20, values };
    let expected = [
        "switch 31 @ 2100",
        "cc 20 40 @ 2100",
        "on 76 64 @ 2100",
        "unswitch 31 @ 2110",
        "off 74 @ 2200",
    ];
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 2.2, 74).note(2.1, 2.5, 76);
    let (_, sent) = watch(&patch, &choose(score, 2.0, "staccato"), 2.3);
    let sent: Vec<_> = sent.into_iter().filter(|sent| crate::music::time_s(sent) >= 1.5).collect();
    assert_eq!(words(&sent), expected);
}

#[test]
fn keys_of_one_receiver_are_struck_once_and_held_until_the_next() {
    let mut patch = by_keys(false);
    // A mode that is the articulation's own key is told by it.
    patch.target.mode = ModePatch::Keyswitch {
        keys: [Some(30), None, Some(30), Some(27), None],
        velocity: 100,
        is_held: false,
    };
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.7, 72).note(1.5, 2.2, 74);
    let expected = [
        "switch 30 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 30 @ 1010",
        "on 74 64 @ 1500",
        "off 72 @ 1700",
        "off 74 @ 2200",
    ];
    check("one key for both", &patch, &score, 0.0, &expected);
    // Held keys of one receiver: each is held until the next, whichever it is.
    let mut held = by_keys(true);
    let keys = [Some(30), None, Some(26), Some(27), None];
    held.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held: true };
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.7, 72).note(1.5, 2.2, 74);
    let score = choose(score, 2.5, "pizzicato").note(3.0, 3.2, 72);
    let expected = [
        "switch 30 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 30 @ 1500",
        "switch 26 @ 1500",
        "on 74 64 @ 1500",
        "off 72 @ 1700",
        "off 74 @ 2200",
        "unswitch 26 @ 3000",
        "switch 32 @ 3000",
        "on 72 64 @ 3000",
        "off 72 @ 3200",
    ];
    check("held keys", &held, &score, 0.0, &expected);
}

#[test]
fn an_articulation_is_told_again_whenever_the_receiver_may_have_forgotten() {
    let again = ["switch 32 @ 2000", "on 74 64 @ 2000", "unswitch 32 @ 2010", "off 74 @ 2200"];
    let score = |input: Input| choose(two(), 0.5, "pizzicato").at(1.5, input);
    let locate = Input::Locate { beat: 8.0, tempo_bpm: 120.0, running: true };
    for (name, input) in [("resync", Input::Resync), ("locate", locate), ("panic", Input::Panic)] {
        let (_, sent) = watch(&by_keys(false), &score(input), 3.0);
        let sent: Vec<_> = sent.into_iter().filter(|it| crate::music::time_s(it) >= 1.99).collect();
        assert_eq!(words(&sent), again, "{name}");
    }
    // A change of sound during a note: 50 ms later.
    let program = Message::Program { channel: 0, program: 4 };
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).message(1.5, program).off(2.0, 72);
    let expected = ["program 4 @ 1500", "switch 32 @ 1550", "unswitch 32 @ 1560", "off 72 @ 2000"];
    check("sound", &by_keys(false), &choose(score, 0.5, "pizzicato"), 1.4, &expected);
    // A held one is let go at a stop, and struck again.
    let stop = Input::Song { beat: 2.0, tempo_bpm: 120.0, running: false };
    let score = choose(two(), 0.5, "pizzicato").at(0.0, crate::music::song(0.0)).at(1.5, stop);
    let expected = ["unswitch 32 @ 1500", "switch 32 @ 2000", "on 74 64 @ 2000", "off 74 @ 2200"];
    check("stop", &by_keys(true), &score, 1.4, &expected);
}

#[test]
fn what_was_chosen_outlives_reset_other_files_and_standing_aside() {
    let mut engine = Section::prepare(RATE_HZ, &by_keys(false));
    let mut tape = Tape::default();
    let mut play = |engine: &mut Section, input: Input| {
        engine.process(64, &[Timed { frame: 0, tag: 0, input }], &mut tape);
    };
    assert_eq!((engine.articulation(), engine.view().articulation), (None, Some(LEGATO)));
    play(&mut engine, Input::Articulation(named("pizzicato")));
    let chosen = (Some(named("pizzicato")), Some(named("pizzicato")));
    assert_eq!((engine.articulation(), engine.view().articulation), chosen);
    engine.reset();
    engine.load(&by_keys(true));
    engine.retime(44_100.0);
    play(&mut engine, Input::Bypass(true));
    play(&mut engine, Input::Bypass(false));
    play(&mut engine, Input::Panic);
    play(&mut engine, Input::Midi(strike(72, 64)));
    engine.load(&by_keys(false));
    assert_eq!((engine.articulation(), engine.view().articulation), chosen);
    engine.load(&notes_only());
    assert_eq!((engine.articulation(), engine.view().articulation), (chosen.0, None));
    play(&mut engine, Input::Bypass(true));
    play(&mut engine, Input::Articulation(named("staccato")));
    assert_eq!(engine.articulation(), Some(named("staccato")));
}

#[test]
fn a_note_that_began_before_its_key_chose_something_still_ends() {
    let mut engine = Section::prepare(RATE_HZ, &by_keys(false));
    let mut tape = Tape::default();
    let mut play = |engine: &mut Section, message: Message| {
        let input = Input::Midi(message);
        engine.process(64, &[Timed { frame: 0, tag: 0, input }], &mut tape);
    };
    play(&mut engine, strike(14, 64));
    engine.load(&with_keys(by_keys(false)));
    play(&mut engine, Message::NoteOff { channel: 0, key: 14, velocity: 64 });
    engine.process(48_000, &[], &mut tape);
    assert!(!engine.owes_offs(), "{:?}", words(&tape.sent));
}
