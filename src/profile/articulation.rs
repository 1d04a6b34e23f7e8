//! The articulations by the trade's names, how a receiver is told them, and which keys choose them.

use super::address::address;
use super::instrument::Family;
use super::table_reader::TableReader;
use crate::engine::patch::{
    ARTICULATIONS_MAX, Address, ArticulationPatch, ChoicePatch, LEGATO, ModePatch, PLUCKED,
};

/// The names in the order of the common list, which only ever grows at its end: a project keeps
/// places. In a file a name's words are joined by `_`.
pub const NAMES: [&str; ARTICULATIONS_MAX] = [
    "legato",
    "detached",
    "tenuto",
    "staccato",
    "marcato",
    "harmonics",
    "muted",
    "spiccato",
    "tremolo",
    "pizzicato",
    "col legno",
    "sul ponticello",
    "sul tasto",
    "flutter",
    "double tongue",
    "triple tongue",
];
const _: () = assert!(NAMES[LEGATO as usize].len() == "legato".len());
// Pizzicato and col legno.
const _: () = assert!(PLUCKED == 1 << 9 | 1 << 10 && NAMES[9].len() == 9 && NAMES[10].len() == 9);
/// The places of those that only a bow or a finger on a string makes; winds alone have the rest
/// after them, and both have those before.
const BOWED: std::ops::Range<usize> = 7..13;

/// The name at a place of the list.
pub fn name(place: u8) -> &'static str {
    NAMES.get(usize::from(place)).copied().unwrap_or("none")
}

/// The place of a name; capitals and `_` do not matter.
pub fn place(text: &str) -> Option<u8> {
    let plain = text.trim().replace('_', " ").to_lowercase();
    NAMES.iter().position(|name| *name == plain).map(|place| place as u8)
}

/// Whether players of a family have the articulation at a place.
pub fn is_of(family: Family, place: usize) -> bool {
    match family {
        Family::Bowed => place < BOWED.end,
        Family::Wind => !BOWED.contains(&place),
    }
}

/// Reads how a receiver is told one of `N` things. `example` stands for all of them if none is
/// given.
pub(super) fn read_choice<const N: usize>(
    table: &TableReader<'_>,
    names: [&str; N],
    example: &str,
) -> ChoicePatch<N> {
    let rule = "\"keyswitch\", \"program\" or a controller, \"cc 0\" to \"cc 119\"";
    let is_controller = |text: &str| matches!(address(text), Some(Address::Controller(_)));
    let fits = |text: &str| matches!(text, "keyswitch" | "program") || is_controller(text);
    if !table.is_given() {
        return ChoicePatch::Silent;
    }
    let by = table.text("by", rule, None, fits);
    let values = names.map(|name| table.whole_if_given(&name.replace(' ', "_"), 127));
    if values.iter().all(Option::is_none) {
        let words = names.join(", ");
        table.refuse_missing(example, format!("0 to 127 for at least one of {words}"));
    }
    match by.as_str() {
        "keyswitch" => ChoicePatch::Keyswitch {
            keys: values,
            velocity: table.whole("velocity", 1..=127, Some(100)) as u8,
            is_held: table.flag("held", false),
        },
        "program" => ChoicePatch::Program(values),
        other => match address(other) {
            Some(Address::Controller(number)) => ChoicePatch::Controller { number, values },
            _ => ChoicePatch::Silent,
        },
    }
}

/// Reads how a receiver is told the articulation.
pub(super) fn read_told(table: &TableReader<'_>, legato: ModePatch) -> ArticulationPatch {
    let choice = read_choice(table, NAMES, "legato");
    if !table.is_given() {
        return ArticulationPatch::NONE;
    }
    refuse_strange(table, &["by", "usual", "velocity", "held"]);
    let given = |place: &usize| choice.value(*place).is_some();
    let first = (0..NAMES.len()).find(given).unwrap_or(usize::from(LEGATO));
    let mut names = NAMES.map(|name| (name, 0));
    names.iter_mut().enumerate().for_each(|(place, name)| name.1 = place as u8);
    let usual = table.choice("usual", &names, Some(first as u8));
    if choice.value(usize::from(usual)).is_none() && usize::from(usual) != first {
        table.refuse("usual", format!("{:?}", name(usual)), "one that has a value here");
    }
    let patch = ArticulationPatch { choice, usual };
    if choice.shares(&legato) {
        refuse_modes(table, &patch, legato);
    }
    patch
}

/// A value that chooses a legato mode cannot choose an articulation that does not join.
fn refuse_modes(table: &TableReader<'_>, patch: &ArticulationPatch, legato: ModePatch) {
    let modes = crate::engine::Mode::ALL;
    for (place, name) in NAMES.iter().enumerate() {
        let value = patch.choice.value(place);
        let is_joined = place as u8 == patch.played(LEGATO);
        let same = |mode: &usize| value.is_some() && legato.value(*mode) == value;
        if let Some(mode) = (0..modes.len()).find(same).filter(|_| !is_joined) {
            let found = format!("{}, as legato.{} is", value.unwrap_or(0), modes[mode].name());
            table.refuse(&name.replace(' ', "_"), found, "a value of its own");
        }
    }
}

/// Reads which keys choose articulations.
pub(super) fn read_keys(table: &TableReader<'_>) -> [Option<u8>; ARTICULATIONS_MAX] {
    let keys = NAMES.map(|name| table.whole_if_given(&name.replace(' ', "_"), 127));
    if table.is_given() {
        refuse_strange(table, &[]);
    }
    for (place, name) in NAMES.iter().enumerate() {
        let same = |other: &usize| keys[place].is_some() && keys[*other] == keys[place];
        if let Some(other) = (0..place).find(same) {
            let key = keys[place].unwrap_or(0);
            let found = format!("{key}, as {} is", NAMES[other]);
            table.refuse(&name.replace(' ', "_"), found, "a key of its own");
        }
    }
    keys
}

/// Refuses names that are neither in the list nor among `others`.
fn refuse_strange(table: &TableReader<'_>, others: &[&str]) {
    for name in table.names() {
        if !others.contains(&name) && !NAMES.iter().any(|own| own.replace(' ', "_") == name) {
            let words = NAMES.map(|name| name.replace(' ', "_")).join(", ");
            table.accept(name);
            table.refuse(name, "no articulation", format!("one of {words}"));
        }
    }
}
