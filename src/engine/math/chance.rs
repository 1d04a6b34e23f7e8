//! Human unevenness that is the same every time: chance by place in the song, not by a running die.

/// Correlation of one vibrato cycle with the next.
const CYCLE_CORRELATION: f64 = 0.5;
/// √(1 − ρ²), which keeps the spread of the chain at 1.
const CYCLE_NEWS: f64 = 0.866_025_403_784_438_6;
/// The furthest a cycle strays, in spreads.
const STRAY_MAX: f64 = 2.0;
/// What makes the spread of the values of whole cycles 1. A normal draw that is clipped at ±2 has
/// the variance 0.920537 (Φ(2) − Φ(−2) − 4·φ(2) + 8·Φ(−2)); two neighbours of such a chain have the
/// correlation 0.49594; and along a straight line from one to the next a cycle has the value of
/// their mean, in its rate and, half at each of its two turning points, in its width. So the spread
/// is √(0.920537·(1 + 0.49594)/2) = 0.82978 of the draws'.
const CYCLE_SPREAD: f64 = 1.0 / 0.829_78;
/// Keeps the draws of whole notes apart from those of cycles.
const TURN_MARK: u64 = 0x4C65_7665_6C54_7572;
/// Parts of a beat to which a note's place is rounded.
const PLACES_PER_BEAT: f64 = 48.0;
/// Above one half, so that a place exactly between two is always the later one, on whichever
/// side of it a frame lies: half a frame at 44.1 kHz and 480 bpm is 0.0044 of a place.
const PLACE_ROUNDING: f64 = 0.505;

/// Where chance is drawn: everything that makes this note this note, but for the seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chance {
    /// The line of the section, from 0.
    pub voice: u8,
    /// The note's place in the song (see [`song_place`]) or its running count.
    pub place: u64,
    /// The note's key.
    pub key: u8,
}

/// The place of a note that begins `beat` quarter notes into the song, to 1/48 beat. The top
/// bit keeps it apart from running counts.
pub fn song_place(beat: f64) -> u64 {
    let rounded = libm::floor(beat * PLACES_PER_BEAT + PLACE_ROUNDING);
    (rounded as i64 as u64) | 1 << 63
}

impl Chance {
    /// Two independent normal draws of a seed for one cycle: for the rate and for the width.
    pub fn draw(&self, seed: u64, cycle: u32) -> (f64, f64) {
        let mut hash = mix(seed ^ 0x506F_6C73_6F31_3031);
        hash = mix(hash ^ self.place);
        hash =
            mix(hash ^ u64::from(self.voice) << 40 ^ u64::from(self.key) << 32 ^ u64::from(cycle));
        // Box and Muller (1958): two uniform draws become two normal ones.
        let radius = libm::sqrt(-2.0 * libm::log(((hash >> 32) as f64 + 0.5) / 4_294_967_296.0));
        let angle = core::f64::consts::TAU * (hash as u32 as f64 / 4_294_967_296.0);
        (radius * libm::cos(angle), radius * libm::sin(angle))
    }

    /// A turn, evenly drawn from 0..1, that belongs to the whole note.
    pub fn turn(&self, seed: u64) -> f64 {
        let mut hash = mix(seed ^ TURN_MARK);
        hash = mix(hash ^ self.place);
        hash = mix(hash ^ u64::from(self.voice) << 8 ^ u64::from(self.key));
        (hash >> 32) as f64 / 4_294_967_296.0
    }
}

/// The finaliser of SplitMix64 (Steele, Lea and Flood 2014): every bit of the input reaches
/// every bit of the output.
fn mix(value: u64) -> u64 {
    let value = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let value = (value ^ value >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let value = (value ^ value >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    value ^ value >> 31
}

/// How far the present cycle strays from the ideal: first-order autoregressive from cycle to
/// cycle, clipped, and a straight line across each cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stray {
    raw: f64,
    now: f64,
    next: f64,
}

impl Stray {
    /// No straying at all.
    pub const NONE: Stray = Stray { raw: 0.0, now: 0.0, next: 0.0 };

    /// The first cycle of a vibrato, with the draws of this cycle and the next.
    pub fn begin(first: f64, second: f64) -> Stray {
        let raw = CYCLE_CORRELATION * first + CYCLE_NEWS * second;
        Stray { raw, now: clip(first), next: clip(raw) }
    }

    /// The next cycle begins; `news` is the draw of the one after it.
    pub fn next_cycle(&mut self, news: f64) {
        self.now = self.next;
        self.raw = CYCLE_CORRELATION * self.raw + CYCLE_NEWS * news;
        self.next = clip(self.raw);
    }

    /// In spreads of whole cycles' values, at `turn` (0..1) of the present cycle.
    #[inline]
    pub fn at(&self, turn: f64) -> f64 {
        self.now + (self.next - self.now) * turn
    }
}

fn clip(value: f64) -> f64 {
    CYCLE_SPREAD * value.clamp(-STRAY_MAX, STRAY_MAX)
}
