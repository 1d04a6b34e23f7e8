//! Ten thousand cycles of one vibrato are as uneven as its file says.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use std::fmt::Write;

use polso::engine::Section;
use polso::engine::patch::{Patch, Response};
use polso::engine::{Input, Message, Origin, Sink, Timed};

use super::readers::answers;
use super::receiver::settings;
use super::sample::figure;

const CYCLE_COUNT: usize = 10_000;
/// Statistical errors of 10,000 cycles of such a chain are 0.24 % of the mean, 1.3 % of the spread
/// and 0.007 of the correlation; these are about three of each.
const MEAN_OFF_MAX: f64 = 0.007;
const SPREAD_OFF_MAX: f64 = 0.05;
/// The file's number is the spread of the values used, within a tenth.
const STATED_OFF_MAX: f64 = 0.1;
const CORRELATION_OFF_MAX: f64 = 0.025;

struct Deaf;

impl Sink for Deaf {
    fn send(&mut self, _: u32, _: Message, _: Origin) -> bool {
        true
    }
}

/// The pitch at every millisecond of a note without end, under a hand that stands in the middle
/// of the rolled style; its even rate and width; and what the file states, in per cent.
fn note(scale: f64) -> (Vec<f64>, f64, f64, (f64, f64)) {
    let mut patch = settings("erhu", "perform", scale).patch;
    // The arch of a long note is no part of its cycles' unevenness.
    patch.vibrato.arch = 0.0;
    (patch.hand.low, patch.hand.high) = (0.0, 1.0);
    (patch.hand.dead_zone_rest, patch.hand.dead_zone_full) = (0.0, 0.0);
    patch.hand.response = Response::Exponential(0.0);
    let mut engine = Section::prepare(48_000.0, &patch);
    let at_start = |input| Timed { frame: 0, tag: 0, input };
    let on = Message::NoteOn { channel: 0, key: 72, velocity: 64 };
    engine.process(1, &[at_start(Input::Gesture(0.5)), at_start(Input::Midi(on))], &mut Deaf);
    let mut pitch_cents = Vec::new();
    let length_ms = (CYCLE_COUNT as f64 / 5.4 * 1000.0) as usize;
    for _ in 0..length_ms {
        engine.process(48, &[], &mut Deaf);
        pitch_cents.push(engine.view().pitch_cents);
    }
    let (rate_hz, width_cents) = even(&patch);
    let stated = (100.0 * patch.vibrato.rate_spread, 100.0 * patch.vibrato.width_spread);
    (pitch_cents, rate_hz, width_cents, stated)
}

/// Rate and width in the middle of the rolled style, a third above the open string.
fn even(patch: &Patch) -> (f64, f64) {
    let rolled = &patch.vibrato.styles[1];
    let register = 1.0 + patch.vibrato.register_per_semitone * (72.0 - 69.0 - 5.0);
    (rolled.rate_hz.at(0.5), rolled.width_cents.at(0.5) * register)
}

/// Rate and width of each cycle after the vibrato has grown, as shares of the even ones: from one
/// upward passage through the note to the next.
fn cycles(pitch_cents: &[f64], rate_hz: f64, width_cents: f64) -> Vec<(f64, f64)> {
    let grown = &pitch_cents[2000..];
    let passages = grown.windows(2).enumerate().filter(|(_, pair)| pair[0] < 0.0 && pair[1] >= 0.0);
    let passages: Vec<(usize, f64)> = passages
        .map(|(place, pair)| (place, place as f64 + pair[0] / (pair[0] - pair[1])))
        .collect();
    let cycle = |pair: &[(usize, f64)]| {
        let inside = grown[pair[0].0..=pair[1].0].iter();
        let (low, high) = inside
            .fold((0.0_f64, 0.0_f64), |(low, high), cents| (low.min(*cents), high.max(*cents)));
        let length_s = (pair[1].1 - pair[0].1) / 1000.0;
        (1.0 / (length_s * rate_hz), (high - low) / width_cents)
    };
    passages.windows(2).map(cycle).take(CYCLE_COUNT).collect()
}

#[test]
fn ten_thousand_cycles_are_as_uneven_as_the_file_says() {
    let (pitch_cents, rate_hz, width_cents, stated) = note(1.0);
    let cycles = cycles(&pitch_cents, rate_hz, width_cents);
    assert_eq!(cycles.len(), CYCLE_COUNT);
    // The erhu's file.
    assert_abs_diff_eq!(stated.0, 7.0, epsilon = 1e-9);
    assert_abs_diff_eq!(stated.1, 12.0, epsilon = 1e-9);
    let mut table = format!("{} {}\n", stated.0, stated.1);
    for (rate, width) in &cycles {
        writeln!(table, "{rate:e} {width:e}").expect("a string");
    }
    let answers = answers("unevenness.py", &table);
    let mut said = Vec::new();
    for (what, answer) in ["rate", "width"].iter().zip(&answers) {
        let [mean, spread, correlation, book_mean, book_spread, book_correlation] = answer[..]
        else {
            panic!("{answer:?}")
        };
        let sentence = format!(
            "{what} mean {mean:.4} ({book_mean:.4} by the textbook's chain), spread {:.2} % \
             ({:.2} %), correlation {correlation:.3} ({book_correlation:.3})",
            100.0 * spread,
            100.0 * book_spread
        );
        println!("{sentence}");
        let stated = if *what == "rate" { stated.0 } else { stated.1 } / 100.0;
        assert_relative_eq!(spread, stated, max_relative = STATED_OFF_MAX);
        assert_abs_diff_eq!(mean, book_mean, epsilon = MEAN_OFF_MAX);
        assert_relative_eq!(spread, book_spread, max_relative = SPREAD_OFF_MAX);
        assert_abs_diff_eq!(correlation, book_correlation, epsilon = CORRELATION_OFF_MAX);
        said.push(sentence);
    }
    figure(
        "unevenness",
        &format!("{CYCLE_COUNT} cycles, 7 % and 12 % stated: {}", said.join("; ")),
    );
}

#[test]
fn at_nothing_every_cycle_is_like_the_other() {
    let (pitch_cents, rate_hz, width_cents, _) = note(0.0);
    let even = cycles(&pitch_cents[..20_000], rate_hz, width_cents);
    assert!(even.len() > 80, "{}", even.len());
    // A width is read off every millisecond: a turn may lie between two.
    for (rate, width) in even {
        assert_abs_diff_eq!(rate, 1.0, epsilon = 1e-3);
        assert_abs_diff_eq!(width, 1.0, epsilon = 1e-3);
    }
}
