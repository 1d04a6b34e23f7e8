//! A slide told by portamento time, switch and source key glides as long as the receiver says.

use super::receiver::{Reel, hz, settings, shaped, target_file};
use super::sample::figure;
use super::written::take;
use approx::assert_abs_diff_eq;

const PROGRAM: u8 = 71;
const KEYS: (u8, u8) = (66, 71);
const SLIDE_MS: u64 = 1000;
/// FluidSynth glides evenly in pitch over 128 ms for each step of controller 5 (its controller 37
/// counts the milliseconds between), so from a tenth to nine tenths in 0.8 of that.
const STEP_S: f64 = 0.128;
const OFF_S_MAX: f64 = 0.008;

/// The middle pitch of a span, as the receiver itself plays the key.
pub fn rests(line: &[(f64, f64)], begin_s: f64, end_s: f64) -> f64 {
    let inside = line.iter().filter(|(at_s, _)| (begin_s..end_s).contains(at_s));
    let mut cents: Vec<f64> = inside.map(|(_, cents)| *cents).collect();
    cents.sort_by(f64::total_cmp);
    cents[cents.len() / 2]
}

/// The seconds at which the pitch first passes a share of the way.
fn passes(line: &[(f64, f64)], share: f64) -> f64 {
    let slide_s = SLIDE_MS as f64 / 1000.0;
    let (from, to) =
        (rests(line, slide_s - 0.15, slide_s), rests(line, slide_s + 0.4, slide_s + 0.7));
    let wanted = from + share * (to - from);
    let place = line.iter().position(|(_, cents)| *cents >= wanted).expect("it arrives");
    let ((before_s, before), (after_s, after)) = (line[place - 1], line[place]);
    before_s + (after_s - before_s) * (wanted - before) / (after - before)
}

#[test]
fn a_slide_takes_the_time_that_the_receiver_states() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut reel = Reel::new(PROGRAM);
    // The receiver plays one note at a time, as one with portamento does (MIDI 1.0, CC 126).
    reel.send(0.05, &[0xB0, 126, 1]);
    let mut cases = Vec::new();
    // The wheel at full asks for a slide, in the middle for an ordinary join.
    for (time, wheel) in [(1, 127), (2, 127), (1, 80)] {
        let text = format!("[slide]\ntime = {time}\nsays_source_key = true\n");
        let output = "[outputs.gesture]\naddress = \"cc 20\"\n";
        let mut settings =
            settings("erhu", &target_file(folder.path(), &format!("{output}{text}")), 0.0);
        settings.patch.vibrato.width_scale = 0.0;
        let take = take(&[(KEYS.0, 100, SLIDE_MS + 5), (KEYS.1, SLIDE_MS, 2000)], &[(0, wheel)]);
        cases.push((time, wheel, reel.add(&shaped(&take, &settings))));
    }
    // In the middle between the keys, so that Praat's range holds both.
    let middle_hz = libm::sqrt(hz(KEYS.0) * hz(KEYS.1));
    let ask = |(_, _, start_s): &(u8, u8, f64)| {
        format!("line {} {} {middle_hz}", start_s + 0.8, start_s + 1.8)
    };
    let answers = reel.render(&[]).ask(&cases.iter().map(ask).collect::<Vec<_>>());
    let mut said = Vec::new();
    for ((time, wheel, start_s), answer) in cases.iter().zip(&answers) {
        let line: Vec<(f64, f64)> =
            answer.chunks(2).map(|pair| (pair[0] - start_s, pair[1])).collect();
        let glide_s = passes(&line, 0.9) - passes(&line, 0.1);
        let begins_s = passes(&line, 0.1);
        println!("time {time}, wheel {wheel}: begins {begins_s:.3}, 10 to 90 % in {glide_s:.4} s");
        if *wheel == 127 {
            let stated_s = 0.8 * STEP_S * f64::from(*time);
            assert_abs_diff_eq!(glide_s, stated_s, epsilon = OFF_S_MAX);
            said.push(format!("{:.0} ms of {:.0}", 1000.0 * glide_s, 1000.0 * stated_s));
        } else {
            assert!(glide_s < 0.03, "an ordinary join slides for {glide_s} s");
        }
    }
    figure("slides", &format!("slides from 10 to 90 % of the way: {}", said.join(", ")));
}
