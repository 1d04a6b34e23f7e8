//! The order in which a note begins and ends: offs owed, controllers, mode, note, later the rest.

use crate::music::{bare, words};
use crate::rehearsal::{Score, output, watch};
use polso_engine::Layer;
use polso_engine::patch::{Address, ModePatch, Patch, SlidePatch};

/// Everything that goes out from a time on, in words.
fn check(sentence: &str, patch: &Patch, score: &Score, from_s: f64, expected: &[&str]) {
    let end_s = score.timed(1000.0).last().expect("an event").0 as f64 / 1000.0 + 1.0;
    let (_, sent) = watch(patch, score, end_s);
    let sent: Vec<_> =
        sent.into_iter().filter(|sent| crate::music::time_s(sent) >= from_s).collect();
    assert_eq!(words(&sent), expected, "{sentence}");
}

/// A violin that sends notes and modes only; keys 24 to 28 mean fresh, quick, joined, slow, slide.
fn switching(is_held: bool) -> Patch {
    let mut patch = notes_only();
    let keys = [Some(24), Some(25), Some(26), Some(27), Some(28)];
    patch.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held };
    patch
}

/// A violin that sends nothing but its notes, as hard as they are struck, and no tail.
fn notes_only() -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.output_count = 0;
    patch.dynamics.velocity_share = 0.0;
    patch.tail.tail_s = 0.0;
    patch
}

/// A joined slur at half gesture: C5 from 1 s, D5 from 1.5 s, C5 released at `off_s`.
fn slur(off_s: f64) -> Score {
    Score::new().gesture(0.0, 0.5).note(1.0, off_s, 72).note(1.5, 2.5, 74)
}

#[test]
fn a_tapped_keyswitch_comes_before_its_note_and_up_ten_milliseconds_later() {
    let expected = [
        "switch 24 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 24 @ 1010",
        "switch 26 @ 1500",
        "on 74 64 @ 1500",
        "unswitch 26 @ 1510",
        "off 72 @ 1700",
        "off 74 @ 2500",
    ];
    check("tapped", &switching(false), &slur(1.7), 0.0, &expected);
}

#[test]
fn a_held_keyswitch_is_held_until_the_next() {
    let expected = [
        "switch 24 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 24 @ 1500",
        "switch 26 @ 1500",
        "on 74 64 @ 1500",
        "off 72 @ 1700",
        "off 74 @ 2500",
    ];
    check("held", &switching(true), &slur(1.7), 0.0, &expected);
}

#[test]
fn the_mode_is_told_only_when_it_changes() {
    // Two joined slurs in a row, the second without a keyswitch; after a resync it is told again.
    let score = slur(1.7).note(2.0, 3.0, 72);
    let expected = ["on 72 64 @ 2000", "off 74 @ 2500", "off 72 @ 3000"];
    check("the same mode", &switching(false), &score, 1.9, &expected);
    let score = score.at(1.8, polso_engine::Input::Resync);
    let expected = [
        "switch 26 @ 2000",
        "on 72 64 @ 2000",
        "unswitch 26 @ 2010",
        "off 74 @ 2500",
        "off 72 @ 3000",
    ];
    check("after a resync", &switching(false), &score, 1.9, &expected);
}

#[test]
fn the_old_note_ends_as_played_but_not_before_fifteen_milliseconds() {
    let plain = notes_only();
    for (off_s, off) in
        [(1.505, "off 72 @ 1515"), (1.515, "off 72 @ 1515"), (1.52, "off 72 @ 1520")]
    {
        let expected = ["on 74 64 @ 1500", off, "off 74 @ 2500"];
        check(&format!("released at {off_s} s"), &plain, &slur(off_s), 1.4, &expected);
    }
}

#[test]
fn controllers_and_bend_come_before_the_mode_and_the_note() {
    // The hand's first value, the player's bend and the note in one frame.
    // D = 0.06 + 0.94·0.5 = 0.53, −14.1 dB: 127·10^(−14.1/40) = 56.4.
    let mut patch = switching(false);
    patch.target.output_count = 0;
    let mut level = output(Layer::Dynamics, Address::Controller(11), 0.0, 1.0);
    level.reading = polso_engine::patch::Reading::Gm2;
    let patch = crate::music::with(patch, level);
    let patch = crate::music::with(patch, output(Layer::Pitch, Address::PitchBend, -1.0, 1.0));
    let score = Score::new().on(1.0, 72).gesture(1.0, 0.5).message(1.0, crate::music::bend(12_288));
    let score = score.off(1.1, 72);
    let expected = [
        "cc 11 56 @ 1000",
        "bend 12288 @ 1000",
        "switch 24 @ 1000",
        "on 72 64 @ 1000",
        "unswitch 24 @ 1010",
        "off 72 @ 1100",
    ];
    check("one frame", &patch, &score, 0.5, &expected);
}

#[test]
fn an_off_still_owed_to_the_key_goes_first_of_all() {
    // D5 slurred over C5, which is released 10 ms later and waits 25 ms for a join; C5 is struck
    // again 16 ms after its release.
    let mut patch = switching(false);
    patch.legato.join_gap_s = 0.025;
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.5, 72).note(1.49, 2.0, 74);
    let score = score.note(1.516, 2.0, 72);
    let expected = [
        "off 72 @ 1516",
        "switch 25 @ 1516",
        "on 72 64 @ 1516",
        "unswitch 25 @ 1526",
        "off 74 @ 2025",
        "off 72 @ 2025",
    ];
    check("owed", &patch, &score, 1.511, &expected);
}

#[test]
fn a_late_off_never_cuts_a_newer_note_of_its_key() {
    // Struck twice before it is released: the first release pairs with the first strike, whose
    // off went out when the key was struck again.
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).on(1.5, 72).off(1.8, 72).off(2.2, 72);
    let expected = ["on 72 64 @ 1000", "off 72 @ 1500", "on 72 64 @ 1500", "off 72 @ 2200"];
    check("twice struck", &notes_only(), &score, 0.0, &expected);
}

#[test]
fn a_join_gap_makes_every_off_wait() {
    let mut patch = notes_only();
    patch.legato.join_gap_s = 0.030;
    let score = Score::new().gesture(0.0, 0.5).note(1.0, 1.4, 72).note(1.42, 1.8, 74);
    let expected = [
        "on 72 64 @ 1000",
        "on 74 64 @ 1420",
        "off 72 @ 1435", // joined at 1.42, so 15 ms from there
        "off 74 @ 1830",
    ];
    check("30 ms", &patch, &score, 0.0, &expected);
}

#[test]
fn a_held_key_under_a_tapped_one_sounds_again() {
    // C5 stays down under two taps: its note is never ended, and the line goes back to it, until
    // at the second tap's end it is a second old and a drone.
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 72).note(1.5, 1.7, 74).note(1.9, 2.1, 76);
    let score = score.off(3.0, 72);
    let expected = [
        "on 72 64 @ 1000",
        "on 74 64 @ 1500",
        "off 74 @ 1700",
        "on 76 64 @ 1900",
        "off 76 @ 2100",
        "off 72 @ 3000",
    ];
    check("a drone", &notes_only(), &score, 0.0, &expected);
    let (views, _) = watch(&notes_only(), &score, 3.1);
    let keys = [1.2, 1.6, 1.8, 2.0, 2.5, 3.05].map(|at_s| crate::music::at(&views, at_s).key);
    assert_eq!(keys, [Some(72), Some(74), Some(72), Some(76), None, None]);
}

#[test]
fn the_mode_may_be_a_program_or_a_controller() {
    let mut patch = notes_only();
    patch.target.mode = ModePatch::Program([Some(1), Some(2), Some(3), Some(4), Some(5)]);
    let expected = [
        "program 1 @ 1000",
        "on 72 64 @ 1000",
        "program 3 @ 1500",
        "on 74 64 @ 1500",
        "off 72 @ 1700",
        "off 74 @ 2500",
    ];
    check("program", &patch, &slur(1.7), 0.0, &expected);
    // A receiver that only knows joined from the rest: quick has no value of its own.
    let values = [Some(0), None, Some(80), None, None];
    patch.target.mode = ModePatch::Controller { number: 32, values };
    let expected = ["cc 32 80 @ 1500", "on 74 64 @ 1500", "off 72 @ 1700", "off 74 @ 2500"];
    check("controller", &patch, &slur(1.7), 1.4, &expected);
}

#[test]
fn a_slide_is_told_by_portamento() {
    // MIDI 1.0: CC 5 portamento time, CC 65 the switch (127 on, 0 off), CC 84 the source key.
    let mut patch = notes_only();
    patch.target.slide = Some(SlidePatch { time: 70, says_source_key: true });
    let score = Score::new().gesture(0.0, 1.0).note(1.0, 1.6, 72).note(1.5, 2.1, 74);
    let score = score.note(2.0, 2.5, 76).note(2.6, 3.0, 72);
    let expected = [
        "cc 65 0 @ 1000",
        "on 72 64 @ 1000",
        "cc 5 70 @ 1500",
        "cc 65 127 @ 1500",
        "cc 84 72 @ 1500",
        "on 74 64 @ 1500",
        "off 72 @ 1600",
        "cc 84 74 @ 2000", // still sliding: only the source is new
        "on 76 64 @ 2000",
        "off 74 @ 2100",
        "off 76 @ 2500",
        "cc 65 0 @ 2600",
        "on 72 64 @ 2600",
        "off 72 @ 3000",
    ];
    check("portamento", &patch, &score, 0.0, &expected);
}

#[test]
fn events_of_one_frame_have_one_order() {
    // Offs, controllers, bend, pressure, note-ons, however they were written down.
    let pressure = polso_engine::Message::ChannelPressure { channel: 0, value: 9 };
    let score = Score::new().gesture(0.0, 0.5).on(1.0, 72);
    let score = score.on(1.4, 74).message(1.4, pressure).message(1.4, crate::music::bend(9000));
    let score = score.controller(1.4, 7, 90).off(1.4, 72);
    let expected = [
        "on 72 64 @ 1000",
        "off 72 @ 1400",
        "cc 7 90 @ 1400",
        "bend 9000 @ 1400",
        "pressure 9 @ 1400",
        "on 74 64 @ 1400",
    ];
    check("one frame", &notes_only(), &score, 0.0, &expected);
}
