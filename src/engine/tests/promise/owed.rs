//! The corners where an off could get lost, one by one.

use polso_engine::Section;
use polso_engine::input::message::BEND_CENTRE;
use polso_engine::patch::Patch;
use polso_engine::{Input, Message, Origin, Sink, Timed};

use super::improvised::{Die, improvise};
use super::notes::sounding;
use super::receivers;
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, patch, perform, perform_on};

/// What the notes do: `+60` and `-60`, with their milliseconds.
fn strokes(sent: &[Sent]) -> Vec<(u64, i32)> {
    let stroke = |sent: &Sent| {
        let ms = (sent.frame as f64 / RATE_HZ * 1000.0).round() as u64;
        match sent.message {
            Message::NoteOn { key, .. } => Some((ms, i32::from(key))),
            Message::NoteOff { key, .. } => Some((ms, -i32::from(key))),
            _ => None,
        }
    };
    sent.iter().filter_map(stroke).collect()
}

fn check(patch: &Patch, score: &Score, expected: &[(u64, i32)]) {
    let sent = perform(patch, RATE_HZ, &[64], score, 5.0);
    assert_eq!(strokes(&sent), expected);
}

fn violin() -> Patch {
    patch("violin", "perform")
}

#[test]
fn a_key_struck_again_before_it_comes_up() {
    let score = Score::new().on(1.0, 70).on(1.2, 70).off(1.3, 70).off(1.4, 70);
    check(&violin(), &score, &[(1000, 70), (1200, -70), (1200, 70), (1400, -70)]);
}

#[test]
fn a_note_of_no_length() {
    let score = Score::new().on(1.0, 70).off(1.0, 70);
    check(&violin(), &score, &[(1000, 70), (1000, -70)]);
}

#[test]
fn two_notes_of_no_length_at_one_time() {
    let score = Score::new().on(1.0, 70).off(1.0, 70).on(1.0, 70).off(1.0, 70);
    check(&violin(), &score, &[(1000, 70), (1000, -70), (1000, 70), (1000, -70)]);
}

#[test]
fn stray_offs() {
    let score = Score::new().off(0.5, 70).on(1.0, 70).off(1.2, 71).off(1.3, 70).off(1.4, 70);
    check(&violin(), &score, &[(1000, 70), (1300, -70)]);
}

#[test]
fn a_pedal_outlives_its_note() {
    let pedal = Score::new().controller(0.9, 64, 127).note(1.0, 1.2, 70).controller(2.0, 64, 0);
    check(&violin(), &pedal, &[(1000, 70), (1200, -70)]);
}

#[test]
fn a_panic_ends_notes_keyswitches_and_waiting_offs() {
    let panics = [
        Input::Panic,
        Input::Midi(Message::Controller { channel: 0, number: 120, value: 0 }),
        Input::Midi(Message::Controller { channel: 0, number: 123, value: 0 }),
    ];
    for panic in panics {
        for is_held in [false, true] {
            // The panic falls among two held notes and into the tail of a long one.
            let score = Score::new().on(1.0, 70).on(1.5, 72).at(1.505, panic);
            let score = score.off(1.6, 70).off(1.6, 72).note(2.0, 3.5, 74).at(3.6, panic);
            let patch = receivers::keyswitches(is_held);
            let sent = perform(&patch, RATE_HZ, &[64], &score, 5.0);
            for ms in [1506, 3601] {
                let before = sent.iter().filter(|s| s.frame as f64 / RATE_HZ * 1000.0 < ms as f64);
                let before: Vec<Sent> = before.copied().collect();
                assert_eq!(sounding("panic", &before), [], "{panic:?} at {ms} ms");
            }
        }
    }
}

#[test]
fn more_notes_than_the_engine_keeps_end_the_oldest_early() {
    let mut score = Score::new();
    for key in 30..70 {
        score = score.on(1.0 + f64::from(key) * 0.05, key).off(4.5, key);
    }
    let mut engine = Section::prepare(RATE_HZ, &crate::music::jumping(violin()));
    let sent = perform_on(&mut engine, RATE_HZ, &[64], &score, 6.0);
    assert_eq!(sounding("crowd", &sent), []);
    assert_eq!(engine.losses().stolen_notes, 8);
    let first_off = strokes(&sent).into_iter().find(|stroke| stroke.1 < 0);
    assert_eq!(first_off, Some((1000 + 62 * 50, -30)));
}

/// The oldest note here is only a held key, whose sound a newer strike of it has taken over.
#[test]
fn a_stolen_silent_note_leaves_the_newer_strike_of_its_key_alone() {
    let mut score = Score::new().on(0.1, 80).on(0.2, 80);
    for key in 30..61 {
        score = score.on(1.0 + f64::from(key) * 0.03, key);
    }
    let sent = perform(&violin(), RATE_HZ, &[64], &score, 4.0);
    let ends = strokes(&sent).into_iter().filter(|stroke| stroke.1 == -80).collect::<Vec<_>>();
    assert_eq!(ends, [(200, -80)]);
}

/// The receiver hears one stream: there the tapped key and the played note are the same key.
#[test]
fn a_note_on_a_keyswitch_is_not_cut_by_the_tap() {
    // Once as a note of the line, once as another player's far below the violin.
    for lowest_key in [24, 55] {
        let mut patch = receivers::keyswitches(false);
        patch.notes.lowest_key = lowest_key;
        let score = Score::new().note(0.995, 3.0, 70).note(1.0, 2.0, 24);
        let sent = perform(&patch, RATE_HZ, &[64], &score, 4.0);
        let played = |sent: &&Sent| matches!(sent.origin, Origin::Note(2));
        let own: Vec<Sent> = sent.iter().filter(played).copied().collect();
        let ms = strokes(&own).iter().map(|stroke| stroke.0).collect::<Vec<_>>();
        assert_eq!(ms.len(), 2, "{:?}", strokes(&sent));
        assert!(ms[1] >= 2000, "{:?}", strokes(&sent));
    }
}

#[test]
fn a_keyswitch_on_a_key_that_is_played_ends_the_note_first() {
    // The quick mode's keyswitch is the very key that the first note still holds.
    let score = Score::new().on(1.0, 25).on(1.5, 70).off(2.0, 70).off(2.1, 25);
    for is_held in [false, true] {
        let mut patch = receivers::keyswitches(is_held);
        patch.notes.lowest_key = 25;
        let sent = perform(&patch, RATE_HZ, &[64], &score, 4.0);
        assert!(strokes(&sent).iter().filter(|stroke| stroke.1 == 25).count() == 2);
        sounding("keyswitch", &sent);
    }
}

#[test]
fn offs_still_owed_come_first_after_a_reset() {
    let mut engine = Section::prepare(RATE_HZ, &receivers::keyswitches(true));
    let score = Score::new().wheel(0.0, 100).on(0.5, 70).on(1.0, 72);
    let before = perform_on(&mut engine, RATE_HZ, &[64], &score, 1.004);
    engine.reset();
    engine.load(&violin());
    let again = perform_on(&mut engine, RATE_HZ, &[64], &Score::new().on(0.0, 72), 1.0);
    let owed: Vec<&Sent> = again.iter().take_while(|s| s.origin == Origin::Owed).collect();
    assert_eq!(owed.len(), sounding("before", &before).len());
    assert_eq!(sounding("all", &[before, again].concat()), [(0, 72)]);
}

/// Where each channel's bend stands at the end.
fn bends(sent: &[Sent]) -> [u16; 16] {
    let mut bends = [BEND_CENTRE; 16];
    for sent in sent {
        if let Message::PitchBend { channel, value } = sent.message {
            bends[usize::from(channel)] = value;
        }
    }
    bends
}

#[test]
fn a_bend_on_a_channel_that_the_line_left_is_centred() {
    let on = |channel, key| Message::NoteOn { channel, key, velocity: 64 };
    let off = |channel, key| Message::NoteOff { channel, key, velocity: 64 };
    let score = Score::new()
        .message(0.1, Message::PitchBend { channel: 0, value: 12_000 })
        .message(0.5, on(3, 70))
        .message(1.0, off(3, 70))
        .message(1.2, on(5, 72));
    let mut engine = Section::prepare(RATE_HZ, &violin());
    let mut sent = perform_on(&mut engine, RATE_HZ, &[64], &score, 1.5);
    let moved = bends(&sent);
    assert_eq!((moved[0], moved[3], moved[5]), (BEND_CENTRE, BEND_CENTRE, 12_000));
    // Nothing sounds any more, but the bend is out, and no event brings it back.
    let end = Score::new().message(0.0, off(5, 72));
    sent.extend(perform_on(&mut engine, RATE_HZ, &[64], &end, 1.0));
    let mut ended = engine.clone();
    engine.reset();
    let mut tape = Tape::default();
    engine.process(64, &[], &mut tape);
    assert_eq!(bends(&[sent.clone(), tape.sent].concat()), [BEND_CENTRE; 16], "after a reset");
    let mut tape = Tape::default();
    ended.finish(&mut tape);
    assert_eq!(bends(&[sent, tape.sent].concat()), [BEND_CENTRE; 16], "after the end");
}

#[test]
fn poly_pressure_follows_the_line_back_to_a_held_key() {
    let score = Score::new().wheel(0.0, 100).on(0.5, 70).on(1.0, 72).off(1.5, 72);
    let sent = perform(&receivers::every_address(), RATE_HZ, &[64], &score, 2.0);
    let late = sent.iter().filter(|sent| sent.frame as f64 / RATE_HZ >= 1.5);
    let keys: Vec<u8> = late
        .filter_map(|sent| match sent.message {
            Message::PolyPressure { key, .. } => Some(key),
            _ => None,
        })
        .collect();
    assert_eq!(keys, [70], "the pressure of the key that sounds again");
}

/// Takes a few messages a block, and has no room for more.
struct Narrow {
    room: usize,
    tape: Tape,
}

impl Sink for Narrow {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        let has_room = self.room > 0;
        if has_room {
            self.room -= 1;
            self.tape.send(frame, message, origin);
        }
        has_room
    }
}

#[test]
fn a_receiver_without_room_is_never_left_with_a_hanging_note() {
    for (name, patch) in receivers::all() {
        for seed in 0..20 {
            let score = improvise(seed, &receivers::manner(&patch, 3.0, 0.0));
            let mut engine = Section::prepare(RATE_HZ, &patch);
            let mut die = Die(seed);
            let mut narrow = Narrow { room: 0, tape: Tape::default() };
            for block in 0..400 {
                narrow.room = die.below(6) as usize;
                let events = score.timed(RATE_HZ).into_iter();
                let own = events.filter(|(frame, _)| frame / 480 == block);
                let place = |(frame, timed)| Timed { frame: (frame % 480) as u32, ..timed };
                engine.process(480, &own.map(place).collect::<Vec<_>>(), &mut narrow);
            }
            assert!(engine.losses().dropped_messages > 0, "{name}, seed {seed}");
            sounding(name, &narrow.tape.sent);
            // A panic that finds no room, then room again.
            narrow.room = 0;
            let panic = Timed { frame: 0, tag: 0, input: Input::Panic };
            engine.process(480, &[panic], &mut narrow);
            narrow.room = usize::MAX;
            engine.process(480, &[], &mut narrow);
            assert_eq!(sounding(name, &narrow.tape.sent), [], "{name}, seed {seed}");
            assert!(!engine.owes_offs(), "{name}, seed {seed}");
        }
    }
}
