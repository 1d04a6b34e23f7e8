//! The strings: open or stopped, how high on them a key lies, how far the hand has to go.

use approx::assert_abs_diff_eq;
use polso_engine::patch::{OpenPolicy, StringsPatch};

use crate::rehearsal::patch;

/// The shipped violin: open 55, 62, 69, 76, of 12, 12, 14 and 27 semitones, 0.328 m; the lowest
/// can only be played open.
fn violin(policy: OpenPolicy) -> StringsPatch {
    StringsPatch { policy, ..patch("violin", "generic").strings }
}

const ALL: [OpenPolicy; 3] = [OpenPolicy::Stopped, OpenPolicy::Open, OpenPolicy::Auto];

#[test]
fn an_open_pitch_is_left_open_by_need_by_policy_or_in_haste() {
    // Below 0.25 s a note the policy `auto` leaves open pitches open.
    for (key, pace_s, open) in [
        (55, 1.0, [true, true, true]),
        (62, 1.0, [false, true, false]),
        (62, 0.25, [false, true, false]),
        (62, 0.249, [false, true, true]),
        (76, 0.1, [false, true, true]),
        (63, 0.1, [false, false, false]),
    ] {
        let found = ALL.map(|policy| violin(policy).is_open(key, pace_s));
        assert_eq!(found, open, "key {key} at {pace_s}");
    }
    let strings = violin(OpenPolicy::Stopped);
    assert_eq!(
        [55, 62, 76, 63, 54].map(|key| strings.has_open(key)),
        [true, true, true, false, false]
    );
    assert_eq!(
        [55, 62, 54, 56].map(|key| strings.is_forced_open(key)),
        [true, false, false, false]
    );
    // A key may be forced open where no string is tuned to it.
    let forced = StringsPatch { forced_open_keys: 1 << 127 | 1, ..strings };
    assert_eq!([0, 1, 126, 127].map(|key| forced.has_open(key)), [true, false, false, true]);
    assert!(forced.is_open(127, 1.0) && !forced.is_open(55, 1.0));
    assert!(!StringsPatch::NONE.has_open(0) && !StringsPatch::NONE.is_open(0, 0.1));
}

/// 1 + 0.03 a semitone above the fifth one, within 0.6 and 1.6.
#[test]
fn the_register_widens_with_the_height_above_the_open_string() {
    #[track_caller]
    fn check(policy: OpenPolicy, key: u8, per_semitone: f64, expected: f64) {
        let found = violin(policy).register(key, 1.0, per_semitone);
        assert_abs_diff_eq!(found, expected, epsilon = 1e-12);
    }
    check(OpenPolicy::Stopped, 67, 0.03, 1.0);
    check(OpenPolicy::Stopped, 68, 0.03, 1.03);
    // Stopped on the string below, or open.
    check(OpenPolicy::Stopped, 69, 0.03, 1.06);
    check(OpenPolicy::Open, 69, 0.03, 0.85);
    check(OpenPolicy::Stopped, 70, 0.03, 0.88);
    check(OpenPolicy::Stopped, 86, 0.03, 1.15);
    // Below every string, and on the lowest open one, it is no height at all.
    check(OpenPolicy::Stopped, 40, 0.03, 0.85);
    check(OpenPolicy::Stopped, 55, 0.03, 0.85);
    check(OpenPolicy::Stopped, 103, 0.03, 1.6);
    check(OpenPolicy::Stopped, 40, 0.1, 0.6);
    assert_eq!(StringsPatch::NONE.register(90, 1.0, 0.5), 1.0);
}

/// A stopped string of length L sounds a semitones higher at L · 2^(−a/12) (REFERENCE 5).
#[test]
fn the_hand_goes_the_shortest_way_on_one_string() {
    #[track_caller]
    fn check(policy: OpenPolicy, from: u8, to: u8, expected: Option<f64>) {
        let strings = violin(policy);
        for (from, to) in [(from, to), (to, from)] {
            match (strings.travel_m(from, to, 1.0), expected) {
                (Some(found), Some(way)) => assert_abs_diff_eq!(found, way, epsilon = 1e-12),
                (found, expected) => assert_eq!(found, expected, "{from} to {to}"),
            }
        }
    }
    let way = |a: f64, b: f64| Some(0.328 * (libm::exp2(-a / 12.0) - libm::exp2(-b / 12.0)));
    check(OpenPolicy::Stopped, 56, 57, way(1.0, 2.0));
    check(OpenPolicy::Stopped, 57, 67, way(2.0, 12.0));
    // Two strings carry both: higher up the way is shorter.
    check(OpenPolicy::Stopped, 71, 73, way(9.0, 11.0));
    check(OpenPolicy::Stopped, 77, 78, way(8.0, 9.0));
    check(OpenPolicy::Stopped, 70, 70, Some(0.0));
    // Past the end of the string, or across two of them, there is none.
    check(OpenPolicy::Stopped, 56, 68, None);
    check(OpenPolicy::Stopped, 60, 90, None);
    check(OpenPolicy::Stopped, 54, 56, None);
    // An open note is the string's own only where it is left open.
    check(OpenPolicy::Stopped, 55, 57, None);
    check(OpenPolicy::Open, 55, 57, way(0.0, 2.0));
    check(OpenPolicy::Open, 76, 78, way(7.0, 9.0));
    check(OpenPolicy::Stopped, 102, 103, way(26.0, 27.0));
    check(OpenPolicy::Stopped, 102, 104, None);
    assert_eq!(StringsPatch::NONE.travel_m(60, 61, 1.0), None);
    let in_haste = violin(OpenPolicy::Auto);
    assert_eq!(
        (in_haste.travel_m(55, 57, 0.25), in_haste.travel_m(55, 57, 0.2).is_some()),
        (None, true)
    );
}
