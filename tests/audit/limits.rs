//! Every rule one step on either side of its limit: a tick, a semitone, a millisecond.
//!
//! The limits are the rules of DESIGN section 9 with the numbers of the shipped instruments;
//! where a number follows from a formula, the formula stands beside it.

use super::room::{Struck, findings, hears, instrument, said, take};

fn check(what: &str, name: &str, notes: &[Struck], wheel: &[(u64, u8)], expected: &str) {
    assert_eq!(hears(name, notes, wheel), expected, "{what}");
}

/// The same where notes end when the key comes up.
fn check_dry(what: &str, name: &str, notes: &[Struck], wheel: &[(u64, u8)], expected: &str) {
    let mut dry = instrument(name);
    dry.tail.tail_ms = 0.0;
    assert_eq!(said(&findings(&dry, &take(notes, wheel), None)), expected, "{what}");
}

#[test]
fn range_ends_at_the_semitone() {
    let note = |key: u8| [(key, 200, 500)];
    check("lowest", "erhu", &note(62), &[], "");
    check("below it", "erhu", &note(61), &[], "range impossible 61");
    check("highest comfortable", "erhu", &note(88), &[], "");
    check("above it", "erhu", &note(89), &[], "range hard 89");
    check("highest", "erhu", &note(93), &[], "range hard 93");
    check("above it", "erhu", &note(94), &[], "range impossible 94");
    check("the flute's lowest", "dizi-d", &note(69), &[], "");
    check("below it", "dizi-d", &note(68), &[], "range impossible 68");
    check("the flute's edge", "dizi-d", &note(96), &[], "range hard 96");
    check("above its highest", "dizi-d", &note(99), &[], "range impossible 99");
}

#[test]
fn a_finding_stands_at_its_bar_beat_and_tick() {
    // 4/4 by default: beat 3 of bar 2 is 6 quarter notes of 500 ticks from the start.
    let found = findings(&instrument("erhu"), &take(&[(61, 3000, 3200)], &[]), None);
    let place = |it: &polso::offline::audit::AuditFinding| (it.bar, it.beat, it.tick, it.key);
    assert_eq!(found.iter().map(place).collect::<Vec<_>>(), [(Some(2), Some(3), 3000, 61)]);
    let found = findings(&instrument("erhu"), &take(&[(61, 2999, 3200)], &[]), None);
    assert_eq!(found.iter().map(place).collect::<Vec<_>>(), [(Some(2), Some(2), 2999, 61)]);
    // Only the bars asked for.
    let bars = |text: &str| Some(text.parse().expect("bars"));
    let notes = take(&[(61, 3000, 3200)], &[]);
    assert_eq!(findings(&instrument("erhu"), &notes, bars("2..2")).len(), 1);
    assert_eq!(findings(&instrument("erhu"), &notes, bars("1..1")).len(), 0);
    let notes = take(&[(61, 4000, 4200)], &[]);
    assert_eq!(findings(&instrument("erhu"), &notes, bars("2..2")).len(), 0, "bar 3 begins");
    assert_eq!(findings(&instrument("erhu"), &notes, bars("3..3")).len(), 1);
}

#[test]
fn vibrato_on_a_note_that_is_only_open_is_asked_for_after_the_onset() {
    // The erhu's vibrato starts at 220 ms at the earliest; the short notes have no tail.
    check("too young", "erhu", &[(62, 200, 420)], &[(0, 64)], "");
    check(
        "a millisecond older",
        "erhu",
        &[(62, 200, 421)],
        &[(0, 64)],
        "open-vibrato unidiomatic 62",
    );
    check("a semitone higher", "erhu", &[(63, 200, 900)], &[(0, 64)], "");
    check("no gesture", "erhu", &[(62, 200, 900)], &[], "");
    // Raw 28/127 is gesture ((0.2205 − 0.02)/0.96 − 0.02)/0.97 = 0.1947 (DESIGN 4.1); the rolled
    // weight is sm((0.1947 − 0.1)/0.2) = 0.461, the width there 112·0.1947 = 21 or so: 9.7 cents.
    check("a light gesture", "erhu", &[(62, 200, 900)], &[(0, 28)], "open-vibrato unidiomatic 62");
    // Raw 22: gesture 0.1439, weight 0.124, width 15: 1.9 cents, less than is heard.
    check("a lighter gesture", "erhu", &[(62, 200, 900)], &[(0, 22)], "");
    check(
        "the violin's lowest",
        "violin",
        &[(55, 200, 900)],
        &[(0, 64)],
        "open-vibrato unidiomatic 55",
    );
    check("another open string", "violin", &[(62, 200, 900)], &[(0, 64)], "");
    check("winds have none", "dizi-d", &[(69, 200, 900)], &[(0, 64)], "");
    check(
        "it sounds again when the upper key lifts",
        "erhu",
        &[(62, 200, 900), (64, 300, 400)],
        &[(0, 64)],
        "open-vibrato unidiomatic 62",
    );
}

#[test]
fn a_bow_ends_at_the_millisecond() {
    // At rest D is the floor, 0.12: T = 11^0.88 · 1.6^0.12 = 8728.1 ms.
    let held = |ms: u64| [(69, 1000, 1000 + ms)];
    check_dry("a whole bow", "erhu", &held(8728), &[], "");
    check_dry("more than a bow", "erhu", &held(8729), &[], "bow hard 69");
    // 1.5 T = 13092.2 ms.
    check_dry("one bow and a half", "erhu", &held(13_092), &[], "bow hard 69");
    check_dry("more than that", "erhu", &held(13_093), &[], "bow impossible 69");
    // At full D is 1: T = 1600 ms, and 2400 ms.
    let full = [(0, 127)];
    let loud = |ms: u64| [(70, 1000, 1000 + ms)];
    check_dry("a loud bow", "erhu", &loud(1600), &full, "");
    check_dry("a millisecond longer", "erhu", &loud(1601), &full, "bow hard 70");
    check_dry("a loud bow and a half", "erhu", &loud(2400), &full, "bow hard 70");
    check_dry("a millisecond longer", "erhu", &loud(2401), &full, "bow impossible 70");
    // The tail is bowed too: 300 ms after a note of 1300 ms.
    check("with its tail", "erhu", &loud(1290), &full, "");
    check("longer with its tail", "erhu", &loud(1310), &full, "bow hard 70");
}

#[test]
fn a_bow_turns_at_a_fresh_note_only() {
    let two = |off: u64| [(69, 1000, off), (71, 6000, 11_000)];
    check_dry("detached", "erhu", &two(5900), &[], "");
    check_dry("off and on at one moment", "erhu", &two(6000), &[], "");
    check_dry("slurred by a millisecond", "erhu", &two(6001), &[], "bow hard 71");
    // A key struck again is a fresh note.
    check_dry("the same key", "erhu", &[(69, 1000, 6010), (69, 6000, 11_000)], &[], "");
    // In the tail, 60 ms after the release, a new note still joins; then it is a fresh one.
    check("in the tail", "erhu", &two(5940), &[], "bow hard 71");
    check("a millisecond later", "erhu", &two(5939), &[], "");
}

#[test]
fn a_breath_ends_at_the_millisecond() {
    // At rest D is the floor, 0.25: T = 14^0.75 · 6^0.25 = 11327.5 ms.
    let held = |ms: u64| [(69, 1000, 1000 + ms)];
    check_dry("a whole breath", "dizi-d", &held(11_327), &[], "");
    check_dry("more than a breath", "dizi-d", &held(11_328), &[], "breath hard 69");
    // 1.5 T = 16991.2 ms.
    check_dry("one and a half", "dizi-d", &held(16_991), &[], "breath hard 69");
    check_dry("more than that", "dizi-d", &held(16_992), &[], "breath impossible 69");
    // At full D is 1: T = 6 s.
    let full = [(0, 127)];
    check_dry("a loud breath", "dizi-d", &held(6000), &full, "");
    check_dry("a millisecond longer", "dizi-d", &held(6001), &full, "breath hard 69");
}

#[test]
fn a_breath_comes_back_by_the_length_of_the_gap() {
    // Loud, T = 6 s: a note of 4.8 s costs 0.8, then a gap, then another note.
    let full = [(0, 127)];
    let two = |gap: u64, ms: u64| [(69, 1000, 5800), (69, 5800 + gap, 5800 + gap + ms)];
    let dry = |what: &str, gap: u64, ms: u64, expected: &str| {
        check_dry(what, "dizi-d", &two(gap, ms), &full, expected);
    };
    dry("too short a gap gives nothing: 0.8 + 0.8", 249, 4800, "breath impossible 69");
    dry("a snatched breath gives 60 %: 0.2 + 0.8", 250, 4800, "");
    dry("and a millisecond more", 250, 4801, "breath hard 69");
    dry("a gap just too short for all of it", 699, 4801, "breath hard 69");
    dry("a whole breath", 700, 4801, "");
    dry("it lasts its time", 700, 6000, "");
    dry("and no longer", 700, 6001, "breath hard 69");
    // Tonguing renews no breath: 20 notes of 0.5 s with gaps of 0.1 s are 10 s of sound.
    let tongued: Vec<Struck> = (0..20).map(|n| (69, 1000 + 600 * n, 1500 + 600 * n)).collect();
    check_dry("tongued", "dizi-d", &tongued, &full, "breath impossible 69");
    // A player who has run out is empty, not less than empty: after 1.3 breaths a snatched one
    // gives 60 %, which a note of 0.6 uses up.
    let run_out = |ms: u64| [(69, 1000, 8800), (71, 9100, 9100 + ms)];
    check_dry("empty, then snatched", "dizi-d", &run_out(3600), &full, "breath hard 69");
    let twice = "breath hard 69, breath hard 71";
    check_dry("a millisecond more", "dizi-d", &run_out(3601), &full, twice);
}

#[test]
fn circular_breathing_makes_it_a_note() {
    let mut circular = instrument("dizi-d");
    if let polso::profile::instrument::Budget::Breath { is_circular, .. } = &mut circular.budget {
        *is_circular = true;
    }
    circular.tail.tail_ms = 0.0;
    let said =
        |notes: &[Struck]| super::room::said(&findings(&circular, &take(notes, &[(0, 127)]), None));
    assert_eq!(said(&[(69, 1000, 7000)]), "");
    assert_eq!(said(&[(69, 1000, 7001)]), "breath unidiomatic 69");
    assert_eq!(said(&[(69, 1000, 20_000)]), "breath unidiomatic 69");
}

/// Two slurred notes under a full gesture: a slide is asked for. Each bow holds 1.6 s.
fn slide(from: u8, to: u8) -> [Struck; 2] {
    [(from, 1000, 1220), (to, 1200, 1400)]
}

#[test]
fn a_slide_moves_the_hand_no_faster_than_hands_move() {
    let full = [(0, 127)];
    // On one string of 0.40 m in 0.12 s: from a = 1, (2^(−1/12) − 2^(−b/12))·0.4/0.12 m/s is
    // 1.164 for b = 9, 1.275 for b = 10, 1.480 for b = 12.
    check("eight semitones from the first", "erhu", &slide(63, 71), &full, "");
    check("nine", "erhu", &slide(63, 72), &full, "slide hard 72");
    check("downwards as well", "erhu", &slide(72, 63), &full, "slide hard 63");
    // The upper string: from a = 1, 1.968 m/s for b = 18 and 2.034 for b = 19.
    check("the highest but one", "erhu", &slide(70, 87), &full, "slide hard 87");
    check("the highest", "erhu", &slide(70, 88), &full, "slide impossible 88");
    // Higher up the string the same interval is a shorter way: 0.4(2^(−7/12) − 2^(−19/12)) is
    // 0.133 m or 1.112 m/s.
    check("an octave high up", "erhu", &slide(76, 88), &full, "");
}

#[test]
fn a_slide_needs_a_finger_at_both_ends_and_one_string() {
    let full = [(0, 127)];
    check("from the open string", "erhu", &slide(62, 64), &full, "slide impossible 64");
    check("to the open string", "erhu", &slide(64, 62), &full, "slide impossible 62");
    check("from the first finger", "erhu", &slide(63, 65), &full, "");
    // 74 is the inner string's last note, 70 the outer one's first stopped one.
    check("both on the inner", "erhu", &slide(69, 74), &full, "");
    check("over to the outer", "erhu", &slide(69, 75), &full, "slide impossible 75");
    check("both on the outer", "erhu", &slide(70, 75), &full, "");
    // The cello's and violin's wide slides keep to one string, by the same rules.
    check("the violin's E string", "violin", &slide(77, 84), &full, "");
    check("from G to D string", "violin", &slide(61, 68), &full, "slide impossible 68");
    // No slide is asked for below the edge of 0.85, nor where haste takes its 0.3 and more.
    check("a low gesture", "erhu", &slide(63, 72), &[(0, 90)], "");
    check("too fast for a slide", "erhu", &[(63, 1000, 1130), (72, 1119, 1300)], &full, "");
}

#[test]
fn a_wind_slides_as_far_as_it_slides() {
    let full = [(0, 127)];
    let slide = |from: u8, to: u8| [(from, 1000, 1320), (to, 1300, 1600)];
    check("three semitones", "dizi-d", &slide(69, 72), &full, "");
    check("four", "dizi-d", &slide(69, 73), &full, "slide impossible 73");
    check("four down", "dizi-d", &slide(73, 69), &full, "slide impossible 69");
}

#[test]
fn another_players_keys_lie_out_of_range_and_break_no_other_rule() {
    // A violin's A4, held, and a keyswitch under it: no double stop, no leap, no bow turned by it.
    let beside = |key: u8| [(69, 1000, 2000), (key, 1010, 1200), (71, 2100, 2400)];
    check("a keyswitch", "violin", &beside(24), &[], "range impossible 24");
    check("far above", "violin", &beside(115), &[], "range impossible 115");
    // The bow goes on under them as without them.
    let long = |keys: &[u8]| {
        let taps =
            keys.iter().zip(1..).map(|(&key, second)| (key, second * 3000, second * 3000 + 50));
        let mut notes: Vec<_> = [(69, 1000, 21_000)].into_iter().chain(taps).collect();
        notes.sort_by_key(|note| note.1);
        notes
    };
    check("a long bow", "erhu", &long(&[]), &[], "bow impossible 69");
    let hears = "range impossible 24, range impossible 25, range impossible 26, bow impossible 69";
    check("a long bow and keyswitches", "erhu", &long(&[24, 25, 26]), &[], hears);
}

#[test]
fn a_leap_of_more_than_an_octave_needs_its_time() {
    let leap = |to: u8, ms: u64| [(64, 1000, 1000 + ms), (to, 1000 + ms, 1400)];
    check("an octave", "erhu", &leap(76, 119), &[], "");
    check("a semitone more", "erhu", &leap(77, 119), &[], "leap hard 77");
    check("a millisecond more time", "erhu", &leap(77, 120), &[], "");
    check("downwards", "erhu", &[(77, 1000, 1119), (64, 1119, 1400)], &[], "leap hard 64");
    check("downwards in time", "erhu", &[(77, 1000, 1120), (64, 1120, 1400)], &[], "");
    check("winds leap", "dizi-d", &[(72, 1000, 1100), (87, 1100, 1400)], &[], "");
    // The time runs from note-on to note-on, a rest between them or not.
    check("detached", "erhu", &[(64, 1000, 1040), (77, 1100, 1400)], &[], "leap hard 77");
    // Within 35 ms it is a chord, not a leap.
    check("a chord", "violin", &[(60, 1000, 1400), (74, 1035, 1400)], &[], "");
    check("no chord", "violin", &[(60, 1000, 1400), (74, 1036, 1400)], &[], "leap hard 74");
}

#[test]
fn a_double_stop_has_two_strings_and_one_hand() {
    let both = |low: u8, high: u8, apart: u64| [(low, 1000, 1400), (high, 1000 + apart, 1400)];
    check("one semitone over two strings", "violin", &both(62, 63, 0), &[], "");
    check(
        "both on the lowest string",
        "violin",
        &both(57, 61, 0),
        &[],
        "double-stop impossible 57",
    );
    check("one of them open next door", "violin", &both(57, 62, 0), &[], "");
    // Stopped places 1 and 9, then 1 and 10, semitones above G and D.
    check("a hand's reach", "violin", &both(56, 71, 0), &[], "");
    check("a semitone more", "violin", &both(56, 72, 0), &[], "double-stop impossible 56");
    check("an open string reaches anywhere", "violin", &both(55, 74, 0), &[], "");
    check("with a string between", "violin", &both(55, 76, 0), &[], "double-stop impossible 55");
    check("35 ms apart", "violin", &both(57, 61, 35), &[], "double-stop impossible 57");
    check("36 ms apart: a slur", "violin", &both(57, 61, 36), &[], "");
    // A grace lifts before 0.25 s; one that stays is a second voice.
    let grace = |low: u8, high: u8, off: u64| [(low, 1000, off), (high, 1020, 1400)];
    check("a grace", "violin", &grace(59, 60, 1269), &[], "");
    check("held on", "violin", &grace(59, 60, 1270), &[], "double-stop impossible 59");
    check("one voice, a grace", "erhu", &grace(69, 74, 1269), &[], "");
    check("one voice, held on", "erhu", &grace(69, 74, 1270), &[], "double-stop impossible 69");
    check(
        "three notes",
        "violin",
        &[(55, 1000, 1400), (62, 1000, 1400), (69, 1000, 1400)],
        &[],
        "double-stop impossible 55",
    );
    check("one voice", "erhu", &both(69, 74, 0), &[], "double-stop impossible 69");
    check("one voice in a slur", "erhu", &both(69, 74, 36), &[], "");
    check("a flute", "dizi-d", &both(69, 74, 10), &[], "double-stop impossible 69");
    check("ended before the other began", "erhu", &[(69, 1000, 1020), (74, 1020, 1400)], &[], "");
}
