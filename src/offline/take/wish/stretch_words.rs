//! Wishes for stretches in words: from where to where, what, and over how long it comes and goes.

use super::request::{Length, Place, Span, StretchRequest, StretchWish};
use super::words::{fraction, read_note_word, spot_of};
use crate::engine::patch::Change;

/// A change comes and goes over so many beats where nothing is said.
const FADE_BEATS: f64 = 0.25;
/// The longest that it may, and the longest stretch of a text, beats and bars.
const FADE_BEATS_MAX: f64 = 16.0;
const LENGTH_MAX: f64 = 10_000.0;
/// What `ending longer` and `ending shorter` mean where no number is said, percent.
const LONGER_PERCENT: f64 = 50.0;
const SHORTER_PERCENT: f64 = 30.0;

/// How a place and a length are written.
const FORM: &str = "BAR.BEAT..BAR.BEAT: WISH, as 12.1..14.4: softer 3 dB";

/// What stands before and after the number of a change, and how large that may be.
struct Form {
    head: &'static str,
    unit: &'static str,
    max: f64,
    usual: Option<f64>,
    change: fn(f64) -> Change,
}

const FORMS: [Form; 7] = [
    form("vibrato", "%", 200.0, None, |percent| Change::Width(percent / 100.0)),
    form("softer", "dB", 24.0, None, |level_db| Change::Level(-level_db)),
    form("louder", "dB", 24.0, None, Change::Level),
    form("slower vibrato", "Hz", 3.0, None, |rate_hz| Change::Rate(-rate_hz)),
    form("faster vibrato", "Hz", 3.0, None, Change::Rate),
    form("ending longer", "%", 100.0, Some(LONGER_PERCENT), |part| {
        Change::Tail(1.0 + part / 100.0)
    }),
    form("ending shorter", "%", 100.0, Some(SHORTER_PERCENT), |part| {
        Change::Tail(1.0 - part / 100.0)
    }),
];

const fn form(
    head: &'static str,
    unit: &'static str,
    max: f64,
    usual: Option<f64>,
    change: fn(f64) -> Change,
) -> Form {
    Form { head, unit, max, usual, change }
}

/// Reads a line of a table, of which `head` stands before the colon: `12.1..14.4` or `12..14`.
pub(super) fn read(head: &str, asked: &str, styles: &[String]) -> Result<StretchRequest, String> {
    let (from, to) = head.split_once("..").ok_or_else(|| format!("allowed is {FORM}"))?;
    let place = |text: &str| {
        place_of(text.trim()).ok_or_else(|| {
            format!(
                "place is `{}`; allowed is a bar from 1, as 12, or bar.beat, as 12.3 or 12.3+1/2",
                text.trim()
            )
        })
    };
    let (from, to) = (place(from)?, place(to)?);
    let order = |place: Place| (place.bar, place.beat.map_or(0.0, |(beat, _)| beat));
    if order(to) < order(from) && !(to.bar == from.bar && to.beat.is_none()) {
        return Err(format!("stretch is `{head}`; allowed is an end not before its beginning"));
    }
    let (beats, span) = (head.to_owned(), Span::Places(from, to));
    Ok(StretchRequest { place: String::new(), beats, span, asked: read_wishes(asked, styles)? })
}

/// The length of a text's stretch, `for 6 beats`; `None` if the words are no such thing.
pub(super) fn length_of(words: &str) -> Option<Result<Length, String>> {
    let length = words.strip_prefix("for ")?;
    let (number, unit) = length.trim().rsplit_once(char::is_whitespace).unwrap_or((length, ""));
    let value = fraction(number.trim()).filter(|value| *value > 0.0 && *value <= LENGTH_MAX);
    Some(match (value, unit) {
        (Some(beats), "beat" | "beats") => Ok(Length::Beats(beats)),
        (Some(bars), "bar" | "bars") => Ok(Length::Bars(bars)),
        _ => Err(format!(
            "length is `{length}`; allowed is above 0 to {LENGTH_MAX} beats or bars, as for 6 beats"
        )),
    })
}

/// A bar, or a beat of it. What has a fraction lasts so long: 12.3+1/2 is the second half of a beat.
fn place_of(text: &str) -> Option<Place> {
    if !text.contains('.') {
        let bar = text.parse::<u32>().ok().filter(|bar| *bar >= 1)?;
        return Some(Place { bar: bar.into(), beat: None });
    }
    let (bar, beat) = spot_of(text)?;
    let parts = text.rsplit_once('/').and_then(|(_, below)| below.parse::<u32>().ok());
    Some(Place { bar, beat: Some((beat, 1.0 / f64::from(parts.unwrap_or(1).max(1)))) })
}

/// What is asked, divided by commas.
pub(super) fn read_wishes(asked: &str, styles: &[String]) -> Result<Vec<StretchWish>, String> {
    asked.split(',').map(|words| read_wish(words.trim(), styles)).collect()
}

fn read_wish(words: &str, styles: &[String]) -> Result<StretchWish, String> {
    let (what, fade_beats) = match words.rsplit_once(" over ") {
        Some((what, fade)) => (what.trim(), fade_of(fade.trim())?),
        None => (words, FADE_BEATS),
    };
    let change = match read_note_word(what, styles) {
        Some(wish) => Change::Notes(wish),
        None => match FORMS.iter().find_map(|form| form.read(what)) {
            Some(change) => change?,
            None => return Err(format!("wish is `{what}`; allowed is {}", allowed(styles))),
        },
    };
    Ok(StretchWish { words: words.to_owned(), change, fade_beats })
}

impl Form {
    /// The change, if the words begin as this one does.
    fn read(&self, words: &str) -> Option<Result<Change, String>> {
        let number = words.strip_prefix(self.head)?.trim();
        if number.is_empty() && self.usual.is_some() {
            return self.usual.map(|usual| Ok((self.change)(usual)));
        }
        let value = number.strip_suffix(self.unit).and_then(|it| it.trim().parse::<f64>().ok());
        Some(match value.filter(|value| (0.0..=self.max).contains(value)) {
            Some(value) => Ok((self.change)(value)),
            None => Err(format!(
                "wish is `{words}`; allowed is {} 0 to {} {}",
                self.head, self.max, self.unit
            )),
        })
    }
}

fn fade_of(text: &str) -> Result<f64, String> {
    let number = text.strip_suffix("beats").or_else(|| text.strip_suffix("beat"));
    let beats = number.and_then(|number| fraction(number.trim()));
    beats.filter(|beats| *beats <= FADE_BEATS_MAX).ok_or_else(|| {
        format!("over is `{text}`; allowed is 0 to {FADE_BEATS_MAX} beats, as over 1/2 beat")
    })
}

fn allowed(styles: &[String]) -> String {
    let own: Vec<String> = FORMS
        .iter()
        .map(|form| match form.usual {
            Some(_) => form.head.to_owned(),
            None => format!("{} N {}", form.head, form.unit),
        })
        .collect();
    format!("{}, {}", own.join(", "), super::words::allowed(styles))
}
