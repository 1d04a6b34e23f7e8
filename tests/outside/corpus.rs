//! Real music: Chinese folk melodies under a made-up hand, and under hands that were recorded, on
//! every instrument and every receiver.
//!
//! Tunes: Essen folk song collection, han1.abc and han2.abc of PyPI's music21, by abc2midi.
//! Recorded hands: two pieces of Debian's simutrans-data.

use std::thread;

use super::data::{MELODY_COUNT, melodies, recording, some_melodies};
use super::gesture::{Chance, hand, hash, played};
use super::invariants::Looked;
use super::performing::{Player, main_players, other_players};
use super::sample::{figure, said};
use super::smf::File;

/// As many at once as the smallest machine has cores.
const THREAD_COUNT: usize = 2;
/// Breaches that a failing test prints.
const SHOWN_MAX: usize = 20;

const STEAMIN: &str = "12-Steamin-across-the-prairies.mid";
const NIAGARA: &str = "14-Last-journey-of-the-Niagara.mid";
/// The lines with recorded hands: piece, track from 0, channel, controller, and how many
/// messages of it there are.
const RECORDED: [(&str, usize, u8, u8, usize); 3] =
    [(NIAGARA, 1, 0, 2, 2640), (NIAGARA, 1, 0, 1, 858), (STEAMIN, 2, 0, 1, 582)];

/// What a number of takes showed.
#[derive(Default)]
struct Outcome {
    takes: usize,
    hours: f64,
    looked: Looked,
    breaches: Vec<String>,
}

/// A take by name: its file, and the track, channel and controller of its line.
pub type Take = (String, File, (usize, u8, u8));

/// Plays every take on every player, spread over the threads.
fn judge(takes: &[Take], players: &[Player]) -> Outcome {
    let parts = thread::scope(|scope| {
        let threads: Vec<_> = (0..THREAD_COUNT)
            .map(|number| scope.spawn(move || judge_part(takes, players, number)))
            .collect();
        threads.into_iter().map(|thread| thread.join().expect("no panic")).collect::<Vec<_>>()
    });
    let mut whole = Outcome::default();
    for part in parts {
        whole.takes += part.takes;
        whole.hours += part.hours;
        whole.looked.add(&part.looked);
        whole.breaches.extend(part.breaches);
    }
    whole
}

fn judge_part(takes: &[Take], players: &[Player], number: usize) -> Outcome {
    let mut outcome = Outcome::default();
    for (name, take, line) in takes.iter().skip(number).step_by(THREAD_COUNT) {
        let end = take.tracks.iter().filter_map(|track| track.last()).map(|event| event.tick).max();
        let length_s = take.tempo_map().seconds(end.unwrap_or(0));
        for player in players {
            let found = player.judge(take, *line, &mut outcome.looked);
            let say = |sentence| format!("{name}, {}: {sentence}", player.name);
            outcome.breaches.extend(found.into_iter().map(say));
            outcome.takes += 1;
            outcome.hours += length_s / 3600.0;
        }
    }
    outcome
}

impl Outcome {
    /// Fails if a rule was broken, or if a rule had nothing to look at.
    #[track_caller]
    fn close(self, name: &str, what: &str) {
        let Outcome { takes, hours, looked, breaches } = self;
        let shown = breaches.iter().take(SHOWN_MAX).cloned().collect::<Vec<_>>().join("\n");
        assert!(breaches.is_empty(), "{} breaches:\n{shown}", breaches.len());
        let Looked { notes, slurs, keyswitches, bends, rests, open_notes, messages, lengthened } =
            looked;
        let all = [notes, slurs, keyswitches, bends, rests, open_notes, messages, lengthened];
        assert!(!all.contains(&0), "a rule had nothing to look at: {looked:?}");
        figure(
            name,
            &format!(
                "{what}: {takes} shaped files, {hours:.1} hours; {notes} notes ({slurs} slurred, \
                 {lengthened} ends drawn out), {keyswitches} keyswitches, {bends} bends, {rests} \
                 rests, {open_notes} notes on forced open strings, {messages} messages; no rule \
                 broken"
            ),
        );
    }
}

/// A folk melody under these controller values; its notes stand in track 0 on channel 1.
fn take(name: &str, tune: &File, controller: u8, values: &[(f64, u8)]) -> Take {
    let line = (0, 0, controller);
    let mut chance = Chance::new(name, 2);
    (name.to_string(), played(tune, line, values, &mut chance), line)
}

/// A folk melody under a made-up hand on controller 1.
pub fn folk_take(name: &str, tune: &File) -> Take {
    take(name, tune, 1, &hand(length_s(tune), &mut Chance::new(name, 1)))
}

/// As many folk melodies as are to be played, each under a made-up hand.
pub fn folk_takes() -> Vec<Take> {
    some_melodies().iter().map(|(name, tune)| folk_take(name, tune)).collect()
}

/// Seconds until the tune's last event.
pub fn length_s(tune: &File) -> f64 {
    tune.tempo_map().seconds(tune.tracks[0].last().map_or(0, |event| event.tick))
}

#[test]
fn folk_melodies_keep_every_rule() {
    let what = format!("{} Essen folk songs han1 and han2", said(MELODY_COUNT));
    judge(&folk_takes(), &main_players(&[1])).close("folk-melodies", &what);
}

#[test]
fn folk_melodies_keep_every_rule_on_all_other_instruments() {
    let what = format!("{} of these folk songs on all other instruments", said(MELODY_COUNT));
    judge(&folk_takes(), &other_players(&[1])).close("folk-melodies-others", &what);
}

/// The recorded lines themselves, and the same hands over folk melodies, which take turns.
pub fn recorded_takes() -> Vec<Take> {
    let mut takes: Vec<Take> = Vec::new();
    let tunes = some_melodies();
    for (turn, (piece, track, channel, controller, count)) in RECORDED.into_iter().enumerate() {
        let file = recording(piece);
        let values = controller_values(&file, track, channel, controller);
        assert_eq!(values.len(), count, "{piece}: controller {controller}");
        // The same hand over folk melodies, each from a place of its own in the recording.
        for (name, tune) in tunes.iter().skip(turn).step_by(RECORDED.len()) {
            let place = hash(name, 3) as usize % (values.len() / 2);
            let from_s = values[place].0;
            let moved: Vec<(f64, u8)> =
                values[place..].iter().map(|(time_s, value)| (time_s - from_s, *value)).collect();
            let end = moved.partition_point(|(time_s, _)| *time_s <= length_s(tune));
            takes.push(take(name, tune, controller, &moved[..end]));
        }
        let name = format!("{piece} by controller {controller}");
        takes.push((name, file, (track, channel, controller)));
    }
    takes
}

#[test]
fn recorded_hands_keep_every_rule() {
    let what = format!(
        "simutrans-data, CC 1 and CC 2, and these hands over {} folk songs",
        said(MELODY_COUNT)
    );
    judge(&recorded_takes(), &main_players(&[1, 2])).close("recorded-streams", &what);
}

/// The values of one controller in seconds.
fn controller_values(file: &File, track: usize, channel: u8, controller: u8) -> Vec<(f64, u8)> {
    let tempo = file.tempo_map();
    let events = file.tracks[track].iter().filter(|event| {
        event.channel_message() == Some((0xB0, channel)) && event.bytes[1] == controller
    });
    events.map(|event| (tempo.seconds(event.tick), event.bytes[2])).collect()
}

#[test]
fn the_corpus_is_what_it_says() {
    let tunes = melodies();
    let notes: usize = tunes
        .iter()
        .map(|(_, tune)| tune.tracks[0].iter().filter(|event| event.strike().is_some()).count())
        .sum();
    assert_eq!((tunes.len(), notes), (MELODY_COUNT, 90_227));
}
