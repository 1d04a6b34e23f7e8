//! A receiver that no one here wrote: what it is sent becomes sound, and Praat measures the sound.

use std::path::{Path, PathBuf};
use std::process::Command;

use polso::engine::patch::Source;
use polso::offline::trace::trace_bytes;
use polso::offline::{Provenance, Settings, shape_bytes};
use polso::profile::{self, Instrument, Target};

use super::data;
use super::readers::{answered, numbers};
use super::smf::{END_OF_TRACK, Event, File};

/// Ticks of a quarter note of a reel: at 120 a minute about a tenth of a millisecond.
const REEL_PPQ: u16 = 4800;
/// Silence between two pieces, in which the receiver's release dies away.
const SILENCE_S: f64 = 0.7;
/// Where Debian keeps the receiver's voices.
const VOICES: &str = "/usr/share/sounds/sf2/FluidR3_GM.sf2";

/// Pieces one after the other on channel 1, for one rendering.
pub struct Reel {
    events: Vec<(f64, Vec<u8>)>,
    end_s: f64,
}

impl Reel {
    /// Nothing yet, on this program (General MIDI, from 0).
    pub fn new(program: u8) -> Reel {
        Reel { events: vec![(0.0, vec![0xC0, program])], end_s: 0.1 }
    }

    /// Any message.
    pub fn send(&mut self, seconds: f64, bytes: &[u8]) {
        self.events.push((seconds, bytes.to_vec()));
        self.end_s = self.end_s.max(seconds);
    }

    /// A note of the receiver itself: no controller, no bend. Gives its beginning.
    pub fn note(&mut self, key: u8, length_s: f64) -> f64 {
        let start_s = self.fresh();
        self.send(start_s, &[0x90, key, 100]);
        self.send(start_s + length_s, &[0x80, key, 64]);
        start_s
    }

    /// A shaped file after what is there, on a receiver that was reset. Gives its beginning.
    pub fn add(&mut self, piece: &File) -> f64 {
        let start_s = self.fresh();
        let tempo = piece.tempo_map();
        for event in piece.tracks.iter().flatten().filter(|event| event.bytes[0] < 0xF0) {
            self.send(start_s + tempo.seconds(event.tick), &event.bytes);
        }
        start_s
    }

    /// Silence, all controllers reset (RP-015), bend centred; what follows starts afresh.
    fn fresh(&mut self) -> f64 {
        let reset_s = self.end_s + SILENCE_S;
        self.send(reset_s, &[0xB0, 123, 0]);
        self.send(reset_s, &[0xB0, 121, 0]);
        self.end_s + 0.05
    }

    /// What the receiver plays, with these options besides: no chorus, no reverb.
    pub fn render(&self, options: &[&str]) -> Sound {
        let folder = tempfile::tempdir().expect("a folder");
        let [midi, sound] = ["reel.mid", "reel.wav"].map(|name| folder.path().join(name));
        std::fs::write(&midi, self.file().write()).expect("a file is written");
        let mut receiver = Command::new("fluidsynth");
        receiver.args(["-ni", "-q", "-R", "0", "-C", "0", "-g", "0.8", "-r", "44100"]);
        receiver.args(["-T", "wav", "-O", "float"]).args(options);
        receiver.arg("-F").args([&sound, &voices(), &midi]);
        let output = receiver.output();
        let output = output.unwrap_or_else(|error| panic!("fluidsynth: {error}; {}", data::HINT));
        assert!(output.status.success(), "fluidsynth: {}", output.status);
        Sound { folder, path: sound }
    }

    fn file(&self) -> File {
        let tick = |seconds: f64| (seconds * 2.0 * f64::from(REEL_PPQ)).round() as u64;
        let mut events: Vec<Event> =
            self.events.iter().map(|(seconds, bytes)| Event::new(tick(*seconds), bytes)).collect();
        events.sort_by_key(|event| event.tick);
        events.push(Event::new(tick(self.end_s + 2.0), &END_OF_TRACK));
        File { format: 0, ppq: REEL_PPQ, tracks: vec![events] }
    }
}

/// The receiver's voices.
pub fn voices() -> PathBuf {
    let by_hand = data::folder().join("FluidR3_GM.sf2");
    if by_hand.is_file() { by_hand } else { PathBuf::from(VOICES) }
}

/// A recording. Its file stays as long as it is held.
pub struct Sound {
    #[expect(dead_code, reason = "it is held so that its files stay")]
    folder: tempfile::TempDir,
    path: PathBuf,
}

impl Sound {
    /// A sound of our own, one sample for each call, 44,100 a second.
    pub fn made(length_s: f64, mut sample: impl FnMut(f64) -> f64) -> Sound {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("made.wav");
        let count = (length_s * 44_100.0) as u32;
        let mut bytes = b"RIFF".to_vec();
        bytes.extend((36 + 4 * count).to_le_bytes());
        // Floats (format 3), one channel, 44,100 frames of 4 bytes a second.
        bytes.extend(b"WAVEfmt \x10\0\0\0\x03\0\x01\0");
        bytes.extend(44_100_u32.to_le_bytes());
        bytes.extend((4 * 44_100_u32).to_le_bytes());
        bytes.extend([4, 0, 32, 0]);
        bytes.extend(b"data");
        bytes.extend((4 * count).to_le_bytes());
        for frame in 0..count {
            bytes.extend((sample(f64::from(frame) / 44_100.0) as f32).to_le_bytes());
        }
        std::fs::write(&path, bytes).expect("a file is written");
        Sound { folder, path }
    }

    /// Where its file stands.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The answers of `heard.py` to these questions.
    pub fn ask(&self, questions: &[String]) -> Vec<Vec<f64>> {
        ask(&[&self.path], questions)
    }

    /// The same of what this sound has and another of the same length has not.
    pub fn ask_without(&self, other: &Sound, questions: &[String]) -> Vec<Vec<f64>> {
        ask(&[&self.path, &other.path], questions)
    }
}

fn ask(sounds: &[&PathBuf], questions: &[String]) -> Vec<Vec<f64>> {
    let answers = numbers(&answered("heard.py", sounds, &questions.join("\n")));
    assert_eq!(answers.len(), questions.len());
    answers
}

/// Hertz of a key, 69 being 440.
pub fn hz(key: u8) -> f64 {
    440.0 * libm::exp2((f64::from(key) - 69.0) / 12.0)
}

/// A shipped instrument on a target (an id or a path) under a wheel.
pub fn settings(instrument: &str, target: &str, imperfection: f64) -> Settings {
    let instrument = profile::load::<Instrument>(instrument).expect("an instrument").profile;
    let target = profile::load::<Target>(target).expect("a target").profile;
    let hand = profile::hand_for(Source::Controller(1)).expect("a hand").profile;
    let patch = profile::patch(&instrument, &target, &hand, 1, imperfection).expect("a patch");
    Settings {
        patch,
        styles: instrument.vibrato.styles.iter().map(|style| style.name.clone()).collect(),
        provenance: Provenance::default(),
        imperfection,
        tracks: Vec::new(),
        channels: Vec::new(),
        bars: None,
        wishes: Default::default(),
        is_forced: false,
    }
}

/// The shaped file of a take.
pub fn shaped(take: &[u8], settings: &Settings) -> File {
    let shaped = shape_bytes(take, settings).expect("the take can be shaped");
    File::read(&shaped.bytes).expect("a file")
}

/// One row of `trace`.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    pub time_s: f64,
    pub expression: f64,
    /// Decibels with all that swings in them.
    pub level_db: f64,
    pub width_cents: f64,
    pub rate_hz: f64,
    pub pitch_cents: f64,
}

/// What `trace` says of a take, every millisecond.
pub fn traced(take: &[u8], settings: &Settings) -> Vec<Row> {
    let mut csv = String::new();
    let traced = trace_bytes(take, settings, 1, |row| {
        csv.push_str(row);
        Ok::<(), ()>(())
    });
    traced.expect("the take can be traced");
    let mut lines = csv.lines();
    let names: Vec<&str> = lines.next().expect("a head").split(',').collect();
    let place = |name: &str| names.iter().position(|it| *it == name).expect("a column");
    let wanted = ["time_s", "expression", "level_db", "width_cents", "rate_hz", "pitch_cents"];
    let places = wanted.map(place);
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        let [time_s, expression, level_db, width_cents, rate_hz, pitch_cents] =
            places.map(|place| cells[place].parse::<f64>().expect("a number"));
        Row { time_s, expression, level_db, width_cents, rate_hz, pitch_cents }
    };
    lines.map(row).collect()
}

/// The rows of a span of time.
pub fn rows_in(rows: &[Row], (begin_s, end_s): (f64, f64)) -> &[Row] {
    let place = |seconds: f64| rows.partition_point(|row| row.time_s < seconds);
    &rows[place(begin_s)..place(end_s)]
}

/// The mean of a value over rows.
pub fn mean(rows: &[Row], value: impl Fn(&Row) -> f64) -> f64 {
    rows.iter().map(value).sum::<f64>() / rows.len() as f64
}
/// Writes a target of the tests' own.
pub fn target_file(folder: &Path, text: &str) -> String {
    let path = folder.join("own.target.toml");
    let head = "polso = \"target\"\nformat = 1\n[about]\nid = \"own\"\nnames = { en = \"own\" }\n\
                author = \"The Polso project\"\nlicence = \"MIT OR Apache-2.0\"\n";
    std::fs::write(&path, format!("{head}{text}")).expect("a file is written");
    path.to_string_lossy().into_owned()
}
