//! Chords and graces told apart from the take alone, by a walk too simple to be wrong.

use polso::profile::Instrument;

use super::room::Struck;

/// How a note comes to the one before it.
#[derive(Clone, Copy, PartialEq)]
pub enum Comes {
    /// By itself, slurred or not.
    Alone,
    /// In a chord with it.
    InChord,
    /// From it as from a grace.
    AfterGrace,
}

/// How each note of the take comes, and the chord that it then belongs to; from the take alone.
pub fn comings(instrument: &Instrument, notes: &[Struck]) -> Vec<(Comes, Vec<u8>)> {
    let mut comings: Vec<(Comes, Vec<u8>)> = Vec::new();
    let (mut struck, mut chord): (Vec<u8>, Vec<u8>) = (Vec::new(), Vec::new());
    for (place, note) in notes.iter().enumerate() {
        let before = place.checked_sub(1).map(|it| notes[it]);
        let soon = before.filter(|it| note.1 - it.1 <= 35);
        let is_far = struck.iter().all(|key| key.abs_diff(note.0) >= 3);
        let has_room = chord.len() < usize::from(instrument.voice_count);
        let comes = match soon {
            Some(_) if is_far && has_room => Comes::InChord,
            Some(last) if last.2 > note.1 => Comes::AfterGrace,
            _ => Comes::Alone,
        };
        match (comes, soon) {
            (Comes::AfterGrace, Some(last)) => chord.retain(|key| *key != last.0),
            (Comes::Alone, _) => (struck, chord) = (Vec::new(), Vec::new()),
            _ => {}
        }
        struck.push(note.0);
        chord.push(note.0);
        comings.push((comes, chord.clone()));
    }
    comings
}

/// The first note of the chord to which a note belongs.
pub fn first_of(comings: &[(Comes, Vec<u8>)], place: usize) -> usize {
    (0..=place).rev().find(|at| comings[*at].0 == Comes::Alone).expect("a first")
}
