//! What a host and the engine are both given to play, and what both are heard to answer.

use std::path::PathBuf;

use polso::engine::Section;
use polso::engine::patch::Patch;
use polso::engine::{Input, Message, Origin, Parameter, Sink, Timed};

/// The sample rate of most of it.
pub const RATE_HZ: f64 = 48_000.0;

/// Expressions of one note that hosts know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shade {
    Tuning,
    Vibrato,
    Expression,
    Brightness,
}

/// Which end of a note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edge {
    Begins,
    Ends,
}

/// A few bytes in a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bytes {
    bytes: [u8; Bytes::LENGTH_MAX],
    length: usize,
}

impl Bytes {
    pub const LENGTH_MAX: usize = 80;

    pub fn new(given: &[u8]) -> Bytes {
        let mut bytes = [0; Bytes::LENGTH_MAX];
        bytes[..given.len()].copy_from_slice(given);
        Bytes { bytes, length: given.len() }
    }

    pub fn get(&self) -> &[u8] {
        &self.bytes[..self.length]
    }
}

/// What a host says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Said {
    /// A message; notes carry the host's number, −1 for none.
    Message(Message, i32),
    /// An expression of the note with that key and number, 0..=1.
    Expression(Shade, u8, i32, f64),
    /// A control by its name, 0..=1 of its range.
    Control(&'static str, f64),
    /// A system exclusive message.
    Exclusive(Bytes),
    /// The song is elsewhere from here on (CLAP allows it within a block).
    Song(Song),
    /// Three bytes as they are, whether they are MIDI or not (CLAP).
    Raw([u8; 3]),
    /// A note that begins or ends, with any channel, key and number.
    Note(Edge, i16, i16, i32),
}

/// What a host hears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    pub frame: u64,
    pub said: Said,
}

/// The song: its beat at the first frame, its tempo, and whether it runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Song {
    pub beat: f64,
    pub tempo_bpm: f64,
    pub is_running: bool,
    /// It is being recorded.
    pub is_recording: bool,
    /// Seconds since its start, if the host says them.
    pub at_s: Option<f64>,
}

impl Song {
    /// A song that runs.
    pub fn running(beat: f64, tempo_bpm: f64) -> Song {
        Song { beat, tempo_bpm, is_running: true, is_recording: false, at_s: None }
    }

    /// The song some frames on.
    pub fn after(self, frames: u64, rate_hz: f64) -> Song {
        if !self.is_running {
            return self;
        }
        let passed_s = frames as f64 / rate_hz;
        let beat = self.beat + passed_s * self.tempo_bpm / 60.0;
        Song { beat, at_s: self.at_s.map(|at_s| at_s + passed_s), ..self }
    }
}

/// A host with one plugin in it.
pub trait Host {
    /// The plugin plays `frames`; what it said, with frames of this block.
    fn block(&mut self, frames: u32, said: &[(u32, Said)], song: Option<Song>) -> Vec<(u32, Said)>;
}

/// Plays events (in order of frames) in blocks of the given lengths, repeated, until `end`.
pub fn play(
    host: &mut impl Host,
    blocks: &[u32],
    events: &[(u64, Said)],
    end: u64,
    song: Option<Song>,
) -> Vec<Heard> {
    let mut heard = Vec::new();
    let mut lengths = blocks.iter().copied().cycle();
    let (mut start, mut next) = (0, 0);
    while start < end {
        let length = lengths.next().expect("a block length");
        let frames = u64::from(length).min(end - start) as u32;
        let block_end = start + u64::from(frames);
        let count = events[next..].iter().take_while(|(frame, _)| *frame < block_end).count();
        let said: Vec<(u32, Said)> = events[next..next + count]
            .iter()
            .map(|(frame, said)| ((frame - start) as u32, *said))
            .collect();
        next += count;
        let song = song.map(|song| song.after(start, RATE_HZ));
        for (frame, said) in host.block(frames, &said, song) {
            heard.push(Heard { frame: start + u64::from(frame), said });
        }
        start = block_end;
    }
    heard
}

/// Hears an engine.
pub struct Tape {
    /// First frame of the present block.
    pub start: u64,
    pub heard: Vec<Heard>,
}

impl Sink for Tape {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        let is_note = matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. });
        let number = match origin {
            Origin::Note(tag) if is_note => tag as i32,
            _ => -1,
        };
        let frame = self.start + u64::from(frame);
        self.heard.push(Heard { frame, said: Said::Message(message, number) });
        true
    }
}

/// The same, played by the engine alone in blocks of 997 frames.
pub fn engine(patch: &Patch, events: &[(u64, Said)], end: u64, song: Option<Song>) -> Vec<Heard> {
    const BLOCK: u64 = 997;
    let mut engine = Section::prepare(RATE_HZ, patch);
    let mut tape = Tape { start: 0, heard: Vec::new() };
    let input = |said: Said| match said {
        Said::Message(message, number) => (number as u32, Input::Midi(message)),
        Said::Control("Gesture", value) => (u32::MAX, Input::Gesture(value)),
        Said::Control("Bypass", value) => (u32::MAX, Input::Bypass(value > 0.5)),
        Said::Control("Panic", _) => (u32::MAX, Input::Panic),
        Said::Control("Resync", _) => (u32::MAX, Input::Resync),
        Said::Control("Vibrato width", value) => {
            (u32::MAX, Input::Parameter(Parameter::VibratoWidth, 2.0 * value))
        }
        other => panic!("the engine does not know {other:?}"),
    };
    while tape.start < end {
        let block_end = (tape.start + BLOCK).min(end);
        let mut timed: Vec<Timed> = events
            .iter()
            .filter(|(frame, _)| (tape.start..block_end).contains(frame))
            .map(|(frame, said)| {
                let (tag, input) = input(*said);
                Timed { frame: (frame - tape.start) as u32, tag, input }
            })
            .collect();
        if let Some(Song { beat, tempo_bpm, is_running, .. }) = song.filter(|_| tape.start == 0) {
            let input = Input::Song { beat, tempo_bpm, running: is_running };
            timed.insert(0, Timed { frame: 0, tag: 0, input });
        }
        engine.process((block_end - tape.start) as u32, &timed, &mut tape);
        tape.start = block_end;
    }
    tape.heard
}

/// What was heard of each note and controller, without the numbers of notes.
pub fn without_numbers(heard: &[Heard]) -> Vec<Heard> {
    let bare = |heard: &Heard| match heard.said {
        Said::Message(message, _) => Heard { said: Said::Message(message, -1), ..*heard },
        _ => *heard,
    };
    heard.iter().map(bare).collect()
}

/// The first difference of two runs, with its neighbourhood.
#[track_caller]
pub fn check_equal(name: &str, heard: &[Heard], expected: &[Heard]) {
    assert!(!expected.is_empty(), "{name}: nothing is expected");
    let place = heard.iter().zip(expected).position(|(one, other)| one != other);
    let place = place.or((heard.len() != expected.len()).then(|| heard.len().min(expected.len())));
    if let Some(place) = place {
        let show =
            |list: &[Heard]| format!("{:#?}", list.iter().skip(place).take(3).collect::<Vec<_>>());
        panic!("{name}: from event {place} on\n{}\nis not\n{}", show(heard), show(expected));
    }
}

/// The built library, in the folder above the tests, or the one that `POLSO_LIBRARY` names.
pub fn library() -> PathBuf {
    if let Some(path) = std::env::var_os("POLSO_LIBRARY") {
        return path.into();
    }
    let test = std::env::current_exe().expect("the test's own path");
    let deps = test.parent().expect("a folder");
    let name = format!("{}polso{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    let found = [deps.join(&name), deps.join("..").join(&name)].into_iter().find(|it| it.exists());
    found.unwrap_or_else(|| panic!("no {name} beside {}", test.display()))
}
