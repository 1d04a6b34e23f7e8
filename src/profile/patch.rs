//! Puts instrument, receiver and hand together: what the engine plays from.

use super::address::{source_streams, streams};
use super::articulation::{self, is_of};
use super::fault::Fault;
use super::hand::Hand;
use super::instrument::{Family, Instrument, StringsTable};
use super::kind::FileKind;
use super::output::{Drives, OutputTable};
use super::target::Target;
use super::vibrato::{StyleTable, VibratoTable};
use crate::engine::Layer;
use crate::engine::Mode;
use crate::engine::math::curve::Curve;
use crate::engine::patch::{
    Address, ArticulationPatch, ChoicePatch, DynamicsPatch, HandPatch, LegatoPatch, ModePatch,
    NotesPatch, OUTPUTS_MAX, OpenPolicy, OutputPatch, Patch, Reading, RetouchPatch, STRINGS_MAX,
    STYLES_MAX, StringPatch, StringsPatch, StylePatch, TailPatch, TargetPatch, VibratoPatch,
    VoicesPatch,
};

/// The most that imperfection may spread the rate, share (DESIGN 4.3).
const RATE_SPREAD_MAX: f64 = 0.16;
/// The most that imperfection may spread the width, share (DESIGN 4.3).
const WIDTH_SPREAD_MAX: f64 = 0.25;
/// The most that the width may arch over a long note, share (DESIGN 4.3).
const ARCH_MAX: f64 = 0.15;
/// By how much imperfection may be multiplied at most.
pub const IMPERFECTION_SCALE_MAX: f64 = 2.0;

/// Files that are each in order and do not go together.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}", sentences(.mismatches))]
pub struct PatchError {
    /// At least one.
    pub mismatches: Vec<Mismatch>,
}

/// One field that does not go with the other files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mismatch {
    /// The file that holds the field; `None` for the imperfection scale.
    pub kind: Option<FileKind>,
    /// The field, what it is and what it may be, without a line.
    pub fault: Fault,
}

fn sentences(mismatches: &[Mismatch]) -> String {
    let sentence = |mismatch: &Mismatch| match mismatch.kind {
        Some(kind) => format!("{}: {}", kind.name(), mismatch.fault),
        None => mismatch.fault.to_string(),
    };
    mismatches.iter().map(sentence).collect::<Vec<_>>().join("\n")
}

/// The seed of which program and plugin play unless they are told another: 0.
pub const SEED: u64 = 0;

/// The settings from which the engine plays one line. `seed` chooses among the possible
/// performances. `imperfection_scale` multiplies the file's imperfection: 0 is off, 1 as the file
/// says, at most 2.
///
/// # Errors
/// Every field that does not go with the other files.
pub fn patch(
    instrument: &Instrument,
    target: &Target,
    hand: &Hand,
    seed: u64,
    imperfection_scale: f64,
) -> Result<Patch, PatchError> {
    let mut mismatches = keyswitches_in_range(instrument, target, hand);
    mismatches.extend(doubled_source(target, hand));
    if !(0.0..=IMPERFECTION_SCALE_MAX).contains(&imperfection_scale) {
        let allowed = format!("0 to {IMPERFECTION_SCALE_MAX}");
        let found = imperfection_scale.to_string();
        mismatches.push(mismatch(None, "imperfection", found, allowed));
    }
    let voices = hand.voices.patch(&target.channels, hand.leading_voice, imperfection_scale);
    let voices = voices.unwrap_or_else(|(found, allowed)| {
        mismatches.push(mismatch(Some(FileKind::Hand), "voices", found, allowed));
        VoicesPatch::LINE
    });
    if !mismatches.is_empty() {
        return Err(PatchError { mismatches });
    }
    Ok(Patch {
        hand: hand_patch(hand),
        dynamics: dynamics_patch(instrument, hand),
        vibrato: vibrato_patch(&instrument.vibrato, target, imperfection_scale),
        legato: legato_patch(instrument),
        strings: strings_patch(instrument.strings.as_ref()),
        tail: TailPatch {
            tail_s: seconds(instrument.tail.tail_ms),
            tail_db: instrument.tail.tail_db,
            lift: instrument.tail.ambience_lift_steps / 127.0,
        },
        target: target_patch(target, &instrument.vibrato.styles, instrument.family),
        seed,
        home_channel: 0,
        retouches: RetouchPatch::NONE,
        voices,
        notes: NotesPatch {
            lowest_key: instrument.range.hard_keys.0,
            highest_key: instrument.range.hard_keys.1,
            voice_count: instrument.voice_count,
        },
    })
}

/// Refuses keyswitches inside the playing range: there a note would switch and a keyswitch sound.
fn keyswitches_in_range(instrument: &Instrument, target: &Target, hand: &Hand) -> Vec<Mismatch> {
    let (low, high) = instrument.range.hard_keys;
    let mut named: Vec<(FileKind, String, u8)> = Vec::new();
    let mut name = |kind: FileKind, table: &str, names: &[&str], keys: &[Option<u8>]| {
        let keys = names.iter().zip(keys).filter_map(|(name, key)| Some((name, (*key)?)));
        let field = |name: &str| format!("{table}.{}", name.replace(' ', "_"));
        named.extend(keys.map(|(name, key)| (kind, field(name), key)));
    };
    if let ModePatch::Keyswitch { keys, .. } = target.legato {
        name(FileKind::Target, "legato", &Mode::ALL.map(Mode::name), &keys);
    }
    if let ChoicePatch::Keyswitch { keys, .. } = target.articulations.choice {
        name(FileKind::Target, "articulations", &articulation::NAMES, &keys);
    }
    name(FileKind::Hand, "articulations", &articulation::NAMES, &hand.articulation_keys);
    let inside = |(.., key): &(FileKind, String, u8)| (low..=high).contains(key);
    let tell = |(kind, field, key): (FileKind, String, u8)| {
        let id = &instrument.about.id;
        let allowed = format!("a key outside {low} to {high}, where the {id} plays");
        mismatch(Some(kind), &field, key.to_string(), allowed)
    };
    named.into_iter().filter(inside).map(tell).collect()
}

/// Refuses a source that passes to the address of an output: the receiver would get both.
fn doubled_source(target: &Target, hand: &Hand) -> Option<Mismatch> {
    let own = source_streams(hand.source);
    let is_hit = |output: &&OutputTable| {
        output.is_on && streams(output.address).iter().any(|stream| own.contains(stream))
    };
    let hit = target.outputs.iter().find(is_hit).filter(|_| hand.source_passes)?;
    let allowed = format!("false, since {} of the target goes there too", hit.path);
    Some(mismatch(Some(FileKind::Hand), "controller.passes", "true".to_owned(), allowed))
}

fn mismatch(kind: Option<FileKind>, field: &str, found: String, allowed: String) -> Mismatch {
    Mismatch {
        kind,
        fault: Fault { line: None, file: None, field: field.to_owned(), found, allowed },
    }
}

fn hand_patch(hand: &Hand) -> HandPatch {
    HandPatch {
        source: hand.source,
        source_passes: hand.source_passes,
        is_breath: hand.is_breath,
        low: hand.low,
        high: hand.high,
        is_inverted: hand.is_inverted,
        dead_zone_rest: hand.dead_zone_rest,
        dead_zone_full: hand.dead_zone_full,
        rest: hand.rest,
        response: hand.response,
        weight: hand.weight,
        articulation_keys: hand.articulation_keys,
    }
}

fn dynamics_patch(instrument: &Instrument, hand: &Hand) -> DynamicsPatch {
    let dynamics = instrument.dynamics;
    let accent = if hand.is_breath { dynamics.accent_by_breath } else { dynamics.accent };
    DynamicsPatch {
        shift: 0.0,
        floor: dynamics.floor,
        ceiling: dynamics.ceiling,
        curve: dynamics.curve,
        accent,
        span_db: dynamics.span_db,
        velocity_share: dynamics.velocity_share,
        niente: dynamics.niente,
    }
}

fn vibrato_patch(vibrato: &VibratoTable, target: &Target, imperfection_scale: f64) -> VibratoPatch {
    let silent = StylePatch {
        width_cents: Curve::constant(0.0),
        rate_hz: Curve::constant(5.0),
        share_above: 0.5,
        sharpness: 1.0,
        level_swing_db: 0.0,
        centre: 0.0,
    };
    let mut styles = [silent; STYLES_MAX];
    for (place, style) in styles.iter_mut().zip(&vibrato.styles) {
        *place = StylePatch {
            width_cents: style.width_cents,
            rate_hz: style.rate_hz,
            share_above: style.share_above,
            sharpness: style.sharpness,
            level_swing_db: style.level_swing_db,
            centre: style.centre,
        };
    }
    let mut edges = [(1.0, 1.0); STYLES_MAX - 1];
    for (place, edge) in edges.iter_mut().zip(&vibrato.style_edges) {
        *place = *edge;
    }
    let spread = |percent: f64, most: f64| (percent / 100.0 * imperfection_scale).min(most);
    VibratoPatch {
        styles,
        style_count: vibrato.styles.len(),
        edges,
        style_law: target.style_law,
        quick_through: target.quick_through,
        onset_s: seconds(vibrato.onset_ms),
        growth_s: seconds(vibrato.growth_ms),
        join_keep: vibrato.join_keep,
        join_recover_s: seconds(vibrato.join_recover_ms),
        register_per_semitone: vibrato.register_per_semitone,
        first_movement: vibrato.first_movement,
        rate_spread: spread(vibrato.imperfection_rate_percent, RATE_SPREAD_MAX),
        width_spread: spread(vibrato.imperfection_width_percent, WIDTH_SPREAD_MAX),
        width_scale: 1.0,
        rate_scale: 1.0,
        rate_shift_hz: 0.0,
        style_position: None,
        settle_s: seconds(vibrato.settle_ms),
        arch: (vibrato.arch * imperfection_scale).min(ARCH_MAX),
        brightness_swing: vibrato.brightness_swing,
    }
}

fn legato_patch(instrument: &Instrument) -> LegatoPatch {
    let legato = instrument.legato;
    LegatoPatch {
        edges: legato.edges,
        hysteresis: legato.hysteresis,
        join_gap_s: seconds(legato.join_gap_ms),
        slide_max_semitones: legato.slide_max_semitones,
        slide_s: seconds(legato.slide_ms),
    }
}

fn strings_patch(strings: Option<&StringsTable>) -> StringsPatch {
    let none = StringPatch { open_key: 0, span_semitones: 0, length_m: 0.0 };
    let mut patch = StringsPatch {
        strings: [none; STRINGS_MAX],
        count: 0,
        forced_open_keys: 0,
        policy: OpenPolicy::Stopped,
    };
    let Some(strings) = strings else {
        return patch;
    };
    for (&open_key, &span_semitones) in strings.open_keys.iter().zip(&strings.span_semitones) {
        let length_m = strings.length_m;
        patch.strings[patch.count] = StringPatch { open_key, span_semitones, length_m };
        patch.count += 1;
    }
    for &key in &strings.forced_open_keys {
        patch.forced_open_keys |= 1 << key;
    }
    patch.policy = strings.open_policy;
    patch
}

fn target_patch(target: &Target, styles: &[StyleTable], family: Family) -> TargetPatch {
    let silent = OutputPatch {
        layer: Layer::Gesture,
        address: Address::Controller(0),
        min: 0,
        max: 0,
        is_inverted: false,
        low: 0.0,
        high: 1.0,
        reading: Reading::Straight,
        rest: 0,
        interval_s: 0.02,
        error_bound: 0.5,
        priority: 9,
    };
    let mut outputs = [silent; OUTPUTS_MAX];
    let mut output_count = 0;
    let bend_cents = target.bend_range_semitones * 100.0;
    for output in target.outputs.iter().filter(|output| output.is_on) {
        if let Some(layer) = layer_of(&output.drives, styles) {
            outputs[output_count] = output_patch(output, layer, bend_cents);
            output_count += 1;
        }
    }
    TargetPatch {
        outputs,
        output_count,
        bend_range_semitones: target.bend_range_semitones,
        messages_per_s: target.messages_per_s,
        burst_messages: target.burst_messages,
        sends_bend_range: target.sends_bend_range,
        mode: target.legato,
        articulation: articulation_patch(target, family),
        slide: target.slide,
        joined_velocity: target.joined_velocity,
        transition: target.transition,
    }
}

/// What a player of this family can be asked for.
fn articulation_patch(target: &Target, family: Family) -> ArticulationPatch {
    let ArticulationPatch { mut choice, usual } = target.articulations;
    if let ChoicePatch::Keyswitch { keys: values, .. }
    | ChoicePatch::Program(values)
    | ChoicePatch::Controller { values, .. } = &mut choice
    {
        let strange = |place: &usize| *place != usize::from(usual) && !is_of(family, *place);
        (0..values.len()).filter(strange).for_each(|place| values[place] = None);
    }
    ArticulationPatch { choice, usual }
}

fn layer_of(drives: &Drives, styles: &[StyleTable]) -> Option<Layer> {
    match drives {
        Drives::Layer(layer) => Some(*layer),
        Drives::StyleWeight(name) => {
            let place = styles.iter().position(|style| style.name == *name)?;
            Some(Layer::StyleWeight(place as u8))
        }
    }
}

fn output_patch(output: &OutputTable, layer: Layer, bend_cents: f64) -> OutputPatch {
    let (low, high) = match layer {
        Layer::Pitch => (-bend_cents, bend_cents),
        _ => (output.low, output.high),
    };
    OutputPatch {
        layer,
        address: output.address,
        min: output.min,
        max: output.max,
        is_inverted: output.is_inverted,
        low,
        high,
        reading: output.reading,
        rest: output.rest,
        interval_s: seconds(output.interval_ms),
        error_bound: output.error_bound_steps,
        priority: output.priority,
    }
}

fn seconds(ms: f64) -> f64 {
    ms / 1000.0
}
