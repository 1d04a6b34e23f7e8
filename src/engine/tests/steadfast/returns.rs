//! How many messages must come back before an output is taken to be heard by itself, and which one it is.

use polso_engine::patch::{Address, Patch};
use polso_engine::{Input, Layer, Message, Section, Timed};

use crate::music::{bare, only, with};
use crate::rehearsal::{Tape, output};

const BLOCK_FRAMES: u32 = 48;

/// Plays a held note under a gesture that rises for a while; of what goes out, the first `count`
/// messages that `returns` lets through come in again `late_ms` later.
fn frozen(
    patch: &Patch,
    count: usize,
    late_ms: u64,
    returns: impl Fn(Message) -> bool,
) -> (Option<Layer>, Tape) {
    let mut engine = Section::prepare(48_000.0, patch);
    let mut tape = Tape::default();
    let (mut place, mut returned) = (0, 0);
    let mut frozen = None;
    for block in 0..1400_u64 {
        let mut input = Vec::new();
        let mut add = |input_| input.push(Timed { frame: 0, tag: 0, input: input_ });
        if block == 0 {
            add(Input::Gesture(0.5));
            add(Input::Midi(crate::music::strike(70, 64)));
        }
        // Each step has gone by the time the next one comes.
        if (1000..1300).contains(&block) && block.is_multiple_of(20) {
            add(Input::Gesture(0.5 + 0.03 * ((block - 980) / 20) as f64));
        }
        while let Some(sent) = tape.sent.get(place).filter(|it| it.frame / 48 + late_ms <= block) {
            place += 1;
            let is_note = matches!(sent.message, Message::NoteOn { .. } | Message::NoteOff { .. });
            if block >= 900 && !is_note && returned < count && returns(sent.message) {
                returned += 1;
                input.push(Timed { frame: 0, tag: 0, input: Input::Midi(sent.message) });
            }
        }
        engine.process(BLOCK_FRAMES, &input, &mut tape);
        tape.block_frame += u64::from(BLOCK_FRAMES);
        frozen = frozen.or(engine.view().frozen);
    }
    (frozen, tape)
}

fn one(layer: Layer, address: Address) -> Patch {
    only(bare("erhu", "generic"), output(layer, address, 0.0, 1.0))
}

/// Fifteen steps of a gesture, each sent as several numbers; every one comes back 10 ms later.
#[test]
fn eleven_that_return_may_be_chance_and_twelve_may_not() {
    let mut patch = one(Layer::Gesture, Address::Controller(20));
    // A number every 20 ms, so that a step is one number.
    patch.target.outputs[0].interval_s = 0.02;
    let count =
        frozen(&patch, 0, 10, |_| true).1.sent.iter().filter(|it| it.frame > 990 * 48).count();
    assert!((12..=40).contains(&count), "{count}");
    for (count, is_frozen) in [(11, false), (12, true), (usize::MAX, true)] {
        let found = frozen(&patch, count, 10, |_| true).0;
        assert_eq!(found.is_some(), is_frozen, "{count} return");
    }
}

#[test]
fn an_output_is_known_by_its_address_and_named_by_its_layer() {
    for (layer, address) in [
        (Layer::Gesture, Address::Controller(20)),
        (Layer::Gesture, Address::Controller(119)),
        (Layer::Gesture, Address::ControllerPair(20)),
        (Layer::Gesture, Address::ChannelPressure),
        (Layer::Gesture, Address::PolyPressure),
        (Layer::Gesture, Address::PitchBend),
        (Layer::Gesture, Address::Program),
        (Layer::Dynamics, Address::ControllerPair(20)),
        (Layer::VibratoRate, Address::ControllerPair(20)),
        (Layer::VibratoWidth, Address::ControllerPair(20)),
        (Layer::Style, Address::ControllerPair(20)),
        (Layer::StyleWeight(1), Address::ControllerPair(20)),
        (Layer::StyleWeight(2), Address::ControllerPair(20)),
        (Layer::Pitch, Address::PitchBend),
    ] {
        let mut patch = one(layer, address);
        if layer == Layer::VibratoRate || layer == Layer::VibratoWidth {
            (patch.target.outputs[0].low, patch.target.outputs[0].high) = (0.0, 200.0);
        }
        let found = frozen(&patch, usize::MAX, 10, |_| true).0;
        assert_eq!(found, Some(layer), "{address:?}");
    }
}

/// A cable that carries one controller back stills that output, and the others go on.
#[test]
fn only_the_output_that_comes_back_stands_still() {
    let number = |layer, number| output(layer, Address::Controller(number), 0.0, 1.0);
    let (first, second) = (number(Layer::Gesture, 20), number(Layer::Dynamics, 21));
    let patch = with(only(bare("erhu", "generic"), first), second);
    let is_first = |message| matches!(message, Message::Controller { number: 20, .. });
    let (found, tape) = frozen(&patch, usize::MAX, 10, is_first);
    assert_eq!(found, Some(Layer::Gesture));
    let last_ms = |wanted| {
        let own = tape.sent.iter().filter(
            |it| matches!(it.message, Message::Controller { number, .. } if number == wanted),
        );
        own.map(|it| it.frame / 48).max().expect("it spoke")
    };
    assert!(last_ms(21) > 1290 && last_ms(20) < 1290, "{} and {}", last_ms(21), last_ms(20));
}
