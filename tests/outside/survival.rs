//! Shaped files that other people's programs have read and saved again: `peel` gives the very take,
//! or nothing.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::thread;

use polso::engine::Message;
use polso::offline::error::Error;
use polso::offline::midi::{File as Take, read::read};
use polso::offline::peel::{GivenBack, KeepingPlace, give_back};

use super::corpus::folk_take;
use super::data::{self, MELODY_COUNT, some_melodies};
use super::gesture::{Chance, hand, played};
use super::performing::players;
use super::readers::python;
use super::sample::{figure, said};
use super::smf::File;

/// Readers by the names in `saved_by.py`, and in how many ways each saves.
const READERS: [(&str, usize); 5] =
    [("mido", 8), ("pretty_midi", 2), ("symusic", 5), ("music21", 2), ("midicsv", 4)];
/// As many at once as the smallest machine has cores.
const THREAD_COUNT: usize = 2;
const SHOWN_MAX: usize = 10;

/// A melody as it was shaped, and takes that were not.
struct Melody {
    name: String,
    take: Vec<u8>,
    shaped: Vec<u8>,
    /// What may lie beside it, with a word for each.
    others: Vec<(&'static str, Vec<u8>)>,
}

/// Every melody shaped by one player in turn.
fn shaped_melodies() -> Vec<Melody> {
    let players = players(&[1]);
    let tunes = some_melodies();
    let takes: Vec<Vec<u8>> =
        tunes.iter().map(|(name, tune)| folk_take(name, tune).1.write()).collect();
    let melodies = tunes.iter().enumerate().map(|(place, (name, tune))| Melody {
        name: name.clone(),
        take: takes[place].clone(),
        shaped: players[place % players.len()].shape(&takes[place], 0, 1),
        others: vec![
            ("another melody", another(place, &tunes, &takes)),
            ("played again", played_again(name, tune).write()),
            ("cut short", cut_short(&takes[place])),
        ],
    });
    melodies.collect()
}

/// The take of the next melody. The books have some melodies twice: where nothing but the notes is left,
/// one with the very same notes cannot be told from it, as the README says.
fn another(place: usize, tunes: &[(String, File)], takes: &[Vec<u8>]) -> Vec<u8> {
    let strikes = |at: usize| -> Vec<(u64, u8)> {
        let events = tunes[at].1.tracks.iter().flatten();
        events.filter_map(|event| Some((event.tick, event.strike()?))).collect()
    };
    let next = (1..tunes.len()).map(|step| (place + step) % tunes.len());
    let other = next.into_iter().find(|at| strikes(*at) != strikes(place));
    takes[other.expect("another melody")].clone()
}

/// The same melody under another hand, as nobody can help it: one note comes 4 ms later.
fn played_again(name: &str, tune: &File) -> File {
    let mut chance = Chance::new(name, 12);
    let end_s = super::corpus::length_s(tune);
    let mut again = played(tune, (0, 0, 1), &hand(end_s, &mut chance), &mut chance);
    let tempo = again.tempo_map();
    let ons: Vec<usize> =
        (0..again.tracks[0].len()).filter(|at| again.tracks[0][*at].strike().is_some()).collect();
    let at = ons[ons.len() / 2];
    let event = &mut again.tracks[0][at];
    event.tick = tempo.tick(tempo.seconds(event.tick) + 0.004).max(event.tick + 3);
    again.tracks[0].sort_by_key(|event| event.tick);
    again
}

/// The take without its last note.
fn cut_short(take: &[u8]) -> Vec<u8> {
    let mut take = File::read(take).expect("a take");
    let track = &mut take.tracks[0];
    let at = track.iter().rposition(|event| event.strike().is_some()).expect("a note");
    let key = track[at].bytes[1];
    let off = track.iter().skip(at).position(|event| event.release() == Some(key));
    track.remove(at + off.expect("its off"));
    track.remove(at);
    take.write()
}

/// What a reader has saved of each melody: by number and variant. What it could not is said.
fn saved_by(reader: &str, melodies: &[Melody]) -> (BTreeMap<(usize, String), Vec<u8>>, usize) {
    let folder = tempfile::tempdir().expect("a folder");
    for (number, melody) in melodies.iter().enumerate() {
        let path = folder.path().join(format!("{number}.mid"));
        fs::write(path, &melody.shaped).expect("a file is written");
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/saved_by.py");
    let output = python().arg(script).arg(reader).arg(folder.path()).output();
    let output = output.unwrap_or_else(|error| panic!("{error}; {}", data::HINT));
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{reader}: {complaint}; {}", data::HINT);
    let unread = String::from_utf8_lossy(&output.stdout).lines().count();
    let mut saved = BTreeMap::new();
    for entry in fs::read_dir(folder.path()).expect("a folder").flatten() {
        let name = entry.file_name().into_string().expect("a name of ours");
        let Some(name) = name.strip_suffix(".saved") else { continue };
        let (number, variant) = name.split_once('.').expect("a number and a variant");
        let number = number.parse().expect("a number");
        let bytes = fs::read(entry.path()).expect("a saved file");
        saved.insert((number, variant.to_owned()), bytes);
    }
    (saved, unread)
}

/// How often what was given back, and what is wrong.
#[derive(Default)]
struct Tally {
    from_file: usize,
    edited: usize,
    from_beside: usize,
    refused: usize,
    breaches: Vec<String>,
}

impl Tally {
    fn add(&mut self, other: Tally) {
        self.from_file += other.from_file;
        self.edited += other.edited;
        self.from_beside += other.from_beside;
        self.refused += other.refused;
        self.breaches.extend(other.breaches);
    }

    /// Peels one saved file with one file beside it, or none.
    fn peel(&mut self, saved: &[u8], beside: Option<&[u8]>, melody: &Melody, is_own: bool) {
        let given = read(saved).and_then(|file| give_back(file, beside));
        let take = read(&melody.take).expect("a take");
        match given {
            Ok(GivenBack { bytes, peeled }) => match (peeled.place, peeled.leftovers.is_empty()) {
                (KeepingPlace::Beside, true) if is_own && bytes == melody.take => {
                    self.from_beside += 1;
                }
                (KeepingPlace::File, true) if peeled.file == take => self.from_file += 1,
                // Said to be edited: moved by another program's clock, and nothing more.
                (KeepingPlace::File, false) if messages(&peeled.file) == messages(&take) => {
                    self.edited += 1;
                }
                (place, _) => self.breaches.push(format!(
                    "a wrong take is given back ({place:?}, left: {:?})",
                    peeled.leftovers
                )),
            },
            Err(Error::NotShaped | Error::OtherTake { .. } | Error::TakeWithoutEdits { .. }) => {
                self.refused += 1
            }
            Err(error) => self.breaches.push(format!("cannot be read: {error}")),
        }
    }
}

/// Every channel message of a file, sorted.
fn messages(file: &Take) -> Vec<[u8; 3]> {
    let events = file.tracks.iter().flat_map(|track| &track.events);
    let mut all: Vec<[u8; 3]> = events
        .filter_map(|event| event.message())
        .map(|message: Message| message.bytes().0)
        .collect();
    all.sort_unstable();
    all
}

/// Whether a reader saves so that no onset moves by more than the 2 ms that are allowed.
fn moves_nothing(reader: &str, variant: &str) -> bool {
    match reader {
        "mido" => [".own", ".1920"].iter().any(|ticks| variant.contains(ticks)),
        "symusic" => ["own", "1920"].contains(&variant),
        "midicsv" => true,
        _ => false,
    }
}

fn judge(reader: &str, melodies: &[Melody]) -> Tally {
    let (saved, unread) = saved_by(reader, melodies);
    let files: Vec<_> = saved.iter().collect();
    let part = |thread: usize| {
        let mut tally = Tally::default();
        for ((number, variant), saved) in files.iter().skip(thread).step_by(THREAD_COUNT) {
            let melody = &melodies[*number];
            let known = tally.breaches.len();
            let before = (tally.refused, tally.edited);
            tally.peel(saved, Some(&melody.take), melody, true);
            if (tally.refused, tally.edited) != before && moves_nothing(reader, variant) {
                tally.breaches.push("the take lay beside and was not given back".to_owned());
            }
            tally.peel(saved, None, melody, false);
            for (what, other) in &melody.others {
                let before = tally.breaches.len();
                tally.peel(saved, Some(other), melody, false);
                tally.breaches[before..].iter_mut().for_each(|it| *it += &format!(" for {what}"));
            }
            let place = format!("{}, {reader} {variant}: ", melody.name);
            tally.breaches[known..].iter_mut().for_each(|it| it.insert_str(0, &place));
        }
        tally
    };
    let part = &part;
    let mut all = Tally::default();
    thread::scope(|scope| {
        let threads: Vec<_> =
            (0..THREAD_COUNT).map(|thread| scope.spawn(move || part(thread))).collect();
        threads.into_iter().for_each(|thread| all.add(thread.join().expect("no panic")));
    });
    println!("{reader}: {} files saved, {unread} melodies not read", saved.len());
    all
}

#[test]
fn what_other_programs_saved_gives_the_very_take_or_nothing() {
    let melodies = shaped_melodies();
    let mut sentences = Vec::new();
    for (reader, variant_count) in READERS {
        let tally = judge(reader, &melodies);
        let Tally { from_file, edited, from_beside, refused, breaches } = tally;
        let shown = &breaches[..breaches.len().min(SHOWN_MAX)];
        assert!(breaches.is_empty(), "{} breaches:\n{}", breaches.len(), shown.join("\n"));
        let count = from_file + edited + from_beside + refused;
        assert!(count > melodies.len() * variant_count * 9 / 2, "{reader}: {count} peeled");
        assert!(from_beside > melodies.len() / 3 && refused > melodies.len(), "{reader}");
        sentences.push(format!(
            "{reader} {count} (from the file {from_file}, with its edits {edited}, from beside \
             {from_beside}, refused {refused})"
        ));
    }
    let tunes = said(MELODY_COUNT);
    figure(
        "survival",
        &format!(
            "{tunes} folk melodies shaped, saved again by other programs and peeled with the take \
             beside, none, or another: {}; never a wrong take",
            sentences.join(", ")
        ),
    );
}
