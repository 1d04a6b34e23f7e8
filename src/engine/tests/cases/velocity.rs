//! How hard a joined note goes out: as loud as the line, as it was struck, or as fast as it joins.

use crate::music::{bare, strike};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::{JoinedVelocity, Patch};
use polso_engine::{Message, Origin};

/// The velocities of three notes, the first fresh, the others slurred after `ioi_s`, all struck as
/// hard as `struck` says, at half gesture.
fn check(sentence: &str, patch: &Patch, ioi_s: f64, struck: u8, expected: [u8; 3]) {
    let mut score = Score::new().gesture(0.0, 0.5);
    for (place, key) in [72, 74, 76].into_iter().enumerate() {
        let on_s = 1.0 + ioi_s * place as f64;
        score = score.message(on_s, strike(key, struck)).off(on_s + ioi_s + 0.01, key);
    }
    let (_, sent) = watch(patch, &score, 1.1 + 2.0 * ioi_s);
    let velocity = |sent: &crate::rehearsal::Sent| match (sent.origin, sent.message) {
        (Origin::Note(_), Message::NoteOn { velocity, .. }) => Some(velocity),
        _ => None,
    };
    let sent: Vec<u8> = sent.iter().filter_map(velocity).collect();
    assert_eq!(sent, expected, "{sentence}");
}

fn violin(joined_velocity: JoinedVelocity) -> Patch {
    let mut patch = bare("violin", "perform");
    patch.target.joined_velocity = joined_velocity;
    patch
}

#[test]
fn a_joined_note_is_as_loud_as_a_fresh_one() {
    // D = 0.06 + 0.94·0.5 = 0.53: 0.5·v + 0.5·(1 + 126·0.53) = 0.5·v + 33.89.
    let blended = violin(JoinedVelocity::Blended);
    check("as hard as can be", &blended, 1.0, 127, [97; 3]); // 97.39
    check("middling", &blended, 1.0, 72, [70; 3]); // 69.89
    check("in a run", &blended, 0.1, 72, [70; 3]);
    check("as soft as can be", &blended, 1.0, 1, [34; 3]); // 34.39
    // The share decides, and halves go up: 0.5·72 + 0.5·(1 + 126·0.5) = 68.
    let mut patch = blended;
    (patch.dynamics.floor, patch.dynamics.ceiling) = (0.0, 1.0);
    check("half a level", &patch, 1.0, 72, [68; 3]);
    check("half a step", &patch, 1.0, 71, [68; 3]); // 67.5
    patch.dynamics.velocity_share = 0.0;
    check("no share", &patch, 1.0, 72, [72; 3]);
    patch.dynamics.velocity_share = 1.0;
    check("nothing but the level", &patch, 1.0, 72, [64; 3]);
}

#[test]
fn a_joined_note_may_go_out_as_it_was_struck() {
    check("played", &violin(JoinedVelocity::Played), 1.0, 72, [70, 72, 72]);
    check("played", &violin(JoinedVelocity::Played), 1.0, 127, [97, 127, 127]);
}

#[test]
fn a_joined_note_may_say_how_fast_it_joins() {
    // lerp(20, 120, clamp((0.60 − ioi)/0.48, 0, 1)).
    let speed = violin(JoinedVelocity::Speed { slow: 20, fast: 120 });
    check("slow", &speed, 1.0, 72, [70, 20, 20]);
    check("half way", &speed, 0.36, 72, [70, 70, 70]);
    check("nearly fast", &speed, 0.24, 72, [70, 95, 95]);
    check("fast", &speed, 0.1, 72, [70, 120, 120]);
}

#[test]
fn the_level_is_the_one_of_the_note_on() {
    // The hand goes from 0.5 to 1 between the first note and the second, D = 1:
    // 0.5·72 + 0.5·127 = 99.5.
    let score = Score::new().gesture(0.0, 0.5).message(1.0, strike(72, 72)).gesture(1.2, 1.0);
    let score = score.message(2.0, strike(74, 72));
    let (_, sent) = watch(&violin(JoinedVelocity::Blended), &score, 2.1);
    let ons = sent.iter().filter_map(|sent| match sent.message {
        Message::NoteOn { velocity, .. } => Some(velocity),
        _ => None,
    });
    assert_eq!(ons.collect::<Vec<_>>(), [70, 100]);
}
