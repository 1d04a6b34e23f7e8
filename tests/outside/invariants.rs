//! What must be true of every shaped line, whatever was played: each rule finds its breaches.

use std::collections::BTreeSet;

use super::line::{Note, is_struck_again, notes};
use super::smf::{END_OF_TRACK, Event, File};
use approx::{abs_diff_eq, abs_diff_ne};

/// A played take, what came out, and what the receiver expects.
pub struct Case<'a> {
    pub played: &'a File,
    pub shaped: &'a File,
    /// The line's track, counted from 0.
    pub track: usize,
    /// The line's channel, 0..=15.
    pub channel: u8,
    /// The controller that was the gesture.
    pub source: u8,
    /// The instrument's range.
    pub range: (u8, u8),
    /// Keys that can only be played on an open string.
    pub forced_open: &'a [u8],
    pub target: &'a Target,
}

/// What a target file promises, written down a second time for the tests.
pub struct Target {
    pub name: &'static str,
    /// Controllers that carry outputs, with their lowest and highest value.
    pub outputs: &'static [(u8, u8, u8)],
    /// Keyswitches.
    pub keyswitches: &'static [u8],
    /// The bend carries the vibrato; then 8192 steps are this many cents.
    pub bend_cents: Option<f64>,
}

/// How much the rules had to look at. A rule that looked at nothing has shown nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Looked {
    pub notes: usize,
    pub slurs: usize,
    pub keyswitches: usize,
    pub bends: usize,
    pub rests: usize,
    pub open_notes: usize,
    pub messages: usize,
    pub lengthened: usize,
}

impl Looked {
    pub fn add(&mut self, other: &Looked) {
        let Looked { notes, slurs, keyswitches, bends, rests, open_notes, messages, lengthened } =
            other;
        self.notes += notes;
        self.slurs += slurs;
        self.keyswitches += keyswitches;
        self.bends += bends;
        self.rests += rests;
        self.open_notes += open_notes;
        self.messages += messages;
        self.lengthened += lengthened;
    }
}

type Rule = fn(&Case, &mut Looked) -> Vec<String>;

/// The rules by name.
pub const RULES: [(&str, Rule); 9] = [
    ("onsets", onsets),
    ("alternation", alternation),
    ("lengths", lengths),
    ("keyswitches", keyswitches),
    ("bend in rests", bend_in_rests),
    ("open strings", open_strings),
    ("outputs", outputs),
    ("gesture", gesture),
    ("everything else", everything_else),
];

/// Every breach of every rule.
pub fn breaches(case: &Case, looked: &mut Looked) -> Vec<String> {
    let mut all = Vec::new();
    for (name, rule) in RULES {
        all.extend(rule(case, looked).into_iter().map(|sentence| format!("{name}: {sentence}")));
    }
    all
}

impl Case<'_> {
    /// Ticks of the shaped file in one of the played file.
    fn factor(&self) -> u64 {
        u64::from(self.shaped.ppq / self.played.ppq)
    }

    fn is_line(&self, event: &Event) -> bool {
        event.channel_message().is_some_and(|(_, channel)| channel == self.channel)
    }

    /// The shaped track's events of the line's channel.
    fn line(&self) -> impl Iterator<Item = &Event> {
        self.shaped.tracks[self.track].iter().filter(|event| self.is_line(event))
    }

    fn played_notes(&self) -> Vec<Note> {
        notes(self.played, self.track, self.channel)
    }

    /// The notes that came out, without the keyswitches.
    fn shaped_notes(&self) -> Vec<Note> {
        let mut all = notes(self.shaped, self.track, self.channel);
        all.retain(|note| !self.target.keyswitches.contains(&note.key));
        all
    }
}

/// Every note begins where it was played, and no note is lost or invented, unless a join by bend
/// goes back to a key that is still down, where that note ends too; at least 960 ticks
/// to a quarter, by a whole factor.
fn onsets(case: &Case, looked: &mut Looked) -> Vec<String> {
    if case.shaped.ppq < 960 || !case.shaped.ppq.is_multiple_of(case.played.ppq) {
        return vec![format!("{} ticks from {}", case.shaped.ppq, case.played.ppq)];
    }
    let sorted = |notes: Vec<Note>, factor: u64| {
        let mut onsets: Vec<(u64, u8)> =
            notes.iter().map(|note| (note.on * factor, note.key)).collect();
        onsets.sort_unstable();
        onsets
    };
    let taken = case.played_notes();
    let mut own = case.shaped_notes();
    let by_bend = case.target.bend_cents.is_some();
    own.retain(|note| !(by_bend && is_struck_again(note, &taken, case.factor())));
    let (played, shaped) = (sorted(taken, case.factor()), sorted(own, 1));
    looked.notes += played.len();
    if played.len() != shaped.len() {
        return vec![format!("{} notes from {}", shaped.len(), played.len())];
    }
    let pairs = played.iter().zip(&shaped).filter(|(played, shaped)| played != shaped);
    pairs.map(|(played, shaped)| format!("{shaped:?} came out of {played:?}")).collect()
}

/// On and off strictly alternate for each key, and every on gets its off.
fn alternation(case: &Case, _: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    let mut sounding = [false; 128];
    for event in case.line() {
        if let Some(key) = event.strike() {
            if sounding[usize::from(key)] {
                breaches.push(format!("key {key} struck twice at tick {}", event.tick));
            }
            sounding[usize::from(key)] = true;
        } else if let Some(key) = event.release() {
            if !sounding[usize::from(key)] {
                breaches.push(format!("key {key} released twice at tick {}", event.tick));
            }
            sounding[usize::from(key)] = false;
        }
    }
    let left = (0..128).filter(|key| sounding[*key]);
    breaches.extend(left.map(|key| format!("key {key} sounds for ever")));
    breaches
}

/// No note is shorter than played, unless its key is struck again or a join by bend leaves it.
fn lengths(case: &Case, looked: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    let factor = case.factor();
    let played = case.played_notes();
    let mut shaped = case.shaped_notes();
    let by_bend = case.target.bend_cents.is_some();
    let onsets: BTreeSet<u64> = shaped.iter().filter(|_| by_bend).map(|note| note.on).collect();
    for (number, note) in played.iter().enumerate() {
        let Some(place) =
            shaped.iter().position(|out| out.on == note.on * factor && out.key == note.key)
        else {
            continue; // lost: the first rule says so
        };
        let out = shaped.remove(place);
        let again = played[number + 1..].iter().find(|next| next.key == note.key);
        let again = again.map_or(u64::MAX, |next| next.on * factor);
        if out.off < (note.off * factor).min(again) && !onsets.contains(&out.off) {
            let (off, played) = (out.off, note.off * factor);
            breaches.push(format!("key {} at {} ends at {off}, not {played}", note.key, out.on));
        }
        looked.lengthened += usize::from(out.off > note.off * factor);
    }
    looked.slurs += played.windows(2).filter(|pair| pair[1].on < pair[0].off).count();
    breaches
}

/// Keyswitches lie outside the range, come right before their note (or 50 ms after a change of
/// sound) and are released 10 ms after it, or when the next keyswitch comes.
fn keyswitches(case: &Case, looked: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    let tempo = case.shaped.tempo_map();
    let is_switch = |key: &u8| case.target.keyswitches.contains(key);
    let events: Vec<&Event> = case.line().collect();
    for key in case.target.keyswitches {
        if (case.range.0..=case.range.1).contains(key) {
            breaches.push(format!("keyswitch {key} lies in the range"));
        }
    }
    for (place, event) in events.iter().enumerate() {
        let Some(key) = event.strike().filter(is_switch) else { continue };
        looked.keyswitches += 1;
        let after = &events[place + 1..];
        let mut same_time = after.iter().take_while(|next| next.tick == event.tick);
        // 50 ms after another sound is chosen, a sounding note's mode is told again.
        let mut earlier = events[..place].iter().filter(|one| one.chooses_sound());
        let is_again = earlier.any(|one| {
            let ago_s = tempo.seconds(event.tick) - tempo.seconds(one.tick);
            abs_diff_eq!(ago_s, 0.050, epsilon = 0.0025)
        });
        if !is_again && !same_time.any(|next| next.strike().is_some_and(|key| !is_switch(&key))) {
            breaches.push(format!("no note follows keyswitch {key} at tick {}", event.tick));
        }
        let off = after.iter().find(|next| next.release() == Some(key));
        let off = off.map_or(u64::MAX, |off| off.tick);
        let next = after.iter().find(|next| next.strike().is_some_and(|key| is_switch(&key)));
        if next.is_some_and(|next| next.tick == off) {
            continue; // the next keyswitch takes its place
        }
        let held_s = tempo.seconds(off) - tempo.seconds(event.tick);
        // 10 ms, and at most a tick of 960 to a slow quarter for rounding.
        if abs_diff_ne!(held_s, 0.010, epsilon = 0.0015) {
            breaches.push(format!("keyswitch {key} at tick {} is held {held_s} s", event.tick));
        }
    }
    breaches
}

/// From 0.5 s after the last off until the next on the bend stands where the player left it.
fn bend_in_rests(case: &Case, looked: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    let tempo = case.shaped.tempo_map();
    let own = own_bends(case);
    let (mut sounding, mut bend, mut pedal, mut silent_since) = (0, 8192, false, None);
    let mut was_right = true;
    for event in case.line() {
        let now_s = tempo.seconds(event.tick);
        let in_rest = silent_since.is_some_and(|since| now_s > since + 0.5);
        if in_rest && !pedal && sounding == 0 {
            let is_near = |value: i32| (bend - value).abs() <= 1;
            let left = own.iter().rfind(|(tick, _)| *tick < event.tick).map_or(8192, |own| own.1);
            let moving = own.iter().filter(|(tick, _)| *tick == event.tick);
            let is_right = is_near(left) || moving.into_iter().any(|(_, value)| is_near(*value));
            if !is_right && was_right {
                breaches.push(format!("bend {bend} in the rest before tick {}", event.tick));
            }
            was_right = is_right;
            looked.rests += usize::from(event.strike().is_some());
        }
        if event.strike().is_some() {
            sounding += 1;
            silent_since = None;
        } else if event.release().is_some() {
            sounding -= 1;
        } else if let Some((64, value)) = event.controller() {
            pedal = value >= 64;
        } else if let Some(value) = event.bend() {
            bend = value;
            looked.bends += 1;
        }
        if sounding == 0 && !pedal {
            silent_since = silent_since.or(Some(now_s));
        } else {
            silent_since = None;
        }
    }
    let left = own.last().map_or(8192, |own| own.1);
    // The end of the file is a stop, which may centre what the player left bent.
    if sounding == 0 && !pedal && (bend - left).abs() > 1 && bend != 8192 {
        breaches.push(format!("bend {bend} at the end"));
    }
    breaches
}

/// The player's own bends at their ticks in the shaped file.
fn own_bends(case: &Case) -> Vec<(u64, i32)> {
    let events = case.played.tracks[case.track].iter().filter(|event| case.is_line(event));
    events.filter_map(|event| Some((event.tick * case.factor(), event.bend()?))).collect()
}

/// A note that can only be played on an open string is bent by at most one cent, from 50 ms
/// after its beginning to its end or the next note's beginning. Not where the player bends.
fn open_strings(case: &Case, looked: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    let Some(bend_cents) = case.target.bend_cents.filter(|_| own_bends(case).is_empty()) else {
        return breaches;
    };
    let tempo = case.shaped.tempo_map();
    let bends: Vec<(u64, i32)> =
        case.line().filter_map(|event| Some((event.tick, event.bend()?))).collect();
    let all = case.shaped_notes();
    for note in all.iter().filter(|note| case.forced_open.contains(&note.key)) {
        let from = tempo.tick(tempo.seconds(note.on) + 0.050);
        let next = all.iter().map(|next| next.on).filter(|on| *on > note.on).min();
        let to = note.off.min(next.unwrap_or(u64::MAX));
        let is_chord = all.iter().filter(|other| other.on == note.on).count() > 1;
        if from >= to || is_chord {
            continue;
        }
        looked.open_notes += 1;
        let standing = bends.iter().rfind(|(tick, _)| *tick <= from);
        let moving = bends.iter().filter(|(tick, _)| *tick > from && *tick < to);
        for (tick, bend) in standing.into_iter().chain(moving) {
            let cents = f64::from(bend - 8192) * bend_cents / 8192.0;
            if cents.abs() > 1.0 {
                breaches.push(format!("open key {} bent {cents:.2} c at {tick}", note.key));
            }
        }
    }
    breaches
}

/// What the program added goes only to the target's addresses and stays within their limits.
fn outputs(case: &Case, looked: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    for event in compared(case, case.track).1 {
        if event.bytes[0] >= 0xF0 {
            // The marker and what was consumed are kept in meta events.
            if !matches!(event.bytes[..2], [0xFF, 0x06 | 0x7F]) {
                breaches.push(format!("added {:02x?} at tick {}", event.bytes, event.tick));
            }
            continue;
        }
        looked.messages += 1;
        let limits = event.controller().and_then(|(number, value)| {
            let output = case.target.outputs.iter().find(|output| output.0 == number)?;
            Some((output.1..=output.2).contains(&value))
        });
        let is_vibrato = event.bend().is_some() && case.target.bend_cents.is_some();
        if limits != Some(true) && !is_vibrato {
            breaches.push(format!("sent {:02x?} at tick {}", event.bytes, event.tick));
        }
    }
    breaches
}

/// The gesture is consumed: none of it is left on the line's channel.
fn gesture(case: &Case, _: &mut Looked) -> Vec<String> {
    let left = case
        .line()
        .filter(|event| event.controller().is_some_and(|(number, _)| number == case.source));
    let left = left.count();
    if left == 0 { Vec::new() } else { vec![format!("{left} messages of it are left")] }
}

/// What is neither note nor consumed keeps its track, its order, its tick and its bytes.
fn everything_else(case: &Case, _: &mut Looked) -> Vec<String> {
    let mut breaches = Vec::new();
    if case.played.format != case.shaped.format {
        breaches.push("the format changed".to_string());
    }
    if case.played.tracks.len() != case.shaped.tracks.len() {
        return vec!["tracks were added or lost".to_string()];
    }
    for track in 0..case.played.tracks.len() {
        let (missing, added) = compared(case, track);
        breaches.extend(missing.iter().map(|event| format!("track {track} lost {event:02x?}")));
        if track != case.track && added.iter().any(|event| event.bytes[0] < 0xF0) {
            breaches.push(format!("something was added in track {track}"));
        }
        let ends = [case.played, case.shaped].map(|file| file.tracks[track].last());
        let [Some(before), Some(after)] = ends else { continue };
        if after.bytes != END_OF_TRACK || after.tick < before.tick * case.factor() {
            breaches.push(format!("track {track} ends too early"));
        }
    }
    breaches
}

/// Of one track what is missing, and what was added, beside the line's notes and its gesture.
fn compared<'a>(case: &'a Case, track: usize) -> (Vec<&'a Event>, Vec<&'a Event>) {
    let is_own = |event: &Event| {
        let is_note = event.strike().is_some() || event.release().is_some();
        let is_gesture = event.controller().is_some_and(|(number, _)| number == case.source);
        let is_bend = event.bend().is_some() && case.target.bend_cents.is_some();
        let is_line = track == case.track && case.is_line(event);
        event.bytes != END_OF_TRACK
            && !(is_line && (is_note || is_gesture))
            && !(is_line && is_bend)
    };
    let mut played = case.played.tracks[track].iter().filter(|event| is_own(event)).peekable();
    let mut added = Vec::new();
    for event in &case.shaped.tracks[track] {
        let is_next = played.peek().is_some_and(|next| {
            next.tick * case.factor() == event.tick && next.bytes == event.bytes
        });
        let is_note = case.is_line(event)
            && track == case.track
            && (event.strike().is_some() || event.release().is_some());
        if is_next {
            played.next();
        } else if !is_note && event.bytes != END_OF_TRACK {
            added.push(event);
        }
    }
    (played.collect(), added)
}
