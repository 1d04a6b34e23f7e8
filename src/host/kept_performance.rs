//! What was performed since the song last started, pass over pass, ready to be printed.

use super::performed::{Performed, PerformedEvent};
use crate::editor::printing::excerpt::excerpt;
use crate::editor::printing::file::last_bar;
use crate::editor::printing::receiver_state::ReceiverState;
use crate::editor::printing::song::{
    Metres, Printed, PrintedEvent, PrintedSong, PrintingState, tick_of,
};

/// The most events that are kept, 24 bytes each: an hour of a line that bends.
pub const EVENTS_MAX: usize = 1_000_000;

/// Gathers what the player performs. Not the audio thread.
#[derive(Clone, Default)]
pub struct KeptPerformance {
    /// The passes that are over: a later one has taken the place of earlier ones over its bars.
    song: PrintedSong,
    /// The pass that is being performed, and from where to where it has come, in beats.
    pass: Vec<PrintedEvent>,
    range: Option<(f64, f64)>,
    /// What the receiver holds, also from before the song started.
    receiver: ReceiverState,
}

impl KeptPerformance {
    /// Takes the next entry, in the order in which they came.
    pub fn take(&mut self, PerformedEvent { beat, what }: PerformedEvent) {
        match what {
            Performed::Start => {
                self.song = PrintedSong::default();
                self.pass = self.receiver.at(beat).collect();
                self.range = Some((beat, beat));
            }
            Performed::Enter => {
                self.fold();
                self.range = Some((beat, beat));
            }
            Performed::Leave => self.reach(beat),
            Performed::Tempo(bpm) => self.keep(beat, Printed::Tempo(bpm)),
            Performed::Metre(beats, power) => {
                let tick = tick_of(beat);
                let before = self.song.metres.range(..=tick).next_back();
                if before.is_none_or(|(_, metre)| *metre != (beats, power)) {
                    self.song.metres.insert(tick, (beats, power));
                }
            }
            Performed::Message(message) => {
                self.receiver.hear(Printed::Message(message));
                self.keep(beat, Printed::Message(message));
            }
            Performed::Beside(message) => self.receiver.hear(Printed::Message(message)),
        }
    }

    /// Entries were lost on their way here.
    pub fn lose(&mut self, count: u64) {
        self.song.lost += count;
    }

    /// What a window says of it.
    pub fn state(&self, is_printed: bool) -> PrintingState {
        let end_beat = self.range.map_or(0.0, |(_, to)| to).max(self.song.end_beat);
        let last_bar = last_bar(&self.song.metres, end_beat);
        PrintingState { is_printed, events: self.count(), last_bar, lost: self.song.lost }
    }

    /// The song's metres, as far as it has run.
    pub fn metres(&self) -> Metres {
        self.song.metres.clone()
    }

    fn count(&self) -> usize {
        self.song.events.len() + self.pass.len()
    }

    /// All of it, with the pass that is being performed.
    pub fn song(&self) -> PrintedSong {
        let mut all = self.clone();
        all.fold();
        all.song
    }

    fn keep(&mut self, beat: f64, what: Printed) {
        if self.count() >= EVENTS_MAX {
            self.song.lost += 1;
            return;
        }
        self.reach(beat);
        self.pass.push(PrintedEvent { beat, what });
    }

    fn reach(&mut self, beat: f64) {
        if let Some((_, to)) = &mut self.range {
            *to = to.max(beat);
        }
    }

    /// The pass is over and takes the place of what was performed there before.
    fn fold(&mut self) {
        let Some((from, to)) = self.range.take() else { return };
        if from == to && self.pass.is_empty() {
            return;
        }
        let PrintedSong { events: old, end_beat, .. } = &mut self.song;
        let before = excerpt(old, (f64::NEG_INFINITY, from), from);
        let after = excerpt(old, (to, f64::INFINITY), *end_beat);
        *end_beat = end_beat.max(to);
        *old = [before, std::mem::take(&mut self.pass), after].concat();
    }
}
