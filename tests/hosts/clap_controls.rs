//! The controls as a host shows them: names, ranges, units, and text both ways.

use super::clap::Clap;

#[test]
fn every_control_has_its_name_and_its_place_at_rest() {
    let clap = Clap::open();
    let found: Vec<(&str, f64)> =
        clap.controls().iter().map(|it| (it.name.as_str(), it.default)).collect();
    let mut names: Vec<&str> = found.iter().map(|(name, _)| *name).collect();
    names.sort_unstable();
    let expected = [
        "Bypass",
        "Dynamics ceiling",
        "Dynamics floor",
        "Edits",
        "Gesture",
        "Imperfection",
        "Instrument slot",
        "Panic",
        "Printed",
        "Resync",
        "Seed",
        "Tail",
        "Target slot",
        "Vibrato onset",
        "Vibrato rate",
        "Vibrato style",
        "Vibrato style (first projects)",
        "Vibrato width",
        "Weight",
    ];
    assert_eq!(names, expected);
}

/// A control says `said` at `share` of its range, and reads it back.
#[track_caller]
fn check(name: &str, share: f64, said: &str) {
    let mut clap = Clap::open();
    let control = clap.control(name).clone();
    let value = control.min + share * (control.max - control.min);
    assert_eq!(clap.text(name, value), said);
    let read = clap.read_text(name, said).expect("it reads its own text");
    assert!((read - value).abs() < 1e-3 * (control.max - control.min), "{said} is read as {read}");
}

#[test]
fn text_goes_both_ways_with_units() {
    check("Gesture", 0.5, "50.0 %");
    check("Weight", 0.2, "1.00 x");
    check("Dynamics floor", 0.25, "25.0 %");
    check("Vibrato width", 0.5, "100.0 %");
    check("Vibrato rate", 1.0, "200.0 %");
    check("Vibrato onset", 0.25, "100.0 %");
    check("Vibrato style", 0.0, "by gesture");
    check("Vibrato style", 1.0 / 21.0, "0.0 %");
    check("Vibrato style", 11.0 / 21.0, "50.0 %");
    check("Vibrato style", 1.0, "100.0 %");
    check("Vibrato style (first projects)", 0.0, "by gesture");
    check("Vibrato style (first projects)", 0.75, "50.0 %");
    check("Tail", 0.0, "0.0 %");
    check("Imperfection", 1.0, "200.0 %");
    check("Instrument slot", 1.0, "4");
    check("Bypass", 1.0, "on");
    check("Panic", 0.0, "off");
    check("Printed", 0.0, "follows the hand");
    check("Printed", 1.0, "printed");
}

/// Half of the lane said "by gesture".
#[test]
fn only_the_lowest_step_of_the_style_lane_leaves_it_to_the_gesture() {
    let mut clap = Clap::open();
    let control = clap.control("Vibrato style").clone();
    for step in 0..=100 {
        let share = f64::from(step) / 100.0;
        let text = clap.text("Vibrato style", control.min + share * (control.max - control.min));
        assert_eq!(text == "by gesture", step <= 2, "{share}: {text}");
    }
}

#[test]
fn nonsense_is_refused() {
    let mut clap = Clap::open();
    for text in ["", "loud", "NaN", "inf %", "1 2"] {
        assert_eq!(clap.read_text("Gesture", text), None, "{text:?}");
        assert_eq!(clap.read_text("Vibrato style", text), None, "{text:?}");
    }
    assert_eq!(clap.read_text("Bypass", "perhaps"), None);
}
