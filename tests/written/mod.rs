//! Takes written in milliseconds, for those who read files.
#![allow(dead_code, reason = "each test file reads its own part")]

/// Ticks of a quarter note: at 120 a minute a tick is a millisecond.
pub const PPQ: u16 = 500;

/// A note: key, on and off in milliseconds.
pub type Struck = (u8, u64, u64);

/// A take of format 0 on channel 1; the wheel is pairs of milliseconds and values.
pub fn take(notes: &[Struck], wheel: &[(u64, u8)]) -> Vec<u8> {
    let mut events: Vec<(u64, u8, [u8; 3])> = Vec::new();
    for &(key, on, off) in notes {
        events.push((on, 2, [0x90, key, 64]));
        events.push((off, 0, [0x80, key, 64]));
    }
    events.extend(wheel.iter().map(|&(at, value)| (at, 1, [0xB0, 1, value])));
    events.sort_by_key(|(at, rank, _)| (*at, *rank));
    let mut track = Vec::new();
    let mut now = 0;
    for (at, _, bytes) in events {
        polso::offline::midi::quantity::write(at - now, &mut track);
        track.extend(bytes);
        now = at;
    }
    track.extend([0, 0xFF, 0x2F, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01".to_vec();
    file.extend(PPQ.to_be_bytes());
    file.extend(b"MTrk");
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}
