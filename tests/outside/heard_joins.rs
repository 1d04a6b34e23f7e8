//! Joins as a real receiver sounds them: each mode goes from note to note in a time of its own.

use std::f64::consts::TAU;

use super::receiver::{Reel, Sound, hz, settings, shaped};
use super::sample::figure;
use super::written::take;

/// The cleanest voice of the receiver (General MIDI, from 0): its own pitch strays by 0.4 cents.
const PROGRAM: u8 = 22;
/// High on the violin's last string, where the reader's window, three periods, is short.
const FROM_KEY: u8 = 82;
const UP: [u8; 5] = [2, 3, 4, 5, 7];
const JOIN_MS: u64 = 1_000;
const OFF_MS: u64 = 2_000;

/// A mode, the wheel that asks a violin for it, its 10 to 90 % time in ms a semitone and at least
/// and at most (the logistic of Yang, Chew & Rajab, MCM 2015), and what may be heard.
struct Mode {
    name: &'static str,
    wheel: u8,
    ms_per_semitone: f64,
    ms: (f64, f64),
    heard_ms: (f64, f64),
}

const MODES: [Mode; 4] = [
    Mode { name: "quick", wheel: 24, ms_per_semitone: 0.0, ms: (6.0, 6.0), heard_ms: (0.0, 14.0) },
    Mode {
        name: "joined",
        wheel: 60,
        ms_per_semitone: 8.0,
        ms: (10.0, 30.0),
        heard_ms: (14.0, 33.0),
    },
    Mode {
        name: "slow",
        wheel: 98,
        ms_per_semitone: 14.0,
        ms: (25.0, 100.0),
        heard_ms: (24.0, 103.0),
    },
    Mode {
        name: "slide",
        wheel: 125,
        ms_per_semitone: 22.0,
        ms: (80.0, 200.0),
        heard_ms: (75.0, 160.0),
    },
];

impl Mode {
    fn stated_ms(&self, semitones: u8) -> f64 {
        (self.ms_per_semitone * f64::from(semitones)).clamp(self.ms.0, self.ms.1)
    }
}

/// Two notes, the second struck while the first is down.
fn joined(up: u8, wheel: u8) -> Vec<u8> {
    let notes = [(FROM_KEY, 100, JOIN_MS + 60), (FROM_KEY + up, JOIN_MS, OFF_MS)];
    take(&notes, &[(0, wheel)])
}

/// The question for the line of pitches about the join, between the two keys.
fn question(start_s: f64, up: u8) -> (String, f64) {
    let join_s = start_s + JOIN_MS as f64 / 1000.0;
    let middle_hz = libm::sqrt(hz(FROM_KEY) * hz(FROM_KEY + up));
    (format!("glide {} {} {middle_hz}", join_s - 0.25, join_s + 0.6), join_s)
}

/// A line of pitches, seconds from the join and cents.
fn line(answer: &[f64], join_s: f64) -> Vec<(f64, f64)> {
    answer.chunks(2).map(|pair| (pair[0] - join_s, pair[1])).collect()
}

/// The middle pitch of a span.
fn rests(line: &[(f64, f64)], begin_s: f64, end_s: f64) -> f64 {
    let inside = line.iter().filter(|(at_s, _)| (begin_s..end_s).contains(at_s));
    let mut cents: Vec<f64> = inside.map(|(_, cents)| *cents).collect();
    cents.sort_by(f64::total_cmp);
    cents[cents.len() / 2]
}

/// How long the pitch takes from a tenth to nine tenths of the way, milliseconds.
fn glide_ms(line: &[(f64, f64)]) -> f64 {
    let (from, to) = (rests(line, -0.2, -0.03), rests(line, 0.4, 0.6));
    let passes = |share: f64| {
        let wanted = from + share * (to - from);
        let place =
            line.iter().rposition(|(_, cents)| *cents < wanted).expect("it comes from there");
        let ((before_s, before), (after_s, after)) = (line[place], line[place + 1]);
        before_s + (after_s - before_s) * (wanted - before) / (after - before)
    };
    1000.0 * (passes(0.9) - passes(0.1))
}

/// A tone that goes its way as it is stated, for the same reader.
fn ideal(up: u8, ms: f64) -> f64 {
    let join_s = JOIN_MS as f64 / 1000.0;
    // The share of the way is (1/(1 + e^(ln 99 − kt)) − 0.01)/0.98, ended where it reaches 1.
    let per_s = 4.2227 / (ms / 1000.0);
    let share = |at_s: f64| {
        let logistic = 1.0 / (1.0 + libm::exp(libm::log(99.0) - per_s * at_s));
        if at_s < 0.0 { 0.0 } else { ((logistic - 0.01) / 0.98).min(1.0) }
    };
    let mut turn = 0.0;
    let sound = Sound::made(OFF_MS as f64 / 1000.0, |at_s| {
        let semitones = f64::from(up) * share(at_s - join_s);
        turn += hz(FROM_KEY) * libm::exp2(semitones / 12.0) / 44_100.0;
        0.3 * (libm::sin(TAU * turn) + 0.5 * libm::sin(2.0 * TAU * turn))
    });
    let (question, join_s) = question(0.0, up);
    glide_ms(&line(&sound.ask(&[question])[0], join_s))
}

#[test]
fn each_mode_is_heard_in_its_own_time() {
    let mut reel = Reel::new(PROGRAM);
    // A solo voice plays one note at a time (MIDI 1.0, CC 126), so no release is heard beside it.
    reel.send(0.05, &[0xB0, 126, 1]);
    let (mut cases, mut questions) = (Vec::new(), Vec::new());
    for mode in &MODES {
        let mut settings = settings("violin", "perform-12", 0.0);
        settings.patch.vibrato.width_scale = 0.0;
        for up in UP {
            let start_s = reel.add(&shaped(&joined(up, mode.wheel), &settings));
            let (question, join_s) = question(start_s, up);
            questions.push(question);
            cases.push((mode, up, join_s));
        }
    }
    let answers = reel.render(&[]).ask(&questions);
    let mut heard = Vec::new();
    println!("| mode | semitones | stated ms | an ideal tone | heard |");
    for ((mode, up, join_s), answer) in cases.iter().zip(&answers) {
        let line = line(answer, *join_s);
        let (own_ms, ideal_ms) = (glide_ms(&line), ideal(*up, mode.stated_ms(*up)));
        let stated_ms = mode.stated_ms(*up);
        println!("| {} | {up} | {stated_ms:.0} | {ideal_ms:.1} | {own_ms:.1} |", mode.name);
        heard.push((mode, *up, own_ms, ideal_ms));
    }
    for (mode, up, own_ms, ideal_ms) in &heard {
        let (least_ms, most_ms) = mode.heard_ms;
        let name = format!("{}, {up} semitones", mode.name);
        assert!((least_ms..=most_ms).contains(&own_ms), "{name}: {own_ms} ms");
        assert!((own_ms - ideal_ms).abs() <= 6.0, "{name}: {own_ms} ms, ideal {ideal_ms} ms");
    }
    for up in UP {
        let of =
            |name: &str| heard.iter().find(|it| it.0.name == name && it.1 == up).map(|it| it.2);
        let times: Vec<f64> = MODES.iter().filter_map(|mode| of(mode.name)).collect();
        assert!(times.is_sorted_by(|one, other| one + 3.0 <= *other), "{up} semitones: {times:?}");
    }
    let spans = MODES.iter().map(|mode| {
        let own = heard.iter().filter(|it| it.0.name == mode.name).map(|it| it.2);
        let (least, most) = (own.clone().fold(f64::MAX, f64::min), own.fold(0.0, f64::max));
        format!("{} {least:.0} to {most:.0}", mode.name)
    });
    let spans = spans.collect::<Vec<_>>().join(", ");
    figure("joins", &format!("joins from a whole tone to a fifth through FluidSynth, ms: {spans}"));
}

/// At the note-on the pitch stands where it stood, and the old note is gone with its release.
#[test]
fn a_join_begins_where_the_line_stood_and_leaves_no_second_pitch() {
    let mut reel = Reel::new(PROGRAM);
    let mut questions = Vec::new();
    let mut cases = Vec::new();
    for mode in &MODES {
        let mut settings = settings("violin", "perform-12", 0.0);
        settings.patch.vibrato.width_scale = 0.0;
        let up = 4;
        let start_s = reel.add(&shaped(&joined(up, mode.wheel), &settings));
        let join_s = start_s + JOIN_MS as f64 / 1000.0;
        questions.push(format!("tone {} {} {}", join_s - 0.3, join_s - 0.02, hz(FROM_KEY)));
        questions.push(format!("tone {} {} {}", join_s + 0.4, join_s + 0.9, hz(FROM_KEY + up)));
        cases.push(mode.name);
    }
    let alone_s = [FROM_KEY, FROM_KEY + 4].map(|key| (reel.note(key, 1.0), key));
    for (start_s, key) in alone_s {
        questions.push(format!("tone {} {} {}", start_s + 0.3, start_s + 0.9, hz(key)));
    }
    let answers = reel.render(&[]).ask(&questions);
    let own = &answers[answers.len() - 2..];
    for (name, answer) in cases.iter().zip(answers.chunks(2)) {
        for (heard, own) in answer.iter().zip(own) {
            let off_cents = 1200.0 * libm::log2(heard[0] / own[0]);
            assert!(off_cents.abs() <= 1.0, "{name}: {off_cents} cents");
        }
    }
}
