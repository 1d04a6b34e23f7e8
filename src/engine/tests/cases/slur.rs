//! What a slur does to the vibrato: it dips through every change, a run loses it, a slow line
//! keeps it, and nothing flips between.

use crate::music::{at, even_violin, run};
use crate::rehearsal::{Score, watch};
use polso_engine::patch::Patch;

/// Widths at their seconds, cents peak to peak, exact to a ten-thousandth of a cent.
fn check(sentence: &str, patch: &Patch, score: &Score, widths: &[(f64, f64)]) {
    let end_s = widths.last().expect("a width").0;
    let (views, _) = watch(patch, score, end_s);
    for &(at_s, cents) in widths {
        let width = at(&views, at_s).width_cents;
        assert!((width - cents).abs() < 1e-4, "{sentence}: at {at_s} s {width}, not {cents}");
    }
}

/// A slur does not narrow anything by itself, so that the envelope stands alone.
fn without_dip() -> Patch {
    let mut patch = even_violin();
    patch.vibrato.join_keep = 1.0;
    patch
}

/// The whole gesture, a second before the first note: rolled, 90 cents.
fn full() -> Score {
    Score::new().gesture(0.0, 1.0)
}

#[test]
fn a_slur_dips_to_what_the_instrument_keeps_and_recovers() {
    // Violin: 0.15 kept, 220 ms to recover. 90 → 13.5 in 30 ms (half way 51.75), held until
    // 90 ms, back at 310 ms (half way, 200 ms, 51.75). A second since the last onset keeps E.
    let score = full().note(1.0, 2.01, 64).on(2.0, 66);
    let down = [(2.0, 90.0), (2.015, 51.75), (2.03, 13.5)];
    let up = [(2.06, 13.5), (2.09, 13.5), (2.145, 25.453_125), (2.2, 51.75), (2.31, 90.0)];
    check("down", &even_violin(), &score, &down);
    check("up", &even_violin(), &score, &up);
}

/// Players stop vibrating through a slurred change, 0.33 s across both sides (Allen, Geringer &
/// MacLeod 2009): after the note-on under half the width until 186 ms, and under a fifth at the least.
#[test]
fn the_violin_almost_stops_through_a_slur() {
    let (views, _) = watch(&even_violin(), &full().note(1.0, 2.01, 64).on(2.0, 66), 2.4);
    let narrow: Vec<usize> = (2_000..2_400).filter(|&ms| views[ms].width_cents < 45.0).collect();
    let (first, last) = (narrow[0] - 2_000, narrow[narrow.len() - 1] - 2_000);
    assert_eq!((first, last, narrow.len()), (17, 186, 170));
    let least = views[2_000..2_400].iter().map(|view| view.width_cents).fold(90.0, f64::min);
    assert!((least - 13.5).abs() < 1e-6, "{least} cents of 90");
}

#[test]
fn the_dip_of_each_instrument_is_its_own() {
    // Erhu: 0.25 kept, 250 ms. At full gesture pressed, 110 cents: 27.5, half way 68.75, 110.
    let mut erhu = crate::music::bare("erhu", "perform");
    erhu.vibrato.register_per_semitone = 0.0;
    let score = full().note(1.0, 2.51, 72).on(2.5, 74);
    check("erhu", &erhu, &score, &[(2.5, 110.0), (2.53, 27.5), (2.715, 68.75), (2.84, 110.0)]);
    // Dizi: 0.60 kept, 200 ms. At full gesture finger, 60 cents: 36, half way 48, 60.
    let dizi = crate::music::bare("dizi-d", "perform");
    let widths = [(2.5, 60.0), (2.53, 36.0), (2.69, 48.0), (2.79, 60.0)];
    check("dizi", &dizi, &score, &widths);
}

#[test]
fn a_slur_within_a_dip_goes_on_from_where_it_stands() {
    // At 0.2 s the dip is half recovered, 0.575; 15 ms on it is half way to 0.15, 0.3625. An ioi
    // of 0.2 s leaves nothing of E, which is then at 1 − sm(0.375) = 0.683594: 22.3022 cents.
    let score = full().note(1.0, 2.01, 64).note(2.0, 2.21, 66).on(2.2, 64);
    let widths = [(2.2, 51.75), (2.215, 22.302_25), (2.24, 0.0)];
    check("a slur in a dip", &even_violin(), &score, &widths);
}

#[test]
fn a_fresh_note_does_not_dip_but_lets_the_last_dip_recover() {
    // Slurred at 2 s, released and struck afresh at 2.05 s: half of E after 20 ms, 0.15 of it
    // kept by the dip: 6.75 cents.
    let score = full().note(1.0, 2.01, 64).note(2.0, 2.05, 66).on(2.05, 64);
    check("fresh in a dip", &even_violin(), &score, &[(2.05, 13.5), (2.07, 6.75), (2.09, 0.0)]);
}

#[test]
fn the_time_since_the_last_onset_decides_what_a_slur_leaves() {
    // E is 1 by 0.176 s (pace 0.5: 126 ms, and 50 ms of growth). It falls in 40 ms to
    // sm((ioi − 0.2)/0.2), half way there after 20, and holds.
    let mut patch = without_dip();
    patch.vibrato.growth_s = 0.05;
    let rows = [(0.2, 0.0), (0.25, 0.15625), (0.3, 0.5), (0.35, 0.84375), (0.4, 1.0), (0.6, 1.0)];
    for (ioi_s, kept) in rows {
        let on_s = 1.0 + ioi_s;
        let score = full().note(1.0, on_s + 0.01, 64).on(on_s, 66);
        let half = 90.0 * (1.0 + kept) / 2.0;
        let widths = [(on_s + 0.02, half), (on_s + 0.04, 90.0 * kept), (on_s + 0.1, 90.0 * kept)];
        check(&format!("{ioi_s} s after the last onset"), &patch, &score, &widths);
    }
}

#[test]
fn the_floor_holds_until_the_new_notes_own_growth_is_the_larger() {
    // Growth 100 ms. An ioi of 0.3 s leaves half of E = 1. Pace 0.5 → 0.42, onset
    // 0.18·0.35/0.42 = 0.15 s: the own growth reaches 0.5 at 0.2 s and 1 at 0.25 s.
    let mut patch = without_dip();
    patch.vibrato.growth_s = 0.1;
    let score = full().note(1.0, 1.31, 64).on(1.3, 66);
    let widths = [(1.3, 90.0), (1.32, 67.5), (1.34, 45.0), (1.45, 45.0), (1.499, 45.0)];
    check("the floor", &patch, &score, &widths);
    check("the growth", &patch, &score, &[(1.525, 75.9375), (1.55, 90.0), (3.0, 90.0)]);
}

#[test]
fn a_slow_slurred_line_keeps_its_vibrato_and_a_run_loses_it() {
    // Half-second slurs keep all of it. Notes of 0.2 s leave nothing
    // after 40 ms, and once the pace is theirs they earn nothing.
    let keys = [64, 66, 67, 66, 64, 66, 67, 66];
    let (views, _) = watch(&without_dip(), &run(full(), 1.0, 0.5, 0.51, &keys), 5.0);
    let narrowest = views[1426..].iter().map(|view| view.width_cents).fold(90.0, f64::min);
    assert!((narrowest - 90.0).abs() < 1e-9, "{narrowest}");
    let score = run(full().note(1.0, 2.01, 69), 2.0, 0.2, 0.21, &keys);
    let kept_all = [(2.0, 90.0), (2.199, 90.0)];
    check("the first note of the run still has it", &without_dip(), &score, &kept_all);
    check("the next loses it", &without_dip(), &score, &[(2.24, 0.0), (3.2, 0.0), (3.5, 0.0)]);
}

#[test]
fn a_line_whose_slurs_hover_about_thirty_hundredths_does_not_flip() {
    // Slurs after 0.29 and 0.31 s by turns; the pace lies between, so the onset lies between
    // 0.063/0.31 = 0.2032 and 0.063/0.29 = 0.2172 s. The own growth of a note of 0.29 s then
    // reaches at least sm(0.0728/0.3) = 0.148, that of 0.31 s at most sm(0.1068/0.3) = 0.290; the
    // floor under it is at most 0.575 of that. So every note ends between 13 and 27 cents, and
    // no fall is steeper than 1.5·0.290·0.575/40 ms, 0.57 cents a millisecond.
    let keys = [64, 66];
    let mut score = full();
    let mut on_s = 1.0;
    let mut ends_s = Vec::new();
    for place in 0..60 {
        let ioi_s = if place % 2 == 0 { 0.29 } else { 0.31 };
        score = score.note(on_s, on_s + ioi_s + 0.01, keys[place % 2]);
        on_s += ioi_s;
        ends_s.push(on_s);
    }
    let (views, _) = watch(&without_dip(), &score, on_s);
    for &end_s in &ends_s[10..59] {
        let width = at(&views, end_s - 0.001).width_cents;
        assert!((13.0..27.0).contains(&width), "{width} cents at {end_s} s");
    }
    for pair in views[4000..].windows(2) {
        let step = (pair[1].width_cents - pair[0].width_cents).abs();
        assert!(step <= 0.58, "{step} cents at {} s", pair[1].time_s);
    }
}

#[test]
fn the_phase_goes_on_through_a_slurred_chain() {
    // 7.2 Hz from 1.126 s on: at 2.5 s 9.8928 turns, whatever was slurred between. The violin
    // starts on the pitch going down, where a = 0.55: the angle is π − asin(0.1). There
    // a − 0.55 = sin(2π·0.8928 + π − asin 0.1)/2 − 0.05 = 0.299402 of the width, and 0.9 of the
    // mean, −0.05, has been taken off: 0.344402.
    let keys = [64, 66, 67, 69];
    let (views, _) = watch(&without_dip(), &run(full(), 1.0, 0.4, 0.41, &keys), 2.6);
    let view = at(&views, 2.5);
    let share = view.pitch_cents / view.width_cents;
    assert!((share - 0.344_402).abs() < 1e-6, "{share}");
}

#[test]
fn a_forced_open_note_takes_the_vibrato_and_the_next_note_earns_it_again() {
    // G3 on the violin: 40 ms after it nothing is left. Pace 0.5 → 0.7 → 0.82, so the next
    // note's onset is 0.18·0.6 = 0.108 s, half grown 0.15 s later.
    let score = full().note(1.0, 2.01, 64).note(2.0, 3.01, 55).on(3.0, 64);
    let widths = [(2.0, 90.0), (2.04, 0.0), (2.5, 0.0), (3.108, 0.0), (3.258, 45.0), (3.408, 90.0)];
    check("after an open string", &without_dip(), &score, &widths);
}

#[test]
fn a_key_that_is_given_back_dips_like_any_slur() {
    // The upper key lifts at 2.5 s: the lower sounds again, half a second after the last change.
    let score = full().on(1.0, 64).note(2.0, 2.5, 66);
    let widths = [(2.5, 90.0), (2.515, 51.75), (2.53, 13.5), (2.59, 13.5), (2.81, 90.0)];
    check("given back", &even_violin(), &score, &widths);
}

/// The time since the line last changed its note decides, also where a key gives the line back.
#[test]
fn a_key_given_back_after_a_tenth_of_a_second_leaves_nothing_of_the_vibrato() {
    let score = full().on(1.0, 72).on(3.0, 74).off(3.1, 74);
    check("given back at once", &without_dip(), &score, &[(3.0, 90.0), (3.15, 0.0), (3.2, 0.0)]);
    let score = full().on(1.0, 72).on(3.0, 74).off(3.45, 74);
    check("given back later", &without_dip(), &score, &[(3.45, 90.0), (3.5, 90.0)]);
}
