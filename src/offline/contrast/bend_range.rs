//! How far the bend wheel of each channel goes at each tick, as the file itself tells the receiver.

use crate::engine::Message;
use crate::offline::midi::File;

/// The bend range of a receiver that was told none, semitones (General MIDI).
const RANGE_SEMITONES_USUAL: f64 = 2.0;
const CHANNEL_COUNT: usize = 16;
/// MIDI 1.0: coarse and fine half of a registered parameter's number, and of its value.
const REGISTERED: [u8; 2] = [101, 100];
const DATA_ENTRY: [u8; 2] = [6, 38];
/// MIDI 1.0: coarse and fine half of the number of a parameter that is not registered.
const NON_REGISTERED: [u8; 2] = [99, 98];
/// MIDI 1.0: the halves of the number that means no parameter.
const NONE: [u8; 2] = [127; 2];
/// MIDI 1.0: registered parameter 0 is the bend range; semitones, and hundredths of one.
const BEND_RANGE: [u8; 2] = [0, 0];

/// The bend ranges of a file.
pub struct BendRanges {
    /// Of each channel: from which tick on, and semitones.
    channels: [Vec<(u64, f64)>; CHANNEL_COUNT],
}

impl BendRanges {
    /// Reads them from all tracks.
    pub fn of(file: &File) -> BendRanges {
        let mut controllers: Vec<(u64, u8, u8, u8)> = Vec::new();
        for event in file.tracks.iter().flat_map(|track| &track.events) {
            if let Some(Message::Controller { channel, number, value }) = event.message() {
                controllers.push((event.tick, channel, number, value));
            }
        }
        controllers.sort_by_key(|(tick, ..)| *tick); // stable: tracks in their order
        let mut ranges = BendRanges { channels: Default::default() };
        let mut chosen = [NONE; CHANNEL_COUNT];
        for (tick, channel, number, value) in controllers {
            let chosen = &mut chosen[usize::from(channel)];
            if let Some(half) = REGISTERED.iter().position(|own| *own == number) {
                chosen[half] = value;
            } else if NON_REGISTERED.contains(&number) {
                *chosen = NONE;
            } else if *chosen == BEND_RANGE {
                let before = ranges.semitones(channel, tick);
                let semitones = match DATA_ENTRY.iter().position(|own| *own == number) {
                    // A new coarse value sets the fine half to 0.
                    Some(0) => f64::from(value),
                    Some(_) => before.trunc() + f64::from(value) / 100.0,
                    None => continue,
                };
                ranges.channels[usize::from(channel)].push((tick, semitones));
            }
        }
        ranges
    }

    /// Semitones at a tick, with what is told at that very tick.
    pub fn semitones(&self, channel: u8, tick: u64) -> f64 {
        let told = &self.channels[usize::from(channel)];
        let after = told.partition_point(|(from, _)| *from <= tick);
        after.checked_sub(1).map_or(RANGE_SEMITONES_USUAL, |at| told[at].1)
    }
}
