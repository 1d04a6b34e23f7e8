//! Prints what was performed: the bars that were chosen, behind a marker that says what played them.

use std::path::PathBuf;

use super::app::Editor;
use super::model::{Model, Slot};
use super::printing::file::file;
use crate::engine::REVISION;
use crate::offline::midi::Bars;
use crate::offline::record::Marker;
use crate::offline::take::named;
use crate::profile::FileKind;
use crate::profile::address::source_text;
use crate::profile::voices::voices_words;

/// What the marker says in place of a take's digest: what the hand played stands on no track of it.
const NO_TAKE: &str = "none";

impl Editor {
    /// Writes a MIDI file of these bars, as `A..B`, or of all that was performed.
    pub(super) fn print(&mut self, path: PathBuf, bars: &str) {
        match self.printed(bars.trim()) {
            Ok(contents) => self.save(path, contents, false),
            Err(sentence) => self.model.sentence = Some(sentence),
        }
    }

    fn printed(&mut self, bars: &str) -> Result<Vec<u8>, String> {
        let bars = match bars {
            "" => None,
            bars => Some(bars.parse::<Bars>().map_err(|error| error.to_string())?),
        };
        let song = self.feed.performed().ok_or("there is no host that plays a song")?;
        file(&song, bars, &marker(&self.model, bars))
    }
}

/// What the slot that plays was performed with.
fn marker(model: &Model, bars: Option<Bars>) -> Marker {
    let slot: &Slot = model.slot();
    let name = |kind| named(&slot.file(kind).meaning().about().id, slot.file(kind).text());
    let hand = slot.file(FileKind::Hand).hand();
    Marker {
        engine: REVISION,
        instrument: name(FileKind::Instrument),
        target: name(FileKind::Target),
        hand: name(FileKind::Hand),
        wishes: None,
        source: hand.map(|hand| source_text(hand.source)).unwrap_or_default(),
        seed: model.seed,
        imperfection: 1.0,
        voices: voices(slot),
        lanes: None,
        bars: bars.map(|bars| bars.to_string()),
        take: NO_TAKE.to_owned(),
        factor: 1,
    }
}

/// The voices of the slot that plays, if not one line.
fn voices(slot: &Slot) -> Option<String> {
    let hand = slot.file(FileKind::Hand).hand()?;
    let target = slot.file(FileKind::Target).target()?;
    let patch = hand.voices.patch(&target.channels, hand.leading_voice, 1.0).ok()?;
    voices_words(&patch)
}
