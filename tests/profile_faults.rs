//! A file that cannot be used says where, what stands there and what may stand there.

use polso::profile::{self, Any, Hand, Instrument, Kind, Profile, Target, check};

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

#[test]
fn the_short_files_of_these_tests_are_in_order() {
    check_faults::<Instrument>(FIDDLE, &[]);
    check_faults::<Target>(BOX, &[]);
    check_faults::<Hand>(LEVER, &[]);
}

#[test]
fn a_number_out_of_range_says_so_with_its_line() {
    fiddle(
        "rate_hz = 6",
        "rate_hz = 90",
        &["line 22: vibrato.rolled.rate_hz is 90; allowed is 2 to 9"],
    );
    fiddle("= 0.33", "= 33", &["line 14: strings.length_m is 33; allowed is 0.05 to 2.5"]);
    fiddle(
        "format = 1\n",
        "format = 1\nvoices = 9\n",
        &["line 3: voices is 9; allowed is a whole number, 1 to 8"],
    );
    fiddle("pp_s = 10", "pp_s = 500", &["line 16: bow.pp_s is 500; allowed is 0.5 to 120"]);
    fiddle(
        "[bow]",
        "[vibrato.x]\n[dynamics]\nspan_db = 0\n[bow]",
        &["line 17: dynamics.span_db is 0; allowed is 3 to 90"],
    );
    fiddle(
        "styles =",
        "imperfection_rate_percent = 17\nimperfection_width_percent = 21\nstyles =",
        &[
            "line 19: vibrato.imperfection_rate_percent is 17; allowed is 0 to 16",
            "line 20: vibrato.imperfection_width_percent is 21; allowed is 0 to 20",
        ],
    );
}

#[test]
fn numbers_that_are_none_are_refused() {
    fiddle("pp_s = 10", "pp_s = nan", &["line 16: bow.pp_s is nan; allowed is 0.5 to 120"]);
    fiddle("pp_s = 10", "pp_s = inf", &["line 16: bow.pp_s is inf; allowed is 0.5 to 120"]);
    fiddle(
        "[1, 90]",
        "[1, -inf]",
        &[
            "line 21: vibrato.rolled.width_cents is [1, -inf]; allowed is points of two numbers, like [0.5, 1]",
        ],
    );
}

#[test]
fn a_wrong_type_says_what_it_should_be() {
    fiddle(
        "pp_s = 10",
        "pp_s = \"long\"",
        &["line 16: bow.pp_s is \"long\"; allowed is 0.5 to 120"],
    );
    fiddle(
        "= [12, 20]",
        "= [12, 20.5]",
        &["line 13: strings.span_semitones is [12, 20.5]; allowed is 2 whole numbers, 1 to 60"],
    );
    fiddle(
        "[bow]\npp_s = 10\nff_s = 1",
        "[bow.pp_s]\n[bow.ff_s]",
        &[
            "line 15: bow.pp_s is a table; allowed is 0.5 to 120",
            "line 16: bow.ff_s is a table; allowed is 0.2 to 120",
        ],
    );
    fiddle(
        "[bow]\npp_s = 10\nff_s = 1\n",
        "[[bow]]\n",
        &[
            "line 15: bow is a list of tables; allowed is a table",
            "line 15: bow.pp_s is missing; allowed is 0.5 to 120",
            "line 15: bow.ff_s is missing; allowed is 0.2 to 120",
        ],
    );
    fiddle(
        "rate_hz = 6",
        "rate_hz = true",
        &["line 22: vibrato.rolled.rate_hz is true; allowed is 2 to 9"],
    );
    fiddle(
        "names = { en = \"fiddle\" }",
        "names = \"fiddle\"",
        &[
            "line 6: about.names is \"fiddle\"; allowed is a table",
            "line 6: about.names is missing; allowed is at least one name, like { en = \"violin\" }",
        ],
    );
}

#[test]
fn a_missing_field_says_what_it_should_be() {
    fiddle(
        "length_m = 0.33\n",
        "",
        &["line 10: strings.length_m is missing; allowed is 0.05 to 2.5"],
    );
    fiddle(
        "rate_hz = 6\n",
        "",
        &[
            "line 20: vibrato.rolled.rate_hz is missing; allowed is a number, 2 to 9, or points [[0, 2], … [1, 9]]",
        ],
    );
    fiddle(
        "[bow]\npp_s = 10\nff_s = 1\n",
        "",
        &[
            "bow.pp_s is missing; allowed is 0.5 to 120",
            "bow.ff_s is missing; allowed is 0.2 to 120",
        ],
    );
    fiddle("family = \"bowed\"\n", "", &["family is missing; allowed is \"bowed\", \"wind\""]);
    fiddle(
        "id = \"fiddle\"\n",
        "",
        &["line 4: about.id is missing; allowed is 1 to 40 small letters, digits and hyphens"],
    );
}

#[test]
fn another_kind_or_a_newer_format_stops_at_the_header() {
    fiddle(
        "\"instrument\"",
        "\"target\"",
        &["line 1: polso is \"target\"; allowed is \"instrument\""],
    );
    fiddle("polso = \"instrument\"\n", "", &["polso is missing; allowed is \"instrument\""]);
    fiddle(
        "format = 1",
        "format = 2",
        &[
            "line 2: format is 2, from a newer version of Polso; allowed is 1; a newer version can read this file",
        ],
    );
    fiddle("format = 1", "format = 0", &["line 2: format is 0; allowed is 1"]);
    fiddle("format = 1", "format = \"one\"", &["line 2: format is \"one\"; allowed is 1"]);
    fiddle("format = 1\n", "", &["format is missing; allowed is 1"]);
}

#[test]
fn text_that_is_no_toml_says_where() {
    fiddle(
        "[range]",
        "[range",
        &["line 7: the file is not TOML here (unclosed table, expected `]`); allowed is TOML 1.0"],
    );
    fiddle(
        "ff_s = 1",
        "pp_s = 1",
        &["line 17: the file is not TOML here (duplicate key); allowed is TOML 1.0"],
    );
    check_faults::<Instrument>(
        "",
        &["polso is missing; allowed is \"instrument\"", "format is missing; allowed is 1"],
    );
    let long = format!("{FIDDLE}#{}", " ".repeat(1024 * 1024));
    let found = long.len();
    check_faults::<Instrument>(
        &long,
        &[&format!("the file is {found} bytes long; allowed is at most 1048576 bytes")],
    );
}

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

#[test]
fn addresses_are_ones_that_midi_has() {
    let rule = "\"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \"channel pressure\", \
                \"poly pressure\", \"pitch bend\", \"rpn 0\" to \"rpn 16383\", \"nrpn 0\" to \
                \"nrpn 16383\", \"program\" or \"velocity\"";
    for wrong in ["cc 120", "cc pair 32", "cc -1", "cc", "cc 6", "cc 101", "rpn 16384", "CC 11", ""]
    {
        let expected = format!("line 7: outputs.dynamics.address is {wrong:?}; allowed is {rule}");
        check_changed::<Target>(BOX, "\"cc 11\"", &format!("{wrong:?}"), &[&expected]);
    }
    receiver(
        "[outputs.pitch]\naddress = \"cc 3\"\n",
        &["line 9: outputs.pitch.address is \"cc 3\"; allowed is \"pitch bend\""],
    );
    check_changed::<Target>(
        BOX,
        "\"cc 11\"",
        "\"pitch bend\"",
        &[
            "line 7: outputs.dynamics.address is \"pitch bend\"; allowed is an address that leaves the bend to pitch",
        ],
    );
}

#[test]
fn two_outputs_never_share_an_address() {
    receiver(
        "[outputs.gesture]\naddress = \"cc 11\"\n",
        &[
            "line 9: outputs.gesture.address is an address that outputs.dynamics uses too; allowed is an address of its own",
        ],
    );
    receiver(
        "[outputs.gesture]\naddress = \"cc pair 11\"\n",
        &[
            "line 9: outputs.gesture.address is an address that outputs.dynamics uses too; allowed is an address of its own",
        ],
    );
    receiver(
        "[outputs.send]\naddress = \"cc pair 1\"\n[outputs.gesture]\naddress = \"cc 33\"\n",
        &[
            "line 11: outputs.gesture.address is an address that outputs.send uses too; allowed is an address of its own",
        ],
    );
    receiver(
        "[slide]\ntime = 30\n[outputs.gesture]\naddress = \"cc 65\"\n",
        &[
            "line 11: outputs.gesture.address is an address that slide uses too; allowed is an address of its own",
        ],
    );
    receiver(
        "[legato]\nby = \"cc 11\"\njoined = 40\n",
        &[
            "line 7: outputs.dynamics.address is an address that legato uses too; allowed is an address of its own",
        ],
    );
    receiver(
        "[legato]\nby = \"cc 5\"\njoined = 40\n[slide]\ntime = 3\n",
        &["line 9: legato.by is an address that slide uses too; allowed is an address of its own"],
    );
    receiver("[outputs.gesture]\non = false\naddress = \"cc 11\"\n", &[]);
}

#[test]
fn vibrato_is_driven_or_performed_and_never_both() {
    let both =
        "[outputs.vibrato_width]\naddress = \"cc 77\"\n[outputs.pitch]\naddress = \"pitch bend\"\n";
    receiver(
        both,
        &[
            "line 10: outputs.pitch is on while outputs.vibrato_width is on; allowed is one of the two: drive the receiver's own vibrato, or perform it as pitch",
        ],
    );
    receiver(&both.replace("\"cc 77\"", "\"cc 77\"\non = false"), &[]);
}

#[test]
fn an_output_has_ends_that_its_address_holds() {
    let output = |more: &str| format!("[outputs.vibrato_width]\naddress = \"cc 77\"\n{more}\n");
    receiver(
        &output("max = 128"),
        &["line 10: outputs.vibrato_width.max is 128; allowed is a whole number, 1 to 127"],
    );
    receiver(
        &output("min = 90\nmax = 80"),
        &["line 10: outputs.vibrato_width.min is 90; allowed is 0 to 79, below max"],
    );
    receiver(
        &output("low_cents = 90\nhigh_cents = 80"),
        &[
            "line 11: outputs.vibrato_width.high_cents is 80; allowed is 90.01 to 800, above low_cents",
        ],
    );
    receiver(
        &output("interval_ms = 0"),
        &["line 10: outputs.vibrato_width.interval_ms is 0; allowed is 1 to 1000"],
    );
    receiver(
        &output("rest = 200"),
        &["line 10: outputs.vibrato_width.rest is 200; allowed is a whole number, 0 to 127"],
    );
    receiver(
        &output("response = [[0, 0], [1, 2]]"),
        &["line 10: outputs.vibrato_width.response is 2; allowed is 0 to 1"],
    );
}

#[test]
fn measured_loudness_rises() {
    let rule = "\"position\", \"gm2\" or 2 to 16 measured points [value, decibels]";
    let hears = |points: &str| format!("hears = {points}\n");
    receiver(
        &hears("\"loud\""),
        &["line 8: outputs.dynamics.hears is \"loud\"; allowed is \"position\", \"gm2\""],
    );
    receiver(
        &hears("[[0, -40]]"),
        &[&format!("line 8: outputs.dynamics.hears is 1 point long; allowed is {rule}")],
    );
    receiver(
        &hears("[[0, -40], [64, -40], [127, 0]]"),
        &[
            "line 8: outputs.dynamics.hears is [64, -40] after [0, -40]; allowed is values and decibels that both rise from point to point",
        ],
    );
    receiver(
        &hears("[[0, -40], [128, 0]]"),
        &["line 8: outputs.dynamics.hears is measured at 128; allowed is values 0 to 127"],
    );
    receiver(
        &hears("[[0, -400], [127, 0]]"),
        &["line 8: outputs.dynamics.hears is -400 dB at 0; allowed is -120 to 24 dB"],
    );
    receiver(
        &hears("[[0, -40], [127, 0]]\ninverted = true"),
        &[
            "line 9: outputs.dynamics.inverted is true; allowed is false, since the points of hears say which way",
        ],
    );
    receiver(&hears("[[0, -40], [127, 0]]"), &[]);
}

#[test]
fn the_legato_table_says_how_and_at_least_one_mode() {
    receiver(
        "[legato]\nby = \"keyswitch\"\n",
        &[
            "line 8: legato.joined is missing; allowed is 0 to 127 for at least one of fresh, quick, joined, slow, slide",
        ],
    );
    receiver(
        "[legato]\nby = \"key\"\njoined = 3\n",
        &[
            "line 9: legato.by is \"key\"; allowed is \"keyswitch\", \"program\" or a controller, \"cc 0\" to \"cc 119\"",
        ],
    );
    receiver(
        "[legato]\nby = \"program\"\njoined = 128\n",
        &["line 10: legato.joined is 128; allowed is a whole number, 0 to 127"],
    );
    receiver("[slide]\n", &["line 8: slide.time is missing; allowed is a whole number, 0 to 127"]);
    receiver(
        "[speed_velocity]\nslow = 0\n",
        &[
            "line 8: speed_velocity.fast is missing; allowed is a whole number, 1 to 127",
            "line 9: speed_velocity.slow is 0; allowed is a whole number, 1 to 127",
        ],
    );
    receiver(
        "[bend]\nrange_semitones = 97\n",
        &["line 9: bend.range_semitones is 97; allowed is 1 to 96"],
    );
    receiver(
        "[styles]\nlaw = \"loud\"\nquick_through = 9\n",
        &[
            "line 9: styles.law is \"loud\"; allowed is \"equal-gain\", \"equal-power\", \"latched\"",
            "line 10: styles.quick_through is 9; allowed is 1 to 6",
        ],
    );
}

#[test]
fn a_hand_has_travel() {
    lever(
        "low = 0.5\nhigh = 0.55\n",
        &["line 6: controller.high is 0.55; allowed is at least 0.1 above low, which is 0.5"],
    );
    lever(
        "dead_zone_rest = 0.5\n",
        &["line 5: controller.dead_zone_rest is 0.5; allowed is 0 to 0.4"],
    );
    lever("weight = 4\n", &["line 5: controller.weight is 4; allowed is 0.5 to 3"]);
    lever("response_k = 7\n", &["line 5: controller.response_k is 7; allowed is -6 to 6"]);
    lever(
        "response_k = 1\nresponse = [[0, 0], [1, 1]]\n",
        &["line 5: controller.response_k is given beside response; allowed is one of the two"],
    );
    let rule = "\"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \"channel pressure\", \
                \"poly pressure\", \"pitch bend\", \"parameter\", \"mpe timbre\" or \"mpe pressure\"";
    check_changed::<Hand>(
        LEVER,
        "cc 1",
        "cc 120",
        &[&format!("line 4: controller.source is \"cc 120\"; allowed is {rule}")],
    );
}

#[test]
fn a_file_of_no_kind_names_the_three() {
    let faults = Any::check(b"polso = \"tune\"\n").map(|any| any.kind()).unwrap_err();
    let sentences: Vec<String> = faults.iter().map(ToString::to_string).collect();
    assert_eq!(
        sentences,
        ["line 1: polso is \"tune\"; allowed is \"instrument\", \"target\" or \"hand\"",]
    );
    let faults = Any::check(b"polso = \"hand\xFF\"\n").map(|any| any.kind()).unwrap_err();
    assert_eq!(faults[0].to_string(), "the file is not text at byte 13; allowed is UTF-8");
    assert_eq!(Any::check(LEVER.as_bytes()).map(|any| any.kind()), Ok(Kind::Hand));
}

#[test]
fn an_unknown_name_brings_the_known_and_the_nearest() {
    let error = profile::load::<Instrument>("ehru").map(|it| it.profile).unwrap_err();
    assert_eq!(
        error.to_string(),
        "\"ehru\" is neither a shipped instrument nor a file; shipped are erhu, violin, dizi-d; the nearest is erhu"
    );
    let error = profile::load::<Target>("no/such/file.toml").map(|it| it.profile).unwrap_err();
    assert!(error.to_string().starts_with("no/such/file.toml: cannot be read: "), "{error}");
}

/// The three files, each in order, do not go together because of exactly this.
fn check_together(target: &str, hand: &str, scale: f64, expected: &str) {
    let instrument = check::<Instrument>(FIDDLE).expect("the fiddle").profile;
    let target = check::<Target>(target).expect("the target").profile;
    let hand = check::<Hand>(hand).expect("the hand").profile;
    let result = profile::patch(&instrument, &target, &hand, 1, scale);
    assert_eq!(result.map(|_| ()).map_err(|error| error.to_string()), Err(expected.to_owned()));
}

#[test]
fn files_that_do_not_go_together_say_why() {
    let keys = format!("{BOX}[legato]\nby = \"keyswitch\"\nquick = 54\nslow = 55\nslide = 96\n");
    check_together(
        &keys,
        LEVER,
        1.0,
        concat!(
            "target: legato.slow is 55; allowed is a key outside 55 to 96, where the fiddle plays\n",
            "target: legato.slide is 96; allowed is a key outside 55 to 96, where the fiddle plays",
        ),
    );
    let passing = LEVER.replace("cc 1", "cc 11") + "passes = true\n";
    check_together(
        BOX,
        &passing,
        1.0,
        "hand: controller.passes is true; allowed is false, since outputs.dynamics of the target goes there too",
    );
    check_together(BOX, LEVER, 2.5, "imperfection is 2.5; allowed is 0 to 2");
    check_together(BOX, LEVER, f64::NAN, "imperfection is NaN; allowed is 0 to 2");
}
