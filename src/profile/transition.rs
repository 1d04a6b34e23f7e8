//! How a receiver gets from one pitch to the next: by bend, by its portamento, by its own modes, or not at all.

use super::output::{Drives, OutputTable};
use super::table_reader::TableReader;
use super::value_text::counted;
use crate::engine::Layer;
use crate::engine::patch::{
    PORTAMENTO_POINTS_MAX, PortamentoPatch, TransitionPatch, TransitionWay,
};

/// The longest portamento of a table, milliseconds: fourteen bits of milliseconds, as some
/// receivers count them.
const PORTAMENTO_MS_MAX: f64 = 20_000.0;

/// The words for the ways.
const WAYS: [(&str, TransitionWay); 4] = [
    ("bend", TransitionWay::Bend),
    ("portamento", TransitionWay::Portamento),
    ("receiver", TransitionWay::Receiver),
    ("none", TransitionWay::None),
];

/// Reads the table `transition`. Without it a receiver that is told modes, or to slide, joins in
/// its own way, and any other not at all.
pub(super) fn read(
    root: &TableReader<'_>,
    outputs: &[OutputTable],
    joins_itself: bool,
) -> TransitionPatch {
    let table = root.table("transition");
    if !table.is_given() {
        let way = if joins_itself { TransitionWay::Receiver } else { TransitionWay::None };
        return TransitionPatch { way, ..TransitionPatch::NONE };
    }
    let way = table.choice("by", &WAYS, None);
    let points = table.pairs("portamento_ms", &points_rule(), None);
    let words = [("overlap", false), ("cut", true)];
    let cuts_jumps = table.choice("jumps", &words, Some(false));
    let has_legato_switch = table.flag("legato_switch", false);
    if root.log().has_refused("transition.by") {
        return TransitionPatch::NONE;
    }
    let own = format!("\"{}\"", way.name());
    let mut portamento = PortamentoPatch::NONE;
    if way == TransitionWay::Portamento {
        read_points(&table, points, &mut portamento);
    } else if table.gives("portamento_ms") {
        let found = format!("given while transition.by is {own}");
        table.refuse("portamento_ms", found, "a table for \"portamento\" alone");
    }
    if cuts_jumps && matches!(way, TransitionWay::Portamento | TransitionWay::Receiver) {
        let found = format!("\"cut\" while transition.by is {own}");
        table.refuse("jumps", found, "\"overlap\": there the receiver ends the old note");
    }
    if way != TransitionWay::Receiver && root.gives("slide") {
        let found = format!("given while transition.by is {own}");
        root.refuse("slide", found, "one of the two, or transition.by = \"receiver\"");
    }
    let is_pitch =
        |output: &OutputTable| output.is_on && output.drives == Drives::Layer(Layer::Pitch);
    if way == TransitionWay::Bend && !outputs.iter().any(is_pitch) {
        table.refuse("by", own, "\"bend\" only where outputs.pitch is on");
    }
    TransitionPatch { way, portamento, cuts_jumps, has_legato_switch }
}

fn points_rule() -> String {
    format!(
        "1 to {PORTAMENTO_POINTS_MAX} points [[value of cc 5, milliseconds], …], both rising, \
         values 0 to 127, milliseconds 0 to {PORTAMENTO_MS_MAX}"
    )
}

/// The receiver's own times.
fn read_points(
    table: &TableReader<'_>,
    points: Option<Vec<(f64, f64)>>,
    patch: &mut PortamentoPatch,
) {
    let Some(points) = points else {
        if !table.gives("portamento_ms") {
            table.refuse_missing("portamento_ms", points_rule());
        }
        return;
    };
    if !(1..=PORTAMENTO_POINTS_MAX).contains(&points.len()) {
        let found = format!("{} long", counted(points.len(), "point"));
        table.refuse("portamento_ms", found, points_rule());
        return;
    }
    let is_whole = |&(value, ms): &(f64, f64)| {
        (0.0..=127.0).contains(&value)
            && value.fract() == 0.0
            && (0.0..=PORTAMENTO_MS_MAX).contains(&ms)
    };
    let rises = |pair: &[(f64, f64)]| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1;
    if let Some((value, ms)) = points.iter().find(|point| !is_whole(point)) {
        table.refuse("portamento_ms", format!("[{value}, {ms}]"), points_rule());
    } else if let Some(pair) = points.windows(2).find(|pair| !rises(pair)) {
        let (value, ms) = pair[1];
        table.refuse("portamento_ms", format!("[{value}, {ms}] after its point"), points_rule());
    } else {
        patch.count = points.len();
        for (place, (value, ms)) in patch.points.iter_mut().zip(points) {
            *place = (value as u8, ms / 1000.0);
        }
    }
}
