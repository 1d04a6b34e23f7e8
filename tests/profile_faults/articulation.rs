//! What a receiver and a hand may not say about articulations.

use super::{BOX, FIDDLE, LEVER, lever, receiver};
use polso::engine::patch::{ArticulationPatch, ChoicePatch};
use polso::profile::articulation::place;
use polso::profile::{self, Hand, Instrument, Target, check};

const NAMES: &str = "legato, detached, tenuto, staccato, marcato, harmonics, muted, spiccato, \
    tremolo, pizzicato, col_legno, sul_ponticello, sul_tasto, flutter, double_tongue, \
    triple_tongue";

#[test]
fn a_receiver_has_a_way_and_values_for_names_of_the_list() {
    let told = |more: &str| format!("[articulations]\nby = \"keyswitch\"\n{more}\n");
    receiver(&told("legato = 0\nsul_ponticello = 3\nusual = \"sul ponticello\""), &[]);
    receiver(
        "[articulations]\nlegato = 0\n",
        &[
            "line 8: articulations.by is missing; allowed is \"keyswitch\", \"program\" or a controller, \"cc 0\" to \"cc 119\"",
        ],
    );
    let words = NAMES.replace('_', " ");
    receiver(
        &told(""),
        &[&format!(
            "line 8: articulations.legato is missing; allowed is 0 to 127 for at least one of {words}"
        )],
    );
    receiver(
        &told("legato = 128"),
        &["line 10: articulations.legato is 128; allowed is a whole number, 0 to 127"],
    );
    receiver(
        &told("legato = 0\npizz = 3"),
        &[&format!("line 11: articulations.pizz is no articulation; allowed is one of {NAMES}")],
    );
    receiver(
        &told("legato = 0\nusual = \"tremolo\""),
        &["line 11: articulations.usual is \"tremolo\"; allowed is one that has a value here"],
    );
    // Two names may sound the same at a receiver; a mode takes it out of all but the legato.
    receiver(&told("legato = 0\nstaccato = 3\nspiccato = 3"), &[]);
    receiver(
        &format!(
            "[legato]\nby = \"keyswitch\"\njoined = 0\nslow = 3\n{}",
            told("legato = 0\nstaccato = 3")
        ),
        &["line 15: articulations.staccato is 3, as legato.slow is; allowed is a value of its own"],
    );
    receiver(
        "[articulations]\nby = \"cc 11\"\nlegato = 0\n",
        &[
            "line 7: outputs.dynamics.address is an address that articulations uses too; allowed is an address of its own",
        ],
    );
    receiver(
        "[articulations]\nby = \"cc 5\"\nlegato = 40\n[slide]\ntime = 3\n",
        &[
            "line 9: articulations.by is an address that slide uses too; allowed is an address of its own",
        ],
    );
}

#[test]
fn a_hand_has_one_key_for_each_name() {
    lever("[articulations]\nlegato = 0\ncol_legno = 1\n", &[]);
    lever(
        "[articulations]\nlegato = 24\ncol_legno = 24\n",
        &["line 7: articulations.col_legno is 24, as legato is; allowed is a key of its own"],
    );
    lever(
        "[articulations]\npizz = 24\n",
        &[&format!("line 6: articulations.pizz is no articulation; allowed is one of {NAMES}")],
    );
}

#[test]
fn keys_that_choose_lie_outside_the_playing_range() {
    let keys = |more: &str| format!("{BOX}[articulations]\nby = \"keyswitch\"\nlegato = {more}\n");
    let own = |key: &str| format!("{LEVER}[articulations]\npizzicato = {key}\n");
    let check_together = |target: &str, hand: &str, expected: &str| {
        let instrument = check::<Instrument>(FIDDLE).expect("the fiddle").profile;
        let target = check::<Target>(target).expect("the target").profile;
        let hand = check::<Hand>(hand).expect("the hand").profile;
        let result = profile::patch(&instrument, &target, &hand, 1, 1.0);
        assert_eq!(result.err().map_or(String::new(), |error| error.to_string()), expected);
    };
    let outside = "allowed is a key outside 55 to 96, where the fiddle plays";
    check_together(&keys("54"), &own("97"), "");
    check_together(
        &keys("55"),
        &own("96"),
        &format!(
            "target: articulations.legato is 55; {outside}\nhand: articulations.pizzicato is 96; {outside}"
        ),
    );
    // A program or a controller's value is no key.
    let program = keys("60").replace("keyswitch", "program");
    check_together(&program, LEVER, "");
}

#[test]
fn a_family_has_the_articulations_of_its_players() {
    let target =
        format!("{BOX}[articulations]\nby = \"program\"\nlegato = 1\npizzicato = 2\nflutter = 3\n");
    let target = check::<Target>(&target).expect("the target").profile;
    let hand = check::<Hand>(LEVER).expect("the hand").profile;
    for (name, own, strange) in
        [("erhu", "pizzicato", "flutter"), ("flute", "flutter", "pizzicato")]
    {
        let instrument = profile::load::<Instrument>(name).expect("shipped").profile;
        let patch = profile::patch(&instrument, &target, &hand, 1, 1.0).expect("a patch");
        let ArticulationPatch { choice, .. } = patch.target.articulation;
        assert!(matches!(choice, ChoicePatch::Program(_)));
        let value = |name: &str| choice.value(usize::from(place(name).expect("a name")));
        assert!(value(own).is_some() && value(strange).is_none(), "{name}");
    }
}
