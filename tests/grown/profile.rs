//! Instruments, targets and hands that nobody would write: refused with sentences, or playable.

use std::sync::OnceLock;

use polso::engine::Section;
use polso::profile::shipped::SHIPPED;

use crate::draw::Draw;
use crate::events::alternate;
use crate::rehearsal::{RATE_HZ, Score, Tape, perform_on};
use crate::sane::check_bytes;

/// Every field that some file gives: its table, its name and its value, as written.
type Entry = (String, String, String);

/// The fields of every file by its kind: all shipped ones, and a target of the tests.
fn vocabulary() -> &'static [Vec<Entry>] {
    static ENTRIES: OnceLock<Vec<Vec<Entry>>> = OnceLock::new();
    ENTRIES.get_or_init(|| {
        let own = include_str!("../outside/keyswitches.target.toml");
        let texts = SHIPPED.iter().map(|file| file.text).chain([own]);
        texts.map(entries).collect()
    })
}

fn entries(text: &str) -> Vec<Entry> {
    let mut table = String::new();
    let mut entries = Vec::new();
    for line in text.lines().map(|line| line.split(" #").next().unwrap_or_default().trim()) {
        if let Some(name) = line.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
            table = name.to_owned();
        } else if let Some((name, value)) = line.split_once(" = ").filter(|_| table != "origin") {
            entries.push((table.clone(), name.to_owned(), value.to_owned()));
        }
    }
    entries
}

fn is_like(one: &[Entry], other: &[Entry]) -> bool {
    one[0].2 == other[0].2
}

/// Grows a file's text out of bytes: a shipped one with some of its fields given otherwise.
pub fn grow(draw: &mut Draw) -> String {
    let all = vocabulary();
    let mut entries = all[draw.below(all.len())].clone();
    let like: Vec<&Vec<Entry>> = all.iter().filter(|other| is_like(&entries, other)).collect();
    for _ in 0..draw.below(5) {
        let place = draw.below(entries.len());
        match draw.below(8) {
            0..=4 => entries[place].2 = value(draw, &entries[place].2),
            5 => {
                let from = like[draw.below(like.len())];
                let mut entry = from[draw.below(from.len())].clone();
                if draw.one_in(2) {
                    entry.2 = value(draw, &entry.2);
                }
                entries.retain(|own| (&own.0, &own.1) != (&entry.0, &entry.1));
                entries.push(entry);
            }
            6 if entries.len() > 1 => {
                entries.remove(place);
            }
            _ => {
                let table = entries[place].0.clone();
                let is_kept = draw.one_in(3);
                entries.retain(|entry| is_kept || entry.0 != table || table.is_empty());
            }
        }
        if entries.is_empty() {
            break;
        }
    }
    written(&entries)
}

/// The text: each table once, in order of its first field.
fn written(entries: &[Entry]) -> String {
    let mut tables: Vec<&str> = Vec::new();
    for (table, ..) in entries {
        if !tables.contains(&table.as_str()) {
            tables.push(table);
        }
    }
    // What stands in no table comes first.
    tables.sort_by_key(|table| !table.is_empty());
    let mut text = String::new();
    for table in tables {
        if !table.is_empty() {
            text += &format!("[{table}]\n");
        }
        for (_, name, value) in entries.iter().filter(|entry| entry.0 == table) {
            text += &format!("{name} = {value}\n");
        }
    }
    text
}

/// Another value of the same sort, near an edge, or of another sort.
fn value(draw: &mut Draw, old: &str) -> String {
    const ODD: [&str; 10] =
        ["nan", "-inf", "1e308", "5e-324", "true", "\"\"", "[]", "{}", "\"cc 1\"", "1979-05-27"];
    if draw.one_in(16) {
        return draw.pick(&ODD).to_owned();
    }
    if old.starts_with("[[") {
        return points(draw);
    }
    if old.starts_with('[') {
        let count = draw.below(9);
        let keys: Vec<String> = (0..count).map(|_| (draw.byte() & 0x7F).to_string()).collect();
        return format!("[{}]", keys.join(", "));
    }
    let Ok(number) = old.parse::<f64>() else {
        const WORDS: [&str; 12] = [
            "\"gm2\"",
            "\"position\"",
            "\"cc pair 1\"",
            "\"cc 11\"",
            "\"nrpn 300\"",
            "\"program\"",
            "\"velocity\"",
            "\"channel pressure\"",
            "\"keyswitch\"",
            "\"open\"",
            "\"down\"",
            "false",
        ];
        return draw.pick(&WORDS).to_owned();
    };
    let unit = draw.unit();
    let near = [0.0, 1.0, -1.0, number + 1.0, number - 1.0, 2.0 * number, 0.5 * number, 127.0];
    match draw.below(8) {
        0 => format!("{}", draw.pick(&near)),
        1 => format!("{}", draw.byte()),
        2 => format!("{unit:?}"),
        // Whole numbers stay whole.
        _ if old.contains('.') => format!("{:?}", number * (0.8 + 0.4 * unit)),
        _ => format!("{}", (number * (0.8 + 0.4 * unit)).round()),
    }
}

/// Points of a curve, mostly in order.
fn points(draw: &mut Draw) -> String {
    let height = draw.pick(&[1.0, 0.1, 10.0, 100.0, 400.0]);
    let mut points: Vec<(f64, f64)> =
        (0..1 + draw.below(17)).map(|_| (draw.unit(), height * draw.unit())).collect();
    if !draw.one_in(8) {
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
    }
    if draw.one_in(2) {
        points = vec![(0.0, height * draw.unit()), (1.0, height)];
    }
    let points: Vec<String> = points.iter().map(|(x, y)| format!("[{x:?}, {y:?}]")).collect();
    format!("[{}]", points.join(", "))
}

/// Refused with sentences, or sane and playable. True if it was not refused.
pub fn check(bytes: &[u8]) -> Result<bool, String> {
    let mut draw = Draw::new(bytes);
    let mut text = grow(&mut draw).into_bytes();
    // What is left damages the text's bytes.
    let is_damaged = draw.one_in(4);
    for pair in draw.take(8).chunks_exact(4).filter(|_| is_damaged) {
        let place = usize::from(pair[0]) << 8 | usize::from(pair[1]);
        let place = place % text.len().max(1);
        match pair[2] % 3 {
            0 => text.splice(place..(place + 1).min(text.len()), [pair[3]]).count(),
            1 => text.splice(place..(place + usize::from(pair[3])).min(text.len()), []).count(),
            _ => text.splice(place..place, [pair[3]]).count(),
        };
    }
    let patches = check_bytes(&text);
    for patch in patches.iter().skip(1).take(1) {
        let mut engine = Section::prepare(RATE_HZ, patch);
        let score = Score::new()
            .wheel_follows(0.0, 1.2, |seconds| 0.5 - 0.5 * libm::cos(4.0 * seconds))
            .note(0.1, 0.5, 64)
            .note(0.49, 1.1, 69)
            .note(0.8, 0.9, 76);
        let sent = perform_on(&mut engine, RATE_HZ, &[512], &score, 1.6);
        let view = engine.view();
        let mut tape = Tape::default();
        engine.finish(&mut tape);
        alternate(&[sent, tape.sent].concat())?;
        let is_finite = [view.dynamics, view.width_cents, view.rate_hz, view.pitch_cents];
        if is_finite.iter().any(|value| !value.is_finite()) {
            return Err(format!("{view:?} is no line"));
        }
    }
    Ok(!patches.is_empty())
}
