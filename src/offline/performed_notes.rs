//! The performed line as a live player would get it: its notes, how they join, how loud they are.

use std::collections::HashMap;

use super::Error;
use super::midi::{File, TempoMap};
use super::owner::{self, Arrival};
use super::perform::{
    self, Asked, Fed, KeptMessages, Observation, Performance, RATE_HZ, Raster, SentMessage,
};
use super::take::line::TakeLine;
use crate::engine::input::message::{SUSTAIN_CONTROLLER, SWITCH_ON_MIN};
use crate::engine::math::grain::grain;
use crate::engine::patch::{Patch, VoiceKind};
use crate::engine::reason::Reason;
use crate::engine::{Message, Origin};
use crate::engine::{Mode, View};

/// A key that owns the line again began this many notes ago at most.
const RECENT_NOTES: usize = 64;
/// A grace's own key is up this soon after its note began (our judgement).
const GRACE_S_MAX: f64 = 0.25;

/// The note that owned the line before another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteBefore {
    /// Its key.
    pub key: u8,
    /// From its chord's first note to this one, seconds.
    pub ioi_s: f64,
}

/// One note as performed.
#[derive(Clone, Debug, PartialEq)]
pub struct PerformedNote {
    /// The MIDI key.
    pub key: u8,
    /// The tick of its note-on.
    pub tick: u64,
    /// When it begins, seconds since the start of the file.
    pub start_s: f64,
    /// When it ends, tail and pedal included.
    pub end_s: f64,
    /// How it joined.
    pub mode: Mode,
    /// Why so.
    pub reason: Reason,
    /// The line before it, unless it is the first note or one of a chord.
    pub before: Option<NoteBefore>,
    /// It sounds together with the note that was struck just before it.
    pub is_in_chord: bool,
    /// A player turns the bow, or may breathe, before it.
    pub is_fresh: bool,
    /// The widest vibrato that the gesture asked for once a vibrato could have begun, cents
    /// peak to peak; followed only on notes that cannot have any.
    pub asked_cents: f64,
}

/// The notes of a take as performed.
pub struct PerformedLine {
    /// The line's, in order of time.
    pub notes: Vec<PerformedNote>,
    /// Those far outside the instrument's range, which pass as another player's.
    pub foreign: Vec<PerformedNote>,
}

/// Plays a line and gives its notes in order of time. `also` sees every look, as `raster` says.
///
/// # Errors
/// As [`perform::perform`].
pub fn performed_notes(
    file: &File,
    clock: &TempoMap,
    patch: &Patch,
    line: &TakeLine,
    asked: &Asked,
    raster: Raster,
    mut also: impl FnMut(&Observation),
) -> Result<PerformedLine, Error> {
    let asked = Asked { kept: KeptMessages::Notes, ..asked.clone() };
    let mut recorder = NoteRecorder { patch, begun: Vec::new(), asked: None };
    let played = perform::perform(file, clock, patch, line, &asked, raster, |look| {
        recorder.look(&look);
        also(&look);
    })?;
    Ok(recorder.line(&played, clock))
}

/// What the engine showed when one or several notes began at one moment.
#[derive(Clone)]
struct NoteBegin {
    owner: Option<u8>,
    mode: Mode,
    reason: Reason,
    frame: u64,
    asked_cents: f64,
    /// Of several voices, how the note of each key began.
    voices: Vec<(u8, Mode, Reason)>,
}

impl NoteBegin {
    /// How the note of a key began.
    fn of(&self, key: u8) -> (Mode, Reason) {
        let own = self.voices.iter().find(|voice| voice.0 == key);
        own.map_or((self.mode, self.reason), |voice| (voice.1, voice.2))
    }
}

/// Follows a performance and remembers what the notes need.
struct NoteRecorder<'a> {
    patch: &'a Patch,
    begun: Vec<NoteBegin>,
    /// The key that only sounds open, and the width that the gesture asks for on it.
    asked: Option<(u8, f64)>,
}

impl NoteRecorder<'_> {
    fn look(&mut self, look: &Observation) {
        let view = look.view;
        let how = |view: &View| Some((view.key?, view.mode, view.legato_reason));
        self.take_asked(look.frame);
        if look.begun.is_some() {
            self.begun.push(NoteBegin {
                owner: view.key,
                mode: view.mode,
                reason: view.legato_reason,
                frame: look.frame,
                asked_cents: 0.0,
                voices: match self.patch.voices.kind {
                    VoiceKind::Line => Vec::new(),
                    _ => look.began().filter_map(how).collect(),
                },
            });
        }
        if look.is_on_raster {
            let open = view.key.filter(|key| self.patch.strings.is_forced_open(*key));
            self.asked = open.map(|key| (key, asked_cents(self.patch, view)));
        }
    }

    /// What was asked for since the last look, if the note was old enough for vibrato by then.
    fn take_asked(&mut self, frame: u64) {
        let Some((key, cents)) = self.asked.take() else { return };
        let onset_frames = self.patch.vibrato.onset_s * f64::from(RATE_HZ);
        let mut recent = self.begun.iter_mut().rev().take(RECENT_NOTES);
        if let Some(begun) = recent.find(|begun| begun.owner == Some(key))
            && (frame - begun.frame) as f64 > onset_frames
        {
            begun.asked_cents = begun.asked_cents.max(cents);
        }
    }

    fn line(&self, played: &Performance, clock: &TempoMap) -> PerformedLine {
        let pedals = pedals(&played.fed);
        let arrivals = owner::arrivals(&played.fed, clock, &self.patch.notes);
        let mut notes: Vec<PerformedNote> = Vec::new();
        let mut ons = ons(&played.sent);
        ons.sort_by_key(|on| on.tick); // stable: notes of one tick stay in their order
        let is_foreign = |on: &SentNote| self.patch.notes.is_foreign(on.key);
        let (foreign, ons): (Vec<SentNote>, Vec<SentNote>) = ons.into_iter().partition(is_foreign);
        let mut chord_first = 0;
        let mut groups = ons.chunk_by(|one, other| one.tick == other.tick).enumerate().peekable();
        while let Some((group, at_tick)) = groups.next() {
            let next_tick = groups.peek().map(|(_, next)| next[0].tick);
            let begun = &self.begun[group.min(self.begun.len() - 1)];
            for on in at_tick {
                let ((mode, reason), asked_cents) = (begun.of(on.key), begun.asked_cents);
                let end_tick = held_by_pedal(&pedals, on.off_tick, next_tick);
                let arrival = arrivals.get(on.tag as usize).copied().unwrap_or_default();
                let how = PerformedNote { mode, reason, asked_cents, ..on.plain(clock, end_tick) };
                let mut note = PerformedNote { is_fresh: mode == Mode::Fresh, ..how };
                relate(&mut note, &notes, chord_first, arrival);
                if !note.is_in_chord && !arrival.is_grace {
                    chord_first = notes.len();
                }
                notes.push(note);
            }
        }
        let foreign = foreign.iter().map(|on| on.plain(clock, on.off_tick)).collect();
        PerformedLine { notes, foreign }
    }
}

/// Says how a note stands to those before it, the last chord of which begins at `chord_first`.
fn relate(
    note: &mut PerformedNote,
    earlier: &[PerformedNote],
    chord_first: usize,
    arrival: Arrival,
) {
    let Some(last) = earlier.last() else {
        note.is_fresh = true;
        return;
    };
    note.is_in_chord = arrival.is_chord || arrival.is_grace && stays(last, note);
    if note.is_in_chord {
        note.is_fresh = false;
        return;
    }
    let ioi_s = grain(note.start_s - earlier[chord_first].start_s);
    note.before = arrival.owner_before.map(|key| NoteBefore { key, ioi_s });
    if note.reason == Reason::Chord || note.reason == Reason::Grace && !arrival.is_grace {
        // The engine showed how the later notes of the moment joined; the first did if a key was
        // held.
        note.is_fresh = earlier.iter().rev().take(RECENT_NOTES).all(|it| it.end_s <= note.start_s);
    }
}

/// A grace that sounds on under its note for so long is written as a second voice, whatever the line
/// makes of it.
fn stays(grace: &PerformedNote, note: &PerformedNote) -> bool {
    grain(grace.end_s.min(note.end_s) - note.start_s) >= GRACE_S_MAX
}

/// The width that the gesture asks for: the styles' widths by their weights.
pub fn asked_cents(patch: &Patch, view: &View) -> f64 {
    let styles = &patch.vibrato.styles[..patch.vibrato.style_count];
    let widths = styles.iter().zip(view.weights);
    widths.map(|(style, weight)| weight * style.width_cents.at(view.gesture)).sum()
}

struct SentNote {
    tag: u32,
    key: u8,
    tick: u64,
    off_tick: u64,
}

impl SentNote {
    /// The note by itself, as if nothing were before it.
    fn plain(&self, clock: &TempoMap, end_tick: u64) -> PerformedNote {
        PerformedNote {
            key: self.key,
            tick: self.tick,
            start_s: clock.seconds_at(self.tick),
            end_s: clock.seconds_at(end_tick),
            mode: Mode::Fresh,
            reason: Reason::NotJoined,
            before: None,
            is_in_chord: false,
            is_fresh: true,
            asked_cents: 0.0,
        }
    }
}

/// The notes that went out, each with the tick of its off. One that is struck again when the note
/// over it ends is one note up to its last off, as the finger held it.
fn ons(sent: &[SentMessage]) -> Vec<SentNote> {
    let mut places: HashMap<u32, usize> = HashMap::new();
    let mut ons: Vec<SentNote> = Vec::new();
    for sent in sent {
        match (sent.origin, sent.message) {
            (Origin::Note(tag), Message::NoteOn { key, .. }) => {
                places.entry(tag).or_insert_with(|| {
                    ons.push(SentNote { tag, key, tick: sent.tick, off_tick: sent.tick });
                    ons.len() - 1
                });
            }
            (Origin::Note(tag), Message::NoteOff { .. }) => {
                if let Some(place) = places.get(&tag) {
                    ons[*place].off_tick = sent.tick;
                }
            }
            _ => {}
        }
    }
    ons
}

/// From when to when the pedal is down.
fn pedals(fed: &[Fed]) -> Vec<(u64, u64)> {
    let mut pedals: Vec<(u64, u64)> = Vec::new();
    let mut down = None;
    for event in fed {
        let Message::Controller { number: SUSTAIN_CONTROLLER, value, .. } = event.message else {
            continue;
        };
        match (down, value >= SWITCH_ON_MIN) {
            (None, true) => down = Some(event.tick),
            (Some(since), false) => {
                pedals.push((since, event.tick));
                down = None;
            }
            _ => {}
        }
    }
    let end = fed.last().map_or(0, |event| event.tick);
    pedals.extend(down.map(|since| (since, end.max(since))));
    pedals
}

/// Where a note ends that the pedal may hold, at the latest where the next begins.
fn held_by_pedal(pedals: &[(u64, u64)], off_tick: u64, next_tick: Option<u64>) -> u64 {
    let after = pedals.partition_point(|(since, _)| *since <= off_tick);
    let held = pedals[..after].last().filter(|(_, up)| *up > off_tick);
    held.map_or(off_tick, |(_, up)| off_tick.max(*up.min(&next_tick.unwrap_or(*up))))
}
