//! Which of the keys that go down together goes on from which note that sounds: as they lie above each
//! other, as many as can, as near as can be.

use crate::patch::VOICES_MAX;

/// The furthest that a hand goes on from a key, semitones.
pub const REACH_SEMITONES: u8 = 12;
/// Far more than all intervals together: a key that goes on counts more than near ones.
const FRESH: u16 = 1000;

/// For each of up to eight keys, lowest first, the place of the note that it goes on from, of up to
/// eight notes, lowest first; `None` begins afresh. No two pairs cross.
pub fn matching(keys: &[u8], notes: &[u8]) -> [Option<usize>; VOICES_MAX] {
    let (keys, notes) =
        (&keys[..keys.len().min(VOICES_MAX)], &notes[..notes.len().min(VOICES_MAX)]);
    let key_count = keys.len();
    // The least cost of the first keys with the first notes.
    let mut costs = [[0_u16; VOICES_MAX + 1]; VOICES_MAX + 1];
    for (key, _) in keys.iter().enumerate() {
        costs[key + 1][0] = costs[key][0] + FRESH;
        for (note, _) in notes.iter().enumerate() {
            let (skipped, fresh) = (costs[key + 1][note], costs[key][note + 1] + FRESH);
            let joined = costs[key][note].saturating_add(cost(keys[key], notes[note]));
            costs[key + 1][note + 1] = skipped.min(fresh).min(joined);
        }
    }
    let mut matched = [None; VOICES_MAX];
    let (mut key, mut note) = (key_count, notes.len());
    while key > 0 && note > 0 {
        let own = costs[key][note];
        if own == costs[key][note - 1] {
            note -= 1;
        } else if own == costs[key - 1][note] + FRESH {
            key -= 1;
        } else {
            (key, note) = (key - 1, note - 1);
            matched[key] = Some(note);
        }
    }
    matched
}

/// The interval; too much to be worth it beyond a hand's reach.
fn cost(key: u8, note: u8) -> u16 {
    match key.abs_diff(note) {
        near @ ..=REACH_SEMITONES => u16::from(near),
        _ => u16::MAX,
    }
}

#[cfg(test)]
mod tests {
    use super::{FRESH, REACH_SEMITONES, VOICES_MAX, matching};

    #[track_caller]
    fn check(keys: &[u8], notes: &[u8], expected: &[Option<usize>]) {
        assert_eq!(&matching(keys, notes)[..keys.len()], expected, "{keys:?} from {notes:?}");
    }

    #[test]
    fn chords_go_on_as_they_lie() {
        check(&[], &[60], &[]);
        check(&[60], &[], &[None]);
        check(&[62], &[60, 67], &[Some(0)]);
        check(&[66], &[60, 67], &[Some(1)]);
        check(&[72], &[60], &[Some(0)]);
        check(&[73], &[60], &[None]);
        // The lower part goes where the upper one was.
        check(&[60, 67], &[55, 60], &[Some(0), Some(1)]);
        check(&[48, 55, 64, 72], &[50, 57, 65, 71], &[Some(0), Some(1), Some(2), Some(3)]);
        // The tenor stays.
        check(&[49, 66, 71], &[50, 57, 65, 72], &[Some(0), Some(2), Some(3)]);
        // One comes in: the furthest begins afresh.
        check(&[60, 64, 69], &[62, 69], &[Some(0), None, Some(1)]);
    }

    /// Every way of pairing without crossing, tried out.
    fn least(keys: &[u8], notes: &[u8]) -> u16 {
        let Some((key, keys)) = keys.split_first() else { return 0 };
        let joined = notes.iter().enumerate().filter_map(|(place, note)| {
            let near = key.abs_diff(*note);
            (near <= REACH_SEMITONES).then(|| u16::from(near) + least(keys, &notes[place + 1..]))
        });
        joined.chain([FRESH + least(keys, notes)]).min().unwrap_or(0)
    }

    #[test]
    fn no_other_way_is_nearer() {
        let mut state = 7_u64;
        let mut draw = |below: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (state >> 33) % below
        };
        for _ in 0..2000 {
            let mut some = || {
                let mut keys = [0_u8; 6];
                keys.iter_mut().for_each(|key| *key = 50 + draw(30) as u8);
                keys.sort_unstable();
                (keys, draw(7) as usize)
            };
            let ((keys, key_count), (notes, note_count)) = (some(), some());
            let (keys, notes) = (&keys[..key_count], &notes[..note_count]);
            let matched = matching(keys, notes);
            let mut last = None;
            let each = keys.iter().zip(matched).map(|(key, place)| {
                let Some(place) = place else { return FRESH };
                assert!(last.is_none_or(|last| last < place), "{keys:?} {notes:?}");
                last = Some(place);
                u16::from(key.abs_diff(notes[place]))
            });
            assert_eq!(each.sum::<u16>(), least(keys, notes), "{keys:?} {notes:?}");
        }
        assert_eq!(matching(&[60; 9], &[60; 9]), core::array::from_fn::<_, VOICES_MAX, _>(Some));
    }
}
