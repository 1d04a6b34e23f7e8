//! When the vibrato of a note begins, how it grows, and what a slur or an open string does to it.

use super::clock::TICK_S;
use super::glide::{Glide, lerp, smooth_step};
use super::pace::TRILL_S;
use super::patch::VibratoPatch;

/// The onset is scaled by this pace over the note's own.
const MIDDLING_PACE_S: f64 = 0.35;
const SCALE_MIN: f64 = 0.6;
const SCALE_MAX: f64 = 2.0;
/// A gesture that rises faster than this on a held note asks for vibrato.
const ASKING_PER_S: f64 = 1.5;
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
pub struct Change {
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
}

impl Change {
    /// Before the first note.
    pub const REST: Change = Change {
        ioi_s: 0.0,
        pace_s: 0.5,
        is_joined: false,
        is_trill: false,
        is_forced_open: false,
        is_open: false,
        register: 1.0,
    };
}

/// The envelope of the vibrato and everything that narrows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    onset_s: f64,
    growth_s: f64,
    growth_per_s: f64,
    join_keep: f64,
    join_recover_s: f64,
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
    pub fn load(patch: &VibratoPatch) -> Onset {
        Onset {
            onset_s: patch.onset_s,
            growth_s: patch.growth_s.max(TICK_S),
            growth_per_s: 1.0 / patch.growth_s.max(TICK_S),
            join_keep: patch.join_keep,
            join_recover_s: patch.join_recover_s.max(TICK_S),
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
        }
    }

    /// Goes on where the envelope of other settings stands.
    pub fn take_over(&mut self, old: &Onset) {
        let Onset { onset_s, growth_s, growth_per_s, join_keep, join_recover_s, .. } = *self;
        *self = Onset { onset_s, growth_s, growth_per_s, join_keep, join_recover_s, ..*old };
        self.move_on();
    }

    /// Another wait, from the next note on.
    pub fn wait(&mut self, onset_s: f64) {
        self.onset_s = onset_s;
    }

    /// The line goes to another note.
    pub fn change(&mut self, now_s: f64, change: &Change) {
        let left = self.envelope(now_s);
        let keep_share = (change.ioi_s - KEEP_NONE_S) / (KEEP_ALL_S - KEEP_NONE_S);
        let keeps = change.is_joined && !change.is_forced_open;
        let kept = if keeps { left * smooth_step(keep_share) } else { 0.0 };
        self.left = Glide::still(left);
        self.left.aim(now_s, kept, LEAVE_S);
        self.release = Glide::still(1.0);
        if change.is_joined {
            self.dip_from = self.dip(now_s);
            self.dip_start_s = now_s;
        }
        let wait_s = onset_age_s(self.onset_s, change.pace_s);
        // A note that grows older than this was the last of its trill.
        let wait_s = if change.is_trill { wait_s.max(TRILL_S) } else { wait_s };
        self.start_s = if change.is_forced_open { f64::INFINITY } else { now_s + wait_s };
        self.can_ask = !change.is_forced_open && !change.is_trill && change.pace_s >= FAST_PACE_S;
        self.place(now_s, change.is_open, change.register);
    }

    /// Open string and register, which can change in mid-note when a key of a chord lifts.
    pub fn place(&mut self, now_s: f64, is_open: bool, register: f64) {
        let open = f64::from(u8::from(!is_open));
        if self.envelope(now_s) == 0.0 {
            self.open = Glide::still(open);
            self.register = Glide::still(register);
        }
        if self.open.goal() != open {
            self.open.aim(now_s, open, PLACE_S);
        }
        if self.register.goal() != register {
            self.register.aim(now_s, register, PLACE_S);
        }
        self.move_on();
    }

    /// The note has been let go: what swings dies away, and nothing begins any more.
    pub fn release(&mut self, now_s: f64) {
        self.release_within(now_s, RELEASE_S);
    }

    /// The same over another time.
    pub fn release_within(&mut self, now_s: f64, length_s: f64) {
        self.left = Glide::still(self.grown(now_s));
        self.start_s = f64::INFINITY;
        self.release.aim(now_s, 0.0, length_s);
        self.move_on();
    }

    /// The gesture rises on a held note.
    #[inline]
    pub fn ask(&mut self, now_s: f64, rise_per_s: f64) {
        if rise_per_s > ASKING_PER_S && self.can_ask {
            self.start_s = self.start_s.min(now_s + ASKING_S);
            self.move_on();
        }
    }

    /// When the vibrato of this note starts of itself; infinite if never.
    pub fn start_s(&self) -> f64 {
        self.start_s
    }

    /// The envelope E, 0..=1.
    #[inline]
    fn envelope(&self, now_s: f64) -> f64 {
        let release = self.release.at(now_s);
        if release == 0.0 {
            return 0.0;
        }
        self.grown(now_s) * release
    }

    /// The larger of the note's own growth and what the note before left.
    #[inline]
    fn grown(&self, now_s: f64) -> f64 {
        let own = smooth_step((now_s - self.start_s) * self.growth_per_s);
        own.max(self.left.at(now_s))
    }

    /// One step: the factor S of the envelope, the open string, the register and the slur.
    #[inline]
    pub fn step(&mut self, now_s: f64) -> f64 {
        if self.is_moving {
            self.is_moving = now_s < self.moves_until_s;
            self.now = self.factor(now_s);
        }
        self.now.whole
    }

    /// The envelope E and the whole factor S at a time not before the last event.
    #[inline]
    pub fn factor(&self, now_s: f64) -> Factor {
        let envelope = self.envelope(now_s);
        let place = self.open.at(now_s) * self.register.at(now_s);
        Factor { envelope, whole: envelope * place * self.dip(now_s) }
    }

    /// Nothing of a vibrato sounded at the last step.
    #[inline]
    pub fn is_silent(&self) -> bool {
        self.now.envelope == 0.0
    }

    /// Something is under way: finds until when.
    fn move_on(&mut self) {
        let moves = [&self.left, &self.release, &self.open, &self.register];
        let moved_s = moves.iter().map(|glide| glide.end_s()).fold(f64::NEG_INFINITY, f64::max);
        let dipped_s = self.dip_start_s + DIP_S + DIP_HOLD_S + self.join_recover_s;
        let starts = self.start_s < f64::INFINITY && self.release.goal() > 0.0;
        let grown_s = if starts { self.start_s + self.growth_s } else { f64::NEG_INFINITY };
        self.moves_until_s = moved_s.max(dipped_s).max(grown_s);
        self.is_moving = true;
    }

    /// Nothing sounds and nothing can start by itself any more.
    pub fn is_over(&self, now_s: f64) -> bool {
        let is_released = self.release.goal() == 0.0 && self.release.is_done(now_s);
        self.envelope(now_s) == 0.0 && (is_released || self.start_s == f64::INFINITY)
    }

    /// S_join.
    #[inline]
    fn dip(&self, now_s: f64) -> f64 {
        let age_s = now_s - self.dip_start_s;
        if age_s >= DIP_S + DIP_HOLD_S + self.join_recover_s {
            1.0
        } else if age_s < DIP_S {
            lerp(self.dip_from, self.join_keep, smooth_step(age_s / DIP_S))
        } else {
            let share = (age_s - DIP_S - DIP_HOLD_S) / self.join_recover_s;
            lerp(self.join_keep, 1.0, smooth_step(share))
        }
    }
}

/// The first age t ≥ T0 · clamp(0.35/max(I, t), 0.6, 2): the right side falls as t rises, so the
/// first t is found where they meet.
pub fn onset_age_s(onset_s: f64, pace_s: f64) -> f64 {
    let at_pace = onset_s * (MIDDLING_PACE_S / pace_s).clamp(SCALE_MIN, SCALE_MAX);
    if at_pace <= pace_s {
        return at_pace;
    }
    libm::sqrt(MIDDLING_PACE_S * onset_s).clamp(SCALE_MIN * onset_s, SCALE_MAX * onset_s)
}
