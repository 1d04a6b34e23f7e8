//! Pieces of unknown origin: what `look` counts is what another reader counts, and its command, run
//! as printed, gives a shaped file that `peel` returns to the take.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use polso::offline::digest::of_take;
use polso::offline::look::{LookedPart, look_bytes};
use polso::offline::midi::read::read;

use super::data::{self, MELODY_COUNT, piece, some_melodies};
use super::sample::{figure, said};
use super::smf::File;

/// Pieces as somebody gets them, and the options that `look` gives for each: played wheels and
/// breath on a piano's program, scores without any controller, a folk tune as its book has it.
const PIECES: [(&str, &str); 4] = [
    ("12-Steamin-across-the-prairies.mid", "-i INSTRUMENT --track 3"),
    ("14-Last-journey-of-the-Niagara.mid", "-i INSTRUMENT --track 2 --source cc2 --replace"),
    ("31-Courtenay-Bridge.mid", "-i clarinet --track 2"),
    ("53-Where-Thomassons-Lie.mid", "-i cello --track 3"),
];
const TUNE: &str = "han230";

fn polso(folder: &Path, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
    command.args(words).current_dir(folder).output().expect("the program starts")
}

/// What `look` says of a file, and the command at its end.
fn looked(folder: &Path, name: &str) -> (String, String) {
    let output = polso(folder, &["look", name]);
    assert_eq!(output.status.code(), Some(0), "{name}: {:?}", String::from_utf8(output.stderr));
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    let command = said.lines().last().and_then(|line| line.strip_prefix("command    polso "));
    let command = command.unwrap_or_else(|| panic!("{said}")).to_owned();
    (said, command)
}

/// Runs a command as a shell reads it, and gives the file that it makes.
fn run(folder: &Path, command: &str) -> String {
    let line = format!("'{}' {command}", env!("CARGO_BIN_EXE_polso"));
    let output = Command::new("sh").args(["-c", &line]).current_dir(folder).output();
    let output = output.expect("a shell");
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!((output.status.code(), &*err), (Some(0), ""), "{command}");
    let words: Vec<&str> = command.split(' ').collect();
    words[words.iter().position(|word| *word == "-o").expect("an output") + 1].to_owned()
}

/// The instrument that the program itself names where it cannot tell one.
fn proposed(said: &str) -> &str {
    let heads = ["by the range of the notes it could be ", "none of them has all of these notes, "];
    let rest = heads.iter().find_map(|head| said.split_once(head)).expect("instruments").1;
    rest.split([',', ' ', '\n']).next().expect("a name")
}

/// From a piece to a shaped line and back, using only what the program says.
fn check(name: &str, bytes: &[u8], options: &str) {
    let room = tempfile::tempdir().expect("a folder");
    fs::write(room.path().join(name), bytes).expect("a file is written");
    let (said, command) = looked(room.path(), name);
    assert!(command.ends_with(options), "{name}: {command}");
    let command = match command.contains("INSTRUMENT") {
        true => command.replace("INSTRUMENT", proposed(&said)),
        false => command,
    };
    let shaped = run(room.path(), &command);
    let (_, back) = looked(room.path(), &shaped);
    assert!(back.starts_with("peel "), "{name}: {back}");
    let back = run(room.path(), &back);
    let take = read(&fs::read(room.path().join(back)).expect("a take")).expect("a MIDI file");
    assert_eq!(of_take(&take), of_take(&read(bytes).expect("a MIDI file")), "{name}");
}

#[test]
fn the_command_that_look_gives_makes_a_line_and_the_next_one_gives_the_take_back() {
    for (name, options) in PIECES {
        check(name, &piece(name), options);
    }
    let tune = data::folder().join("han").join(format!("{TUNE}.mid"));
    let bytes = fs::read(tune).unwrap_or_else(|error| panic!("{TUNE}: {error}; {}", data::HINT));
    check(&format!("{TUNE}.mid"), &bytes, "-i INSTRUMENT");
}

/// What is told of one channel against a reader that knows nothing of it.
fn compare(name: &str, file: &File, track: usize, part: &LookedPart) -> usize {
    let own = |kind: u8| {
        let wanted = Some((kind, part.channel - 1));
        file.tracks[track].iter().filter(move |event| event.channel_message() == wanted)
    };
    let strikes: Vec<u8> = own(0x90).filter_map(|event| event.strike()).collect();
    let notes = part.notes.as_ref();
    assert_eq!(notes.map_or(0, |notes| notes.all), strikes.len(), "{name}, track {track}");
    if let Some(notes) = notes.filter(|notes| notes.keyswitches.is_empty()) {
        let range = (strikes.iter().min(), strikes.iter().max());
        assert_eq!((Some(&notes.lowest_key), Some(&notes.highest_key)), range, "{name}");
    }
    let mut count = strikes.len();
    for lane in part.lanes.iter().filter(|lane| lane.address.starts_with("cc")) {
        let number: u8 = lane.address[2..].parse().expect("a number");
        let values: Vec<u8> = own(0xB0)
            .filter_map(|event| event.controller())
            .filter_map(|(own, value)| (own == number).then_some(value))
            .collect();
        let mut steps = values.clone();
        steps.sort_unstable();
        steps.dedup();
        let told = (lane.messages, lane.lowest, lane.highest, lane.steps);
        let read = (values.len(), steps[0].into(), steps[steps.len() - 1].into(), steps.len());
        assert_eq!(told, read, "{name}, track {track}, {}", lane.address);
        count += values.len();
    }
    count
}

#[test]
fn what_look_counts_is_what_another_reader_counts() {
    let mut files: Vec<(String, Vec<u8>)> =
        PIECES.iter().map(|(name, _)| (name.to_string(), piece(name))).collect();
    files.extend(some_melodies().into_iter().map(|(name, tune)| (name, tune.write())));
    let mut count = 0;
    for (name, bytes) in &files {
        let look = look_bytes(bytes).expect("a MIDI file");
        let file = File::read(bytes).expect("a MIDI file");
        let length_s = file.tempo_map().seconds(
            file.tracks
                .iter()
                .filter_map(|track| track.last())
                .map(|it| it.tick)
                .max()
                .unwrap_or(0),
        );
        assert!((look.song.length_s - length_s).abs() < 1e-6, "{name}");
        for track in &look.tracks {
            for part in &track.parts {
                count += compare(name, &file, track.track - 1, part);
            }
        }
        assert!(look.shaped.is_none() && look.next.verb == Some("shape"), "{name}");
    }
    let what = format!(
        "{} pieces and {} folk melodies: {count} notes and controllers counted as another reader does",
        PIECES.len(),
        said(MELODY_COUNT)
    );
    figure("looked-at", &what);
}
