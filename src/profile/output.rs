//! One output of a receiver: what drives it, where it goes, how its values read there.

use super::address::{ADDRESS_RULE, address};
use super::table_reader::TableReader;
use super::value_text::counted;
use crate::engine::Layer;
use crate::engine::input::message::BEND_CENTRE;
use crate::engine::math::curve::{Curve, POINTS_MAX};
use crate::engine::patch::{Address, Reading};
use std::ops::RangeInclusive;

/// How near in loudness two measured points may stand, decibels.
const MEASURED_STEP_DB_MIN: f64 = 0.01;

/// What drives an output.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Drives {
    /// A layer.
    Layer(Layer),
    /// The weight of the style of this name; instruments without it leave the output out.
    StyleWeight(String),
}

impl Drives {
    /// What the table `outputs.<name>` is driven by; not `style_weight`, which holds tables.
    fn named(name: &str) -> Option<Drives> {
        let layer = match name {
            "dynamics" => Layer::Dynamics,
            "expression" => Layer::Expression,
            "vibrato_width" => Layer::VibratoWidth,
            "vibrato_rate" => Layer::VibratoRate,
            "style" => Layer::Style,
            "pitch" => Layer::Pitch,
            "send" => Layer::Send,
            "gesture" => Layer::Gesture,
            "brightness" => Layer::Brightness,
            _ => return None,
        };
        Some(Drives::Layer(layer))
    }

    fn is_level(&self) -> bool {
        matches!(self, Drives::Layer(Layer::Dynamics | Layer::Expression))
    }

    /// Whether it drives a vibrato of the receiver's own.
    pub(super) fn is_receivers_vibrato(&self) -> bool {
        let layer = Layer::VibratoWidth;
        *self == Drives::Layer(layer) || *self == Drives::Layer(Layer::VibratoRate)
    }
}

/// The tables that `outputs` may hold beside `style_weight`.
pub(super) const OUTPUT_NAMES: [&str; 9] = [
    "dynamics",
    "expression",
    "vibrato_width",
    "vibrato_rate",
    "style",
    "pitch",
    "send",
    "gesture",
    "brightness",
];

/// One table of `outputs`: one stream of messages to the receiver.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputTable {
    /// The dotted name of its table.
    pub path: String,
    /// What drives it.
    pub drives: Drives,
    /// False keeps it in the file without sending anything.
    pub is_on: bool,
    /// Where it goes.
    pub address: Address,
    /// Raw value at the low end.
    pub min: u16,
    /// Raw value at the high end, above `min`.
    pub max: u16,
    /// The low end goes to `max` instead.
    pub is_inverted: bool,
    /// What stands at the low end, in the unit of what drives it; for pitch see
    /// [`super::target::Target::bend_range_semitones`].
    pub low: f64,
    /// What stands at the high end, above `low`.
    pub high: f64,
    /// How the receiver reads it.
    pub reading: Reading,
    /// Raw value at rest.
    pub rest: u16,
    /// The shortest time from one message to the next, milliseconds.
    pub interval_ms: f64,
    /// How far a sent number may be from the true one, steps of the number; half a step sends
    /// every change.
    pub error_bound_steps: f64,
    /// Who waits when the channel is busy: 0 goes first.
    pub priority: u8,
}

/// Reads the output `name` of the table `outputs`.
pub(super) fn read_named(outputs: &TableReader<'_>, name: &str) -> Option<OutputTable> {
    let drives = Drives::named(name)?;
    Some(read(&outputs.table(name), drives))
}

/// Reads one output.
pub(super) fn read(table: &TableReader<'_>, drives: Drives) -> OutputTable {
    let is_on = table.flag("on", true);
    let address = read_address(table, &drives);
    let raw_max = address.raw_max();
    let interval_ms = table.number("interval_ms", 1.0..=1000.0, Some(usual_interval(&drives)));
    let bound = 0.5..=0.25 * f64::from(raw_max);
    let error_bound_steps = table.number("error_bound_steps", bound, Some(0.5));
    let priority = table.whole("priority", 0..=9, Some(usual_priority(&drives))) as u8;
    let mut output = OutputTable {
        path: table.path().to_owned(),
        drives,
        is_on,
        address,
        min: 0,
        max: raw_max,
        is_inverted: false,
        low: 0.0,
        high: 1.0,
        reading: Reading::Straight,
        rest: BEND_CENTRE,
        interval_ms,
        error_bound_steps,
        priority,
    };
    if output.drives == Drives::Layer(Layer::Pitch) {
        // The bend range gives the ends, and the player's bend must keep its centre.
        return output;
    }
    let min = table.whole("min", 0..=raw_max - 1, Some(0));
    let max = table.whole("max", 1..=raw_max, Some(raw_max));
    if min >= max {
        let allowed = format!("0 to {}, below max", max.max(1) - 1);
        table.refuse_beside(&["min", "max"], min.to_string(), allowed);
    }
    (output.min, output.max) = (min, max);
    output.is_inverted = table.flag("inverted", false);
    (output.low, output.high) = read_ends(table, &output.drives);
    output.reading = match output.drives.is_level() {
        true => read_hearing(table, (min, max), output.is_inverted),
        false => read_response(table),
    };
    output.rest = table.whole("rest", 0..=raw_max, Some(usual_rest(&output)));
    output
}

fn read_address(table: &TableReader<'_>, drives: &Drives) -> Address {
    let is_pitch = *drives == Drives::Layer(Layer::Pitch);
    let rule = if is_pitch { "\"pitch bend\"" } else { ADDRESS_RULE };
    let fits = |text: &str| address(text).is_some_and(|it| !is_pitch || it == Address::PitchBend);
    let place = address(&table.text("address", rule, None, fits));
    if !is_pitch && place == Some(Address::PitchBend) {
        table.refuse("address", "\"pitch bend\"", "an address that leaves the bend to pitch");
    }
    place.unwrap_or(Address::Controller(0))
}

/// Pitch must be quick to sound smooth, and a swell must not be heard in steps; style and rate
/// change slowly (DESIGN 5).
fn usual_interval(drives: &Drives) -> f64 {
    match drives {
        Drives::Layer(Layer::Pitch) => 5.0,
        Drives::Layer(Layer::Dynamics | Layer::Expression) => 10.0,
        Drives::Layer(Layer::VibratoRate | Layer::Style) | Drives::StyleWeight(_) => 50.0,
        _ => 20.0,
    }
}

/// What the ear misses first goes first (DESIGN 5).
fn usual_priority(drives: &Drives) -> u16 {
    match drives {
        Drives::Layer(Layer::Pitch) => 0,
        Drives::Layer(Layer::Dynamics) => 1,
        Drives::Layer(Layer::Expression) => 2,
        Drives::Layer(Layer::VibratoWidth) => 3,
        Drives::Layer(Layer::Style) | Drives::StyleWeight(_) => 4,
        Drives::Layer(Layer::VibratoRate) => 5,
        Drives::Layer(_) => 6,
    }
}

/// The values of the layer that stand at the two ends, in its own unit.
fn read_ends(table: &TableReader<'_>, drives: &Drives) -> (f64, f64) {
    type EndFields = (&'static str, &'static str, RangeInclusive<f64>, f64, f64);
    let share = 0.0..=1.0;
    let (low_name, high_name, range, usual_low, usual_high): EndFields = match drives {
        Drives::Layer(Layer::VibratoWidth) => ("low_cents", "high_cents", 0.0..=800.0, 0.0, 120.0),
        Drives::Layer(Layer::VibratoRate) => ("low_hz", "high_hz", 0.1..=20.0, 4.0, 7.6),
        Drives::Layer(Layer::Style) => ("low_position", "high_position", share, 0.0, 1.0),
        Drives::Layer(Layer::Gesture) => ("low_gesture", "high_gesture", share, 0.0, 1.0),
        Drives::StyleWeight(_) => ("low_weight", "high_weight", share, 0.0, 1.0),
        // A level is 0..=1 of its decibels; a send is lifted by steps of its whole range.
        Drives::Layer(_) => return (0.0, 1.0),
    };
    let low = table.number(low_name, range.clone(), Some(usual_low));
    let high = table.number(high_name, range.clone(), Some(usual_high));
    if high < low + 0.01 {
        let allowed = format!("{} to {}, above {low_name}", low + 0.01, range.end());
        table.refuse_beside(&[high_name, low_name], high.to_string(), allowed);
    }
    (low, high)
}

fn read_response(table: &TableReader<'_>) -> Reading {
    if !table.gives("response") {
        table.accept("response");
        return Reading::Straight;
    }
    Reading::Response(table.curve("response", 0.0..=1.0, 0.0..=1.0, None))
}

const HEARING_RULE: &str = "\"position\", \"gm2\" or 2 to 16 measured points [value, decibels]";

fn read_hearing(table: &TableReader<'_>, ends: (u16, u16), is_inverted: bool) -> Reading {
    if table.gives("hears") && table.plain_text("hears").is_none() {
        if is_inverted {
            table.refuse("inverted", "true", "false, since the points of hears say which way");
        }
        let points = table.pairs("hears", HEARING_RULE, None).unwrap_or_default();
        return inverse(table, &points, ends).map_or(Reading::Straight, Reading::Table);
    }
    let choices = [("position", false), ("gm2", true)];
    match table.choice("hears", &choices, Some(false)) {
        true => Reading::Gm2,
        false => Reading::Straight,
    }
}

/// From decibels below the loudest to the share of min..max, out of measured points.
fn inverse(table: &TableReader<'_>, points: &[(f64, f64)], ends: (u16, u16)) -> Option<Curve> {
    let (min, max) = (f64::from(ends.0), f64::from(ends.1));
    let refuse = |found: String, allowed: &str| table.refuse("hears", found, allowed);
    if !(2..=POINTS_MAX).contains(&points.len()) {
        if !points.is_empty() {
            refuse(format!("{} long", counted(points.len(), "point")), HEARING_RULE);
        }
        return None;
    }
    for &(value, level_db) in points {
        if !(min..=max).contains(&value) {
            refuse(format!("measured at {value}"), &format!("values {min} to {max}"));
            return None;
        }
        if !(-120.0..=24.0).contains(&level_db) {
            refuse(format!("{level_db} dB at {value}"), "-120 to 24 dB");
            return None;
        }
    }
    for pair in points.windows(2) {
        let (before, after) = (pair[0], pair[1]);
        if after.0 < before.0 + 1.0 || after.1 < before.1 + MEASURED_STEP_DB_MIN {
            let found = format!("[{}, {}] after [{}, {}]", after.0, after.1, before.0, before.1);
            refuse(found, "values and decibels that both rise from point to point");
            return None;
        }
    }
    let loudest_db = points.last()?.1;
    let turned: Vec<(f64, f64)> =
        points.iter().map(|&(raw, db)| (db - loudest_db, (raw - min) / (max - min))).collect();
    Curve::through(&turned)
}

/// A level that a receiver multiplies rests open, so that it still sounds when nothing is sent;
/// a rate and a brightness rest in the middle, where GM2 has the instrument's own; everything else
/// at its low end.
fn usual_rest(output: &OutputTable) -> u16 {
    let (min, max) = (output.min, output.max);
    let (low, high) = if output.is_inverted { (max, min) } else { (min, max) };
    match output.drives {
        Drives::Layer(Layer::Expression) => high,
        Drives::Layer(Layer::Dynamics) if output.reading != Reading::Straight => high,
        Drives::Layer(Layer::VibratoRate | Layer::Brightness) => {
            min + max.saturating_sub(min).div_ceil(2)
        }
        _ => low,
    }
}
