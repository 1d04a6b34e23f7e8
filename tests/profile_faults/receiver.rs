//! What a receiver may not say.

use super::{BOX, check_changed, receiver};
use polso::engine::patch::JoinedVelocity;
use polso::profile::{Target, check};

/// What an address may be.
const ADDRESSES: &str = "\"cc 0\" to \"cc 119\", \"cc pair 0\" to \"cc pair 31\", \
     \"channel pressure\", \"poly pressure\", \"pitch bend\", \"rpn 0\" to \"rpn 16382\", \
     \"nrpn 0\" to \"nrpn 16382\", \"program\" or \"velocity\"";

#[test]
fn addresses_are_ones_that_midi_has() {
    for wrong in ["cc 120", "cc pair 32", "cc -1", "cc", "cc 6", "cc 101", "rpn 16383", "CC 11", ""]
    {
        let expected =
            format!("line 7: outputs.dynamics.address is {wrong:?}; allowed is {ADDRESSES}");
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
    receiver(
        "[bend]\nsend_range = true\n[outputs.gesture]\naddress = \"rpn 0\"\n",
        &[
            "line 11: outputs.gesture.address is an address that bend.send_range uses too; allowed is an address of its own",
        ],
    );
    receiver("[outputs.gesture]\non = false\naddress = \"cc 11\"\n", &[]);
}

#[test]
fn an_address_that_is_none_is_not_told_as_shared() {
    receiver(
        "[outputs.send]\naddress = \"cc 0\"\n[outputs.gesture]\n",
        &[&format!("line 10: outputs.gesture.address is missing; allowed is {ADDRESSES}")],
    );
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
    check_changed::<Target>(
        BOX,
        "format = 1\n",
        "format = 1\njoined_velocity = \"loud\"\n",
        &["line 3: joined_velocity is \"loud\"; allowed is \"blended\", \"played\", \"speed\""],
    );
    check_changed::<Target>(
        BOX,
        "format = 1\n",
        "format = 1\njoined_velocity = \"speed\"\n",
        &[
            "line 3: joined_velocity is \"speed\"; allowed is \"blended\" or \"played\" without a table speed_velocity",
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
fn a_word_or_a_table_says_what_the_velocity_of_a_joined_note_tells() {
    let read = |word: &str, table: &str| {
        let head = format!("format = 1\n{word}");
        let text = format!("{}{table}", BOX.replace("format = 1\n", &head));
        check::<Target>(&text).expect("in order").profile.joined_velocity
    };
    let table = "[speed_velocity]\nslow = 20\nfast = 100\n";
    let speed = JoinedVelocity::Speed { slow: 20, fast: 100 };
    assert_eq!(read("", ""), JoinedVelocity::Blended);
    // Files from before the word mean what they meant.
    assert_eq!(read("", table), speed);
    assert_eq!(read("joined_velocity = \"speed\"\n", table), speed);
    for (word, way) in [("blended", JoinedVelocity::Blended), ("played", JoinedVelocity::Played)] {
        let line = format!("joined_velocity = {word:?}\n");
        assert_eq!((read(&line, ""), read(&line, table)), (way, way));
    }
}

#[test]
fn a_transition_goes_one_way_and_has_what_that_way_needs() {
    let ways = "\"bend\", \"portamento\", \"receiver\", \"none\"";
    let points = "1 to 16 points [[value of cc 5, milliseconds], …], both rising, \
                  values 0 to 127, milliseconds 0 to 20000";
    let check = |text: &str, fault: &str| receiver(&format!("[transition]\n{text}\n"), &[fault]);
    check("by = \"slide\"", &format!("line 9: transition.by is \"slide\"; allowed is {ways}"));
    receiver("[transition]\n", &[&format!("line 8: transition.by is missing; allowed is {ways}")]);
    check(
        "by = \"bend\"",
        "line 9: transition.by is \"bend\"; allowed is \"bend\" only where outputs.pitch is on",
    );
    check(
        "by = \"portamento\"",
        &format!("line 8: transition.portamento_ms is missing; allowed is {points}"),
    );
    for (table, found) in [
        ("[]", "0 points long"),
        ("[[128, 5]]", "[128, 5]"),
        ("[[0.5, 5]]", "[0.5, 5]"),
        ("[[0, 20001]]", "[0, 20001]"),
        ("[[1, 5], [1, 6]]", "[1, 6] after its point"),
        ("[[0, 5], [1, 5]]", "[1, 5] after its point"),
    ] {
        check(
            &format!("by = \"portamento\"\nportamento_ms = {table}"),
            &format!("line 10: transition.portamento_ms is {found}; allowed is {points}"),
        );
    }
    check(
        "by = \"none\"\nportamento_ms = [[0, 0]]",
        "line 10: transition.portamento_ms is given while transition.by is \"none\"; \
         allowed is a table for \"portamento\" alone",
    );
    check(
        "by = \"receiver\"\njumps = \"cut\"",
        "line 10: transition.jumps is \"cut\" while transition.by is \"receiver\"; \
         allowed is \"overlap\": there the receiver ends the old note",
    );
    check(
        "by = \"none\"\n[slide]\ntime = 3",
        "line 10: slide is given while transition.by is \"none\"; \
         allowed is one of the two, or transition.by = \"receiver\"",
    );
    check(
        "by = \"portamento\"\nportamento_ms = [[0, 0]]\n[outputs.gesture]\naddress = \"cc 84\"",
        "line 12: outputs.gesture.address is an address that transition uses too; \
         allowed is an address of its own",
    );
    check(
        "by = \"none\"\nlegato_switch = true\n[outputs.gesture]\naddress = \"cc 68\"",
        "line 12: outputs.gesture.address is an address that transition.legato_switch uses too; \
         allowed is an address of its own",
    );
}

#[test]
fn a_receiver_without_the_table_joins_as_it_did() {
    use polso::engine::patch::TransitionWay;
    use polso::profile::check;
    let way = |text: &str| {
        let loaded = check::<Target>(&format!("{BOX}{text}")).expect("a receiver in order");
        loaded.profile.transition.way
    };
    assert_eq!(way(""), TransitionWay::None);
    assert_eq!(way("[slide]\ntime = 30\n"), TransitionWay::Receiver);
    assert_eq!(way("[legato]\nby = \"keyswitch\"\njoined = 24\n"), TransitionWay::Receiver);
    let told = "[transition]\nby = \"receiver\"\n[slide]\ntime = 30\n";
    assert_eq!(way(told), TransitionWay::Receiver);
}
