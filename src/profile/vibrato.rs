//! How an instrument's pitch swings: its styles in order, when vibrato starts, how a slur interrupts it.

use super::table_reader::TableReader;
use super::value_text::{counted, rises};
use crate::engine::math::curve::Curve;
use crate::engine::patch::{FirstMovement, STYLES_MAX};

/// How wide a crossfade is at least, share of the gesture: a 7-bit controller has steps of 0.008.
const EDGE_STEP_MIN: f64 = 0.01;
/// The rate of a plain style that gives none, Hz. It has no width, so its rate is never heard.
const PLAIN_RATE_HZ: f64 = 5.0;
/// The share of a one-sided swing's mean that the ear takes off: the heard pitch of a vibrato is its
/// mean (Brown & Vaughn 1993, 1996), and pressing is left a little sharp on purpose.
const CENTRE: f64 = 0.9;
const CENTRE_PRESSED: f64 = 0.82;

/// The table `vibrato`: how the pitch swings (DESIGN 4.3, 4.4).
#[derive(Clone, Debug, PartialEq)]
pub struct VibratoTable {
    /// The styles in the order in which a rising gesture meets them, 1..=4.
    pub styles: Vec<StyleTable>,
    /// Gesture where the crossfade from each style to the next begins and ends, rising.
    pub style_edges: Vec<(f64, f64)>,
    /// The wait before a vibrato starts at a middling pace, milliseconds.
    pub onset_ms: f64,
    /// From its start to its full width, milliseconds.
    pub growth_ms: f64,
    /// What is left of the width in the middle of a slur, 0..=1.
    pub join_keep: f64,
    /// From there back to the whole, milliseconds.
    pub join_recover_ms: f64,
    /// Growth of the width per semitone of stopped height, share.
    pub register_per_semitone: f64,
    /// Which way the first swing goes.
    pub first_movement: FirstMovement,
    /// Share of a one-sided style's mean that the ear takes off, 0..=1, for styles that give none of
    /// their own; without it pressed styles have 0.82 and others 0.9.
    pub centre: Option<f64>,
    /// Spread (SD) of the rate from cycle to cycle, percent.
    pub imperfection_rate_percent: f64,
    /// Spread (SD) of the width from cycle to cycle, percent.
    pub imperfection_width_percent: f64,
    /// From the start of a vibrato until the ear has taken that share off, milliseconds.
    pub settle_ms: f64,
    /// How far a long vibrato widens and ebbs under a still hand, share.
    pub arch: f64,
    /// Swing of the brightness with the vibrato, share of the whole, peak to peak.
    pub brightness_swing: f64,
}

/// One table `vibrato.<name>`: one kind of vibrato.
#[derive(Clone, Debug, PartialEq)]
pub struct StyleTable {
    /// Its name, as in `plain`, `rolled`, `pressed`, `finger`.
    pub name: String,
    /// Width over the gesture, cents peak to peak.
    pub width_cents: Curve,
    /// Rate over the gesture, Hz.
    pub rate_hz: Curve,
    /// Share of the width above the pitch, 0..=1.
    pub share_above: f64,
    /// 1 is a sine; up to 2 the pitch stays longer near where it started.
    pub sharpness: f64,
    /// Loudness swing with the vibrato, decibels peak to peak.
    pub level_swing_db: f64,
    /// Share of a one-sided swing's mean that the ear takes off, 0..=1.
    pub centre: f64,
}

impl VibratoTable {
    pub(super) fn read(table: &TableReader<'_>) -> VibratoTable {
        let movements = [("up", FirstMovement::Up), ("down", FirstMovement::Down)];
        let rule = "1 to 4 different names of small letters, digits and underscores";
        let names = table.texts("styles", rule, STYLES_MAX, is_style_name);
        let style_edges = read_edges(table, names.len());
        let onset_ms = table.number("onset_ms", 0.0..=3000.0, Some(180.0));
        let growth_ms = table.number("growth_ms", 10.0..=5000.0, Some(350.0));
        let join_keep = table.number("join_keep", 0.0..=1.0, Some(0.3));
        let join_recover_ms = table.number("join_recover_ms", 10.0..=3000.0, Some(220.0));
        let register_per_semitone = table.number("register_per_semitone", -0.1..=0.1, Some(0.02));
        let first_movement = table.choice("first_movement", &movements, Some(FirstMovement::Up));
        let centre = read_centre(table);
        let imperfection_rate_percent =
            table.number("imperfection_rate_percent", 0.0..=16.0, Some(5.0));
        let imperfection_width_percent =
            table.number("imperfection_width_percent", 0.0..=25.0, Some(8.0));
        let settle_ms = table.number("settle_ms", 1.0..=5000.0, Some(500.0));
        let arch = table.number("arch", 0.0..=0.15, Some(0.1));
        let brightness_swing = table.number("brightness_swing", 0.0..=1.0, Some(0.0));
        let taken = table.log().paths();
        for (place, name) in names.iter().enumerate() {
            let is_taken = taken.contains(&format!("{}.{name}", table.path()));
            if is_taken || names[..place].contains(name) {
                table.refuse("styles", format!("{name:?} in a second place"), rule);
            }
        }
        let styles = names.into_iter().map(|name| read_style(table, name, centre)).collect();
        VibratoTable {
            styles,
            style_edges,
            onset_ms,
            growth_ms,
            join_keep,
            join_recover_ms,
            register_per_semitone,
            first_movement,
            centre,
            imperfection_rate_percent,
            imperfection_width_percent,
            settle_ms,
            arch,
            brightness_swing,
        }
    }
}

/// What holds for every style that gives no `centre` of its own, if the table gives it.
fn read_centre(table: &TableReader<'_>) -> Option<f64> {
    if !table.gives("centre") {
        table.accept("centre");
        return None;
    }
    Some(table.number("centre", 0.0..=1.0, Some(CENTRE)))
}

fn read_edges(table: &TableReader<'_>, style_count: usize) -> Vec<(f64, f64)> {
    let usual = [(0.10, 0.30), (0.72, 0.92)];
    let needed = style_count.saturating_sub(1);
    let rule = format!(
        "{} of begin and end, 0 to 1, in order, each end {EDGE_STEP_MIN} or more above its begin",
        counted(needed, "pair")
    );
    let default = usual.get(..needed).map(<[_]>::to_vec);
    if default.is_none() && !table.gives("style_edges") {
        table.refuse_missing("style_edges", &*rule);
    }
    let Some(edges) = table.pairs("style_edges", &rule, default) else {
        return Vec::new();
    };
    let flat: Vec<f64> = edges.iter().flat_map(|&(begin, end)| [begin, end]).collect();
    let is_inside = flat.iter().all(|edge| (0.0..=1.0).contains(edge));
    if edges.len() != needed || !is_inside || !is_in_order(&flat) {
        let pairs: Vec<String> = edges.iter().take(5).map(|(b, e)| format!("[{b}, {e}]")).collect();
        table.refuse("style_edges", format!("[{}]", pairs.join(", ")), rule);
        return Vec::new();
    }
    edges
}

/// Every crossfade takes some of the gesture's way; the next may begin where the last ended.
fn is_in_order(flat: &[f64]) -> bool {
    flat.chunks(2).all(|pair| rises(pair, EDGE_STEP_MIN)) && rises(flat, 0.0)
}

fn read_style(vibrato: &TableReader<'_>, name: String, centre: Option<f64>) -> StyleTable {
    let table = vibrato.table(&name);
    let is_plain = name == "plain";
    let usual_centre = centre.unwrap_or(if name == "pressed" { CENTRE_PRESSED } else { CENTRE });
    let level = |value| is_plain.then_some(Curve::constant(value));
    StyleTable {
        width_cents: table.curve("width_cents", 0.0..=1.0, 0.0..=400.0, level(0.0)),
        rate_hz: table.curve("rate_hz", 0.0..=1.0, 2.0..=9.0, level(PLAIN_RATE_HZ)),
        share_above: table.number("share_above", 0.0..=1.0, Some(0.5)),
        sharpness: table.number("sharpness", 1.0..=2.0, Some(1.0)),
        level_swing_db: table.number("level_swing_db", 0.0..=12.0, Some(0.0)),
        centre: table.number("centre", 0.0..=1.0, Some(usual_centre)),
        name,
    }
}

fn is_style_name(text: &str) -> bool {
    let fits = |each: u8| each.is_ascii_lowercase() || each.is_ascii_digit() || each == b'_';
    (1..=24).contains(&text.len()) && text.bytes().all(fits)
}
