//! A bar that is played again comes out again, wherever in the song it stands.

use polso_engine::patch::{ChoicePatch, Patch, Source};
use polso_engine::{Message, Section};

use crate::music::still_body;
use crate::rehearsal::{RATE_HZ, Score, patch, patch_with, perform_on, watch};

/// A wheel that leaps after 0.6 s: whether the hand had stood was decided by the last bit of a
/// difference, so the gesture 14 ms later was 0.68 in one bar and 0.32 in the next.
#[test]
fn a_wheel_that_waits_as_long_as_a_gap_ramps_alike_in_every_repeat() {
    let mut score = Score::new();
    for bar in 1..=60 {
        let start_s = 1.2 * f64::from(bar);
        score = score.wheel(start_s, 30).wheel(start_s + 0.6, 90);
    }
    let (views, _) = watch(&patch("erhu", "perform"), &score, 75.0);
    let gesture = |bar: u32| views[(1200 * bar + 614) as usize].gesture;
    let strange: Vec<u32> =
        (3..=60).filter(|&bar| (gesture(bar) - gesture(2)).abs() > 1e-9).collect();
    assert!(strange.is_empty(), "bars {strange:?}");
}

/// A bar of everything that waits: flutter, a hand that stands, gaps of the breath, slurs, short
/// and long last notes, niente, keyswitches.
fn bar(mut score: Score, start_s: f64, source: u8) -> Score {
    let notes = [(0.1, 0.45, 69), (0.4, 0.7, 72), (0.7, 0.85, 74), (1.0, 1.9, 71), (2.3, 2.41, 76)];
    for (on_s, off_s, key) in notes {
        score = score.note(start_s + on_s, start_s + off_s, key);
    }
    let moves = [
        (0.0, 40),
        (0.25, 41),
        (0.5, 40),
        (0.75, 41),
        (0.85, 0),
        (1.0, 90),
        (1.15, 91),
        (1.4, 90),
        (1.65, 4),
        (1.9, 0),
        (2.05, 0),
        (2.3, 100),
        (2.41, 0),
        (2.7, 60),
    ];
    for (at_s, value) in moves {
        score = score.controller(start_s + at_s, source, value);
    }
    score
}

const BAR_S: f64 = 3.6;
const BARS: u32 = 40;

/// From the third bar on, every bar sends what the third sent.
#[track_caller]
fn check(name: &str, patch: &Patch, source: u8) {
    let score =
        (0..BARS).fold(Score::new(), |score, number| bar(score, BAR_S * f64::from(number), source));
    let mut engine = Section::prepare(RATE_HZ, patch);
    let end_s = BAR_S * f64::from(BARS);
    let sent = perform_on(&mut engine, RATE_HZ, &[480], &score, end_s);
    let bar_frames = (BAR_S * RATE_HZ).round() as u64;
    let of = |number: u32| -> Vec<(u64, Message)> {
        let start = bar_frames * u64::from(number);
        let own = sent.iter().filter(|sent| (start..start + bar_frames).contains(&sent.frame));
        own.map(|sent| (sent.frame - start, sent.message)).collect()
    };
    let third = of(2);
    assert!(third.len() > 100, "{name}: {}", third.len());
    for number in 3..BARS {
        let own = of(number);
        let strange = own.iter().zip(&third).find(|(own, third)| !is_alike(own, third));
        assert!(strange.is_none(), "{name}: bar {number}: {strange:?}");
        assert_eq!(own.len(), third.len(), "{name}: bar {number}");
    }
}

/// At one frame and equal, but for two steps of fourteen bits: the times that a swing is made of
/// stray in their last bits.
fn is_alike(own: &(u64, Message), third: &(u64, Message)) -> bool {
    match (own.1, third.1) {
        (Message::PitchBend { value, .. }, Message::PitchBend { value: other, .. }) => {
            own.0 == third.0 && value.abs_diff(other) <= 2
        }
        _ => own == third,
    }
}

#[test]
fn a_bar_is_the_same_in_every_repeat() {
    for instrument in ["erhu", "violin", "dizi-d"] {
        for target in ["perform", "generic"] {
            // Where the body stands to the pitch is drawn at each fresh note.
            let mut patch = still_body(patch(instrument, target));
            patch.legato.join_gap_s = 0.02;
            // Keyswitches that come up by themselves.
            let keys = [Some(12), Some(13), Some(14), Some(15), Some(16)];
            patch.target.mode = ChoicePatch::Keyswitch { keys, velocity: 100, is_held: false };
            check(&format!("{instrument}, {target}"), &patch, 1);
            let blown = patch_with(instrument, target, Source::Controller(2), 1, 0.0);
            let mut blown = still_body(blown);
            blown.legato.join_gap_s = 0.02;
            check(&format!("{instrument} blown, {target}"), &blown, 2);
        }
    }
}
