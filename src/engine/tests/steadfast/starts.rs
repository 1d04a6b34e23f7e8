//! A song that is started anywhere soon sounds as if it had been played from its beginning.

use std::collections::BTreeMap;

use polso_engine::Section;
use polso_engine::patch::Source;
use polso_engine::{Message, Origin};

use super::test_host::{Die, Fault, RATE_HZ, Take, TestHost, take};
use crate::rehearsal::{Sent, patch_with};

/// The value of each of our controllers at a frame.
fn values(sent: &[Sent], frame: u64) -> BTreeMap<u8, u8> {
    let said = sent.iter().take_while(|sent| sent.frame <= frame);
    let own = said.filter_map(|sent| match (sent.origin, sent.message) {
        (Origin::Layer(_), Message::Controller { number, value, .. }) => Some((number, value)),
        _ => None,
    });
    own.collect()
}

/// When the last note has ended, its tail and ambience too, that was under way at a time: a start there does
/// not play it, and hosts do not either.
fn crossed_s(take: &Take, at_s: f64) -> f64 {
    let mut down = Vec::new();
    let mut end_s = at_s;
    for (seconds, message) in take {
        match *message {
            Message::NoteOn { key, .. } => down.push((key, *seconds)),
            Message::NoteOff { key, .. } => {
                let own = down.iter().position(|own| own.0 == key).expect("its on");
                if down.remove(own).1 < at_s {
                    end_s = end_s.max(*seconds);
                }
            }
            _ => {}
        }
    }
    if end_s > at_s { end_s + 1.9 } else { at_s }
}

/// The first note at or after a time that begins a phrase: 0.35 s after the longest tail.
fn phrase_start_s(take: &Take, from_s: f64) -> f64 {
    let ons = take.iter().filter(|(_, m)| matches!(m, Message::NoteOn { .. }));
    let offs = take.iter().filter(|(_, m)| matches!(m, Message::NoteOff { .. }));
    let all_up = |on_s: f64| {
        let ons = ons.clone().filter(|(at_s, _)| *at_s < on_s).count();
        ons == offs.clone().filter(|(at_s, _)| *at_s < on_s).count()
    };
    let is_free = |on_s: f64| {
        all_up(on_s) && !offs.clone().any(|(off_s, _)| (on_s - 0.7..on_s).contains(off_s))
    };
    ons.clone().map(|(on_s, _)| *on_s).find(|&on_s| on_s >= from_s && is_free(on_s)).unwrap_or(99.0)
}

/// Plays from a place for some seconds, in a project that knows where the hand first came up.
fn played_from(
    take: &Take,
    seed: u64,
    place: u64,
    seconds: f64,
    niente_from: Option<i32>,
) -> TestHost<'_> {
    let patch = patch_with("erhu", "generic", Source::Controller(1), seed, 1.0);
    let mut engine = Section::prepare(RATE_HZ, &patch);
    engine.restore_niente(niente_from);
    let mut host = TestHost::new(engine, take, Fault::None);
    host.is_running = true;
    host.locate(place);
    host.play(&mut Die(seed), seconds);
    host
}

#[test]
fn a_start_anywhere_resyncs_before_the_first_note_and_soon_is_where_a_straight_play_is() {
    let (mut compared, mut widths) = (0, 0);
    for seed in 0..20 {
        let mut die = Die(1000 + seed);
        let take = take(&mut die, 12.0, false);
        let start = (die.between(1.0, 6.0) * RATE_HZ) as u64;
        let straight = played_from(&take, seed, 0, 12.0, None);
        let known = straight.player.niente_from();
        let jumped = played_from(&take, seed, start, 12.0 - start as f64 / RATE_HZ, known);
        let first = jumped.sent().iter().position(|s| matches!(s.message, Message::NoteOn { .. }));
        let before = &jumped.sent()[..first.expect("a note")];
        let told = values(before, u64::MAX).into_keys().collect::<Vec<_>>();
        // A join's time and source key are told with the note that they are of.
        let all = values(jumped.sent(), u64::MAX).into_keys().filter(|it| ![5, 84].contains(it));
        assert_eq!(told, all.collect::<Vec<_>>());
        assert_eq!(told, [11, 65, 70, 76, 77, 91], "seed {seed}");
        let phrase_s = phrase_start_s(&take, start as f64 / RATE_HZ);
        let wait_s = (crossed_s(&take, start as f64 / RATE_HZ) - start as f64 / RATE_HZ).max(1.0);
        for step in 0..300 {
            let after = (RATE_HZ * (wait_s + 0.01 * f64::from(step))) as u64;
            let here = values(jumped.sent(), after);
            // The width follows the pace, and a pace is only known within its phrase.
            let is_new = (start + after) as f64 / RATE_HZ >= phrase_s;
            let around = [-50, -40, -30, -20, -10, 0, 10, 20, 30, 40, 50].map(|off_ms| {
                let frame = (start + after) as i64 + off_ms * RATE_HZ as i64 / 1000;
                values(straight.sent(), frame as u64)
            });
            // How a note joins depends on those before it.
            let lasts = |number: u8| ![5, 65, 84].contains(&number) && (number != 77 || is_new);
            for (number, value) in here.into_iter().filter(|(number, _)| lasts(*number)) {
                compared += 1;
                widths += u32::from(number == 77);
                // Outputs speak up to 50 ms apart, and not in step.
                let said = around.each_ref().map(|values| values[&number]);
                let (low, high) = (said.into_iter().min(), said.into_iter().max());
                let (low, high) = (low.unwrap_or(0), high.unwrap_or(0));
                let is_near = (low.saturating_sub(1)..=high + 1).contains(&value);
                assert!(is_near, "seed {seed}, CC {number} at {step}: {value}, {said:?}");
            }
        }
    }
    assert!(compared > 20_000, "{compared} values are not many");
    assert!(widths > 2_000, "{widths} widths are not many");
}
