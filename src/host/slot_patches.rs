//! The settings of every pair of slots, ready to be played from one frame to the next.

use crate::engine::patch::Patch;
use crate::profile::{self, Fault, Hand, Instrument, Profile, Target};

use super::hand_off::HandedOver;
use super::state::State;
use super::stretches::retouches;

/// One patch for each pair of an instrument's and a target's slot. Made and freed off the audio
/// thread, read on it.
#[derive(Clone, Debug)]
pub struct SlotPatches {
    /// By instrument, then by target; `None` where the two do not go together.
    patches: Vec<Option<Patch>>,
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
        let stretches = state.stretches();
        let all_styles: Vec<String> =
            instruments.iter().flatten().flat_map(Instrument::style_names).collect();
        let mut patches = Vec::new();
        for (place, instrument) in instruments.iter().flatten().enumerate() {
            let retouches = retouches(&stretches, &instrument.style_names(), &all_styles)?;
            let Some(hand) = hands.get(place).or(hands.first()).and_then(Option::as_ref) else {
                return Err("the state has no hand".to_owned());
            };
            for target in targets.iter().flatten() {
                match profile::patch(instrument, target, hand, state.seed(), 1.0) {
                    Ok(patch) => patches.push(Some(Patch { retouches, ..patch })),
                    Err(error) if patches.is_empty() => return Err(error.to_string()),
                    Err(_) => patches.push(None),
                }
            }
        }
        Ok(SlotPatches { patches, target_count: targets.len(), opening: None })
    }

    /// Off the audio thread. One patch, to try it out.
    pub fn one(patch: &Patch) -> SlotPatches {
        SlotPatches { patches: vec![Some(*patch)], target_count: 1, opening: None }
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
