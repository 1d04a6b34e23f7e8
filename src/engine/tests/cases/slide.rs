//! When the finger slides, when it cannot, and the reason it gives.

use crate::music::{at, bare};
use crate::rehearsal::{Score, watch};
use polso_engine::Mode;
use polso_engine::patch::{OpenPolicy, Patch};
use polso_engine::reason::Reason;

/// A slur under the whole gesture, which wants a slide: the mode and the reason it gets.
fn check(sentence: &str, patch: &Patch, ioi_s: f64, keys: [u8; 2], mode: Mode, reason: Reason) {
    let score = Score::new().gesture(0.0, 1.0).on(2.0 - ioi_s, keys[0]).on(2.0, keys[1]);
    let (views, _) = watch(patch, &score, 2.01);
    let view = at(&views, 2.001);
    assert_eq!((view.mode, view.legato_reason), (mode, reason), "{sentence}");
}

/// Violin: G3 D4 A4 E5, spans 12 12 14 27, open G forced, slides up to an octave.
fn violin() -> Patch {
    bare("violin", "perform")
}

#[test]
fn a_slide_needs_one_string_for_both_notes() {
    use Mode::{Slide, Slow};
    use Reason::{NoCommonString, Zone};
    check("C5 to D5 on the A string", &violin(), 1.0, [72, 74], Slide, Zone);
    check("and down", &violin(), 1.0, [74, 72], Slide, Zone);
    check("A3 to G4 on the G string", &violin(), 1.0, [57, 67], Slide, Zone);
    // The G string ends at G4 (55 + 12), the D string begins above D4 (62).
    check("A3 to G sharp 4", &violin(), 1.0, [57, 68], Slow, NoCommonString);
    check("D sharp 4 to A sharp 4 on the D string", &violin(), 1.0, [63, 70], Slide, Zone);
    check("D4 stopped on G to A flat 4", &violin(), 1.0, [62, 68], Slow, NoCommonString);
    check("E6 to D7 high on the E string", &violin(), 1.0, [88, 98], Slide, Zone);
}

#[test]
fn an_open_pitch_slides_only_where_policy_lets_it_ring() {
    // D4 to D5 under `stopped`: D4 is on the G string, which ends at G4. Under `open` both are on
    // the D string, 0 and 12 semitones up. (2.0 m/s · 0.12 s = 0.24 m; the way is 0.164 m.)
    let [mut open, mut auto] = [violin(), violin()];
    open.strings.policy = OpenPolicy::Open;
    auto.strings.policy = OpenPolicy::Auto;
    check("stopped", &violin(), 1.0, [62, 74], Mode::Slow, Reason::NoCommonString);
    check("open", &open, 1.0, [62, 74], Mode::Slide, Reason::Zone);
    // `auto` leaves it open only at a pace below 0.25 s: here 0.5 + 0.4·0.5 = 0.7.
    check("auto, slow", &auto, 1.0, [62, 74], Mode::Slow, Reason::NoCommonString);
}

#[test]
fn a_forced_open_end_never_slides() {
    check("from it", &violin(), 1.0, [55, 60], Mode::Slow, Reason::OpenEnd);
    check("to it", &violin(), 1.0, [60, 55], Mode::Slow, Reason::OpenEnd);
    let erhu = bare("erhu", "perform");
    check("erhu from open D", &erhu, 1.0, [62, 67], Mode::Slow, Reason::OpenEnd);
    check("erhu over it", &erhu, 1.0, [64, 67], Mode::Slide, Reason::Zone);
}

#[test]
fn a_slide_is_no_wider_than_the_instruments_widest() {
    // Violin an octave; dizi three semitones.
    check("an octave", &violin(), 1.0, [77, 89], Mode::Slide, Reason::Zone);
    check("a ninth", &violin(), 1.0, [77, 90], Mode::Slow, Reason::TooWide);
    check("a ninth down", &violin(), 1.0, [90, 77], Mode::Slow, Reason::TooWide);
    let dizi = bare("dizi-d", "perform");
    check("three semitones", &dizi, 1.0, [74, 77], Mode::Slide, Reason::Zone);
    check("four semitones", &dizi, 1.0, [74, 78], Mode::Slow, Reason::TooWide);
}

#[test]
fn haste_takes_a_single_fast_slur_out_of_the_slides_zone() {
    // One fast slur is no run: the zones decide. 1 − 0.35·(0.131/0.15) = 0.69433 is slow, and so
    // is 0.66 after 0.05 s, where haste takes all of its 0.35: 1 + 0.01 − 0.35.
    let violin = violin();
    check("0.119 s", &violin, 0.119, [72, 74], Mode::Slow, Reason::Zone);
    check("0.05 s", &violin, 0.05, [72, 75], Mode::Slow, Reason::Zone);
    // 1 − 0.35·(0.13/0.15) = 0.69667.
    check("0.12 s", &violin, 0.12, [72, 74], Mode::Slow, Reason::Zone);
    // 1 − 0.35·((0.25 − 0.21)/0.15) = 0.90667 slides again.
    check("0.21 s", &violin, 0.21, [72, 74], Mode::Slide, Reason::Zone);
}

#[test]
fn the_hand_goes_no_faster_than_two_metres_a_second() {
    // A cello's string of 0.69 m: in 0.12 s the hand goes 0.24 m at most. From one semitone up
    // the string to eight it is 0.69·(2^(−1/12) − 2^(−8/12)) = 0.2166 m, to nine
    // 0.69·(0.94387 − 0.59460) = 0.2410 m. Higher up the same eight semitones are shorter:
    // 0.69·(2^(−5/12) − 2^(−13/12)) = 0.1913 m.
    let mut cello = violin();
    for string in &mut cello.strings.strings[..4] {
        string.open_key -= 19;
        string.length_m = 0.69;
    }
    cello.strings.forced_open_keys = 1 << 36;
    check("seven semitones", &cello, 1.0, [51, 58], Mode::Slide, Reason::Zone);
    check("eight semitones", &cello, 1.0, [51, 59], Mode::Slow, Reason::HandTooFast);
    check("eight down", &cello, 1.0, [59, 51], Mode::Slow, Reason::HandTooFast);
    check("eight higher up", &cello, 1.0, [55, 63], Mode::Slide, Reason::Zone);
    // A slower slide, 0.13 s, leaves 0.26 m.
    cello.legato.slide_s = 0.13;
    check("a slower slide", &cello, 1.0, [51, 59], Mode::Slide, Reason::Zone);
}

#[test]
fn every_reason_against_a_slide_is_a_sentence() {
    for (reason, sentence) in [
        (Reason::TooFast, "Quick legato: it is a run, faster than 0.16 s a note."),
        (Reason::TooWide, "Slow legato instead of a slide: the interval is too wide."),
        (Reason::NoCommonString, "Slow legato instead of a slide: no string carries both notes."),
        (Reason::OpenEnd, "Slow legato instead of a slide: one note is on an open string."),
        (
            Reason::HandTooFast,
            "Slow legato instead of a slide: the hand would have to move faster than 2 m/s.",
        ),
    ] {
        assert_eq!(reason.sentence(), sentence);
    }
}
