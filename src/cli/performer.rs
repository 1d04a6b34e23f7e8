//! Who plays the take: the options that every verb shares which performs one.

use std::path::{Path, PathBuf};

use polso::offline::wish::{self, Request};
use polso::offline::{Bars, Provenance, Settings, digest, save};
use polso::profile::address::{self, SOURCE_RULE};
use polso::profile::patch::SEED;
use polso::profile::{Hand, Instrument, Target, hand_for, load, patch};

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
    #[arg(long, value_name = "N", default_value_t = SEED)]
    seed: u64,
    /// How uneven the vibrato is: 0 not at all, 1 as the instrument says, at most 2
    #[arg(long, value_name = "SCALE", default_value_t = 1.0)]
    imperfection: f64,
    /// What is asked of single notes, a text file; each line BAR.BEAT KEY: a style's name, no
    /// vibrato, open, slide or no slide
    #[arg(long, value_name = "FILE")]
    pub wishes: Option<PathBuf>,
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
        let styles = &instrument_file.vibrato.styles;
        let styles: Vec<String> = styles.iter().map(|style| style.name.clone()).collect();
        let table = self.wishes.as_deref().map(|path| wishes(path, &styles)).transpose()?;
        let (wishes, wishes_digest) = table.unzip();
        let provenance = Provenance {
            instrument: named(&instrument_file.about.id, instrument.flattened()),
            target: named(&target_file.about.id, target.flattened()),
            hand: named(&hand.profile.about.id, hand.flattened()),
            wishes: wishes_digest,
        };
        Ok(Settings {
            patch,
            styles,
            provenance,
            imperfection: self.imperfection,
            tracks: self.tracks.clone(),
            bars,
            wishes: wishes.unwrap_or_default(),
            is_forced,
        })
    }
}

/// A table of wishes and its hash.
fn wishes(path: &Path, styles: &[String]) -> Result<(Vec<Request>, String), String> {
    let bytes = save::read(path, TABLE_BYTES_MAX).map_err(|error| error.to_string())?;
    let about = |what: String| format!("{}: {what}", path.display());
    let text = String::from_utf8(bytes).map_err(|_| about("is not text in UTF-8".to_owned()))?;
    Ok((wish::read_table(&text, styles).map_err(about)?, digest::of_text(&text)))
}

fn source(text: &str) -> Result<Source, String> {
    address::source(text).ok_or_else(|| format!("--source is {text:?}; allowed is {SOURCE_RULE}"))
}

/// A file's name and the digest of its text, with all that it takes over from the files on which
/// it is based.
fn named(id: &str, text: &str) -> String {
    format!("{id} {}", digest::of_text(text))
}
