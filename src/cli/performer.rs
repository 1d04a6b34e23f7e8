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
    // Clap leaves a group empty that holds another; who may be asked for or not needs its own.
    #[arg(short, long, value_name = "NAME", required = true, group = "Performer")]
    instrument: Option<String>,
    /// The receiver: a shipped name or a file
    #[arg(short, long, value_name = "NAME", default_value = "generic", group = "Performer")]
    target: String,
    #[command(flatten)]
    pub taken: TakenAs,
}

/// How a take is to be read: whose hand, which part of it, and which of the possible performances.
#[derive(clap::Args)]
pub struct TakenAs {
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
    /// What is asked of notes and stretches, a text file; each line as 12.3 A4: no vibrato, or as
    /// 12.1..14.4: softer 3 dB
    #[arg(long, value_name = "FILE")]
    pub wishes: Option<PathBuf>,
    /// Only these bars: A..B with both of them, A.. or ..B
    #[arg(long, value_name = "A..B")]
    bars: Option<String>,
}

impl Performer {
    /// The instrument alone. Fails with one sentence or several, each on a line.
    pub fn instrument(&self) -> Result<Instrument, String> {
        let instrument = load::<Instrument>(self.name()?).map_err(|error| error.to_string())?;
        Ok(instrument.profile)
    }

    fn name(&self) -> Result<&str, String> {
        self.instrument.as_deref().ok_or_else(|| "an instrument is missing: -i NAME".to_owned())
    }

    /// The settings, if an instrument is named.
    pub fn settings_if_named(&self) -> Result<Option<Settings>, String> {
        self.instrument.is_some().then(|| self.settings(false)).transpose()
    }

    /// Loads the three files and puts them together. Fails with one sentence or several, each
    /// on a line.
    pub fn settings(&self, is_forced: bool) -> Result<Settings, String> {
        let request = self.taken.request(self.name()?, &self.target)?;
        self.taken.settings(&Request { is_forced, ..request })
    }
}

impl TakenAs {
    /// These files by name, and what else the options say. Fails with a sentence.
    pub fn request(&self, instrument: &str, target: &str) -> Result<Request, String> {
        Ok(Request {
            hand: self.hand.clone(),
            source: self.source.as_deref().map(source).transpose()?,
            voices: self.voices.as_deref().map(voices).transpose()?,
            seed: self.seed,
            imperfection: self.imperfection,
            tracks: self.tracks.clone(),
            channels: self.channels.clone(),
            bars: self.bars()?,
            wishes: self.wishes()?,
            ..Request::new(instrument, target)
        })
    }

    /// Loads the files of a request. Fails with one sentence or several, each on a line.
    pub fn settings(&self, request: &Request) -> Result<Settings, String> {
        request.settings().map_err(|error| match (error, &self.wishes) {
            (Error::Wishes(what), Some(path)) => format!("{}: {what}", path.display()),
            (error, _) => error.to_string(),
        })
    }

    /// A record of the take has its own hand and chance; what chooses a part of it or reads its
    /// wishes may stand beside it. Gives such a request with these. Fails with a sentence.
    pub fn beside(&self, recorded: Request) -> Result<Request, String> {
        let is_own = self.hand.is_none()
            && self.source.is_none()
            && self.seed == 0
            && self.imperfection == 1.0;
        if !is_own {
            let what = "--hand, --source, --seed and --imperfection stand in the file's record";
            return Err(format!("{what}; with -i they are taken from here"));
        }
        let bars = self.bars()?.or(recorded.bars);
        let (tracks, channels) = (self.tracks.clone(), self.channels.clone());
        Ok(Request { bars, tracks, channels, ..recorded })
    }

    /// The text of the table of wishes, if there is one. Fails with a sentence.
    pub fn wishes(&self) -> Result<Option<String>, String> {
        self.wishes.as_deref().map(text).transpose()
    }

    /// The bars, if some are given.
    pub fn bars(&self) -> Result<Option<Bars>, String> {
        self.bars.as_deref().map(str::parse).transpose().map_err(|error: Error| error.to_string())
    }

    /// The tracks, from 1; empty is all that there is to perform.
    pub fn tracks(&self) -> &[usize] {
        &self.tracks
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
