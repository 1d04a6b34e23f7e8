//! How fast the notes come: the pace, chords, graces, trills and the silences between phrases.

use crate::math::grain::grain;

/// A note this soon after the last was struck with it: a chord, or one of the two is a grace.
pub const CHORD_S: f64 = 0.035;
/// Keys this near are never one chord: the one is a grace to the other.
const GRACE_SEMITONES_MAX: u8 = 2;
/// Longer times between notes count as this.
const IOI_S_MAX: f64 = 2.0;
/// The pace at a phrase start.
const PACE_S_START: f64 = 0.5;
/// What a new time between notes weighs in the pace.
const PACE_WEIGHT: f64 = 0.4;
/// Two notes that alternate faster than this are a trill.
pub const TRILL_S: f64 = 0.15;
/// This much silence ends a phrase.
pub const PHRASE_SILENCE_S: f64 = 0.35;
/// A note that begins, as the pace sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteStart {
    /// When.
    pub now_s: f64,
    /// Which key, 0..=127.
    pub key: u8,
    /// For how long nothing has sounded (0 or less while something sounds).
    pub silence_s: f64,
    /// How many notes the instrument sounds at once.
    pub voice_count: u8,
    /// The key struck last is still down.
    pub is_last_down: bool,
}

/// What a note-on means for the pace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beat {
    /// Time since the last note-on, capped; from a chord's first note. The cap at a phrase start.
    pub ioi_s: f64,
    /// The note belongs to the chord before it.
    pub is_chord: bool,
    /// The key before it was a grace, slurred into this note.
    pub is_grace: bool,
    /// The first note of a phrase.
    pub is_phrase_start: bool,
    /// The fourth or a later note of a trill.
    pub is_trill: bool,
}

/// Follows the pace of one voice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// The pace I, seconds a note.
    pub pace_s: f64,
    /// When the last chord, or single note, began.
    pub chord_start_s: f64,
    last_on_s: f64,
    last_key: u8,
    /// Bit n: key n was struck since the chord, or single note, began.
    struck_keys: u128,
    /// Bit n: key n is one of the chord. A note after a grace takes the grace's place.
    chord_keys: u128,
    /// The last keys that owned the line and when, newest first.
    owners: [(u8, f64); 4],
}

impl Pace {
    /// Before the first note.
    pub const START: Pace = Pace {
        pace_s: PACE_S_START,
        chord_start_s: f64::NEG_INFINITY,
        last_on_s: f64::NEG_INFINITY,
        last_key: 0,
        struck_keys: 0,
        chord_keys: 0,
        owners: [(u8::MAX, f64::NEG_INFINITY); 4],
    };

    /// A key is struck.
    pub fn strike(&mut self, start: &NoteStart) -> Beat {
        let NoteStart { now_s, key, silence_s, voice_count, is_last_down } = *start;
        let is_soon = grain(now_s - self.last_on_s) <= CHORD_S;
        let has_room = self.chord_keys.count_ones() < u32::from(voice_count);
        let is_chord = is_soon && has_room && !self.is_near(key);
        let is_grace = is_soon && !is_chord && is_last_down;
        let is_phrase_start = !is_soon && grain(silence_s) >= PHRASE_SILENCE_S;
        if is_grace {
            self.chord_keys &= !(1 << self.last_key);
        } else if !is_chord {
            (self.struck_keys, self.chord_keys) = (0, 0);
        }
        self.struck_keys |= 1 << key;
        self.chord_keys |= 1 << key;
        (self.last_on_s, self.last_key) = (now_s, key);
        let ioi_s = grain(now_s - self.chord_start_s).min(IOI_S_MAX);
        if is_chord || is_grace {
            return Beat { ioi_s, is_chord, is_grace, is_phrase_start, is_trill: false };
        }
        self.chord_start_s = now_s;
        if is_phrase_start {
            self.pace_s = PACE_S_START;
        } else {
            self.pace_s += PACE_WEIGHT * (ioi_s - self.pace_s);
        }
        let is_trill = self.own(now_s, key);
        Beat { ioi_s, is_chord, is_grace, is_phrase_start, is_trill }
    }

    /// The key lies too near one that was struck with it to be one chord.
    fn is_near(&self, key: u8) -> bool {
        let lowest = key.saturating_sub(GRACE_SEMITONES_MAX);
        let highest = key.saturating_add(GRACE_SEMITONES_MAX).min(127);
        (lowest..=highest).any(|near| self.struck_keys >> near & 1 == 1)
    }

    /// A key struck at a time is one of the present chord.
    pub fn has_in_chord(&self, key: u8, on_s: f64) -> bool {
        on_s >= self.chord_start_s && self.chord_keys >> key & 1 == 1
    }

    /// A key that has stayed down is struck again when the one over it lifts: in time as any other
    /// note, but nobody struck it, so no chord begins with it. After a grace it is what it was.
    pub fn strike_again(&mut self, now_s: f64, key: u8) -> Beat {
        let ioi_s = grain(now_s - self.chord_start_s).min(IOI_S_MAX);
        let is_grace = grain(now_s - self.last_on_s) <= CHORD_S;
        let is_trill = !is_grace && self.own(now_s, key);
        if !is_grace {
            self.chord_start_s = now_s;
            (self.struck_keys, self.chord_keys) = (1 << key, 1 << key);
            self.pace_s += PACE_WEIGHT * (ioi_s - self.pace_s);
        }
        Beat { ioi_s, is_chord: false, is_grace, is_phrase_start: false, is_trill }
    }

    /// A key takes the line, struck or sounding again; true if the last four are a trill.
    pub fn own(&mut self, now_s: f64, key: u8) -> bool {
        self.owners.copy_within(..3, 1);
        self.owners[0] = (key, now_s);
        let [a, b, c, d] = self.owners;
        let is_fast = [a.1 - b.1, b.1 - c.1, c.1 - d.1].iter().all(|&s| grain(s) < TRILL_S);
        a.0 == c.0 && b.0 == d.0 && a.0 != b.0 && is_fast
    }
}
