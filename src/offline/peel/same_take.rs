//! Whether a take is the one that a file was shaped from, where the file itself cannot say so.
//!
//! Programs that keep no events of ours change ticks, channels and tracks. What they keep is what
//! sounds, so keys and onsets decide.

use std::collections::{BTreeMap, HashMap, HashSet, VecDeque};

use crate::engine::Message;
use crate::offline::destination::Destination;
use crate::offline::midi::{File, TempoMap};
use crate::profile::pitch::key_name;

/// Two events are one if they lie so far apart, milliseconds: ticks that another program counts
/// by 480 or 220 to a quarter note round an onset by 1.1 ms at most at 120 a minute.
const APART_MS_MAX: f64 = 2.0;
/// A keyswitch is released 10 ms after its note; ticks may round it up.
const KEYSWITCH_MS_MAX: f64 = 15.0;

/// Two files on the clock of the take, at one common factor of their ticks.
struct CommonClock {
    take: TempoMap,
    shaped: TempoMap,
}

impl CommonClock {
    fn of(shaped: &File, take: &File) -> CommonClock {
        CommonClock { take: TempoMap::of(take), shaped: TempoMap::of(shaped) }
    }

    /// How long after a tick of the take a beat comes, milliseconds.
    fn after_ms(&self, beat: f64, take_tick: u64) -> f64 {
        (beat - self.take.beat_at(take_tick)) * 60_000.0 / self.take.tempo_bpm_at(take_tick)
    }

    fn is_at(&self, beat: f64, take_tick: u64) -> bool {
        self.after_ms(beat, take_tick).abs() <= APART_MS_MAX
    }

    /// Whether one of the take's events, in order of their ticks, comes at a beat of the file.
    fn has_at<T>(
        &self,
        beat: f64,
        all: &[T],
        tick: impl Fn(&T) -> u64,
        is_meant: impl Fn(&T) -> bool,
    ) -> bool {
        let from = all.partition_point(|one| self.after_ms(beat, tick(one)) > APART_MS_MAX);
        let near = all[from..].iter().take_while(|one| self.is_at(beat, tick(one)));
        near.into_iter().any(is_meant)
    }
}

/// One strike of a key, in any track and channel.
#[derive(Clone, Copy)]
struct KeyStrike {
    tick: u64,
    /// When it is lifted; the file's end if it never is.
    lifted_tick: u64,
}

/// The strikes of each key, in order.
fn strikes(file: &File) -> BTreeMap<u8, Vec<KeyStrike>> {
    let mut strikes: BTreeMap<u8, Vec<KeyStrike>> = BTreeMap::new();
    for track in &file.tracks {
        let mut open: HashMap<(u8, u8), VecDeque<usize>> = HashMap::new();
        for event in &track.events {
            match event.message() {
                Some(Message::NoteOn { channel, key, .. }) => {
                    let all = strikes.entry(key).or_default();
                    open.entry((channel, key)).or_default().push_back(all.len());
                    all.push(KeyStrike { tick: event.tick, lifted_tick: track.end_tick });
                }
                Some(Message::NoteOff { channel, key, .. }) => {
                    let place = open.get_mut(&(channel, key)).and_then(VecDeque::pop_front);
                    let strike = place.and_then(|place| strikes.get_mut(&key)?.get_mut(place));
                    strike.into_iter().for_each(|strike| strike.lifted_tick = event.tick);
                }
                _ => {}
            }
        }
    }
    strikes.values_mut().for_each(|all| all.sort_by_key(|strike| strike.tick));
    strikes
}

/// Where the notes of a shaped file and of a take do not agree; `None` if every note's key and
/// order is the same and every onset the same within 2 ms. Notes that shaping adds are left out:
/// keys struck again while they are down, and keyswitches. `is_known` says that the take is known to
/// be the one, so that keys which chose articulations may be missing in the file.
pub fn disagreement(shaped: &File, take: &File, is_known: bool) -> Option<String> {
    let clock = CommonClock::of(shaped, take);
    let (found, own) = (strikes(shaped), strikes(take));
    if own.is_empty() {
        return Some("it has no notes".to_owned());
    }
    let all = || own.iter().flat_map(|(key, strikes)| strikes.iter().map(|it| (*key, *it)));
    let mut onsets: Vec<u64> = all().map(|(_, strike)| strike.tick).collect();
    onsets.sort_unstable();
    onsets.dedup();
    let mut lifts: Vec<(u64, u8)> = all().map(|(key, strike)| (strike.lifted_tick, key)).collect();
    lifts.sort_unstable();
    lifts.dedup();
    for (key, own) in &own {
        match found.get(key) {
            Some(found) => {
                let sentence = key_disagreement(&clock, *key, found, own, &lifts);
                if sentence.is_some() {
                    return sentence;
                }
            }
            None if is_known => {}
            None => return Some(missing(&clock, *key, own[0].tick)),
        }
    }
    let others = found.iter().filter(|(key, _)| !own.contains_key(key));
    for (key, strikes) in others {
        let foreign = strikes.iter().find(|strike| !is_keyswitch(&clock, strike, &onsets));
        if let Some(strike) = foreign {
            return Some(unknown(&clock, *key, strike.tick));
        }
    }
    None
}

fn key_disagreement(
    clock: &CommonClock,
    key: u8,
    found: &[KeyStrike],
    own: &[KeyStrike],
    lifts: &[(u64, u8)],
) -> Option<String> {
    let mut next = 0;
    // When the take's strikes so far are all lifted.
    let mut lifted_tick = 0;
    for strike in found {
        let beat = clock.shaped.beat_at(strike.tick);
        match own.get(next) {
            Some(own) if clock.is_at(beat, own.tick) => {
                lifted_tick = lifted_tick.max(own.lifted_tick);
                next += 1;
            }
            Some(own) if clock.after_ms(beat, own.tick) > 0.0 => {
                return Some(missing(clock, key, own.tick));
            }
            // Struck again while it is down, when the note over it has ended.
            _ if next > 0
                && clock.after_ms(beat, lifted_tick) < -APART_MS_MAX
                && clock.has_at(beat, lifts, |lift| lift.0, |lift| lift.1 != key) => {}
            _ => return Some(unknown(clock, key, strike.tick)),
        }
    }
    own.get(next).map(|own| missing(clock, key, own.tick))
}

fn missing(clock: &CommonClock, key: u8, tick: u64) -> String {
    let (key, time_s) = (key_name(key), clock.take.seconds_at(tick));
    format!("its {key} at {time_s:.2} s is not in the file")
}

fn unknown(clock: &CommonClock, key: u8, tick: u64) -> String {
    let (key, time_s) = (key_name(key), clock.shaped.seconds_at(tick));
    format!("the file has another {key} at {time_s:.2} s")
}

/// Whether a key that the take never strikes only tells the receiver something: at a note's onset,
/// and released at once.
fn is_keyswitch(clock: &CommonClock, strike: &KeyStrike, onsets: &[u64]) -> bool {
    let [beat, lifted] = [strike.tick, strike.lifted_tick].map(|tick| clock.shaped.beat_at(tick));
    let is_short = |tick: &u64| clock.after_ms(lifted, *tick) <= KEYSWITCH_MS_MAX;
    clock.has_at(beat, onsets, |tick| *tick, is_short)
}

/// The address and value of what can move: a controller, pressure, the wheel.
fn moved_value(message: Message) -> Option<(Destination, u16)> {
    let moved = Destination::of(message);
    (!matches!(moved.0, Destination::Key | Destination::Program)).then_some(moved)
}

/// Every lane's values with their ticks, in order.
fn lanes(file: &File) -> BTreeMap<Destination, BTreeMap<u16, Vec<u64>>> {
    let mut lanes: BTreeMap<Destination, BTreeMap<u16, Vec<u64>>> = BTreeMap::new();
    for event in file.tracks.iter().flat_map(|track| &track.events) {
        if let Some((lane, value)) = event.message().and_then(moved_value) {
            lanes.entry(lane).or_default().entry(value).or_default().push(event.tick);
        }
    }
    lanes.values_mut().flat_map(BTreeMap::values_mut).for_each(|ticks| ticks.sort_unstable());
    lanes
}

/// Whether something that moves in the take has been used up: less than half of it is still in the
/// file. Else the file is another version of the take and was not shaped from it. In a take where
/// nothing moves nothing can be used up.
pub fn is_used_up(shaped: &File, take: &File) -> bool {
    let clock = CommonClock::of(shaped, take);
    let found = lanes(shaped);
    let is_there = |lane: &Destination, value: u16, tick: u64| {
        let Some(ticks) = found.get(lane).and_then(|values| values.get(&value)) else {
            return false;
        };
        let beat = clock.take.beat_at(tick);
        let after = ticks.partition_point(|tick| clock.shaped.beat_at(*tick) < beat);
        let near = &ticks[after.saturating_sub(1)..ticks.len().min(after + 1)];
        near.iter().any(|other| clock.is_at(clock.shaped.beat_at(*other), tick))
    };
    let own = lanes(take);
    let mut moving = own.iter().filter(|(_, values)| values.len() > 1).peekable();
    if moving.peek().is_none() {
        return true;
    }
    moving.any(|(lane, values)| {
        let all: usize = values.values().map(Vec::len).sum();
        let each =
            values.iter().flat_map(|(value, ticks)| ticks.iter().map(|tick| (*value, *tick)));
        let left = each.filter(|(value, tick)| is_there(lane, *value, *tick)).count();
        2 * left < all
    })
}

/// Whether two files hold the same events at the same times within 2 ms, in whatever tracks and at
/// whatever resolution: then what was peeled out of a file that another program saved is the take,
/// and no edit of it. A kind of text of which the file has none is one that the program does not keep.
pub fn is_same_music(peeled: &File, take: &File) -> bool {
    let clock = CommonClock::of(peeled, take);
    let (found, own) = (by_bytes(peeled), by_bytes(take));
    let is_same = |found: &[u64], own: &[u64]| {
        let at = |(found, own): (&u64, &u64)| clock.is_at(clock.shaped.beat_at(*found), *own);
        found.len() == own.len() && found.iter().zip(own).all(at)
    };
    let kinds: HashSet<u8> = found.keys().filter_map(|bytes| text_kind(bytes)).collect();
    let own: HashMap<&[u8], Vec<u64>> = own
        .into_iter()
        .filter(|(bytes, _)| text_kind(bytes).is_none_or(|kind| kinds.contains(&kind)))
        .collect();
    found.len() == own.len()
        && own.iter().all(|(bytes, own)| found.get(bytes).is_some_and(|it| is_same(it, own)))
}

/// The kind of a text, title, marker or the like (SMF 1.0 has fifteen kinds for them).
fn text_kind(bytes: &[u8]) -> Option<u8> {
    match *bytes {
        [0xFF, kind @ 0x01..=0x0F, ..] => Some(kind),
        _ => None,
    }
}

/// The ticks of every event, by its bytes, in order.
fn by_bytes(file: &File) -> HashMap<&[u8], Vec<u64>> {
    let mut all: HashMap<&[u8], Vec<u64>> = HashMap::new();
    for event in file.tracks.iter().flat_map(|track| &track.events) {
        all.entry(&event.bytes).or_default().push(event.tick);
    }
    all.values_mut().for_each(|ticks| ticks.sort_unstable());
    all
}
