//! The program makes takes audible: what is in its files, and what it refuses.

use std::path::Path;
use std::process::Command;

use approx::assert_abs_diff_eq;
use serde_json::Value as Json;

#[path = "../written/mod.rs"]
mod written;

const TAKE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/last-ferry.mid");

/// Exit code, standard output and standard error of one call.
fn polso(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_polso")).args(arguments).output();
    let output = output.expect("the program starts");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code().expect("a code"), text(output.stdout), text(output.stderr))
}

/// A file that was made: its spec and its frames, left and right.
struct Heard {
    spec: hound::WavSpec,
    frames: Vec<[f64; 2]>,
}

impl Heard {
    fn read(path: &Path) -> Heard {
        let mut reader = hound::WavReader::open(path).expect("a WAV file");
        let spec = reader.spec();
        let samples: Vec<f64> = match spec.sample_format {
            hound::SampleFormat::Float => {
                reader.samples::<f32>().map(|it| f64::from(it.expect("a sample"))).collect()
            }
            hound::SampleFormat::Int => {
                let full = libm::exp2(f64::from(spec.bits_per_sample) - 1.0);
                reader.samples::<i32>().map(|it| f64::from(it.expect("a sample")) / full).collect()
            }
        };
        Heard { spec, frames: samples.chunks(2).map(|two| [two[0], two[1]]).collect() }
    }

    fn peak(&self) -> f64 {
        self.frames.iter().flatten().fold(0.0, |peak, sample| peak.max(sample.abs()))
    }

    fn seconds(&self) -> f64 {
        self.frames.len() as f64 / f64::from(self.spec.sample_rate)
    }

    /// The frames between two times.
    fn part(&self, from_s: f64, to_s: f64) -> &[[f64; 2]] {
        let at = |seconds: f64| (seconds * f64::from(self.spec.sample_rate)) as usize;
        &self.frames[at(from_s)..at(to_s).min(self.frames.len())]
    }
}

/// Writes a take into a folder and makes it audible with these options, with a JSON answer.
fn heard(folder: &Path, take: &[u8], options: &[&str]) -> (Heard, Json) {
    let [input, output] = ["take.mid", "take.wav"].map(|name| folder.join(name));
    std::fs::write(&input, take).expect("a file is written");
    let words = ["hear", input.to_str().expect("a path"), "-o", output.to_str().expect("a path")];
    let (code, out, err) = polso(&[&words[..], &["--force", "--json"], options].concat());
    assert_eq!((code, err.as_str()), (0, ""), "{options:?}");
    (Heard::read(&output), serde_json::from_str(&out).expect("an object"))
}

fn example() -> Vec<u8> {
    std::fs::read(TAKE).expect("the example")
}

#[test]
fn before_and_after_are_equally_loud_and_neither_peaks() {
    let folder = tempfile::tempdir().expect("a folder");
    let options: [&[&str]; 3] = [
        &["-i", "erhu", "--bits", "16"],
        &["-i", "flute", "--dry"],
        &["-i", "violin", "--rate", "44100"],
    ];
    for options in options {
        let (after, told) = heard(folder.path(), &example(), options);
        let (before, plain) = heard(folder.path(), &example(), &[options, &["--before"]].concat());
        let [loud, even] =
            [&told, &plain].map(|it| it["loudness_lufs"].as_f64().expect("a number"));
        assert_abs_diff_eq!(loud, even, epsilon = 0.5);
        assert_abs_diff_eq!(loud, -23.0, epsilon = 0.5);
        for (heard, told) in [(&after, &told), (&before, &plain)] {
            assert!(heard.peak() <= libm::exp10(-3.0 / 20.0), "{}", heard.peak());
            assert!(told["peak_dbtp"].as_f64().expect("a number") <= -3.0, "{told}");
            assert_abs_diff_eq!(
                heard.seconds(),
                told["duration_s"].as_f64().unwrap(),
                epsilon = 1e-6
            );
            assert_eq!(
                told["lines"],
                serde_json::json!([{ "track": 2, "channel": 1, "notes": 80 }])
            );
        }
        assert_ne!(after.frames, before.frames);
    }
}

/// Where one short note is much louder than all else its peak is kept down, and the plain notes, which
/// have no such peak, come down with it.
#[test]
fn a_peak_takes_both_down() {
    let folder = tempfile::tempdir().expect("a folder");
    let notes = [(74, 0, 30_000), (81, 31_000, 31_400)];
    let take = written::take(&notes, &[(0, 30), (30_900, 127)]);
    let (after, told) = heard(folder.path(), &take, &["-i", "violin"]);
    let (_, plain) = heard(folder.path(), &take, &["-i", "violin", "--before"]);
    let [loud, even] = [&told, &plain].map(|it| it["loudness_lufs"].as_f64().expect("a number"));
    assert!(loud < -24.0, "{loud} LUFS");
    assert_abs_diff_eq!(loud, even, epsilon = 0.5);
    assert!(after.peak() <= libm::exp10(-3.0 / 20.0), "{}", after.peak());
}

#[test]
fn it_begins_in_silence_and_ends_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let take = written::take(&[(74, 0, 2000)], &[(0, 90)]);
    for options in [&["-i", "erhu"][..], &["-i", "erhu", "--before", "--bits", "float"]] {
        let (heard, _) = heard(folder.path(), &take, options);
        assert!(heard.part(0.0, 0.5).iter().flatten().all(|sample| *sample == 0.0));
        let highest = |from_s, to_s| {
            heard.part(from_s, to_s).iter().flatten().fold(0.0_f64, |high, it| high.max(it.abs()))
        };
        assert!(highest(0.5, 0.51) < 0.1 * highest(1.0, 1.5), "it comes in");
        assert!(highest(heard.seconds() - 0.05, heard.seconds()) < 1e-4, "it has died away");
    }
}

#[test]
fn bits_and_rates_are_as_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let take = written::take(&[(74, 0, 600)], &[(0, 90)]);
    for (bits, count, rate) in [("16", 16, 44_100), ("24", 24, 96_000), ("float", 32, 88_200)] {
        let rate_text = rate.to_string();
        let options = ["-i", "violin", "--bits", bits, "--rate", &rate_text];
        let (heard, told) = heard(folder.path(), &take, &options);
        let spec = heard.spec;
        assert_eq!((spec.bits_per_sample, spec.sample_rate, spec.channels), (count, rate, 2));
        assert_eq!(told["rate_hz"], rate);
    }
}

#[test]
fn a_part_is_heard_alone_and_fades_at_its_end() {
    let folder = tempfile::tempdir().expect("a folder");
    let (heard, _) = heard(folder.path(), &example(), &["-i", "erhu", "--bars", "12..13"]);
    assert!((7.0..11.0).contains(&heard.seconds()), "{} s", heard.seconds());
    let end = heard.part(heard.seconds() - 0.002, heard.seconds());
    assert!(end.iter().flatten().all(|sample| sample.abs() < 1e-3));
}

#[test]
fn a_shaped_file_is_heard_as_its_record_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let shaped = folder.path().join("shaped.mid");
    let path = shaped.to_str().expect("a path");
    let words = ["shape", TAKE, "-o", path, "-i", "violin", "--seed", "7", "--imperfection", "2"];
    assert_eq!(polso(&words).0, 0);
    let bytes = std::fs::read(&shaped).expect("a file");
    let (from_shaped, told) = heard(folder.path(), &bytes, &[]);
    let own = ["-i", "violin", "--seed", "7", "--imperfection", "2"];
    let (from_take, _) = heard(folder.path(), &example(), &own);
    assert!(from_shaped.frames == from_take.frames, "the same sound");
    assert!(told["notices"][0].as_str().expect("a notice").contains("its take is heard"));
    let (other, _) =
        heard(folder.path(), &bytes, &["-i", "violin", "--seed", "8", "--imperfection", "2"]);
    assert!(other.frames != from_take.frames, "-i and its options count");
    let wav = folder.path().join("x.wav");
    let wav = wav.to_str().expect("a path");
    let (code, _, err) = polso(&["hear", path, "-o", wav, "--seed", "8"]);
    assert_eq!(code, 2);
    assert!(err.contains("stand in the file's record; with -i they are taken from here"), "{err}");
    // The record names an instrument that is not here as it was.
    let place = bytes.windows(7).position(|it| it == b"violin ").expect("the marker");
    let mut strange = bytes.clone();
    strange[place + 7] = if strange[place + 7] == b'0' { b'1' } else { b'0' };
    std::fs::write(&shaped, strange).expect("a file is written");
    let (code, _, err) = polso(&["hear", path, "-o", wav]);
    assert_eq!(code, 2);
    assert!(
        err.contains(
            "its instrument violin is not the one of that name here; or choose anew with -i"
        ),
        "{err}"
    );
    assert!(!Path::new(wav).exists());
}

/// A stretch that a table asks to be softer is heard softer: both ends of the take stand as they were.
#[test]
fn what_is_asked_of_a_stretch_is_heard() {
    let room = tempfile::tempdir().expect("a folder");
    let table = room.path().join("wishes.txt");
    std::fs::write(&table, "1..10: softer 12 dB\n").expect("written");
    let wishes = table.to_str().expect("a path");
    let (plain, _) = heard(room.path(), &example(), &["-i", "erhu"]);
    let (asked, _) = heard(room.path(), &example(), &["-i", "erhu", "--wishes", wishes]);
    let energy = |heard: &Heard, from_s: f64, to_s: f64| -> f64 {
        heard.part(from_s, to_s).iter().flatten().map(|sample| sample * sample).sum()
    };
    // Loudness is matched as a whole, so that what counts is one part beside the other.
    let share_db =
        |heard: &Heard| 10.0 * libm::log10(energy(heard, 5.0, 25.0) / energy(heard, 50.0, 75.0));
    let fall_db = share_db(&plain) - share_db(&asked);
    assert!((9.0..=12.5).contains(&fall_db), "{fall_db} dB");
}

#[test]
fn lines_stand_side_by_side() {
    let folder = tempfile::tempdir().expect("a folder");
    // Two tracks of one note each, on two channels.
    let track = |channel: u8, key: u8| {
        let mut bytes = vec![0, 0xB0 | channel, 1, 90, 0, 0x90 | channel, key, 80];
        bytes.extend([0x8F, 0x00, 0x80 | channel, key, 64, 0, 0xFF, 0x2F, 0]);
        [b"MTrk".to_vec(), (bytes.len() as u32).to_be_bytes().to_vec(), bytes].concat()
    };
    let head = b"MThd\0\0\0\x06\0\x01\0\x02\x03\xE8".to_vec();
    let take = [head, track(0, 62), track(1, 81)].concat();
    let (heard, told) = heard(folder.path(), &take, &["-i", "violin", "--dry"]);
    assert_eq!(told["lines"].as_array().expect("lines").len(), 2);
    let part = heard.part(1.0, 1.4);
    let power = |side: usize, hz: f64| {
        let turn = std::f64::consts::TAU * hz / f64::from(heard.spec.sample_rate);
        let waves = part.iter().enumerate();
        let (real, imaginary) = waves.fold((0.0, 0.0), |(real, imaginary), (place, frame)| {
            let angle = turn * place as f64;
            (real + frame[side] * libm::cos(angle), imaginary + frame[side] * libm::sin(angle))
        });
        libm::hypot(real, imaginary)
    };
    assert!(power(0, 293.66) > 1.5 * power(1, 293.66), "the first stands left");
    assert!(power(1, 880.0) > 1.5 * power(0, 880.0), "the second stands right");
}

/// One call is refused with these words, and nothing is written.
fn refused(options: &[&str], words: &str) {
    let folder = tempfile::tempdir().expect("a folder");
    let wav = folder.path().join("out.wav");
    let head = ["hear", TAKE, "-o", wav.to_str().expect("a path")];
    let (code, out, err) = polso(&[&head[..], options].concat());
    assert_eq!((code, out.as_str()), (2, ""), "{options:?}: {err}");
    assert!(err.contains(words), "{options:?}: {err}");
    assert!(!wav.exists());
}

#[test]
fn what_cannot_be_heard_is_refused_in_words() {
    let voices = "the voice of our own sounds one line of a channel, and 8 voices are asked for";
    refused(&["-i", "erhu", "--voices", "chords"], voices);
    refused(&[], "the take says no instrument; choose one with -i");
    refused(&["-i", "violin", "--rate", "8000"], "--rate is 8000; allowed is 44100 to 96000");
    refused(&["-i", "violin", "--bits", "20"], "--bits is 20; allowed is 16, 24 or float");
    refused(&["-i", "violin", "--soundfont", "no.sf2"], "no.sf2: ");
    refused(&["-i", "violin", "--soundfont", TAKE], "is no SoundFont 2 that can be read");
    refused(&["-i", "violin", "--bars", "99..100"], "--bars begins at bar 99");
    refused(&["-i", "no-such"], "no-such");
    #[cfg(not(feature = "sound"))]
    {
        let (code, _, err) = polso(&["hear", TAKE, "-i", "violin"]);
        assert_eq!(code, 2);
        assert!(err.contains("--features sound") && err.contains("libasound2-dev"), "{err}");
    }
}

#[test]
fn a_file_that_is_there_stays_unless_forced() {
    let folder = tempfile::tempdir().expect("a folder");
    let wav = folder.path().join("out.wav");
    std::fs::write(&wav, "mine").expect("a file is written");
    let words =
        ["hear", TAKE, "-o", wav.to_str().expect("a path"), "-i", "violin", "--bars", "1..1"];
    let (code, _, err) = polso(&words);
    assert_eq!(code, 2);
    assert!(err.contains("--force overwrites it"), "{err}");
    assert_eq!(std::fs::read(&wav).expect("a file"), b"mine");
    assert_eq!(polso(&[&words[..], &["--force"]].concat()).0, 0);
    assert!(std::fs::read(&wav).expect("a file").starts_with(b"RIFF"));
}
