//! Punches into a shaped take: peeled, punched, and shaped again as it was.

use super::takes::punch;
use crate::offline::error::Error;
use crate::offline::midi::{Bars, File, MetreMap, TrackEvent, read, write};
use crate::offline::peel::{self, GivenBack, KeepingPlace};
use crate::offline::record;
use crate::offline::shape::{LaneRule, Shaped, shape_over_lanes};
use crate::offline::take::{Settings, recorded_request};

/// A shaped take with bars of a new one.
#[derive(Debug)]
pub struct PunchedShape {
    /// The file, and what was done.
    pub shaped: Shaped,
    /// The take that was shaped, as punched.
    pub take: Vec<u8>,
    /// From where to where the shaped file is another than before, bar and beat; `None` if nowhere.
    /// Outside it is the same to the byte, but for the digest in its marker. What sounds is the same
    /// up to the bars; a record of messages that reach into them may stand a little before.
    pub reach: Option<[(u64, u64); 2]>,
}

/// Punches bars of a new take into a shaped one. `given` are the settings that it was shaped with;
/// without them those that its marker names are taken. `tracks` as for [`punch`].
///
/// # Errors
/// As [`punch`]; [`Error::Punch`] if the shaped take was edited, or is not what the settings make of
/// its take; as [`shape_over_lanes`].
pub fn punch_shaped(
    bytes: &[u8],
    new: &File,
    bars: Bars,
    tracks: &[usize],
    given: Option<&Settings>,
) -> Result<PunchedShape, Error> {
    let no = |why: &str| Error::Punch { why: why.to_owned() };
    let old = read::read(bytes)?;
    let marker = peel::shaped_mark(&old).ok_or(Error::NotShaped)?;
    let GivenBack { bytes: take, peeled } = peel::give_back(old.clone(), None)?;
    if peeled.place != KeepingPlace::File || !peeled.leftovers.is_empty() {
        return Err(no(
            "the shaped take was edited since; peel it, punch the take and shape it anew",
        ));
    }
    let settings = match given {
        Some(given) => Settings { bars: shaped_bars(&marker)?, ..given.clone() },
        None => Settings { tracks: tracks.to_vec(), ..recovered(&marker)? },
    };
    let settings = Settings { is_forced: false, ..settings };
    check_names(&marker, &settings)?;
    let rule = match record::marker_field(&marker, "lanes") {
        Some("replaced") => LaneRule::Replace,
        Some("kept") => LaneRule::Keep,
        _ => LaneRule::Refuse,
    };
    let again = shape_over_lanes(&take, &settings, rule)?;
    if read::read(&again.bytes)? != old {
        return Err(no(
            "its take, shaped again, is not this file; give -i, -t, --hand, --source, --seed, \
             --imperfection, --track and --wishes as it was shaped with",
        ));
    }
    let take = punch(&peeled.file, new, bars, tracks)?;
    if take.division != peeled.file.division {
        return Err(no("the new take's ticks are finer than those of the shaped one"));
    }
    let take = write::write(&take)?;
    let shaped = shape_over_lanes(&take, &settings, rule)?;
    let reach = reach(&old, &read::read(&shaped.bytes)?);
    let metre = MetreMap::of(&old);
    let reach = reach.zip(metre).map(|(ticks, metre)| ticks.map(|tick| metre.position(tick)));
    Ok(PunchedShape { shaped, take, reach })
}

/// The settings that a marker names, where they come with the program or lie under their names.
///
/// # Errors
/// [`Error::Punch`] if it names a table of wishes, which it does not hold, or what cannot be had any
/// more; as [`Request::settings`](crate::offline::Request::settings).
pub fn recovered(marker: &str) -> Result<Settings, Error> {
    let give = |why: String| Error::Punch {
        why: format!("{why}; give -i, -t and --wishes as it was shaped with"),
    };
    recorded_request(marker, None).map_err(give)?.settings()
}

/// The bars that were shaped.
fn shaped_bars(marker: &str) -> Result<Option<Bars>, Error> {
    let bars = record::marker_field(marker, "bars").filter(|bars| *bars != "all");
    bars.map(str::parse).transpose()
}

/// The files behind the settings are those that the marker names, by their hashes.
fn check_names(marker: &str, settings: &Settings) -> Result<(), Error> {
    let given = &settings.provenance;
    let wishes = given.wishes.clone().unwrap_or_default();
    for (name, own) in [
        ("instrument", &given.instrument),
        ("target", &given.target),
        ("hand", &given.hand),
        ("wishes", &wishes),
    ] {
        let shaped = record::marker_field(marker, name).unwrap_or_default();
        if shaped != own {
            let none =
                |word: &str| if word.is_empty() { "none".to_owned() } else { word.to_owned() };
            let (shaped, own) = (none(shaped), none(own));
            return Err(Error::Punch {
                why: format!("it was shaped with the {name} `{shaped}`, and this is `{own}`"),
            });
        }
    }
    Ok(())
}

/// The first and the last tick at which two files are not the same, but for their markers.
fn reach(old: &File, new: &File) -> Option<[u64; 2]> {
    let own = |event: &&TrackEvent| record::marker_text(event).is_none();
    let mut reach: Option<[u64; 2]> = None;
    for (old, new) in old.tracks.iter().zip(&new.tracks) {
        let [before, after] = [old, new].map(|it| it.events.iter().filter(own).collect::<Vec<_>>());
        let same = before.iter().zip(&after).take_while(|(one, other)| one == other).count();
        let (before_rest, after_rest) = (&before[same..], &after[same..]);
        let pairs = before_rest.iter().rev().zip(after_rest.iter().rev());
        let same_end = pairs.take_while(|(one, other)| one == other).count();
        let parts = [before_rest, after_rest].map(|rest| &rest[..rest.len() - same_end]);
        let ticks = parts.iter().flat_map(|part| part.iter().map(|event| event.tick));
        let ends =
            [old.end_tick, new.end_tick].into_iter().filter(|_| old.end_tick != new.end_tick);
        for tick in ticks.chain(ends) {
            let [first, last] = reach.unwrap_or([tick, tick]);
            reach = Some([first.min(tick), last.max(tick)]);
        }
    }
    reach
}
