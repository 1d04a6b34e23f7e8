//! Which of a project's slots the window's two slots stand for.

use super::state::State;
use crate::editor::feed::Texts;

/// Where a slot of the window stands in the project, counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SlotPlace {
    /// The instrument's slot, which is the hand's too.
    pub instrument: usize,
    /// The target's slot.
    pub target: usize,
}

impl SlotPlace {
    /// What the host's two controls choose, which count from 1.
    pub fn chosen(instrument: i32, target: i32) -> SlotPlace {
        let place = |value: i32| usize::try_from(value - 1).unwrap_or(0);
        SlotPlace { instrument: place(instrument), target: place(target) }
    }
}

/// The window's two slots. Any thread but the audio thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WindowSlots {
    /// Both places; they share neither instrument nor target.
    pub places: [SlotPlace; 2],
    /// Which of the two plays, 0 or 1.
    pub playing: usize,
}

impl WindowSlots {
    /// What plays, and beside it the first slots that it does not use. An empty slot is a copy of
    /// what plays until something is changed.
    pub fn of(state: &State, chosen: SlotPlace) -> WindowSlots {
        let is_there =
            chosen.instrument < state.instruments().len() && chosen.target < state.targets().len();
        let chosen = if is_there { chosen } else { SlotPlace { instrument: 0, target: 0 } };
        let beside = |place: usize| usize::from(place == 0);
        let other =
            SlotPlace { instrument: beside(chosen.instrument), target: beside(chosen.target) };
        if chosen.instrument < other.instrument {
            WindowSlots { places: [chosen, other], playing: 0 }
        } else {
            WindowSlots { places: [other, chosen], playing: 1 }
        }
    }

    /// The place that plays.
    pub fn present(&self) -> SlotPlace {
        self.places[self.playing]
    }

    /// The texts of both slots.
    pub fn texts(&self, state: &State) -> [Texts; 2] {
        let (instruments, targets, hands) = (state.instruments(), state.targets(), state.hands());
        let present = self.present();
        let text = |list: &[&str], place: usize, present: usize| {
            let found = list.get(place).or(list.get(present)).or(list.first());
            found.copied().unwrap_or_default().to_owned()
        };
        self.places.map(|SlotPlace { instrument, target }| Texts {
            instrument: text(&instruments, instrument, present.instrument),
            target: text(&targets, target, present.target),
            hand: text(&hands, hand_place(instrument, instruments.len(), present), 0),
        })
    }

    /// Puts the texts of both slots into their places; the other places keep what they have.
    /// Nothing has changed in a state whose texts have not.
    pub fn write(&self, state: &mut State, slots: &[Texts; 2]) {
        let owned = |list: Vec<&str>| list.into_iter().map(str::to_owned).collect::<Vec<_>>();
        let mut instruments = owned(state.instruments());
        let mut targets = owned(state.targets());
        let mut hands = owned(state.hands());
        let count = instruments.len();
        let first = hands.first().cloned().unwrap_or_default();
        hands.resize(count.max(hands.len()), first);
        let before = hands.clone();
        let present = &slots[self.playing];
        for (place, (SlotPlace { instrument, target }, texts)) in
            self.places.iter().zip(slots).enumerate()
        {
            let plays = place == self.playing;
            let is_copy = (&texts.instrument, &texts.hand) == (&present.instrument, &present.hand);
            // A mere copy of what plays leaves its place empty.
            if plays || !is_copy || *instrument < count {
                put(&mut instruments, *instrument, &texts.instrument);
                put(&mut hands, *instrument, &texts.hand);
            }
            if plays || texts.target != present.target || *target < state.targets().len() {
                put(&mut targets, *target, &texts.target);
            }
        }
        if hands != before {
            if hands.iter().all(|hand| *hand == hands[0]) {
                hands.truncate(1);
            }
            state.set_hands(&lent(&hands));
        }
        state.set_instruments(&lent(&instruments));
        state.set_targets(&lent(&targets));
    }
}

fn lent(list: &[String]) -> Vec<&str> {
    list.iter().map(String::as_str).collect()
}

/// The hand of an empty instrument's slot is that of the one that it is a copy of.
fn hand_place(instrument: usize, count: usize, present: SlotPlace) -> usize {
    if instrument < count { instrument } else { present.instrument }
}

/// A place is among the list's, or the one behind its last: see [`WindowSlots::of`].
fn put(list: &mut Vec<String>, place: usize, text: &str) {
    match list.get_mut(place) {
        Some(old) => text.clone_into(old),
        None => list.push(text.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn state(instruments: &[&str], targets: &[&str], hands: &[&str]) -> State {
        let mut state = State::shipped();
        state.set_instruments(instruments);
        state.set_targets(targets);
        state.set_hands(hands);
        state
    }

    fn pair(state: &State, instrument: i32, target: i32) -> WindowSlots {
        WindowSlots::of(state, SlotPlace::chosen(instrument, target))
    }

    fn texts(instrument: &str, target: &str, hand: &str) -> Texts {
        let [instrument, target, hand] = [instrument, target, hand].map(str::to_owned);
        Texts { instrument, target, hand }
    }

    #[test]
    fn a_lone_slot_has_its_copy_beside_it_and_takes_no_other_place() {
        let mut state = state(&["a"], &["x"], &["h"]);
        let pair = pair(&state, 1, 1);
        let both = pair.texts(&state);
        assert_eq!(both, [texts("a", "x", "h"), texts("a", "x", "h")]);
        let before = state.clone();
        pair.write(&mut state, &both);
        assert_eq!(state, before, "what is not changed is no change");
        let mut turned = state.clone();
        WindowSlots { playing: 1, ..pair }.write(&mut turned, &both);
        assert_eq!((turned.instruments(), turned.targets()), (vec!["a", "a"], vec!["x", "x"]));
        pair.write(&mut state, &[texts("a2", "x", "h"), texts("a", "x2", "k")]);
        assert_eq!(state.instruments(), ["a2", "a"]);
        assert_eq!(state.targets(), ["x", "x2"]);
        assert_eq!(state.hands(), ["h", "k"]);
    }

    #[test]
    fn what_the_host_has_chosen_is_shown_and_what_it_has_not_is_kept() {
        let mut state = state(&["a", "b", "c"], &["x", "y"], &["h", "i"]);
        let pair = pair(&state, 3, 1);
        assert_eq!((pair.playing, pair.present()), (1, SlotPlace { instrument: 2, target: 0 }));
        assert_eq!(pair.texts(&state), [texts("a", "y", "h"), texts("c", "x", "h")]);
        pair.write(&mut state, &[texts("a", "y", "h"), texts("c2", "x", "j")]);
        assert_eq!(state.instruments(), ["a", "b", "c2"]);
        assert_eq!(state.targets(), ["x", "y"]);
        assert_eq!(state.hands(), ["h", "i", "j"]);
    }

    #[test]
    fn an_empty_slot_shows_what_plays_in_its_stead() {
        let state = state(&["a", "b"], &["x"], &["h"]);
        assert_eq!(pair(&state, 4, 1).present(), SlotPlace { instrument: 0, target: 0 });
        assert_eq!(pair(&state, 2, 3).present(), SlotPlace { instrument: 0, target: 0 });
        let second = pair(&state, 2, 1);
        assert_eq!(second.texts(&state), [texts("a", "x", "h"), texts("b", "x", "h")]);
    }
}
