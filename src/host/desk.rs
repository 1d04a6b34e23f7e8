//! Where the project's text lies, and where new settings are handed to whoever plays.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crossbeam_utils::atomic::AtomicCell;
use nice_plug::params::persist::PersistentField;

use super::bank::{Bank, Opening};
use super::state::State;
use crate::engine::patch::Patch;

// Otherwise the two sides would share a lock.
const _: () = assert!(AtomicCell::<Option<Box<Bank>>>::is_lock_free());

/// Two places for one thing each: settings on their way to the player, and played ones on their
/// way back to be freed. Both sides only ever exchange what lies there, so neither waits.
#[derive(Default)]
pub struct Tray {
    fresh: AtomicCell<Option<Box<Bank>>>,
    spent: AtomicCell<Option<Box<Bank>>>,
    /// See [`packed`].
    chosen: AtomicU64,
}

/// Nothing was chosen.
const NONE: u8 = u8::MAX;

/// The articulation that was chosen last, by its place in the common list, with the number of the
/// project's opening before it, so that one that was chosen in another project is known as such.
fn packed(opening: u64, articulation: Option<u8>) -> u64 {
    opening << 8 | u64::from(articulation.unwrap_or(NONE))
}

impl Tray {
    /// Off the audio thread, under the project's lock: lays settings down in place of what has
    /// not been taken yet.
    fn post(&self, bank: Bank) {
        drop(self.spent.take());
        let bank = match self.fresh.take() {
            Some(untaken) => bank.in_place_of(&untaken),
            None => bank,
        };
        self.fresh.store(Some(Box::new(bank)));
    }

    /// Audio thread. Takes the newest settings, if there are any. Never waits.
    pub fn take(&self) -> Option<Box<Bank>> {
        self.fresh.take()
    }

    /// Audio thread. Says which articulation was chosen, in the project of that opening.
    pub fn choose(&self, opening: u64, articulation: Option<u8>) {
        self.chosen.store(packed(opening, articulation), Ordering::Relaxed);
    }

    /// What the player has said of the project of that opening; `None` if nothing yet.
    fn chosen(&self, opening: u64) -> Option<Option<u8>> {
        let packed = self.chosen.load(Ordering::Relaxed);
        let articulation = Some(packed as u8).filter(|place| *place != NONE);
        (packed >> 8 == opening).then_some(articulation)
    }

    /// Audio thread. Gives settings back to be freed. What lay there already comes back to the
    /// caller. Never waits.
    pub fn give_back(&self, bank: Box<Bank>) -> Option<Box<Bank>> {
        self.spent.swap(Some(bank))
    }
}

/// The project's text and what it means. The audio thread touches only its tray.
pub struct Desk {
    sheet: Mutex<Sheet>,
    tray: Arc<Tray>,
    /// That of the sheet, for whoever only asks whether it is still the same.
    openings: AtomicU64,
}

struct Sheet {
    /// As it will be saved: a readable state in the present format, or whatever was loaded.
    text: String,
    state: State,
    complaint: Option<String>,
    /// How many projects the host has opened.
    openings: u64,
}

/// The host has opened another project since: what was to be changed is not there any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the host has opened another project")]
pub struct Outdated;

impl Desk {
    /// What a fresh plugin plays, with the settings already on the tray.
    pub fn shipped() -> Desk {
        let state = State::shipped();
        let sheet = Sheet { text: state.to_text(), state, complaint: None, openings: 0 };
        let tray = Arc::new(Tray::default());
        tray.choose(0, None);
        let desk = Desk { sheet: Mutex::new(sheet), tray, openings: AtomicU64::new(0) };
        desk.put(State::shipped());
        desk
    }

    /// The place where settings are handed over.
    pub fn tray(&self) -> Arc<Tray> {
        Arc::clone(&self.tray)
    }

    /// Off the audio thread. The state that plays, with the articulation that was chosen since.
    pub fn state(&self) -> State {
        self.present(&self.sheet())
    }

    /// Off the audio thread. The same, and how many projects the host has opened up to it.
    pub fn opened(&self) -> (State, u64) {
        let sheet = self.sheet();
        (self.present(&sheet), sheet.openings)
    }

    /// Off the audio thread. Why the loaded text does not play, if it does not.
    pub fn complaint(&self) -> Option<String> {
        self.sheet().complaint.clone()
    }

    /// Off the audio thread. Plays another state and keeps it with the project. Texts that cannot
    /// be played, or that are too long to be read again, are kept too, with a complaint, and what
    /// plays goes on.
    pub fn put(&self, state: State) {
        self.replace(&mut self.sheet(), state, None);
    }

    /// Off the audio thread. Changes the state that plays, as [`Desk::put`] does, unless the host
    /// has opened another project meanwhile. What is read, changed and put back is one project
    /// from beginning to end, and what is kept is what plays. True if the state is another now.
    ///
    /// # Errors
    /// The project is not the one that was the `openings`th: nothing is changed.
    pub fn edit(&self, openings: u64, change: impl FnOnce(&mut State)) -> Result<bool, Outdated> {
        let mut sheet = self.sheet_of(openings)?;
        let before = self.present(&sheet);
        let mut state = before.clone();
        change(&mut state);
        let is_changed = state != before;
        // Also what is not changed is to be played again, in place of a trial.
        self.replace(&mut sheet, state, None);
        Ok(is_changed)
    }

    /// Off the audio thread. Plays a patch only to try something out; the project keeps what it
    /// has.
    ///
    /// # Errors
    /// The project is not the one that was the `openings`th: nothing is tried.
    pub fn try_out(&self, openings: u64, patch: &Patch) -> Result<(), Outdated> {
        let _sheet = self.sheet_of(openings)?;
        self.tray.post(Bank::one(patch));
        Ok(())
    }

    /// Any thread. How many projects the host has opened: a window that shows an older one is out
    /// of date. Never waits.
    pub fn openings(&self) -> u64 {
        self.openings.load(Ordering::Acquire)
    }

    fn present(&self, sheet: &Sheet) -> State {
        let mut state = sheet.state.clone();
        state.set_articulation(self.articulation(sheet));
        state
    }

    /// As the player last said it, or until then as the project was opened.
    fn articulation(&self, sheet: &Sheet) -> Option<u8> {
        self.tray.chosen(sheet.openings).unwrap_or_else(|| sheet.state.articulation())
    }

    /// Keeps a state and plays it, as the project that the host has opened if it did.
    fn replace(&self, sheet: &mut Sheet, state: State, opening: Option<Opening>) {
        let text = state.to_text();
        let fits = State::check_length(&text).map_err(|error| error.to_string());
        match fits.and_then(|()| Bank::of(&state)) {
            Ok(bank) => {
                *sheet = Sheet { text, state, complaint: None, ..*sheet };
                self.tray.post(match opening {
                    Some(opening) => bank.opened(opening),
                    None => bank,
                });
            }
            Err(complaint) => {
                sheet.text = text;
                sheet.complaint = Some(complaint);
            }
        }
    }

    fn sheet(&self) -> MutexGuard<'_, Sheet> {
        // A sheet is replaced whole or field by field without a panic between.
        self.sheet.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn sheet_of(&self, openings: u64) -> Result<MutexGuard<'_, Sheet>, Outdated> {
        let sheet = self.sheet();
        if sheet.openings == openings { Ok(sheet) } else { Err(Outdated) }
    }
}

impl PersistentField<'_, String> for Desk {
    /// The host's main thread: it opens a project. A text that cannot be read is kept, to be saved
    /// as it was; the shipped files play, under the articulation that was chosen before.
    fn set(&self, text: String) {
        let read = State::parse(&text).map_err(|error| error.to_string());
        let read = read.and_then(|state| Bank::of(&state).map(|bank| (state, bank)));
        let mut sheet = self.sheet();
        let before = self.articulation(&sheet);
        sheet.openings += 1;
        let number = sheet.openings;
        match read {
            Ok((state, bank)) => {
                let written = state.to_text();
                // An older state that became too long by what was written out stays as it was.
                let text = if State::check_length(&written).is_ok() { written } else { text };
                let opening = Opening { number, articulation: state.articulation() };
                *sheet = Sheet { text, state, complaint: None, openings: number };
                self.tray.post(bank.opened(opening));
            }
            Err(complaint) => {
                let mut state = State::in_place_of_unread();
                state.set_articulation(before);
                let opening = Opening { number, articulation: before };
                self.replace(&mut sheet, state, Some(opening));
                (sheet.text, sheet.complaint) = (text, Some(complaint));
            }
        }
        self.openings.store(number, Ordering::Release);
    }

    /// The host's main thread: it saves the project.
    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&String) -> R,
    {
        let sheet = self.sheet();
        let articulation = self.articulation(&sheet);
        if sheet.complaint.is_some() || sheet.state.articulation() == articulation {
            return f(&sheet.text);
        }
        let mut state = sheet.state.clone();
        state.set_articulation(articulation);
        f(&state.to_text())
    }
}
