//! An instrument as a musician knows it: range, strings, bow or breath, and how a line is played on it.

use super::about::About;
use super::based_on::{BASED_ON, BASED_ON_RULE};
use super::kind::FileKind;
use super::load::Profile;
use super::origin::{self, FieldOrigin};
use super::table_reader::TableReader;
use super::vibrato::VibratoTable;
use crate::engine::math::curve::Curve;
use crate::engine::patch::{OpenPolicy, STRINGS_MAX};

/// Bowed or blown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Family {
    /// Strings under a bow.
    Bowed,
    /// A column of air.
    Wind,
}

impl Family {
    /// The word in the file.
    pub const fn name(self) -> &'static str {
        match self {
            Family::Bowed => "bowed",
            Family::Wind => "wind",
        }
    }
}

/// One instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Instrument {
    /// Who and what it is.
    pub about: About,
    /// Bowed or blown.
    pub family: Family,
    /// How many notes it can sound at once, 1..=8.
    pub voice_count: u8,
    /// Which notes it has.
    pub range: RangeTable,
    /// The strings; none on a wind instrument.
    pub strings: Option<StringsTable>,
    /// How long a bow or a breath lasts.
    pub budget: Budget,
    /// How loud it gets and how.
    pub dynamics: DynamicsTable,
    /// How the pitch swings.
    pub vibrato: VibratoTable,
    /// How one note joins the next.
    pub legato: LegatoTable,
    /// How a phrase ends.
    pub tail: TailTable,
    /// Where the numbers come from.
    pub origins: Vec<FieldOrigin>,
}

/// The table `range`: lowest and highest MIDI key, sounding pitch, 60 is C4.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RangeTable {
    /// What can be played at all.
    pub hard_keys: (u8, u8),
    /// What can be played with ease; within `hard_keys`.
    pub comfortable_keys: (u8, u8),
}

/// The table `strings`: the strings, lowest first.
#[derive(Clone, Debug, PartialEq)]
pub struct StringsTable {
    /// MIDI keys of the open strings, rising.
    pub open_keys: Vec<u8>,
    /// MIDI keys that can only be played on an open string; each is one of `open_keys`.
    pub forced_open_keys: Vec<u8>,
    /// Highest stopped note of each string above its open note, semitones.
    pub span_semitones: Vec<u8>,
    /// Sounding length, metres.
    pub length_m: f64,
    /// What happens at open pitches that are not forced.
    pub open_policy: OpenPolicy,
}

/// The table `bow` or `breath`: how long a player can go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Budget {
    /// One bow stroke.
    Bow {
        /** The longest stroke at the softest level, seconds. */
        pp_s: f64,
        /** The longest stroke at the loudest level, seconds. */
        ff_s: f64,
    },
    /// One breath.
    Breath {
        /** The longest breath at the softest level, seconds. */
        pp_s: f64,
        /** The longest breath at the loudest level, seconds. */
        ff_s: f64,
        /** A gap this long restores a part of the breath, seconds. */
        refill_quick_s: f64,
        /** A gap this long restores all of it, seconds. */
        refill_full_s: f64,
        /** The player can breathe in while playing on. */
        is_circular: bool,
    },
}

/// The table `dynamics`: how loud (DESIGN 4.6).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DynamicsTable {
    /// Level at gesture 0, 0..=1.
    pub floor: f64,
    /// Level at gesture 1, 0..=1, not below `floor`.
    pub ceiling: f64,
    /// Share of the way from floor to ceiling over the gesture.
    pub curve: Curve,
    /// What a fresh note of velocity 127 adds to the level when keys give the accents, 0..=1.
    pub accent: f64,
    /// The same when the player blows, 0..=1.
    pub accent_by_breath: f64,
    /// Decibels that the level 0..=1 stands for.
    pub span_db: f64,
    /// Share of a fresh note's velocity that follows the level, 0..=1.
    pub velocity_share: f64,
    /// The sound can come out of nothing and go there with the hand.
    pub niente: bool,
}

/// The table `legato`: how one note joins the next (DESIGN 4.5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LegatoTable {
    /// Edges between quick, joined, slow and slide, rising.
    pub edges: [f64; 3],
    /// Half width of the zone about an edge in which the last mode stands.
    pub hysteresis: f64,
    /// How long every note-off waits for a join, milliseconds.
    pub join_gap_ms: f64,
    /// The widest slide, semitones.
    pub slide_max_semitones: u8,
    /// The longest time a hand takes for a slide, milliseconds.
    pub slide_ms: f64,
}

/// The table `tail`: how the phrase ends (DESIGN 4.7).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TailTable {
    /// The longest wait of the last note-off, milliseconds.
    pub tail_ms: f64,
    /// How far the level falls meanwhile, decibels.
    pub tail_db: f64,
    /// How far the ambience send rises, steps of 127.
    pub ambience_lift_steps: f64,
}

impl Instrument {
    /// The names of its styles, in the order in which a rising gesture meets them.
    pub fn style_names(&self) -> Vec<String> {
        self.vibrato.styles.iter().map(|style| style.name.clone()).collect()
    }
}

impl Profile for Instrument {
    const KIND: FileKind = FileKind::Instrument;

    fn read(root: &TableReader<'_>) -> Instrument {
        let about = About::read(root, None);
        read_based_on(&root.only(0));
        let family = read_family(root);
        let voice_count = root.whole("voices", 1..=8, Some(1)) as u8;
        let range = read_range(&root.table("range"));
        let strings = read_strings(root, family);
        refuse_keys_below_strings(root, range, strings.as_ref());
        let budget = read_budget(root, family);
        let dynamics = read_dynamics(&root.table("dynamics"), family);
        let vibrato = VibratoTable::read(&root.table("vibrato"));
        let legato = read_legato(&root.table("legato"));
        let tail = read_tail(&root.table("tail"));
        let origins = origin::read(root);
        Instrument {
            about,
            family,
            voice_count,
            range,
            strings,
            budget,
            dynamics,
            vibrato,
            legato,
            tail,
            origins,
        }
    }

    fn origins(&self) -> &[FieldOrigin] {
        &self.origins
    }
}

/// Says on which file this one is based, if it says so; the chain has been followed already.
fn read_based_on(own: &TableReader<'_>) {
    if own.gives(BASED_ON) {
        own.text(BASED_ON, BASED_ON_RULE, None, |_| true);
    } else {
        own.accept(BASED_ON);
    }
}

/// The family; where it is refused, the one that the rest of the file looks like.
fn read_family(root: &TableReader<'_>) -> Family {
    let families = [("bowed", Family::Bowed), ("wind", Family::Wind)];
    let family = root.choice("family", &families, None);
    if root.log().has_refused("family") && root.gives("breath") { Family::Wind } else { family }
}

fn read_range(table: &TableReader<'_>) -> RangeTable {
    let keys = |name: &str| match table.wholes(name, 2..=2, 0..=127, None)[..] {
        [low, high] if low >= high => {
            table.refuse(name, format!("[{low}, {high}]"), "the lowest key, then the highest");
            (0, 127)
        }
        [low, high] => (low, high),
        _ => (0, 127),
    };
    let range =
        RangeTable { hard_keys: keys("hard_keys"), comfortable_keys: keys("comfortable_keys") };
    let (low, high) = range.hard_keys;
    let (inner_low, inner_high) = range.comfortable_keys;
    if inner_low < low || inner_high > high {
        let found = format!("[{inner_low}, {inner_high}]");
        let allowed = format!("{low} to {high}, the hard range");
        table.refuse_beside(&["comfortable_keys", "hard_keys"], found, allowed);
    }
    range
}

/// Nothing can be played below the lowest open string.
fn refuse_keys_below_strings(
    root: &TableReader<'_>,
    range: RangeTable,
    strings: Option<&StringsTable>,
) {
    let lowest = strings.and_then(|strings| strings.open_keys.first().copied()).unwrap_or(0);
    let is_known = !root.log().has_refused("strings.open_keys");
    if is_known && range.hard_keys.0 < lowest {
        let (found, allowed) =
            (range.hard_keys.0, format!("{lowest}, the lowest open string, or above"));
        root.table("range").refuse_beside(&["hard_keys"], found.to_string(), allowed);
    }
}

fn read_strings(root: &TableReader<'_>, family: Family) -> Option<StringsTable> {
    let table = root.table("strings");
    if family == Family::Wind {
        if table.is_given() {
            root.refuse("strings", "a table", "nothing, since the family is wind");
        }
        return None;
    }
    let open_keys = table.wholes("open_keys", 1..=STRINGS_MAX, 0..=127, None);
    if !open_keys.is_sorted_by(|low, high| low < high) {
        table.refuse("open_keys", format!("{open_keys:?}"), "keys that rise from string to string");
    }
    let forced_open_keys =
        table.wholes("forced_open_keys", 0..=STRINGS_MAX, 0..=127, Some(Vec::new()));
    if let Some(key) = forced_open_keys.iter().find(|key| !open_keys.contains(key)) {
        let allowed = format!("keys of open strings, {open_keys:?}");
        table.refuse_beside(&["forced_open_keys", "open_keys"], key.to_string(), allowed);
    }
    let counts = match open_keys.len() {
        0 => 1..=STRINGS_MAX,
        count => count..=count,
    };
    let span_semitones = table.wholes_beside("span_semitones", counts, STRINGS_MAX, 1..=60);
    let length_m = table.number("length_m", 0.05..=2.5, None);
    let policies =
        [("stopped", OpenPolicy::Stopped), ("open", OpenPolicy::Open), ("auto", OpenPolicy::Auto)];
    let open_policy = table.choice("open_policy", &policies, Some(OpenPolicy::Stopped));
    Some(StringsTable { open_keys, forced_open_keys, span_semitones, length_m, open_policy })
}

fn read_budget(root: &TableReader<'_>, family: Family) -> Budget {
    let (name, other) = match family {
        Family::Bowed => ("bow", "breath"),
        Family::Wind => ("breath", "bow"),
    };
    if root.gives(other) {
        let allowed = format!("{name}, since the family is {}", family.name());
        root.refuse(other, "a table", allowed);
        root.accept(other);
    }
    let table = root.table(name);
    let pp_s = table.number("pp_s", 0.5..=120.0, None);
    let ff_s = table.number("ff_s", 0.2..=120.0, None);
    if ff_s > pp_s {
        let allowed = format!("at most {pp_s}, as long as the softest");
        table.refuse_beside(&["ff_s", "pp_s"], ff_s.to_string(), allowed);
    }
    if family == Family::Bowed {
        return Budget::Bow { pp_s, ff_s };
    }
    let refill_quick_s = table.number("refill_quick_s", 0.05..=5.0, Some(0.25));
    let refill_full_s = table.number("refill_full_s", 0.05..=10.0, Some(0.7));
    if refill_full_s < refill_quick_s {
        let allowed = format!("at least {refill_quick_s}, the quick refill");
        table.refuse_beside(
            &["refill_full_s", "refill_quick_s"],
            refill_full_s.to_string(),
            allowed,
        );
    }
    let is_circular = table.flag("circular", false);
    Budget::Breath { pp_s, ff_s, refill_quick_s, refill_full_s, is_circular }
}

fn read_dynamics(table: &TableReader<'_>, family: Family) -> DynamicsTable {
    let floor = table.number("floor", 0.0..=1.0, Some(0.1));
    let ceiling = table.number("ceiling", 0.0..=1.0, Some(1.0));
    if floor > ceiling {
        table.refuse_beside(
            &["floor", "ceiling"],
            floor.to_string(),
            format!("0 to {ceiling}, the ceiling"),
        );
    }
    let span_db = match family {
        Family::Bowed => 30.0,
        Family::Wind => 22.0,
    };
    DynamicsTable {
        floor,
        ceiling,
        curve: table.curve("curve", 0.0..=1.0, 0.0..=1.0, Some(Curve::identity())),
        accent: table.number("accent", 0.0..=1.0, Some(0.12)),
        accent_by_breath: table.number("accent_by_breath", 0.0..=1.0, Some(0.0)),
        span_db: table.number("span_db", 3.0..=90.0, Some(span_db)),
        velocity_share: table.number("velocity_share", 0.0..=1.0, Some(0.5)),
        niente: table.flag("niente", true),
    }
}

fn read_legato(table: &TableReader<'_>) -> LegatoTable {
    let edges = table.rising("edges", 0.0..=1.0, 0.01, Some([0.30, 0.65, 0.85]));
    let hysteresis = table.number("hysteresis", 0.0..=0.1, Some(0.03));
    let narrowest = (edges[1] - edges[0]).min(edges[2] - edges[1]);
    if 2.0 * hysteresis > narrowest + 1e-9 {
        let allowed = format!("0 to {:.3}, half of the narrowest zone", narrowest / 2.0);
        table.refuse_beside(&["hysteresis", "edges"], hysteresis.to_string(), allowed);
    }
    LegatoTable {
        edges,
        hysteresis,
        join_gap_ms: table.number("join_gap_ms", 0.0..=30.0, Some(0.0)),
        slide_max_semitones: table.whole("slide_max_semitones", 0..=48, Some(12)) as u8,
        slide_ms: table.number("slide_ms", 20.0..=2000.0, Some(120.0)),
    }
}

fn read_tail(table: &TableReader<'_>) -> TailTable {
    TailTable {
        tail_ms: table.number("tail_ms", 0.0..=2000.0, Some(260.0)),
        tail_db: table.number("tail_db", 0.0..=60.0, Some(18.0)),
        ambience_lift_steps: table.number("ambience_lift_steps", 0.0..=127.0, Some(0.0)),
    }
}
