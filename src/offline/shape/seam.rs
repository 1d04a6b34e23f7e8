//! Where some bars meet the rest of a take: a note that crosses the seam still has its on and its off.

use std::collections::{BTreeMap, HashMap, HashSet, VecDeque};

use crate::engine::{Message, Origin};
use crate::offline::perform::{Fed, SentMessage};
use crate::offline::take::Region;

/// What becomes of the notes of a region. Outside it the take's own ons and offs stand; inside, the
/// performance's, which may end a note and strike it again (a join cuts the one that it leaves).
#[derive(Debug, Default)]
pub struct Seam {
    /// Places of what is sent that are left out.
    pub dropped: HashSet<usize>,
    /// Offs at the region's first tick: of what the performance has ended before it.
    pub first: Vec<SentMessage>,
    /// Offs for the region's last tick: of what the performance ends behind it.
    pub last: Vec<SentMessage>,
}

/// One note of the take, as the file has it.
struct SeamNote {
    /// When the take lifts it, if it does.
    lifted_tick: Option<u64>,
    off: SentMessage,
    /// It sounds, in the file that comes out.
    is_on: bool,
    /// The performance had ended it before the region.
    is_over: bool,
    last_off: Option<usize>,
}

impl Seam {
    /// Looks at all that is sent, in order, for what the take played.
    pub fn of(sent: &[SentMessage], fed: &[Fed], region: Region) -> Seam {
        let mut seam = Seam::default();
        let mut notes = notes(fed, region);
        let mut last_ons: HashMap<(u8, u8), usize> = HashMap::new();
        for (place, sent) in sent.iter().enumerate() {
            let Origin::Note(tag) = sent.origin else { continue };
            let (key, is_on) = match sent.message {
                Message::NoteOn { channel, key, .. } => ((channel, key), true),
                Message::NoteOff { channel, key, .. } => ((channel, key), false),
                _ => continue,
            };
            let Some(note) = notes.get_mut(&tag) else { continue };
            if sent.tick < region.start {
                note.is_over = !is_on;
            } else if !region.holds(sent.tick) {
                note.off = if is_on { note.off } else { *sent };
            } else if note.is_on == is_on {
                // The file has it so already.
                seam.dropped.insert(place);
            } else if is_on {
                note.is_on = true;
                last_ons.insert(key, place);
            } else {
                (note.is_on, note.is_over, note.last_off) = (false, false, Some(place));
            }
        }
        for note in notes.into_values() {
            seam.close(note, region, &last_ons);
        }
        seam
    }

    /// A note at the end of the region: the take's own off behind it needs a note to end, and one
    /// inside it was taken out.
    fn close(&mut self, note: SeamNote, region: Region, last_ons: &HashMap<(u8, u8), usize>) {
        let SeamNote { lifted_tick: Some(lifted_tick), off, is_on, is_over, last_off, .. } = note
        else {
            return;
        };
        if region.holds(lifted_tick) && is_on {
            match is_over {
                true => self.first.push(SentMessage { tick: region.start, ..off }),
                false => self.last.push(off),
            }
        } else if lifted_tick >= region.end && !is_on {
            let Message::NoteOff { channel, key, .. } = off.message else { return };
            // Unless the key has been struck anew since.
            let is_last = |place: &usize| last_ons.get(&(channel, key)).is_none_or(|on| on < place);
            self.dropped.extend(last_off.filter(is_last));
        }
    }
}

/// The notes of the take up to the region's end, by their tags, each as it is where the region
/// begins.
fn notes(fed: &[Fed], region: Region) -> BTreeMap<u32, SeamNote> {
    let lifted = lifted_ticks(fed);
    let mut notes = BTreeMap::new();
    for (tag, event) in fed.iter().enumerate().filter(|(_, event)| event.tick < region.end) {
        let Message::NoteOn { channel, key, .. } = event.message else { continue };
        let lifted_tick = lifted[tag];
        let is_before = event.tick < region.start;
        let message = Message::NoteOff { channel, key, velocity: 64 };
        let origin = Origin::Note(tag as u32);
        let note = SeamNote {
            lifted_tick,
            off: SentMessage { tick: region.start, message, origin },
            is_on: is_before && lifted_tick.is_none_or(|tick| tick >= region.start),
            is_over: false,
            last_off: None,
        };
        notes.insert(tag as u32, note);
    }
    notes
}

/// When the take lifts each note, by tags: first in, first out for each key.
fn lifted_ticks(fed: &[Fed]) -> Vec<Option<u64>> {
    let mut lifted = vec![None; fed.len()];
    let mut held: Vec<VecDeque<usize>> = vec![Default::default(); 128];
    for (tag, event) in fed.iter().enumerate() {
        match event.message {
            Message::NoteOn { key, .. } => held[usize::from(key)].push_back(tag),
            Message::NoteOff { key, .. } => {
                if let Some(on) = held[usize::from(key)].pop_front() {
                    lifted[on] = Some(event.tick);
                }
            }
            _ => {}
        }
    }
    lifted
}
