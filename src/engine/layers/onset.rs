//! When the vibrato of a note begins, how it grows, and what a slur or an open string does to it.

use crate::math::clock::TICK_S;
use crate::math::glide::{Glide, lerp, smooth_step};
use crate::math::grain::grain;
use crate::notes::pace::TRILL_S;
use crate::patch::VibratoPatch;

/// The onset is scaled by this pace over the note's own.
const MIDDLING_PACE_S: f64 = 0.35;
const SCALE_MIN: f64 = 0.6;
const SCALE_MAX: f64 = 2.0;
/// A gesture that rises faster than this on a held note asks for vibrato.
pub const ASKING_PER_S: f64 = 1.5;
/// A rise that began before its note, or within this time after it, is an attack and never asks.
const ATTACK_S: f64 = 0.080;
/// How soon asking is answered.
const ASKING_S: f64 = 0.030;
/// At a faster pace nobody asks: it is a run.
pub const FAST_PACE_S: f64 = 0.25;
/// Times between notes at which a slur leaves nothing, and all, of the vibrato.
const KEEP_NONE_S: f64 = 0.20;
const KEEP_ALL_S: f64 = 0.40;
/// How fast the envelope falls to what a note-on leaves of it.
const LEAVE_S: f64 = 0.040;
/// The dip of a slur: into it and the bottom of it.
const DIP_S: f64 = 0.030;
const DIP_HOLD_S: f64 = 0.060;
/// Open string and register change over this time.
const PLACE_S: f64 = 0.030;
/// The vibrato dies away over this time after the note-off.
const RELEASE_S: f64 = 0.080;

/// A note as the vibrato sees it begin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteChange {
    /// Time since the line last changed its note.
    pub ioi_s: f64,
    /// The pace, seconds a note.
    pub pace_s: f64,
    /// It joins the note before.
    pub is_joined: bool,
    /// Part of a trill.
    pub is_trill: bool,
    /// It cannot be vibrated, and earns nothing for the next note either.
    pub is_forced_open: bool,
    /// It is not vibrated.
    pub is_open: bool,
    /// Factor of its register.
    pub register: f64,
    /// It is plucked or struck: it sounds most when it begins, so its vibrato does not wait.
    pub is_plucked: bool,
}

impl NoteChange {
    /// Before the first note.
    pub const REST: NoteChange = NoteChange {
        ioi_s: 0.0,
        pace_s: 0.5,
        is_joined: false,
        is_trill: false,
        is_forced_open: false,
        is_open: false,
        register: 1.0,
        is_plucked: false,
    };
}

/// The envelope of the vibrato and everything that narrows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    start_s: f64,
    can_ask: bool,
    /// What the note before left of the envelope.
    left: Glide,
    release: Glide,
    dip_start_s: f64,
    dip_from: f64,
    open: Glide,
    register: Glide,
    /// The envelope and the factor at the last step.
    now: Factor,
    /// From here on both stand until something happens.
    moves_until_s: f64,
    /// They have not yet been seen to stand.
    is_moving: bool,
}

/// The envelope E and the whole factor S.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Factor {
    /// E, 0..=1.
    pub envelope: f64,
    /// S.
    pub whole: f64,
}

impl Onset {
    /// No note yet.
    pub const NONE: Onset = Onset {
        start_s: f64::INFINITY,
        can_ask: false,
        left: Glide::still(0.0),
        release: Glide::still(1.0),
        dip_start_s: f64::NEG_INFINITY,
        dip_from: 1.0,
        open: Glide::still(1.0),
        register: Glide::still(1.0),
        now: Factor { envelope: 0.0, whole: 0.0 },
        moves_until_s: f64::NEG_INFINITY,
        is_moving: true,
    };

    /// Goes on where the envelope of other settings stands.
    pub fn take_over(&mut self, patch: &VibratoPatch, old: &Onset) {
        *self = *old;
        self.move_on(patch);
    }

    /// The line goes to another note, and its player vibrates so much later than the instrument's
    /// file says (sooner below 0).
    pub fn change(&mut self, patch: &VibratoPatch, now_s: f64, change: &NoteChange, later_s: f64) {
        let left = self.envelope(patch, now_s);
        let keep_share = (change.ioi_s - KEEP_NONE_S) / (KEEP_ALL_S - KEEP_NONE_S);
        let keeps = change.is_joined && !change.is_forced_open;
        let kept = if keeps { left * smooth_step(keep_share) } else { 0.0 };
        self.left = Glide::still(left);
        self.left.aim(now_s, kept, LEAVE_S);
        self.release = Glide::still(1.0);
        if change.is_joined {
            self.dip_from = self.dip(patch, now_s);
            self.dip_start_s = now_s;
        }
        let wait_s = (onset_age_s(patch.onset_s, change.pace_s) + later_s).max(0.0);
        // A note that grows older than this was the last of its trill.
        let wait_s = if change.is_trill { wait_s.max(TRILL_S) } else { wait_s };
        let wait_s = if change.is_plucked { 0.0 } else { wait_s };
        self.start_s = if change.is_forced_open { f64::INFINITY } else { now_s + wait_s };
        self.can_ask = !change.is_forced_open && !change.is_trill && change.pace_s >= FAST_PACE_S;
        self.place(patch, now_s, change.is_open, change.register);
    }

    /// Open string and register, which can change in mid-note when a key of a chord lifts.
    pub fn place(&mut self, patch: &VibratoPatch, now_s: f64, is_open: bool, register: f64) {
        let open = f64::from(u8::from(!is_open));
        if self.envelope(patch, now_s) == 0.0 {
            self.open = Glide::still(open);
            self.register = Glide::still(register);
        }
        if self.open.goal() != open {
            self.open.aim(now_s, open, PLACE_S);
        }
        if self.register.goal() != register {
            self.register.aim(now_s, register, PLACE_S);
        }
        self.move_on(patch);
    }

    /// The note has been let go: what swings dies away, and nothing begins any more.
    pub fn release(&mut self, patch: &VibratoPatch, now_s: f64) {
        self.release_within(patch, now_s, RELEASE_S);
    }

    /// The same over another time.
    pub fn release_within(&mut self, patch: &VibratoPatch, now_s: f64, length_s: f64) {
        self.left = Glide::still(self.grown(patch, now_s));
        self.start_s = f64::INFINITY;
        self.release.aim(now_s, 0.0, length_s);
        self.move_on(patch);
    }

    /// The gesture rises faster than [`ASKING_PER_S`] on a held note, which was this old when the rise
    /// began: it asks, unless the rise is the note's own attack.
    pub fn ask(&mut self, patch: &VibratoPatch, now_s: f64, began_at_age_s: f64) {
        let asks = self.can_ask && grain(began_at_age_s) > ATTACK_S;
        if asks && now_s + ASKING_S < self.start_s {
            self.start_s = now_s + ASKING_S;
            self.move_on(patch);
        }
    }

    /// When the vibrato of this note starts of itself; infinite if never.
    pub fn start_s(&self) -> f64 {
        self.start_s
    }

    /// The envelope E, 0..=1.
    #[inline]
    fn envelope(&self, patch: &VibratoPatch, now_s: f64) -> f64 {
        let release = self.release.at(now_s);
        if release == 0.0 {
            return 0.0;
        }
        self.grown(patch, now_s) * release
    }

    /// The larger of the note's own growth and what the note before left.
    #[inline]
    fn grown(&self, patch: &VibratoPatch, now_s: f64) -> f64 {
        let own = smooth_step((now_s - self.start_s) * (1.0 / growth_s(patch)));
        own.max(self.left.at(now_s))
    }

    /// One step: the factor S of the envelope, the open string, the register and the slur.
    #[inline(always)]
    pub fn step(&mut self, patch: &VibratoPatch, now_s: f64) -> f64 {
        if self.is_moving {
            self.is_moving = now_s < self.moves_until_s;
            self.now = self.factor(patch, now_s);
        }
        self.now.whole
    }

    /// The envelope E and the whole factor S at a time not before the last event.
    #[inline]
    pub fn factor(&self, patch: &VibratoPatch, now_s: f64) -> Factor {
        let envelope = self.envelope(patch, now_s);
        let place = self.open.at(now_s) * self.register.at(now_s);
        Factor { envelope, whole: envelope * place * self.dip(patch, now_s) }
    }

    /// Nothing of a vibrato sounded at the last step.
    #[inline]
    pub fn is_silent(&self) -> bool {
        self.now.envelope == 0.0
    }

    /// Something is under way: finds until when.
    fn move_on(&mut self, patch: &VibratoPatch) {
        let moves = [&self.left, &self.release, &self.open, &self.register];
        let moved_s = moves.iter().map(|glide| glide.end_s()).fold(f64::NEG_INFINITY, f64::max);
        let dipped_s = self.dip_start_s + DIP_S + DIP_HOLD_S + recover_s(patch);
        let starts = self.start_s < f64::INFINITY && self.release.goal() > 0.0;
        let grown_s = if starts { self.start_s + growth_s(patch) } else { f64::NEG_INFINITY };
        self.moves_until_s = moved_s.max(dipped_s).max(grown_s);
        self.is_moving = true;
    }

    /// Nothing sounds and nothing can start by itself any more.
    pub fn is_over(&self, patch: &VibratoPatch, now_s: f64) -> bool {
        let is_released = self.release.goal() == 0.0 && self.release.is_done(now_s);
        self.envelope(patch, now_s) == 0.0 && (is_released || self.start_s == f64::INFINITY)
    }

    /// S_join.
    #[inline]
    fn dip(&self, patch: &VibratoPatch, now_s: f64) -> f64 {
        let age_s = now_s - self.dip_start_s;
        if age_s >= DIP_S + DIP_HOLD_S + recover_s(patch) {
            1.0
        } else if age_s < DIP_S {
            lerp(self.dip_from, patch.join_keep, smooth_step(age_s / DIP_S))
        } else {
            let share = (age_s - DIP_S - DIP_HOLD_S) / recover_s(patch);
            lerp(patch.join_keep, 1.0, smooth_step(share))
        }
    }
}

fn growth_s(patch: &VibratoPatch) -> f64 {
    patch.growth_s.max(TICK_S)
}

fn recover_s(patch: &VibratoPatch) -> f64 {
    patch.join_recover_s.max(TICK_S)
}

/// The first age t ≥ T0 · clamp(0.35/max(I, t), 0.6, 2): the right side falls as t rises, so the
/// first t is found where they meet.
fn onset_age_s(onset_s: f64, pace_s: f64) -> f64 {
    let at_pace = onset_s * (MIDDLING_PACE_S / pace_s).clamp(SCALE_MIN, SCALE_MAX);
    if at_pace <= pace_s {
        return at_pace;
    }
    libm::sqrt(MIDDLING_PACE_S * onset_s).clamp(SCALE_MIN * onset_s, SCALE_MAX * onset_s)
}
