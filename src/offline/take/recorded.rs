//! With what a shaped file was shaped, as its marker says it.

use super::request::Request;
use crate::engine::patch::Source;
use crate::offline::digest;
use crate::offline::midi::Bars;
use crate::offline::record::marker_field;
use crate::profile::address::spoken_source;
use crate::profile::voices::VoiceChoice;
use crate::profile::{Hand, Instrument, Profile, hand_for, load};

/// The request behind a marker. Instrument and hand are the very files that it names, by their hashes;
/// the target is named, and its hash left to whoever needs it. `wishes` is the text of the table that
/// it was shaped with, if there was one.
///
/// # Errors
/// A sentence that says what cannot be had any more.
pub fn recorded_request(marker: &str, wishes: Option<&str>) -> Result<Request, String> {
    let instrument = known::<Instrument>(marker, "instrument")?;
    let part = |name: &str| marker_field(marker, name).ok_or(format!("its record has no {name}"));
    let source: Source = spoken_source(part("source")?).ok_or("its source cannot be read")?;
    let hand = known_hand(marker, source)?;
    let seed = part("seed")?.parse().map_err(|_| "its seed cannot be read")?;
    let imperfection =
        part("imperfection")?.parse().map_err(|_| "its imperfection cannot be read")?;
    let bars = match part("bars")? {
        "all" => None,
        bars => Some(bars.parse::<Bars>().map_err(|error| error.to_string())?),
    };
    match (part("wishes").ok(), wishes.map(digest::of_text)) {
        (Some(recorded), Some(given)) if recorded == given => {}
        (None, None) => {}
        (Some(_), _) => {
            return Err("it had a table of wishes: give the same one with --wishes".into());
        }
        (None, Some(_)) => return Err("it had no table of wishes".into()),
    }
    let voices = match marker_field(marker, "voices") {
        Some(words) => VoiceChoice::of(words).ok_or("its voices cannot be read")?,
        None => VoiceChoice::LINE,
    };
    Ok(Request {
        hand,
        voices: Some(voices),
        source: Some(source),
        seed,
        imperfection,
        bars,
        wishes: wishes.map(str::to_owned),
        ..Request::new(&instrument, named(marker, "target")?.0)
    })
}

/// The usual hand of the source, which has no name to call it by, or the name of another.
fn known_hand(marker: &str, source: Source) -> Result<Option<String>, String> {
    let (_, hash) = named(marker, "hand")?;
    match hand_for(source) {
        Ok(usual) if digest::of_text(usual.flattened()) == hash => Ok(None),
        _ => known::<Hand>(marker, "hand").map(Some),
    }
}

/// Id and hash of a file.
fn named<'a>(marker: &'a str, name: &str) -> Result<(&'a str, &'a str), String> {
    let words = marker_field(marker, name).ok_or_else(|| format!("its record has no {name}"))?;
    words.rsplit_once(' ').ok_or_else(|| format!("its {name} cannot be read"))
}

/// The id of a file that is here as it was then.
fn known<T: Profile>(marker: &str, name: &str) -> Result<String, String> {
    let (id, hash) = named(marker, name)?;
    match load::<T>(id) {
        Ok(loaded) if digest::of_text(loaded.flattened()) == hash => Ok(id.to_owned()),
        Ok(_) => Err(format!("its {name} {id} is not the one of that name here")),
        Err(_) => Err(format!("its {name} {id} is not here by that name")),
    }
}
