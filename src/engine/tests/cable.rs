//! The cable: who goes first when it is busy, what is kept back, how debts are paid, what each address is sent.

use polso_engine::patch::{Address, OutputPatch, Patch, Reading};
use polso_engine::{Input, Layer, Message, Origin, Section, Sink};

use crate::music::{bare, controller, only, time_s, with, words};
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, output, perform, perform_on};

/// A cable that gains nothing in a minute.
const DEAD_CABLE_PER_S: f64 = 1e-6;

/// The gesture on controllers 20, 21 …, one for each priority.
fn choir(priorities: &[u8], messages_per_s: f64, burst_messages: f64) -> Patch {
    let mut patch = crate::music::jumping(bare("erhu", "generic"));
    patch.target.output_count = 0;
    for (place, &priority) in priorities.iter().enumerate() {
        let address = Address::Controller(20 + place as u8);
        patch = with(patch, OutputPatch { priority, ..output(Layer::Gesture, address, 0.0, 1.0) });
    }
    (patch.target.messages_per_s, patch.target.burst_messages) = (messages_per_s, burst_messages);
    patch
}

/// Controllers in the order in which they were sent after a time, with their milliseconds.
fn order(sent: &[Sent], from_s: f64) -> Vec<(u8, u64)> {
    let own = sent.iter().filter(|it| time_s(it) > from_s);
    let own = own.filter_map(|it| match it.message {
        Message::Controller { number, .. } => Some((number, (time_s(it) * 1000.0).round() as u64)),
        _ => None,
    });
    own.collect()
}

/// The start tells all four; what is then left of the burst says which of them may go.
#[test]
fn the_first_priority_goes_first_and_each_leaves_something_for_those_before_it() {
    let check = |left: f64, expected: &[u8]| {
        let patch = choir(&[2, 0, 1, 0], DEAD_CABLE_PER_S, 4.0 + left);
        let sent = perform(&patch, RATE_HZ, &[64], &Score::new().gesture(0.5, 1.0), 1.0);
        let start: Vec<u8> = sent[..4].iter().map(number).collect();
        assert_eq!(start, [21, 23, 22, 20], "equal priorities keep the order of the file");
        let after: Vec<u8> = order(&sent, 0.4).iter().map(|(number, _)| *number).collect();
        assert_eq!(after, expected, "{left} left");
    };
    check(0.0, &[]);
    check(0.9, &[]);
    check(1.0, &[21]);
    check(2.0, &[21, 23]);
    check(3.0, &[21, 23]);
    check(4.0, &[21, 23, 22]);
    check(5.0, &[21, 23, 22]);
    check(6.0, &[21, 23, 22, 20]);
}

fn number(sent: &Sent) -> u8 {
    match sent.message {
        Message::Controller { number, .. } => number,
        _ => u8::MAX,
    }
}

/// Ten messages a second: each waits until its priority's share has been saved again.
#[test]
fn who_waits_goes_as_soon_as_the_cable_has_its_share_and_is_counted_once() {
    let patch = choir(&[2, 0, 1, 0], 10.0, 5.0);
    let mut engine = Section::prepare(RATE_HZ, &patch);
    let sent = perform_on(&mut engine, RATE_HZ, &[64], &Score::new().gesture(0.002, 1.0), 2.0);
    let found = order(&sent, 0.001);
    let numbers: Vec<u8> = found.iter().map(|(number, _)| *number).collect();
    assert_eq!(numbers, [21, 23, 22, 20]);
    for ((_, ms), expected) in found.iter().zip([2, 100, 300, 500]) {
        assert!(ms.abs_diff(expected) <= 2, "{found:?}");
    }
    assert_eq!(engine.losses().late_values, 3);
}

/// A hundred a second for two seconds of motion, after a burst of ten; a number more waits.
#[test]
fn a_moving_hand_fills_the_cable_and_no_more() {
    let patch = choir(&[0], 100.0, 10.0);
    let score = (0..=2000_u32).fold(Score::new().gesture(0.0, 0.0), |score, step| {
        score.gesture(5.0 + 0.001 * f64::from(step), f64::from(step) / 2000.0)
    });
    let mut pair = patch;
    pair.target.outputs[0].address = Address::ControllerPair(20);
    pair.target.outputs[0].max = 16_383;
    for (patch, size) in [(patch, 1), (pair, 2)] {
        let found = order(&perform(&patch, RATE_HZ, &[64], &score, 7.0), 4.9);
        let within =
            |from_ms, to_ms| found.iter().filter(move |(_, ms)| (from_ms..to_ms).contains(ms));
        let second = within(6000, 7000).count();
        let most = if size == 1 { 64 } else { 100 };
        assert!(second.abs_diff(most) <= 3, "{second} in a second");
        let start = within(5000, 5100).count();
        assert!(start <= 10 + 10 + size, "{start} in the first 100 ms");
    }
}

/// Three hundred messages pass at once: the debt is no deeper than the burst.
#[test]
fn what_must_go_out_goes_on_credit_but_not_without_bound() {
    let patch = choir(&[0], 100.0, 10.0);
    let flood = |count: u32| {
        let score = Score::new().gesture(0.0, 0.2);
        let score = (0..count)
            .fold(score, |score, step| score.message(1.0, controller(99, (step % 128) as u8)));
        let sent = perform(&patch, RATE_HZ, &[64], &score.gesture(1.0, 0.9), 4.0);
        order(&sent, 1.0).iter().find(|(number, _)| *number == 20).expect("a number").1
    };
    for (count, first_ms) in [(0, 1001), (15, 1060), (19, 1100), (20, 1110), (300, 1110)] {
        assert!(flood(count).abs_diff(first_ms) <= 2, "{count}: {}", flood(count));
    }
}

/// Two outputs of one priority, at their own intervals: at most one message in each.
#[test]
fn an_output_keeps_its_interval() {
    for (interval_s, ticks) in [(0.001, 1), (0.005, 5), (0.0074, 7), (0.0076, 8), (0.02, 20)] {
        let mut patch = choir(&[0], 10_000.0, 1000.0);
        patch.target.outputs[0].address = Address::ControllerPair(20);
        (patch.target.outputs[0].max, patch.target.outputs[0].interval_s) = (16_383, interval_s);
        let score = Score::new().gesture(0.0, 0.0).gesture(0.1, 0.3).gesture(0.104, 1.0);
        let sent = perform(&patch, RATE_HZ, &[64], &score, 0.2);
        let fine = order(&sent, 0.1).into_iter().filter(|(number, _)| *number == 52);
        let ms: Vec<u64> = fine.map(|(_, ms)| ms).collect();
        assert!(ms.len() >= 3, "{interval_s}: {ms:?}");
        let least = ms.windows(2).map(|pair| pair[1] - pair[0]).min();
        assert_eq!(least, Some(ticks), "{interval_s}: {ms:?}");
    }
}

/// What one output sends at the start and when the gesture goes from 0 to a value.
#[track_caller]
fn check_words(patch: Patch, value: f64, expected: &[&str]) {
    let sent = perform(&patch, RATE_HZ, &[64], &Score::new().gesture(0.1, value), 0.15);
    let found = words(&sent);
    let found: Vec<&str> =
        found.iter().map(|word| word.rsplit_once(" @").expect("a time").0).collect();
    assert_eq!(found, expected);
}

/// MIDI 1.0: coarse before fine, low seven bits first in a bend, parameter numbers and their null.
#[test]
fn every_address_is_sent_in_its_own_way() {
    let one = |address| only(bare("erhu", "generic"), output(Layer::Gesture, address, 0.0, 1.0));
    check_words(one(Address::Controller(7)), 0.5, &["cc 7 0", "cc 7 64"]);
    let pair = one(Address::ControllerPair(7));
    check_words(pair, 1.0, &["cc 7 0", "cc 39 0", "cc 7 127", "cc 39 127"]);
    // The coarse half stands: the fine one alone.
    check_words(pair, 100.0 / 16_383.0, &["cc 7 0", "cc 39 0", "cc 39 100"]);
    check_words(one(Address::ChannelPressure), 1.0, &["pressure 0", "pressure 127"]);
    check_words(one(Address::Program), 1.0, &["program 0", "program 127"]);
    check_words(one(Address::PitchBend), 1.0, &["bend 0", "bend 16383"]);
    check_words(one(Address::Velocity), 1.0, &[]);
    check_words(one(Address::PolyPressure), 1.0, &[]);
    let number = 5 << 7 | 3;
    let null = ["cc 101 127", "cc 100 127"];
    for (address, [coarse, fine]) in [
        (Address::Registered(number), ["cc 101 5", "cc 100 3"]),
        (Address::NonRegistered(number), ["cc 99 5", "cc 98 3"]),
    ] {
        let start = [coarse, fine, "cc 6 0", "cc 38 0", null[0], null[1]];
        let end = [coarse, fine, "cc 6 78", "cc 38 16", null[0], null[1]];
        check_words(one(address), 10_000.0 / 16_383.0, &[start, end].concat());
    }
}

/// RPN 0 (MIDI 1.0): semitones, then hundredths.
#[test]
fn the_bend_range_is_told_in_semitones_and_hundredths() {
    for (range, semitones, hundredths) in
        [(2.0, 2, 0), (12.25, 12, 25), (0.5, 0, 50), (96.0, 96, 0)]
    {
        let mut patch = bare("erhu", "perform");
        patch.target.output_count = 0;
        (patch.target.sends_bend_range, patch.target.bend_range_semitones) = (true, range);
        let sent = perform(&patch, RATE_HZ, &[64], &Score::new(), 0.1);
        let expected = [
            controller(101, 0),
            controller(100, 0),
            controller(6, semitones),
            controller(38, hundredths),
            controller(101, 127),
            controller(100, 127),
        ];
        let found: Vec<Message> = sent.iter().map(|it| it.message).collect();
        assert_eq!(found, expected, "{range}");
        assert!(sent.iter().all(|it| it.origin == Origin::Layer(Layer::Pitch)));
    }
}

/// From the share of low to high to the receiver's number, turned round, bent or held at its ends.
#[test]
fn a_value_becomes_the_receivers_number() {
    let patch = |change: fn(&mut OutputPatch)| {
        let mut own = output(Layer::Gesture, Address::Controller(7), 0.0, 1.0);
        change(&mut own);
        only(bare("erhu", "generic"), own)
    };
    check_words(patch(|own| (own.min, own.max) = (20, 60)), 0.5, &["cc 7 20", "cc 7 40"]);
    check_words(patch(|own| own.is_inverted = true), 0.25, &["cc 7 127", "cc 7 95"]);
    let offset = patch(|own| (own.low, own.high) = (0.25, 0.75));
    check_words(offset, 0.5, &["cc 7 0", "cc 7 64"]);
    check_words(offset, 0.25, &["cc 7 0"]);
    check_words(offset, 0.9, &["cc 7 0", "cc 7 127"]);
    let bent = patch(|own| {
        let points = [(0.0, 0.25), (1.0, 0.75)];
        own.reading =
            Reading::Response(polso_engine::math::curve::Curve::through(&points).expect("a curve"));
    });
    check_words(bent, 1.0, &["cc 7 32", "cc 7 95"]);
}

/// Takes nothing of one kind for a while.
struct Deaf {
    tape: Tape,
    is_deaf: bool,
}

impl Sink for Deaf {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        if self.is_deaf && matches!(message, Message::NoteOff { .. }) {
            return false;
        }
        self.tape.send(frame, message, origin)
    }
}

/// An on once went out over a key whose off had been refused.
#[test]
fn a_key_is_not_struck_again_while_its_off_finds_no_room() {
    let mut patch = choir(&[], 400.0, 40.0);
    // The velocity as struck.
    patch.dynamics.velocity_share = 0.0;
    let mut engine = Section::prepare(RATE_HZ, &patch);
    let mut sink = Deaf { tape: Tape::default(), is_deaf: true };
    let mut play = |engine: &mut Section, message: Option<Message>, is_deaf| {
        sink.is_deaf = is_deaf;
        let input = message.map(|message| polso_engine::Timed {
            frame: 0,
            tag: 1,
            input: Input::Midi(message),
        });
        engine.process(480, input.as_slice(), &mut sink);
        let sent = core::mem::take(&mut sink.tape.sent);
        sent.iter().map(|it| it.message).collect::<Vec<_>>()
    };
    let strike = |velocity| Message::NoteOn { channel: 0, key: 60, velocity };
    let off = Message::NoteOff { channel: 0, key: 60, velocity: 64 };
    assert_eq!(play(&mut engine, Some(strike(64)), true), [strike(64)]);
    assert_eq!(play(&mut engine, Some(strike(65)), true), []);
    // Two offs and the on have found no room.
    assert!(engine.owes_offs());
    let dropped = engine.losses().dropped_messages;
    assert!(dropped >= 2, "{dropped}");
    assert_eq!(play(&mut engine, None, false), [off]);
    assert!(!engine.owes_offs());
    assert_eq!(engine.losses().dropped_messages, dropped);
    assert_eq!(play(&mut engine, Some(strike(66)), false), [strike(66)]);
}

/// What a jump of the song has told the receiver is charged: the cable carries no more than it can.
#[test]
fn a_jump_pays_for_what_it_sends() {
    let patch = choir(&[0, 0, 0, 0], DEAD_CABLE_PER_S, 8.0);
    let locate = Input::Locate { beat: 0.0, tempo_bpm: 120.0, running: true };
    // Four messages at the start and four at the jump; then one for each that is left of eight.
    let moves = |score: Score| {
        (0..9).fold(score, |score, step| {
            let value = 0.1 + 0.1 * f64::from(step);
            score.gesture(1.0 + 0.2 * f64::from(step), value)
        })
    };
    let after = |score: Score| {
        let sent = perform(&patch, RATE_HZ, &[64], &moves(score), 3.0);
        sent.iter().filter(|it| time_s(it) > 0.9).count()
    };
    let (plain, jumped) = (after(Score::new()), after(Score::new().at(0.5, locate)));
    assert_eq!(plain, 4);
    assert_eq!(jumped, 4);
    let closed = Score::new().on(0.2, 70).at(0.5, locate);
    // The note and its off, and the jump's own four, leave nothing of a cable that starts anew.
    let closed = after(closed);
    assert!(closed < jumped, "{closed}");
}

/// A slow value is looked at five times an interval, not oftener.
#[test]
fn a_value_that_waits_for_its_next_step_is_looked_at_five_times_an_interval() {
    let mut patch = choir(&[0], 10_000.0, 100.0);
    patch.target.outputs[0].interval_s = 0.05;
    let score = (0..2000).fold(Score::new(), |score, ms| {
        score.gesture(0.001 * f64::from(ms), 0.5 + 0.00005 * f64::from(ms))
    });
    let sent = perform(&patch, RATE_HZ, &[48], &score, 2.0);
    let ticks: Vec<u64> = sent.iter().map(|it| (time_s(it) * 1000.0).round() as u64).collect();
    assert!(ticks.len() > 8, "{ticks:?}");
    assert!(ticks[1..].iter().all(|tick| tick.is_multiple_of(10)), "{ticks:?}");
    assert!(ticks[1..].iter().any(|tick| !tick.is_multiple_of(50)), "{ticks:?}");
}
