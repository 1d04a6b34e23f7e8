//! Which event of one file is which of the other: the first one left of its kind, near enough in time.

use std::collections::HashMap;
use std::hash::Hash;

use super::difference::StreamContext;
use super::timeline::ScoreTime;

/// Events that wait for a partner: the first of each kind, and after each the next of its kind.
struct Unpaired<K> {
    first: HashMap<K, usize>,
    next: Vec<Option<usize>>,
}

impl<K: Copy + Eq + Hash> Unpaired<K> {
    fn new(kinds: impl DoubleEndedIterator<Item = K> + ExactSizeIterator) -> Unpaired<K> {
        let mut waiting = Unpaired { first: HashMap::new(), next: vec![None; kinds.len()] };
        for (place, kind) in kinds.enumerate().rev() {
            waiting.next[place] = waiting.first.insert(kind, place);
        }
        waiting
    }

    /// The first of a kind from a place on; what stands before it waits no longer.
    fn from(&mut self, kind: K, start: usize) -> Option<usize> {
        let mut first = self.first.get(&kind).copied();
        while let Some(place) = first.filter(|place| *place < start) {
            first = self.next[place];
        }
        self.keep(kind, first)
    }

    /// Takes away the first of a kind.
    fn take(&mut self, kind: K, place: usize) {
        self.keep(kind, self.next[place]);
    }

    fn keep(&mut self, kind: K, first: Option<usize>) -> Option<usize> {
        match first {
            Some(place) => self.first.insert(kind, place),
            None => self.first.remove(&kind),
        };
        first
    }
}

/// The partner of each event of one file among those of the other: the first one left of its kind,
/// at the same moment or within the time that is allowed. Events are given by moment, in order, and
/// kind.
pub fn pair<K: Copy + Eq + Hash>(
    stream: &StreamContext<'_>,
    one: &[(ScoreTime, K)],
    other: &[(ScoreTime, K)],
) -> Vec<Option<usize>> {
    let ms = stream.within.ms;
    let is_early = |own: ScoreTime, other: ScoreTime| match ms > 0.0 {
        true => stream.timeline.ms(other) < stream.timeline.ms(own) - ms,
        false => other < own,
    };
    let is_late = |own: ScoreTime, other: ScoreTime| match ms > 0.0 {
        true => stream.timeline.ms(other) > stream.timeline.ms(own) + ms,
        false => other > own,
    };
    let mut waiting = Unpaired::new(other.iter().map(|(_, kind)| *kind));
    let mut start = 0;
    let partner = |&(own, kind): &(ScoreTime, K)| {
        while other.get(start).is_some_and(|(time, _)| is_early(own, *time)) {
            start += 1;
        }
        let place = waiting.from(kind, start)?;
        if is_late(own, other[place].0) {
            return None;
        }
        waiting.take(kind, place);
        Some(place)
    };
    one.iter().map(partner).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::offline::contrast::streams::{StreamKey, StreamKind};
    use crate::offline::contrast::timeline::Timeline;
    use crate::offline::contrast::tolerance::Tolerance;
    use crate::offline::midi::{Division, File, Track};

    /// The same by looking through all of the other file for each event.
    fn naive(
        stream: &StreamContext<'_>,
        one: &[(ScoreTime, u8)],
        other: &[(ScoreTime, u8)],
    ) -> Vec<Option<usize>> {
        let (ms, mut is_taken) = (stream.within.ms, vec![false; other.len()]);
        let mut partner = |&(own, kind): &(ScoreTime, u8)| {
            let is_near = |time: ScoreTime| match ms > 0.0 {
                true => (stream.timeline.ms(time) - stream.timeline.ms(own)).abs() <= ms,
                false => time == own,
            };
            let fits = |place: &usize| other[*place].1 == kind && is_near(other[*place].0);
            let found = (0..other.len()).find(|place| !is_taken[*place] && fits(place))?;
            is_taken[found] = true;
            Some(found)
        };
        one.iter().map(&mut partner).collect()
    }

    proptest! {
        #[test]
        fn events_find_the_partners_that_a_search_finds(
            mut one in prop::collection::vec((0_u128..60, 0_u8..3), 0..40),
            mut other in prop::collection::vec((0_u128..60, 0_u8..3), 0..40),
            ms in prop::sample::select(vec![0.0, 2.5, 9.0, 1000.0]),
        ) {
            one.sort_by_key(|event| event.0);
            other.sort_by_key(|event| event.0);
            let file = File {
                format: 0,
                division: Division::Quarter(480),
                header_rest: Vec::new(),
                tracks: vec![Track::default()],
                foreign: Vec::new(),
                tail: Vec::new(),
            };
            let key = StreamKey { track: None, channel: None, kind: StreamKind::System };
            let timeline = Timeline::of(&file, &file).unwrap();
            let within = Tolerance { ms, ..Tolerance::default() };
            let stream = StreamContext { key: &key, timeline: &timeline, meter: None, within: &within };
            prop_assert_eq!(pair(&stream, &one, &other), naive(&stream, &one, &other));
        }
    }
}
