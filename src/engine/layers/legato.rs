//! How one note joins the next: quick, joined, slow or slide, and why.

use crate::input::LegatoWish;
use crate::math::glide::lerp;
use crate::mode::Mode;
use crate::notes::pace::Beat;
use crate::patch::{LegatoPatch, StringsPatch};
use crate::reason::Reason;

/// The modes that a gesture chooses between, in the order of the zones.
const ZONES: [Mode; 4] = [Mode::Quick, Mode::Joined, Mode::Slow, Mode::Slide];
/// How much a wide leap adds to the gesture, from which interval on, over how many semitones.
const LEAP_GAIN: f64 = 0.10;
const LEAP_SEMITONES_MIN: f64 = 2.0;
const LEAP_SEMITONES: f64 = 10.0;
/// How much haste takes from it, below which time between notes, over which time.
const HASTE_LOSS: f64 = 0.35;
const HASTE_S: f64 = 0.25;
const HASTE_SPAN_S: f64 = 0.15;
/// A run begins when a note comes this soon after the last, at a pace below this.
const RUN_IOI_S: f64 = 0.12;
const RUN_PACE_S: f64 = 0.15;
/// It ends at a slower pace than this, or with a longer time between notes. The pace decides, since
/// the times between the notes of a human run scatter by more than a tenth.
const RUN_END_PACE_S: f64 = 0.16;
const RUN_END_IOI_S: f64 = 0.25;
/// The fastest hand along a string.
const HAND_M_PER_S_MAX: f64 = 2.0;
/// Times between notes whose joins read as the slowest, and the range down to the fastest.
const SPEED_SLOW_S: f64 = 0.60;
const SPEED_SPAN_S: f64 = 0.48;

/// A note-on as the legato sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Join {
    /// The key that owned the line, if its note is still held or waits for a join.
    pub from_key: Option<u8>,
    /// The note is plucked or struck.
    pub is_plucked: bool,
    /// The new key.
    pub key: u8,
    /// Its place in time.
    pub beat: Beat,
    /// The pace after it.
    pub pace_s: f64,
    /// The gesture, held through a breath gap.
    pub gesture: f64,
    /// The gesture has moved; else it is at rest because nobody has touched it.
    pub has_moved: bool,
    /// How a wish has it.
    pub wish: Option<LegatoWish>,
}

/// Chooses the mode of each note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Legato {
    /// The zone of the last join after the rules; a fresh note leaves it standing.
    zone: Option<usize>,
    /// The notes are a run: every join is quick.
    is_run: bool,
    mode: Mode,
    reason: Reason,
}

impl Legato {
    /// No note yet.
    pub const NONE: Legato =
        Legato { zone: None, is_run: false, mode: Mode::Fresh, reason: Reason::NotJoined };

    /// The present note joined as the legato of other settings had it.
    pub fn take_over(&mut self, old: &Legato) {
        (self.mode, self.reason, self.is_run) = (old.mode, old.reason, old.is_run);
    }

    /// How the present note joined.
    pub fn mode(&self) -> Mode {
        self.mode
    }

    /// Why.
    pub fn reason(&self) -> Reason {
        self.reason
    }

    /// Decides once, at the note-on.
    pub fn decide(&mut self, patch: &LegatoPatch, strings: &StringsPatch, join: &Join) -> Mode {
        self.follow_run(&join.beat, join.pace_s);
        (self.mode, self.reason) = match join.from_key {
            _ if join.beat.is_chord => (Mode::Fresh, Reason::Chord),
            None => (Mode::Fresh, Reason::NotJoined),
            Some(_) if join.is_plucked => (Mode::Fresh, Reason::Plucked),
            Some(from) if from == join.key => (Mode::Fresh, Reason::SameKey),
            Some(_) if join.beat.is_grace => (Mode::Quick, Reason::Grace),
            Some(_) if join.beat.is_trill && self.zone.is_some() => {
                match (ZONES[self.zone.unwrap_or(0)], join.wish) {
                    (Mode::Slide, Some(LegatoWish::NoSlide)) => (Mode::Slow, Reason::WishNoSlide),
                    (mode, _) => (mode, Reason::Trill),
                }
            }
            Some(_) if self.is_run => (Mode::Quick, Reason::TooFast),
            Some(from) => self.choose(patch, strings, join, from),
        };
        // A wish is for one note, and a grace is none of its own; the next one joins as if it had
        // not been.
        let zone = ZONES.iter().position(|&mode| mode == self.mode);
        if let Some(zone) = zone.filter(|_| join.wish.is_none() && !join.beat.is_grace) {
            self.zone = Some(zone);
        }
        self.mode
    }

    /// A run goes on through single late notes, and a single early note begins none.
    fn follow_run(&mut self, beat: &Beat, pace_s: f64) {
        if beat.is_chord || beat.is_grace {
            return;
        }
        self.is_run = !beat.is_phrase_start
            && match self.is_run {
                true => pace_s <= RUN_END_PACE_S && beat.ioi_s <= RUN_END_IOI_S,
                false => beat.ioi_s < RUN_IOI_S && pace_s < RUN_PACE_S,
            };
    }

    fn choose(
        &self,
        patch: &LegatoPatch,
        strings: &StringsPatch,
        join: &Join,
        from: u8,
    ) -> (Mode, Reason) {
        let interval = from.abs_diff(join.key);
        let leap = (f64::from(interval) - LEAP_SEMITONES_MIN) / LEAP_SEMITONES;
        let haste = (HASTE_S - join.beat.ioi_s) / HASTE_SPAN_S;
        let effort =
            join.gesture + LEAP_GAIN * leap.clamp(0.0, 1.0) - HASTE_LOSS * haste.clamp(0.0, 1.0);
        let wished = match join.wish {
            Some(LegatoWish::Mode(mode)) if ZONES.contains(&mode) => Some(mode),
            _ => None,
        };
        let mode = wished.unwrap_or_else(|| ZONES[self.zone_at(patch, effort)]);
        match (mode, why_no_slide(patch, strings, join, from)) {
            (Mode::Slide, Some(reason)) => (Mode::Slow, reason),
            (Mode::Slide, None) if wished.is_some() => (Mode::Slide, Reason::WishSlide),
            (Mode::Slide, None) if join.wish == Some(LegatoWish::NoSlide) => {
                (Mode::Slow, Reason::WishNoSlide)
            }
            (mode, _) if wished.is_some() => (mode, Reason::WishMode),
            (mode, _) if join.has_moved => (mode, Reason::Zone),
            (mode, _) => (mode, Reason::GestureUnknown),
        }
    }

    /// The zone of an effort; about each edge the last zone stands.
    fn zone_at(&self, patch: &LegatoPatch, effort: f64) -> usize {
        let is_past = |place: usize, edge: f64| match self.zone {
            Some(zone) if zone > place => effort >= edge - patch.hysteresis,
            Some(_) => effort > edge + patch.hysteresis,
            None => effort >= edge,
        };
        let edges = patch.edges.iter().enumerate();
        edges.filter(|&(place, &edge)| is_past(place, edge)).count()
    }
}

/// The speed of a join as a velocity of 127, between that of a slow and of a fast one.
pub fn speed(ioi_s: f64, slow: u8, fast: u8) -> f64 {
    let share = ((SPEED_SLOW_S - ioi_s) / SPEED_SPAN_S).clamp(0.0, 1.0);
    lerp(f64::from(slow), f64::from(fast), share)
}

fn why_no_slide(
    patch: &LegatoPatch,
    strings: &StringsPatch,
    join: &Join,
    from: u8,
) -> Option<Reason> {
    if from.abs_diff(join.key) > patch.slide_max_semitones {
        return Some(Reason::TooWide);
    }
    if strings.count == 0 {
        return None;
    }
    if strings.is_forced_open(from) || strings.is_forced_open(join.key) {
        return Some(Reason::OpenEnd);
    }
    let Some(travel_m) = strings.travel_m(from, join.key, join.pace_s) else {
        return Some(Reason::NoCommonString);
    };
    let hand_s = join.beat.ioi_s.min(patch.slide_s);
    (travel_m > HAND_M_PER_S_MAX * hand_s).then_some(Reason::HandTooFast)
}
