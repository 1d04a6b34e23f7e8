//! The settings of every pair of slots, ready to be played from one frame to the next.

use crate::engine::patch::Patch;
use crate::profile::{self, Fault, Hand, Instrument, Profile, Target};

use super::state::State;

/// One patch for each pair of an instrument's and a target's slot.
#[derive(Clone, Debug)]
pub struct Bank {
    /// By instrument, then by target; `None` where the two do not go together.
    patches: Vec<Option<Patch>>,
    target_count: usize,
    /// What the host's project says of the articulation; `None` if it is none of the host's.
    opened: Option<Option<u8>>,
}

impl Bank {
    /// The bank of a state.
    ///
    /// # Errors
    /// Every fault of every text, one a line, or why not even the first pair goes together.
    pub fn of(state: &State) -> Result<Bank, String> {
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
        let mut patches = Vec::new();
        for (place, instrument) in instruments.iter().flatten().enumerate() {
            let Some(hand) = hands.get(place).or(hands.first()).and_then(Option::as_ref) else {
                return Err("the state has no hand".to_owned());
            };
            for target in targets.iter().flatten() {
                match profile::patch(instrument, target, hand, state.seed(), 1.0) {
                    Ok(patch) => patches.push(Some(patch)),
                    Err(error) if patches.is_empty() => return Err(error.to_string()),
                    Err(_) => patches.push(None),
                }
            }
        }
        Ok(Bank { patches, target_count: targets.len(), opened: None })
    }

    /// A bank of one patch, to try it out.
    pub fn one(patch: &Patch) -> Bank {
        Bank { patches: vec![Some(*patch)], target_count: 1, opened: None }
    }

    /// The same as a host's project, in which this articulation was chosen, or none.
    pub fn opened_with(self, articulation: Option<u8>) -> Bank {
        Bank { opened: Some(articulation), ..self }
    }

    /// What a host's project says of the articulation, if this is one.
    pub fn opened(&self) -> Option<Option<u8>> {
        self.opened
    }

    /// The patch of two slots, counted from 0. `None` for an empty slot, or for two that do not
    /// go together.
    pub fn patch(&self, instrument: usize, target: usize) -> Option<&Patch> {
        if target >= self.target_count {
            return None;
        }
        self.patches.get(instrument * self.target_count + target)?.as_ref()
    }

    /// The patch of the first pair.
    pub fn first(&self) -> Option<&Patch> {
        self.patch(0, 0)
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
