//! Where the project's text lies, and where new settings are handed to whoever plays.

use std::sync::atomic::{AtomicU8, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crossbeam_utils::atomic::AtomicCell;
use nice_plug::params::persist::PersistentField;

use super::bank::Bank;
use super::state::State;
use crate::engine::patch::Patch;

// Otherwise the two sides would share a lock.
const _: () = assert!(AtomicCell::<Option<Box<Bank>>>::is_lock_free());

/// Two places for one thing each: settings on their way to the player, and played ones on their
/// way back to be freed. Both sides only ever exchange what lies there, so neither waits.
pub struct Tray {
    fresh: AtomicCell<Option<Box<Bank>>>,
    spent: AtomicCell<Option<Box<Bank>>>,
    /// The articulation that was chosen last, by its place in the common list, or [`NONE`].
    articulation: AtomicU8,
}

/// Nothing was chosen.
const NONE: u8 = u8::MAX;

impl Default for Tray {
    fn default() -> Tray {
        let (fresh, spent) = (AtomicCell::default(), AtomicCell::default());
        Tray { fresh, spent, articulation: AtomicU8::new(NONE) }
    }
}

impl Tray {
    /// Off the audio thread: lays settings down in place of what has not been taken yet.
    pub fn post(&self, bank: Bank) {
        drop(self.spent.take());
        drop(self.fresh.swap(Some(Box::new(bank))));
    }

    /// Takes the newest settings, if there are any.
    pub fn take(&self) -> Option<Box<Bank>> {
        self.fresh.take()
    }

    /// The player says which articulation was chosen, when that changes; or a project does.
    pub fn note(&self, articulation: Option<u8>) {
        self.articulation.store(articulation.unwrap_or(NONE), Ordering::Relaxed);
    }

    /// Which articulation was chosen.
    fn articulation(&self) -> Option<u8> {
        Some(self.articulation.load(Ordering::Relaxed)).filter(|place| *place != NONE)
    }

    /// Gives settings back to be freed. What lay there already comes back to the caller.
    pub fn give_back(&self, bank: Box<Bank>) -> Option<Box<Bank>> {
        self.spent.swap(Some(bank))
    }
}

/// The project's text and what it means.
pub struct Desk {
    sheet: Mutex<Sheet>,
    tray: Arc<Tray>,
    /// How many projects the host has opened.
    openings: AtomicU64,
}

struct Sheet {
    /// As it will be saved: a readable state in the present format, or whatever was loaded.
    text: String,
    state: State,
    complaint: Option<String>,
}

impl Desk {
    /// What a fresh plugin plays, with the settings already on the tray.
    pub fn shipped() -> Desk {
        let state = State::shipped();
        let sheet = Sheet { text: state.to_text(), state, complaint: None };
        let desk =
            Desk { sheet: Mutex::new(sheet), tray: Arc::default(), openings: AtomicU64::new(0) };
        desk.put(State::shipped());
        desk
    }

    /// The place where settings are handed over.
    pub fn tray(&self) -> Arc<Tray> {
        Arc::clone(&self.tray)
    }

    /// The state that plays, with the articulation that was chosen since.
    pub fn state(&self) -> State {
        let mut state = self.sheet().state.clone();
        state.set_articulation(self.tray.articulation());
        state
    }

    /// Why the loaded text does not play, if it does not.
    pub fn complaint(&self) -> Option<String> {
        self.sheet().complaint.clone()
    }

    /// Plays another state and keeps it with the project. Texts that cannot be played, or that
    /// are too long to be read again, are kept too, with a complaint, and what plays goes on.
    pub fn put(&self, state: State) {
        let text = state.to_text();
        let fits = State::check_length(&text).map_err(|error| error.to_string());
        match fits.and_then(|()| Bank::of(&state)) {
            Ok(bank) => {
                *self.sheet() = Sheet { text, state, complaint: None };
                self.tray.post(bank);
            }
            Err(complaint) => {
                let mut sheet = self.sheet();
                sheet.text = text;
                sheet.complaint = Some(complaint);
            }
        }
    }

    /// Plays a patch only to try something out; the project keeps what it has.
    pub fn try_out(&self, patch: &Patch) {
        self.tray.post(Bank::one(patch));
    }

    /// How many projects the host has opened: a window that shows an older one is out of date.
    pub fn openings(&self) -> u64 {
        self.openings.load(Ordering::Acquire)
    }

    /// A text that cannot be read is kept, to be saved as it was; the shipped state plays.
    fn keep_unread(&self, text: String, complaint: String) {
        self.put(State::shipped());
        let mut sheet = self.sheet();
        sheet.text = text;
        sheet.complaint = Some(complaint);
    }

    fn sheet(&self) -> MutexGuard<'_, Sheet> {
        // A sheet is replaced whole or field by field without a panic between.
        self.sheet.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl PersistentField<'_, String> for Desk {
    fn set(&self, text: String) {
        let read = State::parse(&text).map_err(|error| error.to_string());
        match read.and_then(|state| Bank::of(&state).map(|bank| (state, bank))) {
            Ok((state, bank)) => {
                let written = state.to_text();
                // An older state that became too long by what was written out stays as it was.
                let text = if State::check_length(&written).is_ok() { written } else { text };
                let articulation = state.articulation();
                *self.sheet() = Sheet { text, state, complaint: None };
                self.tray.note(articulation);
                self.tray.post(bank.opened_with(articulation));
            }
            Err(complaint) => self.keep_unread(text, complaint),
        }
        self.openings.fetch_add(1, Ordering::Release);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&String) -> R,
    {
        let sheet = self.sheet();
        let articulation = self.tray.articulation();
        if sheet.complaint.is_some() || sheet.state.articulation() == articulation {
            return f(&sheet.text);
        }
        let mut state = sheet.state.clone();
        state.set_articulation(articulation);
        f(&state.to_text())
    }
}
