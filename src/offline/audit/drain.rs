//! How a bow or a breath is spent while the line sounds, and where it begins anew.

use crate::offline::part::Part;
use crate::profile::instrument::Budget;

/// What a snatched breath gives back (DESIGN 9).
pub const QUICK_REFILL: f64 = 0.6;
/// Seconds and shares that differ by less are equal.
pub const NEAR: f64 = 1e-6;

/// One bow stroke, or what is sung between two breaths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Its first note.
    pub first_note: usize,
    /// Its last note.
    pub last_note: usize,
    /// When it begins, seconds.
    pub start_s: f64,
    /// When its sound ends.
    pub end_s: f64,
    /// The share of the bow or breath that was gone at its start.
    pub spent_before: f64,
    /// The share gone at its end; above 1 it was not enough.
    pub spent: f64,
    /// When nothing was left, and the note that sounded then.
    pub empty: Option<(f64, usize)>,
}

/// How long a bow or breath lasts at a level, seconds: T_pp^(1−D) · T_ff^D.
pub fn lasts_s(budget: &Budget, level: f64) -> f64 {
    let (Budget::Bow { pp_s, ff_s } | Budget::Breath { pp_s, ff_s, .. }) = *budget;
    pp_s * libm::pow(ff_s / pp_s, level)
}

/// Spends the budget over the whole part. `piece` gets each short piece of sounding time: its
/// start and end, and the share spent at its end.
pub fn drain(part: &Part, budget: &Budget, mut piece: impl FnMut(f64, f64, f64)) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut sounds_until_s = f64::NEG_INFINITY;
    for (place, note) in part.notes.iter().enumerate() {
        let gap_s = note.start_s - sounds_until_s;
        let spent_before = match (stretches.last(), *budget) {
            (None, _) => Some(0.0),
            (Some(_), Budget::Bow { .. }) => note.is_fresh.then_some(0.0),
            (Some(last), Budget::Breath { refill_quick_s, refill_full_s, .. }) => {
                if gap_s >= refill_full_s - NEAR {
                    Some(0.0)
                } else if gap_s >= refill_quick_s - NEAR {
                    // A player who has run out is empty, not less than empty.
                    Some((last.spent.min(1.0) - QUICK_REFILL).max(0.0))
                } else {
                    None
                }
            }
        };
        if let Some(spent_before) = spent_before {
            let (start_s, spent, empty) = (note.start_s, spent_before, None);
            let (first_note, last_note, end_s) = (place, place, start_s);
            stretches.push(Stretch {
                first_note,
                last_note,
                start_s,
                end_s,
                spent_before,
                spent,
                empty,
            });
        }
        sounds_until_s = sounds_until_s.max(note.end_s);
        let next_s = part.notes.get(place + 1).map_or(f64::INFINITY, |next| next.start_s);
        let end_s = sounds_until_s.min(next_s);
        if let Some(stretch) = stretches.last_mut() {
            stretch.last_note = place;
            spend(part, budget, stretch, note.start_s, end_s, &mut piece);
        }
    }
    stretches
}

/// Sounding time from `start_s` to `end_s`, cut where the level has a new value.
fn spend(
    part: &Part,
    budget: &Budget,
    stretch: &mut Stretch,
    start_s: f64,
    end_s: f64,
    piece: &mut impl FnMut(f64, f64, f64),
) {
    let cell_s = part.cell_s;
    let mut from_s = start_s;
    while from_s < end_s {
        let cell = ((from_s + NEAR * cell_s) / cell_s) as usize;
        let to_s = ((cell + 1) as f64 * cell_s).min(end_s);
        let before = stretch.spent;
        stretch.spent += (to_s - from_s) / lasts_s(budget, part.level(cell));
        if stretch.empty.is_none() && stretch.spent > 1.0 + NEAR {
            let share = ((1.0 - before) / (stretch.spent - before)).clamp(0.0, 1.0);
            stretch.empty = Some((from_s + share * (to_s - from_s), stretch.last_note));
        }
        piece(from_s, to_s, stretch.spent);
        from_s = to_s;
    }
    stretch.end_s = stretch.end_s.max(end_s);
}
