//! A hand for tunes that were written without one: swells, steps, flutter and rests.

use super::smf::{Event, File};

/// A hash of a name and a number (FNV-1a): the same chance for the same tune, every time.
pub fn hash(name: &str, number: u64) -> u64 {
    let bytes = name.bytes().chain(number.to_le_bytes());
    bytes.fold(0xCBF2_9CE4_8422_2325, |sum, byte| {
        (sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3)
    })
}

/// Chance that starts from a hash (Marsaglia's xorshift, 2003).
pub struct Chance(u64);

impl Chance {
    pub fn new(name: &str, number: u64) -> Chance {
        Chance(hash(name, number) | 1)
    }

    /// Evenly spread, 0..1.
    pub fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// Controller values of a made-up hand from 0 to `end_s`: seconds and 0..=127. It reaches both
/// rails, jumps, rests with one step of flutter and is looked at every 8 to 12 ms.
pub fn hand(end_s: f64, chance: &mut Chance) -> Vec<(f64, u8)> {
    let mut values: Vec<(f64, u8)> = Vec::new();
    let (mut time_s, mut from) = (chance.between(0.0, 0.5), 0.0);
    while time_s < end_s {
        let length_s = chance.between(0.2, 3.0);
        let kind = chance.next();
        let to = match chance.next() {
            place if place < 0.15 => 0.0,
            place if place > 0.85 => 1.0,
            place => place,
        };
        let begin_s = time_s;
        while time_s < begin_s + length_s && time_s < end_s {
            let u = (time_s - begin_s) / length_s;
            let travel = match kind {
                // A swell, a step, a quick flick there and back, a rest.
                kind if kind < 0.5 => from + (to - from) * u * u * (3.0 - 2.0 * u),
                kind if kind < 0.65 => to,
                kind if kind < 0.75 => from + (to - from) * (1.0 - (2.0 * u - 1.0).abs()),
                _ => from,
            };
            let flutter = if chance.next() < 0.1 { 1.0 } else { 0.0 };
            let value = (travel * 127.0 + flutter).clamp(0.0, 127.0).round() as u8;
            if values.last().is_none_or(|(_, last)| *last != value) {
                values.push((time_s, value));
            }
            time_s += chance.between(0.008, 0.012);
        }
        if kind < 0.65 {
            from = to;
        }
    }
    values
}

/// The tune as somebody plays it: the hand's values as `controller` in the tune's track, and
/// some of its notes slurred, each held until shortly after the next has begun.
pub fn played(
    tune: &File,
    (track, channel, controller): (usize, u8, u8),
    values: &[(f64, u8)],
    chance: &mut Chance,
) -> File {
    let mut played = tune.clone();
    let tempo = tune.tempo_map();
    let events = &mut played.tracks[track];
    slur(events, chance, tune.ppq);
    let end = events.pop().expect("a track ends");
    for (time_s, value) in values {
        events.push(Event::new(tempo.tick(*time_s), &[0xB0 | channel, controller, *value]));
    }
    events.sort_by_key(|event| event.tick);
    let last = events.last().map_or(0, |event| event.tick);
    events.push(Event { tick: end.tick.max(last), ..end });
    played
}

/// Holds about half of the notes until a little after the next note's beginning.
fn slur(events: &mut [Event], chance: &mut Chance, ppq: u16) {
    let strikes: Vec<(u64, u8)> =
        events.iter().filter_map(|event| Some((event.tick, event.strike()?))).collect();
    let mut slurring = false;
    for event in events {
        let Some(key) = event.release() else { continue };
        if chance.next() < 0.3 {
            slurring = !slurring;
        }
        let next = strikes.iter().find(|(tick, _)| *tick >= event.tick);
        if let Some((tick, next_key)) = next.filter(|_| slurring) {
            let is_near = tick - event.tick < u64::from(ppq) / 8;
            if is_near && *next_key != key {
                event.tick = tick + (chance.between(0.0, 0.06) * f64::from(ppq)) as u64;
            }
        }
    }
}
