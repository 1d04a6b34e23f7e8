//! Numbers, types, missing fields, headers and text that is no TOML.

use super::{BOX, FIDDLE, LEVER, check_faults, fiddle};
use polso::profile::{Hand, Instrument, Target};

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
        "imperfection_rate_percent = 17\nimperfection_width_percent = 26\nstyles =",
        &[
            "line 19: vibrato.imperfection_rate_percent is 17; allowed is 0 to 16",
            "line 20: vibrato.imperfection_width_percent is 26; allowed is 0 to 25",
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
