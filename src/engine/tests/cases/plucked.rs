//! Plucked and struck notes: they ring by themselves, so nothing joins, waits or is drawn out.

use crate::music::{at, even_violin, words};
use crate::rehearsal::{Score, watch};
use polso_engine::Input;
use polso_engine::Mode;
use polso_engine::patch::{ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, Patch};
use polso_engine::reason::Reason;

/// Places of the common list.
const LEGATO: u8 = 0;
const STACCATO: u8 = 3;
const SPICCATO: u8 = 7;
const TREMOLO: u8 = 8;
const PIZZICATO: u8 = 9;
const COL_LEGNO: u8 = 10;
const SUL_PONTICELLO: u8 = 11;

/// How the second of two overlapping notes begins under an articulation, and why the last off
/// waits or does not.
fn check(sentence: &str, patch: &Patch, articulation: u8, is_plucked: bool) {
    let score = slur().at(0.5, Input::Articulation(articulation));
    let (views, sent) = watch(patch, &score, 5.0);
    let view = at(&views, 2.01);
    let (begin, end, off) = match is_plucked {
        true => ((Mode::Fresh, Reason::Plucked), Reason::PluckedEnd, "off 74 @ 4000"),
        false => ((Mode::Joined, Reason::Zone), Reason::LongLastNote, "off 74 @ 4260"),
    };
    assert_eq!((view.mode, view.legato_reason), begin, "{sentence}");
    assert_eq!(at(&views, 4.1).tail_reason, end, "{sentence}");
    assert_eq!(words(&sent).last().map(String::as_str), Some(off), "{sentence}");
}

/// Two notes that overlap, at half gesture.
fn slur() -> Score {
    Score::new().gesture(0.0, 0.5).note(1.0, 2.1, 72).note(2.0, 4.0, 74)
}

/// A violin that sends its notes and articulations; no receiver tells of vibrato.
fn silent() -> Patch {
    let mut patch = even_violin();
    patch.target.output_count = 0;
    patch
}

fn told(known: &[u8], usual: u8) -> Patch {
    let mut patch = silent();
    let mut values = [None; ARTICULATIONS_MAX];
    for &place in known {
        values[usize::from(place)] = Some(place);
    }
    let choice = ChoicePatch::Controller { number: 32, values };
    patch.target.articulation = ArticulationPatch { choice, usual };
    patch
}

#[test]
fn pizzicato_and_col_legno_neither_join_nor_fade() {
    for (name, place, is_plucked) in [
        ("legato", LEGATO, false),
        ("staccato", STACCATO, false),
        ("spiccato", SPICCATO, false),
        ("tremolo", TREMOLO, false),
        ("pizzicato", PIZZICATO, true),
        ("col legno", COL_LEGNO, true),
        ("sul ponticello", SUL_PONTICELLO, false),
    ] {
        // A receiver that is told none may play what was chosen all the same.
        check(name, &silent(), place, is_plucked);
        check(name, &told(&[LEGATO, place], LEGATO), place, is_plucked);
    }
}

#[test]
fn what_the_receiver_plays_counts_not_what_was_asked_for() {
    check("it has no pizzicato", &told(&[LEGATO, STACCATO], LEGATO), PIZZICATO, false);
    check("it has nothing else", &told(&[PIZZICATO], PIZZICATO), STACCATO, true);
}

#[test]
fn the_vibrato_of_a_plucked_note_begins_with_it() {
    // Growth of 0.3 s from the note-on: half of 40 cents after 0.15 s, all after 0.3 s.
    let score = Score::new().gesture(0.0, 0.5).at(0.5, Input::Articulation(PIZZICATO)).on(1.0, 72);
    let (views, _) = watch(&even_violin(), &score, 2.0);
    assert_eq!(at(&views, 1.0).width_cents, 0.0);
    for (at_s, cents) in [(1.15, 20.0), (1.3, 40.0), (1.8, 40.0)] {
        let width = at(&views, at_s).width_cents;
        assert!((width - cents).abs() < 0.5, "{width} at {at_s} s");
    }
    // Where the style has none there is none, and an open string has none.
    let plain = Score::new().gesture(0.0, 0.05).at(0.5, Input::Articulation(PIZZICATO));
    let (views, _) = watch(&even_violin(), &plain.on(1.0, 72), 2.0);
    assert_eq!(at(&views, 1.8).vibrato_reason, Reason::StyleIsPlain);
    let open = Score::new().gesture(0.0, 0.5).at(0.5, Input::Articulation(PIZZICATO));
    let (views, _) = watch(&even_violin(), &open.on(1.0, 55), 2.0);
    assert_eq!(at(&views, 1.8).width_cents, 0.0);
}

#[test]
fn an_articulation_holds_for_the_notes_that_begin_under_it() {
    // Bowed under legato, and pizzicato is chosen before it ends: its end is drawn out.
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 3.0, 72);
    let score = score.at(2.0, Input::Articulation(PIZZICATO));
    let (_, sent) = watch(&silent(), &score, 4.0);
    assert_eq!(words(&sent).last().map(String::as_str), Some("off 72 @ 3260"));
    // Plucked, and arco is chosen: it is not.
    let score = score.at(0.5, Input::Articulation(PIZZICATO));
    let score = score.at(2.5, Input::Articulation(LEGATO));
    let (_, sent) = watch(&silent(), &score, 4.0);
    assert_eq!(words(&sent).last().map(String::as_str), Some("off 72 @ 3000"));
}

#[test]
fn a_plucked_note_leaves_the_one_before_it_alone() {
    // Its off passes as played, 5 ms after the next began; a join would keep it for 15 ms.
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 2.005, 72).note(2.0, 4.0, 74);
    for (articulation, off) in [(PIZZICATO, "off 72 @ 2005"), (LEGATO, "off 72 @ 2015")] {
        let score = score.clone().at(0.5, Input::Articulation(articulation));
        let sent = words(&watch(&silent(), &score, 5.0).1);
        assert!(sent.iter().any(|word| word == off), "{sent:?}");
    }
}

#[test]
fn a_plucked_chord_is_a_chord() {
    let score = Score::new().gesture(0.0, 0.5).at(0.5, Input::Articulation(PIZZICATO));
    let (views, _) = watch(&silent(), &score.on(1.0, 72).on(1.02, 76), 1.1);
    assert_eq!(at(&views, 1.05).legato_reason, Reason::Chord);
}
