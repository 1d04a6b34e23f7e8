//! Three shipped instruments on two shipped receivers, in the engine's own numbers.
//!
//! The engine's tests stand alone, without the files. A test of the main package holds these
//! numbers against what the files say (`tests/engine_patches.rs`).

use polso_engine::Layer;
use polso_engine::math::curve::Curve;
use polso_engine::patch::{
    ARTICULATIONS_MAX, Address, ArticulationPatch, ChoicePatch, DynamicsPatch, FirstMovement,
    HandPatch, JoinedVelocity, LegatoPatch, NotesPatch, OUTPUTS_MAX, OpenPolicy, OutputPatch,
    PORTAMENTO_POINTS_MAX, Patch, PortamentoPatch, Reading, Response, RetouchPatch, STRINGS_MAX,
    STYLES_MAX, Source, StringPatch, StringsPatch, StyleLaw, StylePatch, TailPatch, TargetPatch,
    TransitionPatch, TransitionWay, VibratoPatch, VoicesPatch,
};

/// The settings of an instrument (`erhu`, `violin`, `dizi-d`) on a receiver (`generic`,
/// `perform`). `imperfection_scale` multiplies the file's imperfection.
pub fn shipped(
    instrument: &str,
    target: &str,
    source: Source,
    seed: u64,
    imperfection_scale: f64,
) -> Patch {
    let mut patch = match instrument {
        "erhu" => erhu(),
        "violin" => violin(),
        "dizi-d" => dizi(),
        other => panic!("{other} is not among them"),
    };
    patch.target = match target {
        "generic" => generic(),
        "perform" => perform(),
        other => panic!("{other} is not among them"),
    };
    patch.hand = hand(source);
    if patch.hand.is_breath {
        // A breath makes its own accents.
        patch.dynamics.accent = 0.0;
    }
    patch.vibrato.rate_spread = (patch.vibrato.rate_spread * imperfection_scale).min(0.16);
    patch.vibrato.width_spread = (patch.vibrato.width_spread * imperfection_scale).min(0.25);
    patch.vibrato.arch = (patch.vibrato.arch * imperfection_scale).min(0.15);
    patch.seed = seed;
    patch
}

/// A hand as it is without a file.
fn hand(source: Source) -> HandPatch {
    let (is_breath, k) = match source {
        Source::Controller(2) | Source::ControllerPair(2) => (true, -0.5),
        Source::Controller(4 | 11) | Source::ControllerPair(4 | 11) => (false, 1.0),
        Source::ChannelPressure | Source::PolyPressure | Source::MpePressure => (false, 1.5),
        _ => (false, 0.0),
    };
    let (low, high, dead_zone_rest, dead_zone_full) = match source {
        Source::Parameter => (0.0, 1.0, 0.0, 0.0),
        Source::PitchBend => (0.51, 0.98, 0.02, 0.01),
        _ => (0.02, 0.98, 0.02, 0.01),
    };
    HandPatch {
        source,
        source_passes: false,
        is_breath,
        low,
        high,
        is_inverted: false,
        dead_zone_rest,
        dead_zone_full,
        rest: 0.0,
        response: Response::Exponential(k),
        weight: 1.0,
        articulation_keys: [None; ARTICULATIONS_MAX],
    }
}

fn curve(points: &[(f64, f64)]) -> Curve {
    Curve::through(points).expect("rising points")
}

fn style(
    width_cents: &[(f64, f64)],
    rate_hz: Curve,
    (share_above, sharpness, level_swing_db): (f64, f64, f64),
) -> StylePatch {
    let width_cents = curve(width_cents);
    StylePatch { width_cents, rate_hz, share_above, sharpness, level_swing_db, centre: 0.9 }
}

fn styles(given: &[StylePatch]) -> ([StylePatch; STYLES_MAX], usize) {
    let silent = StylePatch {
        width_cents: Curve::constant(0.0),
        rate_hz: Curve::constant(5.0),
        share_above: 0.5,
        sharpness: 1.0,
        level_swing_db: 0.0,
        centre: 0.0,
    };
    let mut styles = [silent; STYLES_MAX];
    // The first style is plain, and a file's style has a centre whether it is heard or not.
    styles[0].centre = 0.9;
    styles[1..=given.len()].copy_from_slice(given);
    (styles, 1 + given.len())
}

fn edges(given: &[(f64, f64)]) -> [(f64, f64); STYLES_MAX - 1] {
    let mut edges = [(1.0, 1.0); STYLES_MAX - 1];
    edges[..given.len()].copy_from_slice(given);
    edges
}

fn strings(given: &[(u8, u8)], length_m: f64, forced_open_key: u8) -> StringsPatch {
    let mut strings = StringsPatch::NONE;
    for (place, &(open_key, span_semitones)) in strings.strings.iter_mut().zip(given) {
        *place = StringPatch { open_key, span_semitones, length_m };
    }
    assert!(given.len() <= STRINGS_MAX);
    StringsPatch {
        count: given.len(),
        forced_open_keys: 1 << forced_open_key,
        policy: OpenPolicy::Stopped,
        ..strings
    }
}

fn dynamics(floor: f64, accent: f64, span_db: f64) -> DynamicsPatch {
    let curve = curve(&[(0.0, 0.0), (1.0, 1.0)]);
    DynamicsPatch {
        floor,
        ceiling: 1.0,
        curve,
        accent,
        span_db,
        velocity_share: 0.5,
        niente: true,
        shift: 0.0,
    }
}

fn legato(edges: [f64; 3], slide_max_semitones: u8) -> LegatoPatch {
    LegatoPatch { edges, hysteresis: 0.03, join_gap_s: 0.0, slide_max_semitones, slide_s: 0.12 }
}

fn tail(tail_ms: f64, tail_db: f64, lift_steps: f64) -> TailPatch {
    TailPatch { tail_s: tail_ms / 1000.0, tail_db, lift: lift_steps / 127.0 }
}

fn notes(lowest_key: u8, highest_key: u8, voice_count: u8) -> NotesPatch {
    NotesPatch { lowest_key, highest_key, voice_count }
}

fn vibrato(styles: ([StylePatch; STYLES_MAX], usize), seconds: [f64; 4]) -> VibratoPatch {
    let [onset_s, growth_s, join_keep, join_recover_s] = seconds;
    VibratoPatch {
        styles: styles.0,
        style_count: styles.1,
        edges: edges(&[(0.10, 0.30), (0.72, 0.92)][..styles.1 - 1]),
        style_law: StyleLaw::EqualGain,
        quick_through: 1.0,
        onset_s,
        growth_s,
        join_keep,
        join_recover_s,
        register_per_semitone: 0.03,
        first_movement: FirstMovement::Up,
        rate_spread: 7.0 / 100.0,
        width_spread: 12.0 / 100.0,
        width_scale: 1.0,
        rate_scale: 1.0,
        rate_shift_hz: 0.0,
        style_position: None,
        settle_s: 500.0 / 1000.0,
        arch: 0.1,
        brightness_swing: 0.0,
    }
}

fn erhu() -> Patch {
    let rate_hz = curve(&[(0.0, 4.5), (0.5, 5.6), (1.0, 7.0)]);
    let rolled = style(&[(0.0, 0.0), (0.5, 56.0), (1.0, 120.0)], rate_hz, (0.5, 1.0, 2.0));
    let pressed = style(&[(0.72, 84.0), (1.0, 110.0)], Curve::constant(4.8), (1.0, 1.3, 2.0));
    let pressed = StylePatch { centre: 0.82, ..pressed };
    Patch {
        retouches: RetouchPatch::NONE,
        voices: VoicesPatch::LINE,
        hand: hand(Source::Controller(1)),
        dynamics: dynamics(0.12, 0.12, 30.0),
        vibrato: vibrato(styles(&[rolled, pressed]), [0.22, 0.35, 0.25, 0.25]),
        legato: legato([0.30, 0.65, 0.85], 12),
        strings: strings(&[(62, 12), (69, 19)], 0.40, 62),
        tail: tail(300.0, 18.0, 16.0),
        target: generic(),
        seed: 0,
        home_channel: 0,
        notes: notes(62, 93, 1),
    }
}

fn violin() -> Patch {
    let rate_hz = curve(&[(0.0, 5.0), (0.5, 6.0), (1.0, 7.2)]);
    let rolled = style(&[(0.0, 0.0), (0.5, 40.0), (1.0, 90.0)], rate_hz, (0.45, 1.0, 2.3));
    Patch {
        dynamics: dynamics(0.06, 0.12, 30.0),
        vibrato: VibratoPatch {
            first_movement: FirstMovement::Down,
            rate_spread: 8.0 / 100.0,
            width_spread: 20.0 / 100.0,
            brightness_swing: 0.06,
            ..vibrato(styles(&[rolled]), [0.18, 0.3, 0.15, 0.22])
        },
        legato: legato([0.30, 0.65, 0.90], 12),
        strings: strings(&[(55, 12), (62, 12), (69, 14), (76, 27)], 0.328, 55),
        tail: tail(260.0, 18.0, 12.0),
        notes: notes(55, 103, 2),
        ..erhu()
    }
}

fn dizi() -> Patch {
    let rate_hz = curve(&[(0.0, 4.0), (0.5, 5.2), (1.0, 6.5)]);
    let rolled = style(&[(0.0, 0.0), (0.5, 18.0), (1.0, 40.0)], rate_hz, (0.5, 1.0, 3.0));
    let finger = style(&[(0.72, 28.0), (1.0, 60.0)], Curve::constant(6.5), (0.0, 1.3, 0.0));
    Patch {
        dynamics: DynamicsPatch { niente: false, ..dynamics(0.25, 0.15, 22.0) },
        vibrato: VibratoPatch {
            register_per_semitone: 0.0,
            rate_spread: 6.0 / 100.0,
            width_spread: 10.0 / 100.0,
            ..vibrato(styles(&[rolled, finger]), [0.35, 0.5, 0.6, 0.2])
        },
        legato: legato([0.35, 0.75, 0.92], 3),
        strings: StringsPatch::NONE,
        tail: tail(140.0, 12.0, 14.0),
        notes: notes(69, 98, 1),
        ..erhu()
    }
}

fn output(
    (layer, address): (Layer, Address),
    (min, max, rest): (u16, u16, u16),
    (low, high): (f64, f64),
    (interval_ms, priority): (f64, u8),
) -> OutputPatch {
    OutputPatch {
        layer,
        address,
        min,
        max,
        is_inverted: false,
        low,
        high,
        reading: if layer == Layer::Dynamics { Reading::Gm2 } else { Reading::Straight },
        rest,
        interval_s: interval_ms / 1000.0,
        error_bound: 0.5,
        priority,
    }
}

fn target(given: &[OutputPatch]) -> TargetPatch {
    let silent = OutputPatch {
        reading: Reading::Straight,
        ..output((Layer::Gesture, Address::Controller(0)), (0, 0, 0), (0.0, 1.0), (20.0, 9))
    };
    let mut outputs = [silent; OUTPUTS_MAX];
    outputs[..given.len()].copy_from_slice(given);
    TargetPatch {
        outputs,
        output_count: given.len(),
        bend_range_semitones: 2.0,
        sends_bend_range: false,
        messages_per_s: 400.0,
        burst_messages: 40.0,
        mode: ChoicePatch::Silent,
        articulation: ArticulationPatch::NONE,
        slide: None,
        joined_velocity: JoinedVelocity::Blended,
        transition: TransitionPatch::NONE,
    }
}

/// MIDI 1.0 controller 11, full at rest.
fn level() -> OutputPatch {
    let address = Address::Controller(11);
    output((Layer::Dynamics, address), (0, 127, 127), (0.0, 1.0), (10.0, 1))
}

fn generic() -> TargetPatch {
    let cc = |layer, number| (layer, Address::Controller(number));
    let generic = target(&[
        level(),
        output(cc(Layer::VibratoWidth, 77), (64, 127, 64), (0.0, 190.0), (20.0, 3)),
        output(cc(Layer::VibratoRate, 76), (1, 127, 64), (4.0, 7.6), (50.0, 5)),
        output(cc(Layer::Style, 70), (0, 127, 0), (0.0, 1.0), (50.0, 4)),
        output(cc(Layer::Send, 91), (0, 127, 40), (0.0, 1.0), (20.0, 6)),
    ]);
    TargetPatch { transition: by_portamento(), ..generic }
}

/// The portamento times of the receiver that the outside tests listen to.
fn by_portamento() -> TransitionPatch {
    let mut points = [(0, 0.0); PORTAMENTO_POINTS_MAX];
    points[..3].copy_from_slice(&[(0, 0.0), (1, 0.102), (127, 13.0)]);
    let portamento = PortamentoPatch { points, count: 3 };
    TransitionPatch { way: TransitionWay::Portamento, portamento, ..TransitionPatch::NONE }
}

fn perform() -> TargetPatch {
    let bend = (Layer::Pitch, Address::PitchBend);
    let perform = target(&[level(), output(bend, (0, 16_383, 8192), (-200.0, 200.0), (5.0, 0))]);
    let transition = TransitionPatch { way: TransitionWay::Bend, ..TransitionPatch::NONE };
    TargetPatch { transition, ..perform }
}
