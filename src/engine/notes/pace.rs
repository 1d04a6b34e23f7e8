//! How fast the notes come: the pace, chords, trills and the silences between phrases.

use crate::math::grain::grain;

/// A note this soon after the last is a chord.
pub const CHORD_S: f64 = 0.025;
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
/// What a note-on means for the pace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beat {
    /// Time since the last note-on, capped; from a chord's first note. The cap at a phrase start.
    pub ioi_s: f64,
    /// The note belongs to the chord before it.
    pub is_chord: bool,
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
    /// The last keys that owned the line and when, newest first.
    owners: [(u8, f64); 4],
}

impl Pace {
    /// Before the first note.
    pub const START: Pace = Pace {
        pace_s: PACE_S_START,
        chord_start_s: f64::NEG_INFINITY,
        last_on_s: f64::NEG_INFINITY,
        owners: [(u8::MAX, f64::NEG_INFINITY); 4],
    };

    /// A key is struck after `silence_s` without a sound (0 or less while something sounds).
    pub fn strike(&mut self, now_s: f64, key: u8, silence_s: f64) -> Beat {
        let is_chord = grain(now_s - self.last_on_s) <= CHORD_S;
        let is_phrase_start = !is_chord && grain(silence_s) >= PHRASE_SILENCE_S;
        self.last_on_s = now_s;
        if is_chord {
            let ioi_s = grain(now_s - self.chord_start_s);
            return Beat { ioi_s, is_chord, is_phrase_start, is_trill: false };
        }
        let ioi_s = grain(now_s - self.chord_start_s).min(IOI_S_MAX);
        self.chord_start_s = now_s;
        if is_phrase_start {
            self.pace_s = PACE_S_START;
        } else {
            self.pace_s += PACE_WEIGHT * (ioi_s - self.pace_s);
        }
        let is_trill = self.own(now_s, key);
        Beat { ioi_s, is_chord, is_phrase_start, is_trill }
    }

    /// A key that has stayed down is struck again when the one over it lifts: in time as any other
    /// note, but nobody struck it, so no chord begins with it.
    pub fn strike_again(&mut self, now_s: f64, key: u8) -> Beat {
        let ioi_s = grain(now_s - self.chord_start_s).min(IOI_S_MAX);
        self.chord_start_s = now_s;
        self.pace_s += PACE_WEIGHT * (ioi_s - self.pace_s);
        let is_trill = self.own(now_s, key);
        Beat { ioi_s, is_chord: false, is_phrase_start: false, is_trill }
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
