//! Who plays a take, by the names of the files, and how: what the program's options say.

use super::settings::{Provenance, Settings};
use super::wish::{WishTable, read_table};
use crate::engine::patch::Source;
use crate::offline::digest;
use crate::offline::error::Error;
use crate::offline::midi::Bars;
use crate::profile::voices::VoiceChoice;
use crate::profile::{Hand, Instrument, Target, hand_for, load, patch};

/// Instrument, receiver and hand by name, and what is asked of the performance.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// The instrument: a shipped name, or the path of a file.
    pub instrument: String,
    /// The receiver: a shipped name, or the path of a file.
    pub target: String,
    /// The player's controller: a shipped name, or the path of a file; `None` is the usual hand
    /// for the source.
    pub hand: Option<String>,
    /// Where the gesture comes from; `None` is the hand's own, or controller 1 without a hand.
    pub source: Option<Source>,
    /// How keys that sound together are understood; `None` is as the hand says.
    pub voices: Option<VoiceChoice>,
    /// Which of the possible performances.
    pub seed: u64,
    /// How uneven the vibrato is, 0..=2: 0 not at all, 1 as the instrument says.
    pub imperfection: f64,
    /// The tracks to perform, from 1; empty is every line with a gesture, or the only line.
    pub tracks: Vec<usize>,
    /// The channels to perform, from 1; empty is all of them.
    pub channels: Vec<u8>,
    /// The bars to change; `None` is all.
    pub bars: Option<Bars>,
    /// The text of a table of wishes (see [`super::wish`]).
    pub wishes: Option<String>,
    /// A file that was shaped before is peeled and shaped again instead of being refused.
    pub is_forced: bool,
}

impl Request {
    /// An instrument and a receiver under a wheel on controller 1; the whole take, as even as the
    /// instrument says, with seed 0.
    pub fn new(instrument: &str, target: &str) -> Request {
        Request {
            instrument: instrument.to_owned(),
            target: target.to_owned(),
            hand: None,
            source: None,
            voices: None,
            seed: 0,
            imperfection: 1.0,
            tracks: Vec::new(),
            channels: Vec::new(),
            bars: None,
            wishes: None,
            is_forced: false,
        }
    }

    /// Loads the three files and puts them together.
    ///
    /// # Errors
    /// [`Error::Profile`] for a file that is not there or has faults, [`Error::Patch`] for files
    /// that do not go together, [`Error::Wishes`].
    pub fn settings(&self) -> Result<Settings, Error> {
        let instrument = load::<Instrument>(&self.instrument)?;
        let target = load::<Target>(&self.target)?;
        let mut hand = match &self.hand {
            Some(name) => load::<Hand>(name),
            None => hand_for(self.source.unwrap_or(Source::Controller(1))),
        }?;
        hand.profile.source = self.source.unwrap_or(hand.profile.source);
        hand.profile.voices = self.voices.unwrap_or(hand.profile.voices);
        let (own, receiver) = (&instrument.profile, &target.profile);
        let patch = patch(own, receiver, &hand.profile, self.seed, self.imperfection)?;
        let styles = own.style_names();
        let wishes = match &self.wishes {
            Some(text) => read_table(text, &styles).map_err(Error::Wishes)?,
            None => WishTable::default(),
        };
        let provenance = Provenance {
            instrument: named(&own.about.id, instrument.flattened()),
            target: named(&receiver.about.id, target.flattened()),
            hand: named(&hand.profile.about.id, hand.flattened()),
            wishes: self.wishes.as_deref().map(digest::of_text),
        };
        Ok(Settings {
            patch,
            styles,
            provenance,
            imperfection: self.imperfection,
            tracks: self.tracks.clone(),
            channels: self.channels.clone(),
            bars: self.bars,
            wishes,
            is_forced: self.is_forced,
        })
    }
}

/// A file's name and the digest of its text, with all that it takes over from the files on which
/// it is based.
pub fn named(id: &str, text: &str) -> String {
    format!("{id} {}", digest::of_text(text))
}
