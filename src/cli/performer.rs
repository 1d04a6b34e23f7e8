//! Who plays the take: the options that every verb shares which performs one.

use std::fmt::Write;
use std::path::Path;

use polso::offline::wish::{self, Request};
use polso::offline::{Bars, Provenance, Settings, save};
use polso::profile::address::{self, SOURCE_RULE};
use polso::profile::{Hand, Instrument, Target, hand_for, load, patch};
use sha2::{Digest, Sha256};

use super::Answer;
use polso::engine::patch::Source;

/// The largest table of wishes, bytes.
const TABLE_BYTES_MAX: usize = 1 << 20;

/// Instrument, receiver, hand and which part of the take.
#[derive(clap::Args)]
pub struct Performer {
    /// The instrument: a shipped name (see list) or a file
    #[arg(short, long, value_name = "NAME")]
    instrument: String,
    /// The receiver: a shipped name or a file
    #[arg(short, long, value_name = "NAME", default_value = "generic")]
    target: String,
    /// Your own controller: a shipped name or a file [default: a wheel]
    #[arg(long, value_name = "FILE")]
    hand: Option<String>,
    /// A track to perform, counted from 1; may be repeated [default: every track with a gesture]
    #[arg(long = "track", value_name = "N")]
    tracks: Vec<usize>,
    /// The controller that carries the gesture [default: the hand's own, or cc1]
    #[arg(long)]
    source: Option<String>,
    /// Which of the possible performances
    #[arg(long, value_name = "N", default_value_t = 0)]
    seed: u64,
    /// How uneven the vibrato is: 0 not at all, 1 as the instrument says, at most 2
    #[arg(long, value_name = "SCALE", default_value_t = 1.0)]
    imperfection: f64,
    /// Only these bars: A..B with both of them, A.. or ..B
    #[arg(long, value_name = "A..B")]
    bars: Option<String>,
}

impl Performer {
    /// The instrument alone. Fails with one sentence or several, each on a line.
    pub fn instrument(&self) -> Result<Instrument, String> {
        let instrument = load::<Instrument>(&self.instrument).map_err(|error| error.to_string())?;
        Ok(instrument.profile)
    }

    /// Loads the three files and puts them together. Fails with one sentence or several, each
    /// on a line.
    pub fn settings(&self, is_forced: bool) -> Result<Settings, String> {
        let bars = match &self.bars {
            Some(text) => Some(text.parse::<Bars>().map_err(|error| error.to_string())?),
            None => None,
        };
        let instrument = load::<Instrument>(&self.instrument).map_err(|error| error.to_string())?;
        let target = load::<Target>(&self.target).map_err(|error| error.to_string())?;
        let source = self.source.as_deref().map(source).transpose()?;
        let mut hand = match &self.hand {
            Some(name) => load::<Hand>(name),
            None => hand_for(source.unwrap_or(Source::Controller(1))),
        }
        .map_err(|error| error.to_string())?;
        hand.profile.source = source.unwrap_or(hand.profile.source);
        let (instrument_file, target_file) = (&instrument.profile, &target.profile);
        let patch =
            patch(instrument_file, target_file, &hand.profile, self.seed, self.imperfection)
                .map_err(|error| error.to_string())?;
        let provenance = Provenance {
            instrument: named(&instrument_file.about.id, instrument.flattened()),
            target: named(&target_file.about.id, target.flattened()),
            hand: named(&hand.profile.about.id, hand.flattened()),
        };
        let styles = &instrument_file.vibrato.styles;
        Ok(Settings {
            patch,
            styles: styles.iter().map(|style| style.name.clone()).collect(),
            provenance,
            imperfection: self.imperfection,
            tracks: self.tracks.clone(),
            bars,
            is_forced,
        })
    }
}

/// The requests of a table of wishes; none without one.
pub fn table(path: Option<&Path>, settings: &Settings) -> Result<Vec<Request>, Answer> {
    let Some(path) = path else { return Ok(Vec::new()) };
    let bytes = save::read(path, TABLE_BYTES_MAX).map_err(super::stored)?;
    let text = String::from_utf8(bytes)
        .map_err(|_| super::about(path, "the table is not text in UTF-8"))?;
    wish::read_table(&text, &settings.styles).map_err(|error| super::about(path, error))
}

fn source(text: &str) -> Result<Source, String> {
    address::source(text).ok_or_else(|| format!("--source is {text:?}; allowed is {SOURCE_RULE}"))
}

/// A file's name and the first 16 digits of the SHA-256 of its text, with all that it takes over
/// from the files on which it is based.
fn named(id: &str, text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    let mut named = format!("{id} ");
    for byte in &digest[..8] {
        // A string takes everything that is written to it.
        write!(named, "{byte:02x}").unwrap_or_default();
    }
    named
}
