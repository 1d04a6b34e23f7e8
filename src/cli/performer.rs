//! Who plays the take: the options that every verb shares which performs one.

use std::path::{Path, PathBuf};

use polso::engine::patch::Source;
use polso::offline::{Bars, Error, Request, Settings, save};
use polso::profile::address::{SOURCE_RULE, SPOKEN_RULE, spoken_source};
use polso::profile::voices::{VOICES_RULE, VoiceChoice};
use polso::profile::{Instrument, load};

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
    /// A channel to perform, 1 to 16, where a track has several; may be repeated
    #[arg(long = "channel", value_name = "N", value_parser = clap::value_parser!(u8).range(1..=16))]
    channels: Vec<u8>,
    /// The controller that carries the gesture: cc2, 2, breath, pressure, bend [default: the hand's own, or cc1]
    #[arg(long)]
    source: Option<String>,
    /// How keys that sound together are understood: line, chords or divisi, perhaps with a number of
    /// voices, as in divisi:4 [default: the hand's own, or line]
    #[arg(long, value_name = "KIND[:N]")]
    voices: Option<String>,
    /// Which of the possible performances
    #[arg(long, value_name = "N", default_value_t = 0)]
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
        let bars = self.bars.as_deref().map(str::parse::<Bars>).transpose();
        let request = Request {
            instrument: self.instrument.clone(),
            target: self.target.clone(),
            hand: self.hand.clone(),
            source: self.source.as_deref().map(source).transpose()?,
            voices: self.voices.as_deref().map(voices).transpose()?,
            seed: self.seed,
            imperfection: self.imperfection,
            tracks: self.tracks.clone(),
            channels: self.channels.clone(),
            bars: bars.map_err(|error| error.to_string())?,
            wishes: self.wishes.as_deref().map(text).transpose()?,
            is_forced,
        };
        request.settings().map_err(|error| match (error, &self.wishes) {
            (Error::Wishes(what), Some(path)) => format!("{}: {what}", path.display()),
            (error, _) => error.to_string(),
        })
    }
}

/// The text of a table of wishes.
fn text(path: &Path) -> Result<String, String> {
    let bytes = save::read(path, TABLE_BYTES_MAX).map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|_| format!("{}: is not text in UTF-8", path.display()))
}

fn voices(text: &str) -> Result<VoiceChoice, String> {
    VoiceChoice::of(text).ok_or_else(|| format!("--voices is {text:?}; allowed is {VOICES_RULE}"))
}

fn source(text: &str) -> Result<Source, String> {
    let allowed = || format!("--source is {text:?}; allowed is {SOURCE_RULE}; or {SPOKEN_RULE}");
    spoken_source(text).ok_or_else(allowed)
}
