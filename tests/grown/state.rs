//! A project's text as no version would write it: refused with a sentence, or kept word for word.

use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use serde_json::{Map, Value, json};

use crate::draw::Draw;
use crate::profile;
use crate::sane::assert_sane;

const FIELDS: [&str; 11] = [
    "polso",
    "format",
    "engine_revision",
    "seed",
    "instruments",
    "targets",
    "hand",
    "hand_recorded",
    "instrument",
    "target",
    "notes",
];

/// Grows a text out of bytes: a whole state with some of its fields given otherwise.
pub fn grow(draw: &mut Draw) -> String {
    let shipped: Value = serde_json::from_str(&State::shipped().to_text()).expect("JSON");
    let mut fields: Map<String, Value> = shipped.as_object().expect("an object").clone();
    for _ in 0..draw.below(8) {
        let name = draw.pick(&FIELDS);
        match draw.below(6) {
            0 => {
                fields.remove(name);
            }
            1 => {
                fields.insert(name.to_owned(), value(draw, 3));
            }
            2 => {
                let format = draw.pick(&[1, 2, 0, 3, u64::MAX]);
                fields.insert("format".to_owned(), json!(format));
            }
            3 => {
                let texts: Vec<String> = (0..draw.below(6)).map(|_| profile::grow(draw)).collect();
                let name = draw.pick(&["instruments", "targets"]);
                fields.insert(name.to_owned(), json!(texts));
            }
            4 => {
                let text = profile::grow(draw);
                fields.insert(draw.pick(&["hand", "instrument", "target"]).to_owned(), json!(text));
            }
            _ => {
                fields.insert("seed".to_owned(), json!(u64::from(draw.pair()) << 48));
            }
        }
    }
    Value::Object(fields).to_string()
}

fn value(draw: &mut Draw, depth: u8) -> Value {
    match draw.below(if depth == 0 { 6 } else { 8 }) {
        0 => Value::Null,
        1 => json!(draw.one_in(2)),
        2 => json!(draw.pick(&[0, 1, 2, -1, i64::MAX, i64::MIN])),
        3 => json!(draw.pick(&[0.5, 1e308, -0.0])),
        4 => json!(String::from_utf8_lossy(draw.take(6))),
        5 => json!("state"),
        6 => Value::Array((0..draw.below(5)).map(|_| value(draw, depth - 1)).collect()),
        _ => {
            let pair = |_| (format!("{}", draw.byte()), value(draw, depth - 1));
            Value::Object((0..2).map(pair).collect())
        }
    }
}

/// Refused with a sentence, or kept and played. True if it was not refused.
pub fn check(bytes: &[u8]) -> Result<bool, String> {
    let mut draw = Draw::new(bytes);
    let mut text = grow(&mut draw);
    if draw.one_in(8) {
        let cut = usize::from(draw.pair()) % (text.len() + 1);
        text = text.chars().take(cut).collect();
        text += &String::from_utf8_lossy(draw.rest());
    }
    let state = match State::parse(&text) {
        Err(error) if error.to_string().is_empty() => return Err("no sentence".to_owned()),
        Err(_) => return Ok(false),
        Ok(state) => state,
    };
    let kept = state.to_text();
    match State::parse(&kept) {
        Ok(again) if again == state && again.to_text() == kept => {}
        other => return Err(format!("kept as {kept}, read again as {other:?}")),
    }
    match SlotPatches::of(&state) {
        Err(sentence) if sentence.is_empty() => Err("no sentence".to_owned()),
        Err(_) => Ok(true),
        Ok(bank) => {
            for instrument in 0..4 {
                for target in 0..4 {
                    bank.patch(instrument, target).into_iter().for_each(assert_sane);
                }
            }
            bank.first().map(|_| true).ok_or_else(|| "a bank without a patch".to_owned())
        }
    }
}
