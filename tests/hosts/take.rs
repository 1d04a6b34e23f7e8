//! A short take: a ramp on the wheel under notes that overlap, repeat and end long.

use polso::engine::Message;

use super::room::{RATE_HZ, Said};

/// Frames of a time.
pub fn frame(seconds: f64) -> u64 {
    (seconds * RATE_HZ).round() as u64
}

/// A note-on of the host's note `number`.
pub fn on(seconds: f64, key: u8, number: i32) -> (u64, Said) {
    let message = Message::NoteOn { channel: 0, key, velocity: 90 };
    (frame(seconds), Said::Message(message, number))
}

/// Its off.
pub fn off(seconds: f64, key: u8, number: i32) -> (u64, Said) {
    let message = Message::NoteOff { channel: 0, key, velocity: 64 };
    (frame(seconds), Said::Message(message, number))
}

/// The wheel.
pub fn wheel(seconds: f64, value: u8) -> (u64, Said) {
    let message = Message::Controller { channel: 0, number: 1, value };
    (frame(seconds), Said::Message(message, -1))
}

/// Six seconds: a swell and its fall, a slur, a repeated key, a run and a long end.
pub fn take() -> Vec<(u64, Said)> {
    let mut events = vec![
        on(0.25, 69, 1),
        on(1.0, 74, 2),
        off(1.05, 69, 1),
        off(1.9, 74, 2),
        on(2.0, 74, 3),
        off(2.4, 74, 3),
        on(2.4, 71, 4),
        off(2.52, 71, 4),
        on(2.5, 72, 5),
        off(2.62, 72, 5),
        on(2.6, 74, 6),
        off(2.9, 74, 6),
        on(3.2, 67, 7),
        off(5.0, 67, 7),
    ];
    for step in 0..=100_u8 {
        events.push(wheel(0.1 + 0.02 * f64::from(step), 20 + step));
        events.push(wheel(3.2 + 0.015 * f64::from(step), 120 - step));
    }
    events.sort_by_key(|(frame, _)| *frame);
    events
}

/// Where the take and its tail are over.
pub const END: u64 = 8 * 48_000;
