//! The receivers and hands of these tests: every kind of address and every kind of source.

use polso_engine::math::curve::Curve;
use polso_engine::patch::{
    Address, Change, JoinedVelocity, ModePatch, OpenPolicy, OutputPatch, Patch, Reading, Retouch,
    SlidePatch, Source, StyleLaw, VoiceKind,
};
use polso_engine::{Layer, LegatoWish, Mode, NoteWish};

use super::improvised::Manner;
use crate::rehearsal::{in_voices, on_channels, patch_with};

/// The take that a patch is tested with: its own source, wild, as long as stated.
pub fn manner(patch: &Patch, length_s: f64, grid_per_s: f64) -> Manner {
    Manner { source: patch.hand.source, length_s, grid_per_s, is_wild: true }
}

/// Named patches that between them use every branch of the engine.
pub fn all() -> Vec<(&'static str, Patch)> {
    let wheel = Source::Controller(1);
    vec![
        ("erhu performs", patch_with("erhu", "perform", wheel, 7, 1.0)),
        ("erhu, unevenness doubled", patch_with("erhu", "perform", wheel, 8, 2.0)),
        ("dizi by breath", patch_with("dizi-d", "perform", Source::Controller(2), 9, 1.0)),
        ("violin drives", patch_with("violin", "generic", wheel, 1, 0.0)),
        ("violin taps keys", keyswitches(false)),
        ("violin holds keys", keyswitches(true)),
        ("every address", every_address()),
        ("every address, few messages", few_messages()),
        ("fine pair", patch_with("violin", "perform", Source::ControllerPair(1), 2, 1.0)),
        ("pressure", patch_with("erhu", "perform", Source::ChannelPressure, 3, 1.0)),
        ("poly pressure", patch_with("dizi-d", "perform", Source::PolyPressure, 4, 1.0)),
        ("timbre", patch_with("erhu", "generic", Source::MpeTimbre, 5, 1.0)),
        ("MPE pressure", patch_with("violin", "perform", Source::MpePressure, 6, 1.0)),
        ("bend wheel", patch_with("erhu", "generic", Source::PitchBend, 6, 1.0)),
        ("automation, open strings", open_strings()),
        ("a breath that passes", breath_that_passes()),
        ("bend of an octave that cuts", octave_that_cuts()),
        ("portamento and legato switch", portamento()),
        ("erhu, retouched", retouched()),
        ("violin in two voices", in_voices(octave_that_cuts(), VoiceKind::Chords, 2)),
        ("every address in four", in_voices(every_address(), VoiceKind::Divisi, 4)),
        ("violin holds keys in eight", in_voices(keyswitches(true), VoiceKind::Chords, 8)),
        ("two players", on_channels(in_voices(portamento(), VoiceKind::Divisi, 2))),
        ("four players", on_channels(in_voices(octave_that_cuts(), VoiceKind::Divisi, 4))),
        ("eight channels", on_channels(in_voices(few_messages(), VoiceKind::Chords, 8))),
    ]
}

/// A violin whose mode is told by keys below its range, and whose slides are told too.
pub fn keyswitches(is_held: bool) -> Patch {
    let mut patch = patch_with("violin", "perform", Source::Controller(1), 11, 1.0);
    let keys = [Some(24), Some(25), Some(26), None, Some(28)];
    patch.target.mode = ModePatch::Keyswitch { keys, velocity: 100, is_held };
    patch.target.slide = Some(SlidePatch { time: 40, says_source_key: true });
    patch.target.joined_velocity = JoinedVelocity::Speed { slow: 20, fast: 110 };
    patch.legato.join_gap_s = if is_held { 0.03 } else { 0.0 };
    patch
}

/// An output of a layer that spans 0..=1, at all values of its address.
pub fn output(layer: Layer, address: Address) -> OutputPatch {
    let (low, high) = match layer {
        Layer::VibratoWidth => (0.0, 150.0),
        Layer::VibratoRate => (3.0, 8.0),
        Layer::Pitch => (-200.0, 200.0),
        _ => (0.0, 1.0),
    };
    OutputPatch { interval_s: 0.02, ..crate::rehearsal::output(layer, address, low, high) }
}

/// An erhu with an output at every kind of address.
pub fn every_address() -> Patch {
    let mut patch = patch_with("erhu", "perform", Source::Controller(1), 12, 1.0);
    let table = [(-30.0, 0.0), (-10.0, 0.4), (0.0, 1.0)];
    let bent = Curve::through(&[(0.0, 0.1), (0.3, 0.2), (1.0, 0.9)]).expect("a curve");
    let outputs = [
        output(Layer::Dynamics, Address::PolyPressure),
        OutputPatch {
            reading: Reading::Table(Curve::through(&table).expect("a table")),
            ..output(Layer::Expression, Address::ControllerPair(11))
        },
        OutputPatch { is_inverted: true, ..output(Layer::VibratoWidth, Address::Registered(5)) },
        output(Layer::VibratoRate, Address::NonRegistered(1_033)),
        OutputPatch { interval_s: 0.05, ..output(Layer::Style, Address::Program) },
        OutputPatch {
            reading: Reading::Response(bent),
            ..output(Layer::StyleWeight(1), Address::Controller(20))
        },
        OutputPatch { interval_s: 0.005, ..output(Layer::Pitch, Address::PitchBend) },
        OutputPatch { rest: 40, ..output(Layer::Send, Address::Controller(91)) },
        OutputPatch { min: 10, max: 90, ..output(Layer::Gesture, Address::ChannelPressure) },
        output(Layer::Dynamics, Address::Velocity),
        OutputPatch { reading: Reading::Gm2, ..output(Layer::Dynamics, Address::Controller(7)) },
        output(Layer::Brightness, Address::Controller(74)),
    ];
    patch.target.output_count = outputs.len();
    patch.target.outputs[..outputs.len()].copy_from_slice(&outputs);
    patch.target.sends_bend_range = true;
    let values = [Some(1), Some(20), Some(40), Some(60), None];
    patch.target.mode = ModePatch::Controller { number: 30, values };
    patch.vibrato.style_law = StyleLaw::EqualPower;
    patch.vibrato.quick_through = 2.5;
    patch.vibrato.styles.iter_mut().for_each(|style| style.centre = 0.5);
    patch
}

/// The same with an error bound everywhere: numbers lead the motion.
fn few_messages() -> Patch {
    let mut patch = every_address();
    for output in &mut patch.target.outputs[..patch.target.output_count] {
        output.error_bound = f64::from(output.max - output.min) / 50.0;
    }
    patch
}

fn open_strings() -> Patch {
    let mut patch = patch_with("violin", "perform", Source::Parameter, 13, 1.0);
    patch.strings.policy = OpenPolicy::Auto;
    patch.target.mode = ModePatch::Program([Some(0), Some(1), Some(2), Some(3), Some(4)]);
    patch.vibrato.style_law = StyleLaw::Latched;
    patch.hand.is_inverted = true;
    patch
}

/// A violin that goes by bend over an octave and leaves no note overlapping.
fn octave_that_cuts() -> Patch {
    let mut patch = patch_with("violin", "perform", Source::Controller(1), 15, 1.0);
    patch.target.bend_range_semitones = 12.0;
    patch.target.sends_bend_range = true;
    patch.target.transition.cuts_jumps = true;
    patch
}

/// An erhu on a bend wheel before a receiver's portamento.
fn portamento() -> Patch {
    let mut patch = patch_with("erhu", "perform", Source::Controller(1), 16, 1.0);
    patch.target.transition =
        patch_with("erhu", "generic", Source::Controller(1), 16, 1.0).target.transition;
    patch.target.transition.has_legato_switch = true;
    patch
}

fn breath_that_passes() -> Patch {
    let mut patch = patch_with("erhu", "generic", Source::Controller(2), 14, 1.0);
    patch.hand.source_passes = true;
    patch.hand.weight = 3.0;
    patch
}

/// An erhu of which something is asked everywhere in the song, here and there several things.
fn retouched() -> Patch {
    let mut patch = patch_with("erhu", "perform", Source::Controller(1), 17, 1.0);
    let slow = NoteWish { legato: Some(LegatoWish::Mode(Mode::Slow)), ..NoteWish::NONE };
    let changes = [
        Change::Level(-6.0),
        Change::Width(0.6),
        Change::Rate(0.7),
        Change::Tail(1.5),
        Change::Notes(slow),
        Change::Level(3.0),
        Change::Width(1.4),
        Change::Notes(NoteWish { is_still: true, ..NoteWish::NONE }),
    ];
    for (place, change) in changes.into_iter().cycle().take(64).enumerate() {
        let from_beat = place as f64;
        let fade_beats = 0.25 * (place % 3) as f64;
        let retouch = Retouch { from_beat, to_beat: from_beat + 1.5, fade_beats, change };
        assert!(patch.retouches.add(retouch));
    }
    patch
}
