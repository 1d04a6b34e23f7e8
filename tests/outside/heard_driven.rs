//! A receiver's own vibrato, driven by a controller, is as wide as the gesture asks.

use super::receiver::{Reel, hz, mean, rows_in, settings, shaped, target_file, traced};
use super::sample::figure;
use super::written::take;
use approx::assert_abs_diff_eq;

/// The square lead, whose vibrato answers to controller 1 (SoundFont 2.04, 8.4: linear).
const PROGRAM: u8 = 80;
const KEY: u8 = 66;
const INSTRUMENTS: [&str; 4] = ["erhu", "violin", "dizi-d", "suona-d"];
const WHEELS: [u8; 3] = [56, 84, 104];
const OFF_CENTS_MAX: f64 = 2.0;

#[test]
fn a_driven_vibrato_is_as_wide_as_asked() {
    // How wide the receiver swings at the top and in the middle of its controller.
    let mut reel = Reel::new(PROGRAM);
    let steady_s = reel.note(KEY, 2.5);
    let mut swung = Vec::new();
    for value in [64, 127] {
        let start_s = reel.note(KEY, 2.5);
        reel.send(start_s + 0.01, &[0xB0, 1, value]);
        swung.push(start_s);
    }
    let sound = reel.render(&[]);
    let span = |start_s: f64| format!("{} {}", start_s + 0.6, start_s + 2.4);
    let own_hz = sound.ask(&[format!("tone {} {}", span(steady_s), hz(KEY))])[0][0];
    let asked: Vec<String> =
        swung.iter().map(|start_s| format!("swing {} {own_hz}", span(*start_s))).collect();
    let own = sound.ask(&asked);
    let (half_cents, full_cents) = (own[0][1], own[1][1]);
    println!("the receiver: {own:?}");
    assert_abs_diff_eq!(half_cents / full_cents, 64.0 / 127.0, epsilon = 0.02);

    let folder = tempfile::tempdir().expect("a folder");
    let target = target_file(
        folder.path(),
        &format!(
            "[outputs.vibrato_width]\naddress = \"cc 1\"\nlow_cents = 0\nhigh_cents = {full_cents}\n\
             interval_ms = 20\n"
        ),
    );
    let mut reel = Reel::new(PROGRAM);
    let (mut questions, mut told) = (Vec::new(), Vec::new());
    for id in INSTRUMENTS {
        for wheel in WHEELS {
            let take = take(&[(KEY, 100, 3600)], &[(0, wheel)]);
            let settings = settings(id, &target, 0.0);
            let start_s = reel.add(&shaped(&take, &settings));
            questions.push(format!("swing {} {} {own_hz}", start_s + 1.5, start_s + 3.5));
            let rows = traced(&take, &settings);
            let width_cents = mean(rows_in(&rows, (1.5, 3.5)), |row| row.width_cents);
            told.push((id, wheel, width_cents.min(full_cents)));
        }
    }
    let heard = reel.render(&[]).ask(&questions);
    let mut worst_cents = 0.0_f64;
    for ((id, wheel, width_cents), answer) in told.iter().zip(&heard) {
        let off_cents = answer[1] - width_cents;
        println!("{id}, wheel {wheel}: {:.2} cents heard of {width_cents:.2}", answer[1]);
        assert!(off_cents.abs() <= OFF_CENTS_MAX, "{id}, wheel {wheel}: {off_cents}");
        worst_cents = worst_cents.max(off_cents.abs());
    }
    let widths = told.iter().map(|(_, _, width_cents)| *width_cents);
    let widest_cents = widths.clone().fold(0.0, f64::max);
    assert!(widest_cents > 2.0 * widths.fold(f64::INFINITY, f64::min), "widths too much alike");
    figure(
        "driven-vibrato",
        &format!(
            "{} notes driven by controller 1 on FluidSynth: width within {worst_cents:.1} cents of \
             the trace",
            told.len()
        ),
    );
}
