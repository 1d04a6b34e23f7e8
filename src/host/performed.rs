//! What the player performs, with its place in the song, on its way off the audio thread.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use nice_plug::prelude::Transport;
use rtrb::{Consumer, Producer, RingBuffer};

use crate::engine::{Message, Origin};

/// Entries on their way. A line that bends sends some hundreds a second, and they are gathered
/// every tenth of a second: there is room for half a minute.
const RING_MAX: usize = 16_384;
/// Kept free for the song's own steps: an overflow loses messages, never where they belong.
const STEPS_ROOM: usize = 256;

/// Something that was performed, or that the song did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Performed {
    /// The song starts: all that was performed before is forgotten.
    Start,
    /// The song leaves this place: it stops, or jumps.
    Leave,
    /// It goes on from this place; what is performed from here on takes the place of what was.
    Enter,
    /// Quarter notes a minute from here on.
    Tempo(f64),
    /// From here on a bar has so many beats, each of them one over two to the power of so many of a
    /// whole note.
    Metre(u8, u8),
    /// A message in the song.
    Message(Message),
    /// A message while the song stands: it has no place, but what it leaves at the receiver counts.
    Beside(Message),
}

/// With its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PerformedEvent {
    /// Quarter notes since the start of the song.
    pub beat: f64,
    /// What it is.
    pub what: Performed,
}

/// Where a song is that runs, as the host says it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunningSong {
    /// Quarter notes since its start.
    pub beat: f64,
    /// Quarter notes a minute.
    pub tempo_bpm: f64,
    /// Quarter notes of a frame.
    pub frame_beats: f64,
    /// As [`Performed::Metre`] has it; 4/4 where the host does not say.
    pub metre: (u8, u8),
    /// Where the bar begins, quarter notes since the start of the song.
    pub bar_beat: f64,
}

impl RunningSong {
    /// What a host says of a song that runs at this beat and tempo.
    pub fn of(
        transport: &Transport,
        (beat, tempo_bpm): (f64, f64),
        sample_rate_hz: f64,
    ) -> RunningSong {
        let metre = metre(transport).unwrap_or((4, 2));
        let bar_beats = 4.0 * f64::from(metre.0) / f64::from(1_u32 << metre.1);
        let bar_beat = transport.bar_start_pos_beats.filter(|bar| bar.is_finite() && *bar <= beat);
        let bar_beat = bar_beat.unwrap_or((beat / bar_beats).floor() * bar_beats);
        let frame_beats = tempo_bpm / 60.0 / sample_rate_hz;
        RunningSong { beat, tempo_bpm, frame_beats, metre, bar_beat }
    }
}

/// A time signature that a MIDI file can say.
fn metre(transport: &Transport) -> Option<(u8, u8)> {
    const POWER_MAX: u32 = 7;
    let beats = u8::try_from(transport.time_sig_numerator?).ok().filter(|beats| *beats > 0)?;
    let unit = u32::try_from(transport.time_sig_denominator?).ok()?;
    let power = unit.is_power_of_two().then(|| unit.trailing_zeros())?;
    (power <= POWER_MAX).then_some((beats, power as u8))
}

/// The player's end. Audio thread; nothing here waits or allocates.
pub struct PerformanceWriter {
    ring: Producer<PerformedEvent>,
    lost: Arc<AtomicU64>,
    /// The song that is performed; `None` while it stands, or the lines stand aside.
    song: Option<RunningSong>,
    /// Tempo and metre as last told.
    told: Option<(f64, (u8, u8))>,
    /// The song ran in the part before, performed or not.
    ran: bool,
    /// Where the song was left at the first frame of this part: the ends of its notes belong there.
    left: Option<f64>,
}

/// The other end. One thread at a time, not the audio thread.
pub struct PerformanceReader {
    ring: Consumer<PerformedEvent>,
    lost: Arc<AtomicU64>,
}

/// Off the audio thread. Both ends.
pub fn both_ends() -> (PerformanceWriter, PerformanceReader) {
    let (ring, entries) = RingBuffer::new(RING_MAX);
    let lost = Arc::new(AtomicU64::new(0));
    let owed = Arc::clone(&lost);
    let writer =
        PerformanceWriter { ring, lost: owed, song: None, told: None, ran: false, left: None };
    (writer, PerformanceReader { ring: entries, lost })
}

impl PerformanceReader {
    /// The next entry, oldest first.
    pub fn read(&mut self) -> Option<PerformedEvent> {
        self.ring.pop().ok()
    }

    /// How many entries found no room since the last call.
    pub fn take_lost(&mut self) -> u64 {
        self.lost.swap(0, Ordering::Relaxed)
    }
}

impl PerformanceWriter {
    /// At the first frame of each part of a block. `song` is where the song runs now, `reached` the
    /// beat to which it had come by itself; `is_aside` while everything passes untouched.
    pub fn begin(
        &mut self,
        song: Option<RunningSong>,
        reached: f64,
        has_jumped: bool,
        is_aside: bool,
    ) {
        self.settle();
        let (ran, runs) = (self.ran, song.is_some());
        self.ran = runs;
        let before = std::mem::replace(&mut self.song, song.filter(|_| !is_aside));
        let Some(now) = self.song else {
            if before.is_some() {
                self.leave(reached);
            }
            return;
        };
        match before {
            Some(_) if has_jumped => self.leave(reached),
            Some(_) => self.tell_song(),
            None => {
                let step = if ran { Performed::Enter } else { Performed::Start };
                self.step(now.beat, step);
                self.told = None;
                self.tell_song();
            }
        }
    }

    /// A message that goes out at a frame of the part.
    pub fn perform(&mut self, frame: u32, message: Message, origin: Origin) {
        let is_end = matches!(message, Message::NoteOff { .. }) || origin == Origin::Owed;
        if let Some(beat) = self.left.filter(|_| frame == 0 && is_end) {
            return self.push(beat, Performed::Message(message));
        }
        self.settle();
        match self.song {
            Some(song) => {
                let beat = song.beat + f64::from(frame) * song.frame_beats;
                self.push(beat, Performed::Message(message));
            }
            None => self.push(0.0, Performed::Beside(message)),
        }
    }

    /// The notes of the place before have ended: the song goes on where it is now.
    fn settle(&mut self) {
        if self.left.take().is_some()
            && let Some(song) = self.song
        {
            self.step(song.beat, Performed::Enter);
            self.told = None;
            self.tell_song();
        }
    }

    fn leave(&mut self, beat: f64) {
        self.step(beat, Performed::Leave);
        self.left = Some(beat);
    }

    /// Tempo and metre, where they are news.
    fn tell_song(&mut self) {
        let Some(RunningSong { beat, tempo_bpm, metre, bar_beat, .. }) = self.song else { return };
        let told = self.told.replace((tempo_bpm, metre));
        if told.is_none_or(|told| told.0 != tempo_bpm) {
            self.step(beat, Performed::Tempo(tempo_bpm));
        }
        if told.is_none_or(|told| told.1 != metre) {
            self.step(bar_beat, Performed::Metre(metre.0, metre.1));
        }
    }

    /// What a message belongs to may not be lost for a message's sake.
    fn push(&mut self, beat: f64, what: Performed) {
        if self.ring.slots() > STEPS_ROOM {
            self.step(beat, what);
        } else {
            self.lost.fetch_add(1, Ordering::Relaxed);
        }
    }

    fn step(&mut self, beat: f64, what: Performed) {
        if self.ring.push(PerformedEvent { beat, what }).is_err() {
            self.lost.fetch_add(1, Ordering::Relaxed);
        }
    }
}
