//! What a project asks of stretches of its song, by the song's own position: softer here, a longer
//! ending there.

use serde_json::{Value, json};

use super::state::{State, StateError, wrong};
use crate::engine::patch::{RETOUCHES_MAX, Retouch, RetouchPatch};
use crate::profile::wish::{StretchWish, read_stretch};

/// The field of the state.
const FIELD: &str = "stretches";
/// The furthest place, quarter notes: a day at 600 a minute.
pub const BEAT_MAX: f64 = 864_000.0;

/// Something asked of a stretch of the song.
#[derive(Clone, Debug, PartialEq)]
pub struct SongStretch {
    /// Where it begins, quarter notes since the start of the song, 0..=[`BEAT_MAX`].
    pub from_beat: f64,
    /// Where it ends, above `from_beat`.
    pub to_beat: f64,
    /// What is asked, divided by commas: `softer 3 dB over 1 beat, vibrato 70 %`; beats are quarter notes.
    pub wishes: String,
}

impl SongStretch {
    /// What is asked. A style that `styles` do not have is asked of other instruments.
    ///
    /// # Errors
    /// A sentence with the words and what is allowed.
    pub fn read(&self, styles: &[String]) -> Result<Vec<StretchWish>, String> {
        read_stretch(&self.wishes, styles)
    }

    fn of(value: &Value) -> Option<SongStretch> {
        let beat =
            |field: &str| value.get(field)?.as_f64().filter(|it| (0.0..=BEAT_MAX).contains(it));
        let (from_beat, to_beat) = (beat("from_beat")?, beat("to_beat")?);
        let wishes = value.get("wishes")?.as_str()?.to_owned();
        (from_beat < to_beat).then_some(SongStretch { from_beat, to_beat, wishes })
    }
}

impl State {
    /// What is asked of stretches of the song.
    pub fn stretches(&self) -> Vec<SongStretch> {
        self.read_stretches().unwrap_or_default()
    }

    /// The same, for whoever reads a state.
    ///
    /// # Errors
    /// [`StateError::Field`] for what is no list of stretches.
    pub(super) fn read_stretches(&self) -> Result<Vec<SongStretch>, StateError> {
        let Some(value) = self.field(FIELD) else { return Ok(Vec::new()) };
        let list = value.as_array().filter(|list| list.len() <= RETOUCHES_MAX);
        let stretches = list.and_then(|list| list.iter().map(SongStretch::of).collect());
        let allowed = format!(
            "a list of at most {RETOUCHES_MAX} stretches with from_beat, to_beat (0 to {BEAT_MAX}, rising) and wishes"
        );
        stretches.ok_or_else(|| wrong(FIELD, Some(value), &allowed))
    }

    /// Asks something else of the song's stretches.
    pub fn set_stretches(&mut self, stretches: &[SongStretch]) {
        let value = |it: &SongStretch| json!({ "from_beat": it.from_beat, "to_beat": it.to_beat, "wishes": it.wishes });
        let list: Vec<Value> = stretches.iter().map(value).collect();
        self.set_field(FIELD, (!list.is_empty()).then(|| json!(list)));
    }
}

/// What an instrument with these styles plays of it; a style that it does not have is passed over.
///
/// # Errors
/// One sentence for words that nobody could play, or for more than there is room for.
pub fn retouches(
    stretches: &[SongStretch],
    styles: &[String],
    all_styles: &[String],
) -> Result<RetouchPatch, String> {
    let mut patch = RetouchPatch::NONE;
    for stretch in stretches {
        stretch.read(all_styles)?;
        for words in stretch.wishes.split(',') {
            let one = SongStretch { wishes: words.to_owned(), ..stretch.clone() };
            // Words that only another of the project's instruments knows.
            let Ok(wishes) = one.read(styles) else { continue };
            for wish in wishes {
                let StretchWish { change, fade_beats, .. } = wish;
                let SongStretch { from_beat, to_beat, .. } = *stretch;
                if !patch.add(Retouch { from_beat, to_beat, fade_beats, change }) {
                    return Err(format!(
                        "the song's stretches ask for more; allowed is {RETOUCHES_MAX}"
                    ));
                }
            }
        }
    }
    Ok(patch)
}
