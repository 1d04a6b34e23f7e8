//! Wishes for stretches in words: from where to where, what, and over how long it comes and goes.

use super::place::spot_of;
use super::request::{Length, Place, Span, StretchRequest};
use crate::profile::wish::{fraction, read_stretch};

/// The longest stretch of a text, beats and bars.
const LENGTH_MAX: f64 = 10_000.0;
/// How a place and a length are written.
const FORM: &str = "BAR.BEAT..BAR.BEAT: WISH, as 12.1..14.4: softer 3 dB";

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
    Ok(StretchRequest { place: String::new(), beats, span, asked: read_stretch(asked, styles)? })
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
