//! The project that the host keeps: its text, and what of it plays.
//!
//! Whoever changes it holds its lock until the player has been handed what is kept. The audio
//! thread never comes here; it has only its side of the [`HandOff`].

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nice_plug::params::persist::PersistentField;

use super::computer_hand::ChosenHand;
use super::hand_off::HandOff;
use super::slot_patches::{OpenedProject, SlotPatches};
use super::state::State;
use crate::engine::patch::Patch;

/// The project's text and what it means.
pub struct Project {
    kept: Mutex<Kept>,
    hand_off: Arc<HandOff<SlotPatches>>,
    /// As in [`Kept`], for whoever only asks whether it is still the same project.
    openings: AtomicU64,
}

struct Kept {
    /// As it will be saved: a readable state in the present format, or whatever was loaded.
    text: String,
    state: State,
    complaint: Option<String>,
    /// How many projects the host has opened.
    openings: u64,
    /// The hand that reads what is played just now, if that is not the project's.
    live_hand: Option<ChosenHand>,
}

/// The host has opened another project since: what was to be changed is not there any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the host has opened another project")]
pub struct Outdated;

impl Project {
    /// Off the audio thread. What a fresh plugin plays, with its settings already posted.
    pub fn shipped() -> Project {
        let state = State::shipped();
        let text = state.to_text();
        let kept = Kept { text, state, complaint: None, openings: 0, live_hand: None };
        let (kept, hand_off, openings) = (Mutex::new(kept), Arc::default(), AtomicU64::new(0));
        let project = Project { kept, hand_off, openings };
        project.put(State::shipped());
        project
    }

    /// Any thread. Where settings are handed to the player.
    pub fn hand_off(&self) -> Arc<HandOff<SlotPatches>> {
        Arc::clone(&self.hand_off)
    }

    /// Off the audio thread. The state that plays, with the articulation that was chosen since, and
    /// how many projects the host has opened up to it.
    pub fn opened(&self) -> (State, u64) {
        let kept = self.lock();
        (self.present(&kept), kept.openings)
    }

    /// Off the audio thread. Why the loaded text does not play, if it does not.
    pub fn complaint(&self) -> Option<String> {
        self.lock().complaint.clone()
    }

    /// Off the audio thread. Plays another state and keeps it with the project. Texts that cannot
    /// be played, or that are too long to be read again, are kept too, with a complaint, and what
    /// plays goes on.
    pub fn put(&self, state: State) {
        self.replace(&mut self.lock(), state, None);
    }

    /// Off the audio thread. Changes the state that plays, as [`Project::put`] does, unless the host
    /// has opened another project meanwhile. What is read, changed and put back is one project
    /// from beginning to end, and what is kept is what plays. True if the state is another now.
    ///
    /// # Errors
    /// The project is not the one that was the `openings`th: nothing is changed.
    pub fn edit(&self, openings: u64, change: impl FnOnce(&mut State)) -> Result<bool, Outdated> {
        let mut kept = self.lock_if(openings)?;
        let before = self.present(&kept);
        let mut state = before.clone();
        change(&mut state);
        let is_changed = state != before;
        if is_changed {
            state.renew_revision();
        }
        // Also what is not changed is to be played again, in place of a trial.
        self.replace(&mut kept, state, None);
        Ok(is_changed)
    }

    /// Off the audio thread. Plays a patch only to try something out; the project keeps what it
    /// has.
    ///
    /// # Errors
    /// The project is not the one that was the `openings`th: nothing is tried.
    pub fn try_out(&self, openings: u64, patch: &Patch) -> Result<(), Outdated> {
        let _kept = self.lock_if(openings)?;
        self.hand_off.post(SlotPatches::one(patch));
        Ok(())
    }

    /// Off the audio thread. From now on this hand reads what is played just now; with `None` the
    /// project's own does. What was recorded by the hand before is kept first.
    pub fn set_live_hand(&self, hand: Option<ChosenHand>) {
        let mut kept = self.lock();
        if kept.live_hand == hand {
            return;
        }
        let state = self.present(&kept);
        let is_recorded = self.hand_off.is_recorded(kept.openings);
        kept.live_hand = hand;
        if is_recorded {
            self.replace(&mut kept, state, None);
        } else if let Ok(patches) = SlotPatches::under(&kept.state, kept.live_hand.as_ref()) {
            self.hand_off.post(patches);
        }
    }

    /// Any thread but the audio thread. The id of the hand that reads what is played just now, if it
    /// is not the project's, and whether the lane was recorded already, so that the project's reads
    /// it.
    pub fn hands(&self) -> (Option<String>, bool) {
        let kept = self.lock();
        let is_recorded = kept.state.hand_is_recorded() || self.hand_off.is_recorded(kept.openings);
        (kept.live_hand.as_ref().map(|hand| hand.id.clone()), is_recorded)
    }

    /// Off the audio thread. One sentence if the state that plays was made with another revision of
    /// the engine.
    pub fn other_revision(&self) -> Option<String> {
        self.lock().state.other_revision()
    }

    /// Any thread. How many projects the host has opened: a window that shows an older one is out
    /// of date. Never waits.
    pub fn openings(&self) -> u64 {
        self.openings.load(Ordering::Acquire)
    }

    fn present(&self, kept: &Kept) -> State {
        let mut state = kept.state.clone();
        state.set_articulation(self.articulation(kept));
        state.set_niente_from(self.niente_from(kept));
        if self.hand_off.is_recorded(kept.openings) {
            if let Some(hand) = &kept.live_hand {
                state.set_hands(&[&hand.text]);
            }
            state.set_hand_recorded(true);
        }
        state
    }

    /// As the player last said it, or until then as the project was opened.
    fn niente_from(&self, kept: &Kept) -> Option<i32> {
        self.hand_off.niente_from(kept.openings).unwrap_or_else(|| kept.state.niente_from())
    }

    /// As the player last said it, or until then as the project was opened.
    fn articulation(&self, kept: &Kept) -> Option<u8> {
        self.hand_off.chosen(kept.openings).unwrap_or_else(|| kept.state.articulation())
    }

    /// Keeps a state and plays it, as the project that the host has opened if it did.
    fn replace(&self, kept: &mut Kept, state: State, opening: Option<OpenedProject>) {
        let text = state.to_text();
        let fits = State::check_length(&text).map_err(|error| error.to_string());
        let patches = fits.and_then(|()| SlotPatches::under(&state, kept.live_hand.as_ref()));
        match patches {
            Ok(patches) => {
                self.hand_off.forget_recorded();
                (kept.text, kept.state, kept.complaint) = (text, state, None);
                self.hand_off.post(match opening {
                    Some(opening) => patches.opened(opening),
                    None => patches,
                });
            }
            Err(complaint) => {
                kept.text = text;
                kept.complaint = Some(complaint);
            }
        }
    }

    fn lock(&self) -> MutexGuard<'_, Kept> {
        // It is replaced whole or field by field without a panic between.
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn lock_if(&self, openings: u64) -> Result<MutexGuard<'_, Kept>, Outdated> {
        let kept = self.lock();
        if kept.openings == openings { Ok(kept) } else { Err(Outdated) }
    }
}

impl PersistentField<'_, String> for Project {
    /// The host's main thread: it opens a project. A text that cannot be read is kept, to be saved
    /// as it was; the shipped files play, under the articulation that was chosen before.
    fn set(&self, text: String) {
        let live_hand = self.lock().live_hand.clone();
        let patches = |state: &State| SlotPatches::under(state, live_hand.as_ref());
        let read = State::parse(&text).map_err(|error| error.to_string());
        let read = read.and_then(|state| patches(&state).map(|patches| (state, patches)));
        let mut kept = self.lock();
        let before = self.articulation(&kept);
        kept.openings += 1;
        let number = kept.openings;
        match read {
            Ok((state, patches)) => {
                let written = state.to_text();
                // An older state that became too long by what was written out stays as it was.
                let text = if State::check_length(&written).is_ok() { written } else { text };
                let (articulation, niente_from) = (state.articulation(), state.niente_from());
                let opening = OpenedProject { number, articulation, niente_from };
                (kept.text, kept.state, kept.complaint) = (text, state, None);
                self.hand_off.post(patches.opened(opening));
            }
            Err(complaint) => {
                let mut state = State::in_place_of_unread();
                state.set_articulation(before);
                let opening = OpenedProject { number, articulation: before, niente_from: None };
                self.replace(&mut kept, state, Some(opening));
                (kept.text, kept.complaint) = (text, Some(complaint));
            }
        }
        self.openings.store(number, Ordering::Release);
    }

    /// The host's main thread: it saves the project.
    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&String) -> R,
    {
        let kept = self.lock();
        let state = self.present(&kept);
        if kept.complaint.is_some() || kept.state == state {
            return f(&kept.text);
        }
        f(&state.to_text())
    }
}
