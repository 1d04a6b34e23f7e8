//! Several lines of one section, each from its own side.

use polso_engine::{Input, Message};

use crate::band::{Band, Sound};
use crate::rehearsal::patch;
use crate::room::{RATE_HZ, Score};
use crate::spectrum::{level_db, power_db};

fn on(channel: u8, key: u8) -> Input {
    Input::Midi(Message::NoteOn { channel, key, velocity: 64 })
}

#[test]
fn two_lines_of_a_section_sound_from_two_sides() {
    let score = Score::new().wheel(0.0, 90).at(0.1, on(0, 69)).at(0.1, on(1, 76));
    let mut still = patch("violin", "perform");
    still.vibrato.width_scale = 0.0;
    let sides = Band::new(&still, 2, Sound::bare("violin")).play(&score, 1.5);
    let parts = sides.map(|side| side[(0.8 * RATE_HZ) as usize..(1.4 * RATE_HZ) as usize].to_vec());
    let lean = |hz: f64| level_db(&parts[0], RATE_HZ, hz) - level_db(&parts[1], RATE_HZ, hz);
    assert!(lean(440.0) > 6.0, "the first leans left by {}", lean(440.0));
    assert!(lean(659.255) < -6.0, "the second leans right by {}", lean(659.255));
}

#[test]
fn one_line_stands_in_the_middle() {
    let score = Score::new().wheel(0.0, 90).note(0.1, 1.0, 71);
    let [left, right] =
        Band::new(&patch("violin", "perform"), 1, Sound::bare("violin")).play(&score, 1.0);
    assert_eq!(left, right);
    assert!(power_db(&left) > -60.0);
}

/// The room rings after the note for most of a second, not the same to both sides, and it is softer
/// than the line.
#[test]
fn the_room_is_short_and_soft() {
    let score = Score::new().wheel(0.0, 100).note(0.1, 0.9, 71);
    let [dry, _] =
        Band::new(&patch("violin", "perform"), 1, Sound::bare("violin")).play(&score, 3.0);
    let wet = Sound { has_room: true, ..Sound::bare("violin") };
    let [left, right] = Band::new(&patch("violin", "perform"), 1, wet).play(&score, 3.0);
    let room: Vec<f64> = left.iter().zip(&dry).map(|(wet, dry)| wet - dry).collect();
    let part = |samples: &[f64], from_s: f64, to_s: f64| {
        power_db(&samples[(from_s * RATE_HZ) as usize..(to_s * RATE_HZ) as usize])
    };
    let beside = part(&room, 0.5, 0.9) - part(&dry, 0.5, 0.9);
    assert!((-16.0..-4.0).contains(&beside), "{beside} dB beside the line");
    let fallen = part(&left, 1.5, 1.6) - part(&left, 2.0, 2.1);
    assert!((25.0..50.0).contains(&fallen), "{fallen} dB in half a second");
    assert_ne!(left, right);
}
