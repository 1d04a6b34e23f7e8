//! Where the hand lies: which string a note is on, how high above its open note, how far to travel.

use crate::patch::{OpenPolicy, STRINGS_MAX, StringPatch, StringsPatch};

/// Semitones above the open string at which the register neither widens nor narrows the vibrato;
/// a wind instrument always stands there.
const REGISTER_CENTRE_SEMITONES: f64 = 5.0;
/// The register narrows or widens the vibrato within these bounds.
const REGISTER_MIN: f64 = 0.6;
const REGISTER_MAX: f64 = 1.6;
/// At a pace below this (seconds a note) the `auto` policy leaves open pitches open.
const AUTO_OPEN_PACE_S: f64 = 0.25;

impl StringsPatch {
    /// No strings: a wind instrument.
    pub const NONE: StringsPatch = StringsPatch {
        strings: [StringPatch { open_key: 0, span_semitones: 0, length_m: 0.0 }; STRINGS_MAX],
        count: 0,
        forced_open_keys: 0,
        policy: OpenPolicy::Stopped,
    };

    fn strings(&self) -> &[StringPatch] {
        &self.strings[..self.count]
    }

    /// The key can only be played on an open string.
    pub fn is_forced_open(&self, key: u8) -> bool {
        self.forced_open_keys >> key & 1 == 1
    }

    /// A string sounds this key when it is open.
    pub fn has_open(&self, key: u8) -> bool {
        self.is_forced_open(key) || self.strings().iter().any(|s| s.open_key == key)
    }

    /// An open pitch is left open at this pace.
    fn leaves_open(&self, pace_s: f64) -> bool {
        match self.policy {
            OpenPolicy::Stopped => false,
            OpenPolicy::Open => true,
            OpenPolicy::Auto => pace_s < AUTO_OPEN_PACE_S,
        }
    }

    /// The key is an open string's and is played open, by need or by policy.
    pub fn is_open(&self, key: u8, pace_s: f64) -> bool {
        self.is_forced_open(key)
            || self.leaves_open(pace_s) && self.strings().iter().any(|s| s.open_key == key)
    }

    /// Semitones above the open note of the string in play: the highest string that carries the
    /// key. Below every string it is 0.
    fn height_semitones(&self, key: u8, pace_s: f64) -> f64 {
        if self.count == 0 {
            return REGISTER_CENTRE_SEMITONES;
        }
        let leaves_open = self.leaves_open(pace_s);
        let open = self.strings().iter().map(|s| s.open_key);
        let open = open.filter(|&open| open < key || leaves_open && open == key).max();
        open.map_or(0.0, |open| f64::from(key - open))
    }

    /// S_register: how much a key's height on its string widens or narrows the vibrato, where the
    /// width grows by `per_semitone`.
    pub fn register(&self, key: u8, pace_s: f64, per_semitone: f64) -> f64 {
        let height = self.height_semitones(key, pace_s);
        let factor = 1.0 + per_semitone * (height - REGISTER_CENTRE_SEMITONES);
        factor.clamp(REGISTER_MIN, REGISTER_MAX)
    }

    /// A string carries both keys, the one that only sounds open among them.
    pub fn share_open_string(&self, from: u8, to: u8) -> bool {
        let reaches = |string: &StringPatch, key: u8| {
            string.open_key <= key && key - string.open_key <= string.span_semitones
        };
        let is_own =
            |string: &StringPatch, key: u8| self.is_forced_open(key) && string.open_key == key;
        let mut strings = self.strings().iter();
        strings.any(|s| (is_own(s, from) || is_own(s, to)) && reaches(s, from) && reaches(s, to))
    }

    /// The shortest way of the hand from one key to another on one string, in metres; `None` if
    /// no string carries both.
    pub fn travel_m(&self, from: u8, to: u8, pace_s: f64) -> Option<f64> {
        let leaves_open = self.leaves_open(pace_s);
        let carries = |string: &StringPatch, key: u8| {
            let is_above = string.open_key < key || leaves_open && string.open_key == key;
            is_above && key - string.open_key <= string.span_semitones
        };
        let ways = self.strings().iter().filter(|s| carries(s, from) && carries(s, to)).map(|s| {
            // A stopped string of length L sounds a semitones higher at L·2^(−a/12).
            let place = |key: u8| s.length_m * libm::exp2(-f64::from(key - s.open_key) / 12.0);
            (place(from) - place(to)).abs()
        });
        ways.reduce(f64::min)
    }
}
