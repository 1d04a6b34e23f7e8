//! What an instrument may not say.

use super::{FIDDLE, check_faults, fiddle};
use polso::profile::Instrument;

#[test]
fn curves_need_two_to_sixteen_points_that_rise() {
    let width = "width_cents = [[0, 0], [1, 90]]";
    fiddle(
        width,
        "width_cents = [[0, 0]]",
        &["line 21: vibrato.rolled.width_cents is 1 point long; allowed is 2 to 16 points"],
    );
    let many: Vec<String> = (0..17).map(|at| format!("[{}, 1]", f64::from(at) / 16.0)).collect();
    fiddle(
        width,
        &format!("width_cents = [{}]", many.join(", ")),
        &["line 21: vibrato.rolled.width_cents is 17 points long; allowed is 2 to 16 points"],
    );
    fiddle(
        width,
        "width_cents = [\n  [0, 0],\n  [0.5, 40],\n  [0.5, 90],\n]",
        &[
            "line 24: vibrato.rolled.width_cents is placed at 0.5 after 0.5; allowed is points that each stand at least 0.001 further",
        ],
    );
    fiddle(
        width,
        "width_cents = [[0, 0], [1.5, 500]]",
        &[
            "line 21: vibrato.rolled.width_cents is placed at 1.5; allowed is points from 0 to 1",
            "line 21: vibrato.rolled.width_cents is 500; allowed is 0 to 400",
        ],
    );
    fiddle(
        width,
        "width_cents = [[0, 0, 0], [1, 90]]",
        &[
            "line 21: vibrato.rolled.width_cents is [0, 0, 0]; allowed is points of two numbers, like [0.5, 1]",
        ],
    );
}

#[test]
fn edges_stand_in_order() {
    fiddle(
        "[bow]",
        "[legato]\nedges = [0.3, 0.2, 0.8]\n[bow]",
        &[
            "line 16: legato.edges is [0.3, 0.2, 0.8]; allowed is 3 numbers, 0 to 1, each at least 0.01 above the last",
        ],
    );
    fiddle(
        "[bow]",
        "[legato]\nedges = [0.3, 0.35, 0.8]\n[bow]",
        &["line 15: legato.hysteresis is 0.03; allowed is 0 to 0.025, half of the narrowest zone"],
    );
    fiddle(
        "styles =",
        "style_edges = [[0.3, 0.1]]\nstyles =",
        &[
            "line 19: vibrato.style_edges is [[0.3, 0.1]]; allowed is 1 pair of begin and end, 0 to 1, in order, each end 0.01 or more above its begin",
        ],
    );
    fiddle(
        "styles =",
        "style_edges = [[0.1, 0.3], [0.7, 0.9]]\nstyles =",
        &[
            "line 19: vibrato.style_edges is [[0.1, 0.3], [0.7, 0.9]]; allowed is 1 pair of begin and end, 0 to 1, in order, each end 0.01 or more above its begin",
        ],
    );
}

#[test]
fn styles_have_names_of_their_own() {
    fiddle(
        "[\"plain\", \"rolled\"]",
        "[\"rolled\", \"rolled\"]",
        &[
            "line 19: vibrato.styles is \"rolled\" in a second place; allowed is 1 to 4 different names of small letters, digits and underscores",
        ],
    );
    fiddle(
        "[\"plain\", \"rolled\"]",
        "[]",
        &[
            "line 19: vibrato.styles is []; allowed is 1 to 4 different names of small letters, digits and underscores",
        ],
    );
    fiddle(
        "[\"plain\", \"rolled\"]",
        "[\"plain\", \"Rolled\"]",
        &[
            "line 19: vibrato.styles is [\"plain\", \"Rolled\"]; allowed is 1 to 4 different names of small letters, digits and underscores",
        ],
    );
}

#[test]
fn a_range_goes_up_and_holds_the_comfortable_one() {
    fiddle(
        "[55, 96]",
        "[96, 55]",
        &["line 8: range.hard_keys is [96, 55]; allowed is the lowest key, then the highest"],
    );
    fiddle(
        "[55, 88]",
        "[55, 97]",
        &["line 9: range.comfortable_keys is [55, 97]; allowed is 55 to 96, the hard range"],
    );
    fiddle(
        "[55, 96]",
        "[50, 96]",
        &["line 8: range.hard_keys is 50; allowed is 55, the lowest open string, or above"],
    );
    fiddle(
        "[55, 96]",
        "[55, 196]",
        &["line 8: range.hard_keys is [55, 196]; allowed is 2 whole numbers, 0 to 127"],
    );
}

#[test]
fn strings_and_breath_belong_to_their_families() {
    fiddle(
        "open_keys = [55, 62]",
        "open_keys = [62, 55]",
        &[
            "line 11: strings.open_keys is [62, 55]; allowed is keys that rise from string to string",
        ],
    );
    fiddle(
        "forced_open_keys = [55]",
        "forced_open_keys = [57]",
        &["line 12: strings.forced_open_keys is 57; allowed is keys of open strings, [55, 62]"],
    );
    fiddle(
        "[bow]",
        "[breath]\npp_s = 9\n[bow]",
        &["line 15: breath is a table; allowed is bow, since the family is bowed"],
    );
    fiddle(
        "family = \"bowed\"",
        "family = \"plucked\"",
        &["line 3: family is \"plucked\"; allowed is \"bowed\", \"wind\""],
    );
    fiddle(
        "length_m = 0.33",
        "length_m = 0.33\nopen_policy = \"never\"",
        &["line 15: strings.open_policy is \"never\"; allowed is \"stopped\", \"open\", \"auto\""],
    );
}

#[test]
fn pairs_of_numbers_go_together() {
    fiddle(
        "ff_s = 1",
        "ff_s = 11",
        &["line 17: bow.ff_s is 11; allowed is at most 10, as long as the softest"],
    );
    fiddle(
        "[bow]",
        "[dynamics]\nfloor = 0.9\nceiling = 0.8\n[bow]",
        &["line 16: dynamics.floor is 0.9; allowed is 0 to 0.8, the ceiling"],
    );
}

#[test]
fn origins_name_fields_and_say_how_sure_they_are() {
    let origin = |line: &str| format!("[origin]\n{line}\n[bow]");
    fiddle(
        "[bow]",
        &origin("\"range.hard\" = \"H: a handbook\""),
        &[
            "line 16: origin.range.hard is the origin of no field; allowed is the name of a field or a table",
        ],
    );
    fiddle(
        "[bow]",
        &origin("\"range.hard_keys\" = \"X: a handbook\""),
        &[
            "line 16: origin.range.hard_keys is \"X: a handbook\"; allowed is \"H: …\", \"M: …\" or \"L: …\" with a few words on the source",
        ],
    );
    fiddle(
        "[bow]",
        &origin("bow = \"M:\""),
        &[
            "line 16: origin.bow is \"M:\"; allowed is \"H: …\", \"M: …\" or \"L: …\" with a few words on the source",
        ],
    );
}

#[test]
fn one_fault_brings_no_second_one_with_it() {
    fiddle(
        "open_keys = [55, 62]",
        "open_keys = [155, 62]",
        &["line 11: strings.open_keys is [155, 62]; allowed is 1 to 8 whole numbers, 0 to 127"],
    );
    let whistle = FIDDLE.replace("family = \"bowed\"\n", "").replace("[bow]", "[breath]");
    let (top, rest) = whistle.split_once("[strings]").expect("strings");
    let whistle = format!("{top}[breath]{}", rest.split_once("[breath]").expect("breath").1);
    check_faults::<Instrument>(&whistle, &["family is missing; allowed is \"bowed\", \"wind\""]);
}

#[test]
fn all_faults_of_a_file_come_at_once() {
    let text = FIDDLE.replace("[55, 88]", "[55]").replace("0.33", "0").replace("hz = 6", "hz = 1");
    check_faults::<Instrument>(
        &text,
        &[
            "line 9: range.comfortable_keys is [55]; allowed is 2 whole numbers, 0 to 127",
            "line 14: strings.length_m is 0; allowed is 0.05 to 2.5",
            "line 22: vibrato.rolled.rate_hz is 1; allowed is 2 to 9",
        ],
    );
}
