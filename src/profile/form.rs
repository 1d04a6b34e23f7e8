//! What may stand in a field, as a program reads it: ranges, choices and counts.

use super::value_text::tidy;
use crate::engine::curve::POINTS_MAX;
use serde_json::{Value as Json, json};
use std::ops::RangeInclusive;

/// What may stand in a field. Relations between fields, and the spelling of texts, are judged by
/// the reader alone.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// A number from `low` to `high`.
    Number {
        /** The lowest. */
        low: f64,
        /** The highest. */
        high: f64,
    },
    /// A whole number from `low` to `high`.
    Whole {
        /** The lowest. */
        low: u16,
        /** The highest. */
        high: u16,
    },
    /// True or false.
    Flag,
    /// One of these words.
    Choice(Vec<String>),
    /// A text.
    Text,
    /// 1 to `most` texts.
    Texts {
        /** How many at most. */
        most: usize,
    },
    /// A list of whole numbers.
    Wholes {
        /** How many. */
        counts: (usize, usize),
        /** From where to where. */
        range: (u16, u16),
    },
    /// `count` numbers that rise.
    Rising {
        /** How many. */
        count: usize,
        /** The lowest. */
        low: f64,
        /** The highest. */
        high: f64,
    },
    /// A list of pairs of numbers.
    Pairs,
    /// One number, or 2 to 16 points of two.
    Curve {
        /** From where to where the points stand. */
        x: (f64, f64),
        /** The lowest and the highest value. */
        y: (f64, f64),
    },
}

impl Form {
    pub(super) fn number(range: &RangeInclusive<f64>) -> Form {
        Form::Number { low: *range.start(), high: *range.end() }
    }

    pub(super) fn whole(range: &RangeInclusive<u16>) -> Form {
        Form::Whole { low: *range.start(), high: *range.end() }
    }

    pub(super) fn wholes(counts: &RangeInclusive<usize>, range: &RangeInclusive<u16>) -> Form {
        let counts = (*counts.start(), *counts.end());
        Form::Wholes { counts, range: (*range.start(), *range.end()) }
    }

    pub(super) fn curve(x: &RangeInclusive<f64>, y: &RangeInclusive<f64>) -> Form {
        Form::Curve { x: (*x.start(), *x.end()), y: (*y.start(), *y.end()) }
    }

    /// The same as JSON Schema (2020-12).
    pub fn schema(&self) -> Json {
        match self {
            Form::Number { low, high } => between(*low, *high),
            Form::Whole { low, high } => {
                json!({ "type": "integer", "minimum": low, "maximum": high })
            }
            Form::Flag => json!({ "type": "boolean" }),
            Form::Choice(words) => json!({ "enum": words }),
            Form::Text => json!({ "type": "string" }),
            Form::Texts { most } => list((1, *most), json!({ "type": "string", "minLength": 1 })),
            Form::Wholes { counts, range: (low, high) } => {
                list(*counts, json!({ "type": "integer", "minimum": low, "maximum": high }))
            }
            Form::Rising { count, low, high } => list((*count, *count), between(*low, *high)),
            Form::Pairs => {
                let pair = list((2, 2), json!({ "type": "number" }));
                json!({ "type": "array", "items": pair })
            }
            Form::Curve { x, y } => {
                let level = between(y.0, y.1);
                let point = json!({
                    "type": "array",
                    "prefixItems": [between(x.0, x.1), level],
                    "minItems": 2,
                    "maxItems": 2,
                });
                json!({ "anyOf": [level, list((2, POINTS_MAX), point)] })
            }
        }
    }
}

fn between(low: f64, high: f64) -> Json {
    json!({ "type": "number", "minimum": tidy(low), "maximum": tidy(high) })
}

fn list((least, most): (usize, usize), each: Json) -> Json {
    json!({ "type": "array", "minItems": least, "maxItems": most, "items": each })
}
