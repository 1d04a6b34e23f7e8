//! One channel of one track: its programs, its notes, and everything that is sent to it.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::address::{ChosenParameter, LaneAddress};
use super::lane::{LaneTally, LookedLane};
use super::note_span::NoteTally;
use super::notes::LookedNotes;
use super::program_name::program_name;
use crate::engine::Message;
use crate::engine::patch::TargetPatch;
use crate::offline::destination::Destination;

/// MIDI 1.0: bank select.
const BANK: u8 = 0;
/// The bank of melodies in General MIDI 2; where no bank is chosen, programs are General MIDI's too.
const GM2_BANK: u8 = 121;

/// A program that is chosen.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProgramChoice {
    /// 0..=127, as the file has it; people count from 1.
    pub program: u8,
    /// The coarse number of the bank, if one is chosen.
    pub bank: Option<u8>,
    /// What General MIDI calls it; `None` in a bank of which it knows nothing, and of drums.
    pub name: Option<&'static str>,
}

impl ProgramChoice {
    /// No bank is chosen, or one of General MIDI.
    pub fn is_gm(&self) -> bool {
        self.bank.is_none_or(|bank| matches!(bank, 0 | GM2_BANK))
    }
}

/// Collects one channel of one track.
#[derive(Debug, Default)]
pub struct PartTally {
    notes: NoteTally,
    lanes: BTreeMap<LaneAddress, LaneTally>,
    programs: Vec<ProgramChoice>,
    /// Banks and programs that are among them.
    chosen: BTreeSet<(Option<u8>, u8)>,
    bank: Option<u8>,
    parameter: ChosenParameter,
}

/// What was collected.
#[derive(Debug)]
pub struct Part {
    pub notes: Option<LookedNotes>,
    pub lanes: Vec<LookedLane>,
    pub programs: Vec<ProgramChoice>,
}

impl PartTally {
    /// The next message.
    pub fn take(&mut self, message: Message, at_s: f64) {
        match message {
            Message::NoteOn { key, .. } => {
                self.notes.on(key, at_s);
                self.possible_gestures().for_each(|(_, lane)| lane.note());
            }
            Message::NoteOff { key, .. } => self.notes.off(key, at_s),
            Message::Controller { number: BANK, value, .. } => self.bank = Some(value),
            Message::Program { program, .. } => self.choose(program),
            _ => {}
        }
        let Some((address, value)) = self.parameter.follow(message) else { return };
        let lane = self.lanes.entry(address).or_insert_with(|| LaneTally::new(message));
        lane.take(value, at_s);
    }

    /// What could be a gesture, at most one for each controller and the pressure: parameters may be
    /// thousands.
    fn possible_gestures(&mut self) -> impl Iterator<Item = (&LaneAddress, &mut LaneTally)> {
        let last = LaneAddress::Plain(Destination::ChannelPressure);
        self.lanes.range_mut(..=last)
    }

    fn choose(&mut self, program: u8) {
        let mut choice = ProgramChoice { program, bank: self.bank, name: None };
        choice.name = choice.is_gm().then(|| program_name(program));
        if self.chosen.insert((self.bank, program)) {
            self.programs.push(choice);
        }
    }

    /// What came of it. `end_s` is the end of the track. Programs of drums are other sounds.
    pub fn finish(mut self, end_s: f64, is_drums: bool, target: &TargetPatch) -> Part {
        if is_drums {
            self.programs.iter_mut().for_each(|program| program.name = None);
        }
        let lanes = self.lanes.into_iter();
        let (notes, open_notes) = self.notes.finish(end_s);
        let lanes = lanes.map(|(address, lane)| lane.finish(address, notes.len(), target));
        Part {
            lanes: lanes.collect(),
            notes: LookedNotes::of(&notes, open_notes, is_drums),
            programs: self.programs,
        }
    }
}
