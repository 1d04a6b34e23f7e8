//! The settings of every pair of slots, ready to be played from one frame to the next.

use crate::engine::patch::Patch;
use crate::profile::{self, Fault, Hand, Instrument, Profile, Target};

use super::computer_hand::ChosenHand;
use super::hand_off::HandedOver;
use super::state::State;
use super::stretches::retouches;

/// One patch for each pair of an instrument's and a target's slot. Made and freed off the audio
/// thread, read on it.
#[derive(Clone, Debug)]
pub struct SlotPatches {
    /// By instrument, then by target; `None` where the two do not go together.
    patches: Vec<Option<Patch>>,
    /// The same under the hand that reads what is played just now; empty if that is the state's own.
    live: Vec<Option<Patch>>,
    /// See [`State::hand_is_recorded`].
    pub is_recorded: bool,
    target_count: usize,
    /// The project that the host opened with them, if it did.
    pub opening: Option<OpenedProject>,
}

/// A project of the host's as it was opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OpenedProject {
    /// Projects that the host has opened in this plugin up to here; the first is 1.
    pub number: u64,
    /// The articulation that was chosen in it, by its place in the common list, if any was.
    pub articulation: Option<u8>,
    /// The place of its song from which silences may begin, if it is known.
    pub niente_from: Option<i32>,
}

impl SlotPatches {
    /// Off the audio thread. The patches of a state.
    ///
    /// # Errors
    /// Every fault of every text, one a line, or why not even the first pair goes together.
    pub fn of(state: &State) -> Result<SlotPatches, String> {
        SlotPatches::under(state, None)
    }

    /// Off the audio thread. The same, where what is played just now is read by another hand than the
    /// state's.
    ///
    /// # Errors
    /// As [`SlotPatches::of`].
    pub fn under(state: &State, live_hand: Option<&ChosenHand>) -> Result<SlotPatches, String> {
        let mut faults = Vec::new();
        let instruments: Vec<Option<Instrument>> =
            state.instruments().into_iter().map(|text| read(text, &mut faults)).collect();
        let targets: Vec<Option<Target>> =
            state.targets().into_iter().map(|text| read(text, &mut faults)).collect();
        let hands: Vec<Option<Hand>> =
            state.hands().into_iter().map(|text| read(text, &mut faults)).collect();
        if !faults.is_empty() {
            return Err(faults.join("\n"));
        }
        let (instruments, targets): (Vec<_>, Vec<_>) =
            (instruments.into_iter().flatten().collect(), targets.into_iter().flatten().collect());
        let hands: Vec<Hand> = hands.into_iter().flatten().collect();
        let patches = pairs(&instruments, &targets, &hands, state)?;
        let live_hand = live_hand.map(|hand| &*hand.text);
        let live_hand = live_hand.filter(|text| state.hands().iter().any(|own| own != text));
        let live_hand = live_hand.and_then(|text| read::<Hand>(text, &mut Vec::new()));
        let live = live_hand.map(|hand| pairs(&instruments, &targets, &[hand], state));
        // A hand that does not go with the first pair reads nothing.
        let live = live.and_then(Result::ok).unwrap_or_default();
        let (target_count, is_recorded) = (targets.len(), state.hand_is_recorded());
        Ok(SlotPatches { patches, live, is_recorded, target_count, opening: None })
    }

    /// Off the audio thread. One patch, to try it out.
    pub fn one(patch: &Patch) -> SlotPatches {
        SlotPatches {
            patches: vec![Some(*patch)],
            live: Vec::new(),
            is_recorded: true,
            target_count: 1,
            opening: None,
        }
    }

    /// Off the audio thread. The same as a project that the host has opened.
    pub fn opened(self, opening: OpenedProject) -> SlotPatches {
        SlotPatches { opening: Some(opening), ..self }
    }

    /// Any thread. The patch of two slots, counted from 0. `None` for an empty slot, or for two that do not
    /// go together.
    pub fn patch(&self, instrument: usize, target: usize) -> Option<&Patch> {
        if target >= self.target_count {
            return None;
        }
        self.patches.get(instrument * self.target_count + target)?.as_ref()
    }

    /// Any thread. The same under the hand that reads what is played just now.
    pub fn live_patch(&self, instrument: usize, target: usize) -> Option<&Patch> {
        let place = instrument * self.target_count + target;
        let live = self.live.get(place).filter(|_| target < self.target_count);
        live.and_then(Option::as_ref).or(self.patch(instrument, target))
    }

    /// Any thread. The one of the two that counts: under the hand that reads what is played just now
    /// (`is_live`), or under the project's.
    pub fn present(&self, (instrument, target): (usize, usize), is_live: bool) -> Option<&Patch> {
        match is_live {
            true => self.live_patch(instrument, target),
            false => self.patch(instrument, target),
        }
    }

    /// Any thread. What is played just now is read by another hand than what was recorded.
    pub fn has_live_hand(&self) -> bool {
        !self.live.is_empty()
    }

    /// Any thread. The patch of the first pair.
    pub fn first(&self) -> Option<&Patch> {
        self.patch(0, 0)
    }
}

impl HandedOver for SlotPatches {
    /// The player hears of the project that was opened with what it has not taken.
    fn in_place_of(self, untaken: &SlotPatches) -> SlotPatches {
        SlotPatches { opening: self.opening.or(untaken.opening), ..self }
    }
}

/// One patch for each pair; the first must go together.
fn pairs(
    instruments: &[Instrument],
    targets: &[Target],
    hands: &[Hand],
    state: &State,
) -> Result<Vec<Option<Patch>>, String> {
    let (seed, stretches) = (state.seed(), state.stretches());
    let all_styles: Vec<String> = instruments.iter().flat_map(Instrument::style_names).collect();
    let mut patches = Vec::new();
    for (place, instrument) in instruments.iter().enumerate() {
        let retouches = retouches(&stretches, &instrument.style_names(), &all_styles)?;
        let Some(hand) = hands.get(place).or(hands.first()) else {
            return Err("the state has no hand".to_owned());
        };
        for target in targets {
            match profile::patch(instrument, target, hand, seed, 1.0) {
                Ok(patch) => patches.push(Some(Patch { retouches, ..patch })),
                Err(error) if patches.is_empty() => return Err(error.to_string()),
                Err(_) => patches.push(None),
            }
        }
    }
    Ok(patches)
}

fn read<T: Profile>(text: &str, faults: &mut Vec<String>) -> Option<T> {
    let tell = |fault: &Fault| format!("{}: {fault}", T::KIND.name());
    match profile::check::<T>(text) {
        Ok(loaded) => Some(loaded.profile),
        Err(found) => {
            faults.extend(found.iter().map(tell));
            None
        }
    }
}
