//! A loop sounds the same every time it comes round, to the very message and frame.

use std::ops::Range;

use polso_engine::Message;
use polso_engine::Section;
use polso_engine::patch::{Patch, Source, VoiceKind};

use super::test_host::{Die, Fault, RATE_HZ, TestHost, take};
use crate::rehearsal::{Sent, in_voices, patch_with};

/// The messages of a pass, with frames since its beginning. At the frame of a jump the last of the
/// pass before goes out first; the level on CC 11 is the first that tells of the new one.
fn pass(host: &TestHost<'_>, from: u64, to: u64) -> Vec<(u64, Message)> {
    let is_level = |message: Message| matches!(message, Message::Controller { number: 11, .. });
    let place = |frame: u64| {
        let begins = |sent: &Sent| sent.frame == frame && is_level(sent.message);
        host.sent().iter().position(begins).expect("the level is told at a jump")
    };
    let own = &host.sent()[place(from)..place(to)];
    own.iter().map(|sent| (sent.frame - from, sent.message)).collect()
}

#[test]
fn the_second_and_the_third_pass_are_identical() {
    let message_count = check(0..24, |patch, _| patch);
    assert!(message_count > 3000, "{message_count} messages are not many");
}

#[test]
fn they_are_identical_for_two_four_and_eight_voices() {
    let message_count = check(0..36, |patch, seed| {
        let kind = if seed % 2 == 0 { VoiceKind::Chords } else { VoiceKind::Divisi };
        in_voices(patch, kind, [2, 4, 8][seed as usize % 3])
    });
    assert!(message_count > 3000, "{message_count} messages are not many");
}

/// Loops of takes by these seeds, each on a patch of its own: how many messages a pass has in all.
#[track_caller]
fn check(seeds: Range<u64>, own: impl Fn(Patch, u64) -> Patch) -> usize {
    let mut message_count = 0;
    for seed in seeds {
        let mut die = Die(seed);
        let take = take(&mut die, 8.0, seed % 2 == 0);
        let target = ["generic", "perform"][die.below(2) as usize];
        let patch = own(patch_with("erhu", target, Source::Controller(1), seed, 1.0), seed);
        let mut host = TestHost::new(Section::prepare(RATE_HZ, &patch), &take, Fault::None);
        let start = (die.between(0.0, 3.0) * RATE_HZ) as u64;
        let length = (die.between(0.5, 4.0) * RATE_HZ) as u64;
        host.cycle = Some((start, start + length));
        host.place = (die.between(0.0, 1.0) * start as f64) as u64;
        host.run(true);
        while host.turns.len() < 4 {
            host.play(&mut die, 0.1);
        }
        let [second, third] =
            [1, 2].map(|turn| pass(&host, host.turns[turn - 1], host.turns[turn]));
        let differs = second.iter().zip(&third).position(|(a, b)| a != b);
        let pair = differs.map(|place| (second[place], third[place]));
        assert_eq!(pair, None, "seed {seed}");
        assert_eq!(second.len(), third.len(), "seed {seed}");
        message_count += second.len();
    }
    message_count
}
