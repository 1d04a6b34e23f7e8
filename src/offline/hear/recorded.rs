//! What a shaped file says of how it was shaped, so that its take can be heard in the same way.

use crate::engine::patch::Source;
use crate::offline::Error;
use crate::offline::digest;
use crate::offline::midi::{Bars, File, read, write};
use crate::offline::peel;
use crate::offline::take::Request;
use crate::profile::address::spoken_source;
use crate::profile::{Hand, Instrument, Profile, hand_for, load};

/// A shaped file taken apart.
#[derive(Debug)]
pub struct RecordedTake {
    /// Its take.
    pub take: Vec<u8>,
    /// How it was shaped; a sentence if that cannot be had any more.
    pub request: Result<Request, String>,
    /// What the user should know.
    pub notices: Vec<String>,
}

/// Takes a shaped file apart; `None` of a take that is not shaped. `wishes` is the text of the table
/// that it was shaped with, if there was one.
///
/// # Errors
/// Any [`Error`] of reading or peeling it.
pub fn recorded(bytes: &[u8], wishes: Option<&str>) -> Result<Option<RecordedTake>, Error> {
    let file: File = read::read(bytes)?;
    let Some(marker) = peel::shaped_mark(&file) else { return Ok(None) };
    let peeled = peel::peel(file)?;
    let mut notices = vec!["the file is shaped: its take is heard as its record says".to_owned()];
    notices.extend(peeled.other_revision());
    notices.extend(peeled.leftovers);
    let request = request(&marker, wishes);
    Ok(Some(RecordedTake { take: write::write(&peeled.file)?, request, notices }))
}

fn request(marker: &str, wishes: Option<&str>) -> Result<Request, String> {
    let instrument = known::<Instrument>(marker, "instrument")?;
    let part = |name: &str| part(marker, name).ok_or(format!("its record has no {name}"));
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
    Ok(Request {
        hand,
        source: Some(source),
        seed,
        imperfection,
        bars,
        wishes: wishes.map(str::to_owned),
        ..Request::new(&instrument, super::receiver::TARGET)
    })
}

/// What stands in a marker under a name.
fn part<'a>(marker: &'a str, name: &str) -> Option<&'a str> {
    let (_, words) = marker.split_once(": ")?;
    words.split("; ").find_map(|words| words.strip_prefix(name)?.strip_prefix(' '))
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
    let words = part(marker, name).ok_or_else(|| format!("its record has no {name}"))?;
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
