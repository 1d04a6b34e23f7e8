//! Which instrument it is: how loud, how the pitch swings, how notes join, how the phrase ends.

use crate::math::curve::Curve;

/// The most vibrato styles of one instrument.
pub const STYLES_MAX: usize = 4;
/// The most strings of one instrument.
pub const STRINGS_MAX: usize = 8;

/// How loud (DESIGN 4.6).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DynamicsPatch {
    /// Level at gesture 0, 0..=1.
    pub floor: f64,
    /// Level at gesture 1, 0..=1, not below `floor`.
    pub ceiling: f64,
    /// Share of floor to ceiling over the gesture, 0..=1.
    pub curve: Curve,
    /// What a fresh note of velocity 127 adds to the level, 0..=1; 0 for breath.
    pub accent: f64,
    /// Decibels that the level 0..=1 stands for.
    pub span_db: f64,
    /// Share of a fresh note's velocity that follows the level, 0..=1.
    pub velocity_share: f64,
    /// Added to every level, −1..=1; 0 where nothing is asked for.
    pub shift: f64,
    /// The sound can come out of nothing and go there; not where a reed or a lip needs its pressure.
    pub niente: bool,
}

/// One kind of vibrato.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StylePatch {
    /// Width over the gesture, cents peak to peak.
    pub width_cents: Curve,
    /// Rate over the gesture, Hz.
    pub rate_hz: Curve,
    /// Share of the width above the pitch, 0..=1.
    pub share_above: f64,
    /// 1 is a sine; up to 2 the pitch stays longer near where it started.
    pub sharpness: f64,
    /// Loudness swing with the vibrato, decibels peak to peak.
    pub level_swing_db: f64,
    /// Share of a one-sided swing's mean that the ear takes off, 0..=1.
    pub centre: f64,
}

/// Which way the first swing of a vibrato goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FirstMovement {
    /// Above the pitch first.
    Up,
    /// Below the pitch first (violin and cello).
    Down,
}

/// How the pitch swings (DESIGN 4.3, 4.4).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VibratoPatch {
    /// The styles in the order in which a rising gesture meets them.
    pub styles: [StylePatch; STYLES_MAX],
    /// How many of `styles` count, 1..=4.
    pub style_count: usize,
    /// Gesture where the crossfade to style n + 1 begins and ends; n from 0, rising.
    pub edges: [(f64, f64); STYLES_MAX - 1],
    /// How the weights reach a receiver that has styles of its own.
    pub style_law: StyleLaw,
    /// Exponent that hurries through the middle of a crossfade, for sampled soloists; 1 is off.
    pub quick_through: f64,
    /// The wait before a vibrato starts at a middling pace, seconds.
    pub onset_s: f64,
    /// From its start to its full width, seconds.
    pub growth_s: f64,
    /// What is left of the width in the middle of a slur, 0..=1.
    pub join_keep: f64,
    /// From there back to the whole, seconds.
    pub join_recover_s: f64,
    /// Growth of the width per semitone of stopped height.
    pub register_per_semitone: f64,
    /// Which way the first swing goes.
    pub first_movement: FirstMovement,
    /// Spread (SD) of the rate from cycle to cycle, share, 0..=0.16.
    pub rate_spread: f64,
    /// Spread (SD) of the width from cycle to cycle, share, 0..=0.25.
    pub width_spread: f64,
    /// Factor of every style's width, 0..=2.
    pub width_scale: f64,
    /// Factor of every style's rate, 0.5..=2.
    pub rate_scale: f64,
    /// Added to every style's rate after its factor, Hz, −3..=3 a stretch.
    pub rate_shift_hz: f64,
    /// Position on the ordered list of styles, 0..=1, instead of where the gesture points.
    pub style_position: Option<f64>,
    /// From the start of a vibrato until its middle is where the ear wants it, seconds, above 0.
    pub settle_s: f64,
    /// How far a long vibrato widens and ebbs under a still hand, share, 0..=0.15.
    pub arch: f64,
    /// Swing of the brightness with the vibrato, share of the whole, peak to peak, 0..=1.
    pub brightness_swing: f64,
}

/// How style weights reach a receiver that has styles of its own (DESIGN 4.4).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StyleLaw {
    /// Weights as they are: they sum to 1.
    EqualGain,
    /// The root of each weight: their squares sum to 1.
    EqualPower,
    /// Each note keeps the heaviest style that its note-on found.
    Latched,
}

/// How one note joins the next (DESIGN 4.5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LegatoPatch {
    /// Edges between quick, joined, slow and slide, rising.
    pub edges: [f64; 3],
    /// Half width of the zone about an edge in which the last mode stands.
    pub hysteresis: f64,
    /// How long every note-off waits for a join, seconds, 0..=0.03.
    pub join_gap_s: f64,
    /// The widest slide, semitones.
    pub slide_max_semitones: u8,
    /// The longest time a hand takes for a slide, seconds.
    pub slide_s: f64,
}

/// What an open string does while nobody stops it (DESIGN 4.3).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenPolicy {
    /// The pitch is played stopped on the string below, with vibrato.
    Stopped,
    /// The pitch is played open, without vibrato.
    Open,
    /// Open in fast passages, stopped otherwise.
    Auto,
}

/// One string.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StringPatch {
    /// MIDI key of the open string.
    pub open_key: u8,
    /// Highest stopped note above it, semitones.
    pub span_semitones: u8,
    /// Sounding length, metres.
    pub length_m: f64,
}

/// The strings, lowest first; none for a wind instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StringsPatch {
    /// The strings.
    pub strings: [StringPatch; STRINGS_MAX],
    /// How many of `strings` count.
    pub count: usize,
    /// Bit n is set if key n can only be played on an open string.
    pub forced_open_keys: u128,
    /// What happens at the other open pitches.
    pub policy: OpenPolicy,
}

/// How the phrase ends (DESIGN 4.7).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TailPatch {
    /// The longest wait of the last note-off, seconds.
    pub tail_s: f64,
    /// How far the expression falls meanwhile, decibels.
    pub tail_db: f64,
    /// How far the ambience send rises, share of its range (steps of 127 divided by 127).
    pub lift: f64,
}

/// How far outside its range an instrument's own keys can lie by mistake, semitones; what lies
/// further off is meant for somebody else.
const ASTRAY_SEMITONES_MAX: u8 = 7;

/// Which notes the instrument has (DESIGN 4.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotesPatch {
    /// The lowest key that can be played at all.
    pub lowest_key: u8,
    /// The highest.
    pub highest_key: u8,
    /// How many notes it sounds at once, 1 and up.
    pub voice_count: u8,
}

impl NotesPatch {
    /// The key is another player's, a keyswitch of some other receiver perhaps: it lies more than a
    /// fifth outside the range.
    pub fn is_foreign(&self, key: u8) -> bool {
        key.saturating_add(ASTRAY_SEMITONES_MAX) < self.lowest_key
            || key > self.highest_key.saturating_add(ASTRAY_SEMITONES_MAX)
    }
}
