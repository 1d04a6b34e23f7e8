//! A seed that was asked for and changes nothing: nobody should go on looking for a better one.

use super::file::{Shaped, shape_over_lanes};
use super::lanes::LaneRule;
use crate::offline::error::Error;
use crate::offline::midi::read::read;
use crate::offline::midi::{File, TrackEvent};
use crate::offline::peel::TakeBytes;
use crate::offline::record::marker_text;
use crate::offline::take::Settings;
use crate::profile::patch::SEED;

/// One sentence, if a take comes out as `shaped` with the usual seed too. Another seed
/// than that costs a second shaping: only the messages themselves tell whether chance was heard.
///
/// # Errors
/// As [`shape_over_lanes`].
pub fn idle_seed<'a>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
    rule: LaneRule,
    shaped: &Shaped,
) -> Result<Option<String>, Error> {
    let seed = settings.patch.seed;
    // The second is certain before anything is played, and has been said.
    if seed == SEED || settings.is_without_chance() {
        return Ok(None);
    }
    let mut usual = settings.clone();
    usual.patch.seed = SEED;
    let usual = read(&shape_over_lanes(take, &usual, rule)?.bytes)?;
    let own = read(&shaped.bytes)?;
    Ok(events(&own).eq(events(&usual)).then(|| {
        format!("the seed {seed} changes nothing here: every message is as with seed {SEED}")
    }))
}

/// All but the marker, which names the seed.
fn events(file: &File) -> impl Iterator<Item = &TrackEvent> {
    let all = file.tracks.iter().flat_map(|track| &track.events);
    all.filter(|event| marker_text(event).is_none())
}
