//! What a project remembers: full copies of the three files, so that it sounds the same next year.
//!
//! An instrument that is based on others is kept with all that it takes over from them written
//! out, since the others may have changed by then.

use serde_json::{Map, Value, json};

use crate::engine::REVISION;
use crate::profile::patch::SEED;
use crate::profile::shipped::SHIPPED;
use crate::profile::{self, Hand, Instrument, Loaded, Target};

/// The format that this version writes, and the newest that it reads.
pub const FORMAT: u64 = 2;
/// The most instruments that a state holds, and the most targets.
pub const SLOTS_MAX: usize = 4;
/// That of a project whose text is missing or cannot be read, as it was for fresh plugins when the
/// first of them were made.
const SEED_UNREAD: u64 = 1;
/// The longest text that is read or played as a state.
pub const STATE_BYTES_MAX: usize = 256 * 1024;

/// Why a text is not a state.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StateError {
    /// Longer than [`STATE_BYTES_MAX`].
    #[error("the state is {bytes} bytes long; allowed are {STATE_BYTES_MAX}")]
    TooLong {
        /// Its length.
        bytes: usize,
    },
    /// Not JSON.
    #[error("the state is not JSON: {reason}")]
    NotJson {
        /// Where and why.
        reason: String,
    },
    /// Written by a newer version.
    #[error("the state's format is {found}; this version reads 1 to {FORMAT}")]
    Newer {
        /// The format it names.
        found: u64,
    },
    /// A field is missing or is not what it must be.
    #[error("{field} of the state is {found}; it must be {allowed}")]
    Field {
        /// The field.
        field: &'static str,
        /// What stands there.
        found: String,
        /// What may stand there.
        allowed: String,
    },
}

/// A readable state. Fields that this version does not know stay in it. Any thread but the audio
/// thread: it lives on the heap.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    fields: Map<String, Value>,
}

impl State {
    /// A state of three files, wherever they and those that they are based on have come from.
    pub fn of(
        instrument: &Loaded<Instrument>,
        target: &Loaded<Target>,
        hand: &Loaded<Hand>,
        seed: u64,
    ) -> State {
        State::new(instrument.flattened(), target.flattened(), hand.flattened(), seed)
    }

    /// A state of three texts. An instrument may be based on shipped ones, not on files.
    pub fn new(instrument: &str, target: &str, hand: &str, seed: u64) -> State {
        let whole = json!({
            "polso": "state",
            "format": FORMAT,
            "engine_revision": REVISION,
            "seed": seed,
            "instruments": [standing_alone(instrument)],
            "targets": [target],
            "hand": hand,
            "hand_recorded": false,
        });
        let Value::Object(fields) = whole else { unreachable!("a literal object") };
        State { fields }
    }

    /// What a fresh plugin plays: the erhu into the generic receiver, under a wheel.
    pub fn shipped() -> State {
        let text =
            |id: &str| SHIPPED.iter().find(|each| each.id == id).map_or("", |each| each.text);
        State::new(text("erhu"), text("generic"), text("wheel"), SEED)
    }

    /// What plays in place of a project whose text is missing or cannot be read.
    pub fn in_place_of_unread() -> State {
        let mut state = State::shipped();
        state.set_seed(SEED_UNREAD);
        state
    }

    /// Reads a text, and brings an older format to the present one.
    ///
    /// # Errors
    /// Anything that is not a whole state of a format up to [`FORMAT`].
    pub fn parse(text: &str) -> Result<State, StateError> {
        State::check_length(text)?;
        let whole: Value = serde_json::from_str(text)
            .map_err(|error| StateError::NotJson { reason: error.to_string() })?;
        let Value::Object(fields) = whole else {
            return Err(wrong("the whole", Some(&whole), "an object"));
        };
        let mut state = State { fields };
        if state.fields.get("polso").and_then(Value::as_str) != Some("state") {
            return Err(wrong("polso", state.fields.get("polso"), "\"state\""));
        }
        match state.number("format")? {
            1 => state.migrate_from_1()?,
            FORMAT => {}
            0 => return Err(wrong("format", state.fields.get("format"), "1 or more")),
            found => return Err(StateError::Newer { found }),
        }
        state.number("seed")?;
        state.number("engine_revision")?;
        state.texts("instruments")?;
        state.texts("targets")?;
        state.text("hand")?;
        if state.fields.contains_key("articulation") {
            state.number("articulation")?;
        }
        if state.fields.contains_key("hands") {
            state.texts("hands")?;
        }
        if state.fields.contains_key("niente_from") {
            state.place("niente_from")?;
        }
        state.read_stretches()?;
        if let value @ Some(recorded) = state.fields.get("hand_recorded")
            && !recorded.is_boolean()
        {
            return Err(wrong("hand_recorded", value, "true or false"));
        }
        // Older versions kept instruments as they were given.
        let instruments = state.instruments().into_iter().map(standing_alone);
        let instruments = instruments.collect::<Vec<_>>();
        state.fields.insert("instruments".to_owned(), json!(instruments));
        Ok(state)
    }

    /// A longer text could not be read again.
    ///
    /// # Errors
    /// More than [`STATE_BYTES_MAX`] bytes.
    pub fn check_length(text: &str) -> Result<(), StateError> {
        let bytes = text.len();
        if bytes > STATE_BYTES_MAX { Err(StateError::TooLong { bytes }) } else { Ok(()) }
    }

    /// The text to be kept with the project.
    pub fn to_text(&self) -> String {
        Value::Object(self.fields.clone()).to_string()
    }

    /// The instruments' texts, one a slot; 1..=[`SLOTS_MAX`].
    pub fn instruments(&self) -> Vec<&str> {
        self.texts("instruments").unwrap_or_default()
    }

    /// The targets' texts, one a slot; 1..=[`SLOTS_MAX`].
    pub fn targets(&self) -> Vec<&str> {
        self.texts("targets").unwrap_or_default()
    }

    /// The hands' texts, one an instrument's slot; one that is missing is the first. 1..=[`SLOTS_MAX`].
    pub fn hands(&self) -> Vec<&str> {
        self.texts("hands").unwrap_or_else(|_| vec![self.text("hand").unwrap_or_default()])
    }

    /// The lane on the track was recorded under the state's hands, as far as is known. What was
    /// written before this was kept counts as recorded, so that it means what it meant.
    pub fn hand_is_recorded(&self) -> bool {
        self.fields.get("hand_recorded").and_then(Value::as_bool).unwrap_or(true)
    }

    /// Which of the possible performances it is.
    pub fn seed(&self) -> u64 {
        self.number("seed").unwrap_or_default()
    }

    /// The articulation that was chosen, by its place in the common list, if any was.
    pub fn articulation(&self) -> Option<u8> {
        self.number("articulation").ok().and_then(|place| u8::try_from(place).ok())
    }

    /// The earliest place of the song at which the gesture has come up, in 48ths of a quarter note,
    /// if it has: from there on a hand at rest is a silence.
    pub fn niente_from(&self) -> Option<i32> {
        self.place("niente_from").ok()
    }

    /// The revision of the engine that it was made with.
    pub fn engine_revision(&self) -> u64 {
        self.number("engine_revision").unwrap_or_default()
    }

    /// One sentence for a state that was made with another revision of the engine.
    pub fn other_revision(&self) -> Option<String> {
        let made = self.engine_revision();
        (made != u64::from(REVISION)).then(|| {
            format!(
                "This project was made with engine revision {made}; revision {REVISION} plays it \
                 now, and it sounds different."
            )
        })
    }

    /// Whoever changes it has heard it as this revision plays it.
    pub fn renew_revision(&mut self) {
        self.fields.insert("engine_revision".to_owned(), json!(REVISION));
    }

    /// Puts other texts into the instruments' slots, as [`State::new`] takes them; the first
    /// [`SLOTS_MAX`] are taken.
    pub fn set_instruments(&mut self, texts: &[&str]) {
        let texts: Vec<String> = texts.iter().map(|text| standing_alone(text)).collect();
        self.set_texts("instruments", &texts.iter().map(String::as_str).collect::<Vec<_>>());
    }

    /// Puts other texts into the targets' slots; the first [`SLOTS_MAX`] are taken.
    pub fn set_targets(&mut self, texts: &[&str]) {
        self.set_texts("targets", texts);
    }

    /// Puts other hands' texts in, one an instrument's slot; the first [`SLOTS_MAX`] are taken.
    pub fn set_hands(&mut self, texts: &[&str]) {
        // Older versions know one hand only.
        self.fields.insert("hand".to_owned(), json!(texts.first()));
        self.set_texts("hands", texts);
    }

    /// The lane on the track was recorded under the state's hands, or is to be recorded anew.
    pub fn set_hand_recorded(&mut self, is_recorded: bool) {
        self.fields.insert("hand_recorded".to_owned(), json!(is_recorded));
    }

    /// Keeps what was chosen.
    pub fn set_articulation(&mut self, place: Option<u8>) {
        self.set_field("articulation", place.map(|place| json!(place)));
    }

    /// Keeps where the gesture has first come up.
    pub fn set_niente_from(&mut self, place: Option<i32>) {
        self.set_field("niente_from", place.map(|place| json!(place)));
    }

    /// Chooses another performance.
    pub fn set_seed(&mut self, seed: u64) {
        self.fields.insert("seed".to_owned(), json!(seed));
    }

    pub(super) fn field(&self, name: &str) -> Option<&Value> {
        self.fields.get(name)
    }

    /// Writes a field, or takes it out.
    pub(super) fn set_field(&mut self, name: &str, value: Option<Value>) {
        match value {
            Some(value) => drop(self.fields.insert(name.to_owned(), value)),
            None => drop(self.fields.shift_remove(name)),
        }
    }

    fn set_texts(&mut self, field: &str, texts: &[&str]) {
        self.fields
            .insert(field.to_owned(), json!(texts.iter().take(SLOTS_MAX).collect::<Vec<_>>()));
    }

    /// Format 1 had one instrument and one target, and no slots.
    fn migrate_from_1(&mut self) -> Result<(), StateError> {
        for (old, new) in [("instrument", "instruments"), ("target", "targets")] {
            let text = self.text(old)?.to_owned();
            self.fields.shift_remove(old);
            self.fields.insert(new.to_owned(), json!([text]));
        }
        self.fields.insert("format".to_owned(), json!(FORMAT));
        Ok(())
    }

    fn number(&self, field: &'static str) -> Result<u64, StateError> {
        let value = self.fields.get(field);
        value.and_then(Value::as_u64).ok_or_else(|| wrong(field, value, "a whole number"))
    }

    fn place(&self, field: &'static str) -> Result<i32, StateError> {
        let value = self.fields.get(field);
        let place = value.and_then(Value::as_i64).and_then(|place| i32::try_from(place).ok());
        place.ok_or_else(|| wrong(field, value, "a whole number of 32 bits"))
    }

    fn text(&self, field: &'static str) -> Result<&str, StateError> {
        let value = self.fields.get(field);
        value.and_then(Value::as_str).ok_or_else(|| wrong(field, value, "a text"))
    }

    fn texts(&self, field: &'static str) -> Result<Vec<&str>, StateError> {
        let value = self.fields.get(field);
        let list = value.and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default();
        let texts: Option<Vec<&str>> = list.iter().map(Value::as_str).collect();
        let fits = |texts: &Vec<&str>| (1..=SLOTS_MAX).contains(&texts.len());
        let allowed = format!("a list of 1 to {SLOTS_MAX} texts");
        texts.filter(fits).ok_or_else(|| wrong(field, value, &allowed))
    }
}

/// An instrument with all that it takes over from others written out; a text that cannot be read
/// as it is.
fn standing_alone(text: &str) -> String {
    match profile::check::<Instrument>(text) {
        Ok(loaded) => loaded.flattened().to_owned(),
        Err(_) => text.to_owned(),
    }
}

pub(super) fn wrong(field: &'static str, value: Option<&Value>, allowed: &str) -> StateError {
    const CHARS_MAX: usize = 40;
    let found = match value {
        None => "missing".to_owned(),
        Some(value) => value.to_string().chars().take(CHARS_MAX).collect(),
    };
    StateError::Field { field, found, allowed: allowed.to_owned() }
}
