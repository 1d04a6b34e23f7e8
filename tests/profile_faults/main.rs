//! A file that cannot be used says where, what stands there and what may stand there.

mod articulation;
mod instrument;
mod meeting;
mod receiver;
mod text;

use polso::profile::{Hand, Instrument, Profile, Target, check};

/// A whole instrument with as little in it as there may be.
const FIDDLE: &str = r#"polso = "instrument"
format = 1
family = "bowed"
[about]
id = "fiddle"
names = { en = "fiddle" }
[range]
hard_keys = [55, 96]
comfortable_keys = [55, 88]
[strings]
open_keys = [55, 62]
forced_open_keys = [55]
span_semitones = [12, 20]
length_m = 0.33
[bow]
pp_s = 10
ff_s = 1
[vibrato]
styles = ["plain", "rolled"]
[vibrato.rolled]
width_cents = [[0, 0], [1, 90]]
rate_hz = 6
"#;

const BOX: &str = r#"polso = "target"
format = 1
[about]
id = "box"
names = { en = "box" }
[outputs.dynamics]
address = "cc 11"
"#;

const LEVER: &str = r#"polso = "hand"
format = 1
[controller]
source = "cc 1"
"#;

/// The file's faults are exactly these, in this order.
fn check_faults<T: Profile>(text: &str, expected: &[&str]) {
    let faults: Vec<String> = match check::<T>(text) {
        Ok(_) => Vec::new(),
        Err(faults) => faults.iter().map(ToString::to_string).collect(),
    };
    assert_eq!(faults, expected, "in\n{text}");
}

/// `old` in `text` becomes `new`; then the faults are exactly these.
fn check_changed<T: Profile>(text: &str, old: &str, new: &str, expected: &[&str]) {
    assert!(text.contains(old), "{old:?} is not in the text");
    check_faults::<T>(&text.replacen(old, new, 1), expected);
}

fn fiddle(old: &str, new: &str, expected: &[&str]) {
    check_changed::<Instrument>(FIDDLE, old, new, expected);
}

/// `more` stands below a target with one output.
fn receiver(more: &str, expected: &[&str]) {
    check_faults::<Target>(&format!("{BOX}{more}"), expected);
}

/// `more` stands below a hand with a wheel.
fn lever(more: &str, expected: &[&str]) {
    check_faults::<Hand>(&format!("{LEVER}{more}"), expected);
}
