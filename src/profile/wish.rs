//! What may be asked of a note or of a stretch, in a player's words.

use crate::engine::patch::Change;
use crate::engine::{LegatoWish, Mode, NoteWish};

/// The modes that may be asked for.
const MODES: [Mode; 4] = [Mode::Quick, Mode::Joined, Mode::Slow, Mode::Slide];

/// A change comes and goes over so many beats where nothing is said.
const FADE_BEATS: f64 = 0.25;
/// The longest that it may.
const FADE_BEATS_MAX: f64 = 16.0;
/// What `ending longer` and `ending shorter` mean where no number is said, percent.
const LONGER_PERCENT: f64 = 50.0;
const SHORTER_PERCENT: f64 = 30.0;

/// One thing asked of a stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct StretchWish {
    /// As it is written: `softer 3 dB`.
    pub words: String,
    /// What it is.
    pub change: Change,
    /// Over how many beats it comes and goes.
    pub fade_beats: f64,
}

/// The furthest place of a song, quarter notes: a day at 600 a minute.
pub const SONG_BEAT_MAX: f64 = 864_000.0;

/// Something asked of a stretch of a song, by the song's own position.
#[derive(Clone, Debug, PartialEq)]
pub struct SongStretch {
    /// Where it begins, quarter notes since the start of the song, 0..=[`SONG_BEAT_MAX`].
    pub from_beat: f64,
    /// Where it ends, above `from_beat`.
    pub to_beat: f64,
    /// How long a beat of its metre is, quarter notes, above 0 up to 4: what `over 2 beats` counts.
    pub metre_beat: f64,
    /// What is asked, divided by commas: `softer 3 dB over 1 beat, vibrato 70 %`.
    pub wishes: String,
}

impl SongStretch {
    /// What is asked. Styles are known by their names in `styles`.
    ///
    /// # Errors
    /// A sentence with the words and what is allowed.
    pub fn read(&self, styles: &[String]) -> Result<Vec<StretchWish>, String> {
        read_stretch(&self.wishes, styles)
    }

    /// Its numbers lie within their ranges.
    pub fn is_in_a_song(&self) -> bool {
        let SongStretch { from_beat, to_beat, metre_beat, .. } = *self;
        from_beat >= 0.0
            && from_beat < to_beat
            && to_beat <= SONG_BEAT_MAX
            && metre_beat > 0.0
            && metre_beat <= 4.0
    }
}

/// What stands before and after the number of a change, and how large that may be.
struct ChangeForm {
    head: &'static str,
    unit: &'static str,
    max: f64,
    usual: Option<f64>,
    change: fn(f64) -> Change,
}

const FORMS: [ChangeForm; 7] = [
    form("vibrato", "%", 200.0, None, |percent| Change::Width(percent / 100.0)),
    form("softer", "dB", 24.0, None, |level_db| Change::Level(-level_db)),
    form("louder", "dB", 24.0, None, Change::Level),
    form("slower vibrato", "Hz", 3.0, None, |rate_hz| Change::Rate(-rate_hz)),
    form("faster vibrato", "Hz", 3.0, None, Change::Rate),
    form("ending longer", "%", 100.0, Some(LONGER_PERCENT), |part| {
        Change::Tail(1.0 + part / 100.0)
    }),
    form("ending shorter", "%", 100.0, Some(SHORTER_PERCENT), |part| {
        Change::Tail(1.0 - part / 100.0)
    }),
];

const fn form(
    head: &'static str,
    unit: &'static str,
    max: f64,
    usual: Option<f64>,
    change: fn(f64) -> Change,
) -> ChangeForm {
    ChangeForm { head, unit, max, usual, change }
}

/// One thing asked of a note; `None` if the words are no such thing.
pub fn read_note(word: &str, styles: &[String]) -> Option<NoteWish> {
    let none = NoteWish::NONE;
    let joins = |legato| Some(NoteWish { legato: Some(legato), ..none });
    match word {
        "no vibrato" => Some(NoteWish { is_still: true, ..none }),
        "open" => Some(NoteWish { is_open: true, ..none }),
        "slide" => joins(LegatoWish::Mode(Mode::Slide)),
        "no slide" => joins(LegatoWish::NoSlide),
        _ => match word.strip_prefix("legato ") {
            Some(name) => {
                let mode = MODES.into_iter().find(|mode| mode.name() == name.trim())?;
                joins(LegatoWish::Mode(mode))
            }
            None => {
                let style = styles.iter().position(|own| own == word)? as u8;
                Some(NoteWish { style: Some(style), ..none })
            }
        },
    }
}

/// What may be asked of a note, in words.
pub fn allowed_of_notes(styles: &[String]) -> String {
    let modes: Vec<&str> = MODES.iter().map(|mode| mode.name()).collect();
    let (modes, styles) = (modes.join("|"), styles.join(", "));
    format!("no vibrato, open, slide, no slide, legato {modes}, {styles}")
}

/// The wish in words, as a table has it after its key.
pub fn in_words(wish: &NoteWish, styles: &[String]) -> String {
    let mut words: Vec<String> = Vec::new();
    words.extend(wish.style.and_then(|style| styles.get(usize::from(style))).cloned());
    words.extend(wish.is_still.then(|| "no vibrato".to_owned()));
    words.extend(wish.is_open.then(|| "open".to_owned()));
    words.extend(wish.legato.map(|legato| match legato {
        LegatoWish::NoSlide => "no slide".to_owned(),
        LegatoWish::Mode(Mode::Slide) => "slide".to_owned(),
        LegatoWish::Mode(mode) => format!("legato {}", mode.name()),
    }));
    words.join(", ")
}

/// Reads what is asked of a stretch, divided by commas.
///
/// # Errors
/// A sentence with the words and what is allowed.
pub fn read_stretch(asked: &str, styles: &[String]) -> Result<Vec<StretchWish>, String> {
    asked.split(',').map(|words| read_one(words.trim(), styles)).collect()
}

fn read_one(words: &str, styles: &[String]) -> Result<StretchWish, String> {
    let (what, fade_beats) = match words.rsplit_once(" over ") {
        Some((what, fade)) => (what.trim(), fade_of(fade.trim())?),
        None => (words, FADE_BEATS),
    };
    let change = match read_note(what, styles) {
        Some(wish) => Change::Notes(wish),
        None => match FORMS.iter().find_map(|form| form.read(what)) {
            Some(change) => change?,
            None => return Err(format!("wish is `{what}`; allowed is {}", allowed(styles))),
        },
    };
    Ok(StretchWish { words: words.to_owned(), change, fade_beats })
}

impl ChangeForm {
    /// The change, if the words begin as this one does.
    fn read(&self, words: &str) -> Option<Result<Change, String>> {
        let number = words.strip_prefix(self.head)?.trim();
        if number.is_empty() && self.usual.is_some() {
            return self.usual.map(|usual| Ok((self.change)(usual)));
        }
        let value = number.strip_suffix(self.unit).and_then(|it| it.trim().parse::<f64>().ok());
        Some(match value.filter(|value| (0.0..=self.max).contains(value)) {
            Some(value) => Ok((self.change)(value)),
            None => Err(format!(
                "wish is `{words}`; allowed is {} 0 to {} {}",
                self.head, self.max, self.unit
            )),
        })
    }
}

fn fade_of(text: &str) -> Result<f64, String> {
    let number = text.strip_suffix("beats").or_else(|| text.strip_suffix("beat"));
    let beats = number.and_then(|number| fraction(number.trim()));
    beats.filter(|beats| *beats <= FADE_BEATS_MAX).ok_or_else(|| {
        format!("over is `{text}`; allowed is 0 to {FADE_BEATS_MAX} beats, as over 1/2 beat")
    })
}

fn allowed(styles: &[String]) -> String {
    let own: Vec<String> = FORMS
        .iter()
        .map(|form| match form.usual {
            Some(_) => form.head.to_owned(),
            None => format!("{} N {}", form.head, form.unit),
        })
        .collect();
    format!("{}, {}", own.join(", "), allowed_of_notes(styles))
}

/// A number as players write it: `3`, `1/2` or `3+1/2`; `None` if it is none.
pub fn fraction(text: &str) -> Option<f64> {
    let part = |text: &str| {
        let (above, below) = text.split_once('/')?;
        let (above, below) = (above.parse::<u32>().ok()?, below.parse::<u32>().ok()?);
        (above < below).then(|| f64::from(above) / f64::from(below))
    };
    match text.split_once('+') {
        Some((whole, text)) => Some(f64::from(whole.parse::<u32>().ok()?) + part(text)?),
        None => text.parse::<u32>().ok().map(f64::from).or_else(|| part(text)),
    }
}
