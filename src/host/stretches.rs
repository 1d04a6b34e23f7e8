//! What a project asks of stretches of its song, by the song's own position: softer here, a longer
//! ending there.

use serde_json::{Value, json};

use super::state::{State, StateError, wrong};
use crate::engine::patch::{RETOUCHES_MAX, Retouch, RetouchPatch};
use crate::profile::wish::{SONG_BEAT_MAX, SongStretch, StretchWish};

/// The field of the state.
const FIELD: &str = "stretches";
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
        let stretches = list.and_then(|list| list.iter().map(stretch_of).collect());
        let allowed = format!(
            "a list of at most {RETOUCHES_MAX} stretches with from_beat, to_beat (0 to {SONG_BEAT_MAX}, rising) and wishes"
        );
        stretches.ok_or_else(|| wrong(FIELD, Some(value), &allowed))
    }

    /// Asks something else of the song's stretches.
    pub fn set_stretches(&mut self, stretches: &[SongStretch]) {
        let value = |it: &SongStretch| {
            json!({
                "from_beat": it.from_beat,
                "to_beat": it.to_beat,
                "metre_beat": it.metre_beat,
                "wishes": it.wishes,
            })
        };
        let list: Vec<Value> = stretches.iter().map(value).collect();
        self.set_field(FIELD, (!list.is_empty()).then(|| json!(list)));
    }
}

fn stretch_of(value: &Value) -> Option<SongStretch> {
    let number = |field: &str| value.get(field).and_then(Value::as_f64);
    let stretch = SongStretch {
        from_beat: number("from_beat")?,
        to_beat: number("to_beat")?,
        metre_beat: number("metre_beat").unwrap_or(1.0),
        wishes: value.get("wishes")?.as_str()?.to_owned(),
    };
    stretch.is_in_a_song().then_some(stretch)
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
            for StretchWish { change, fade_beats, .. } in wishes {
                let SongStretch { from_beat, to_beat, metre_beat, .. } = *stretch;
                let fade_beats = fade_beats * metre_beat;
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
