//! However the frames are cut into blocks, the very same messages come out at the very same frames.

use polso_engine::Section;
use polso_engine::patch::{ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, Patch};
use polso_engine::{Input, Message, Timed};
use polso_engine::{NoteWish, Wish};

use super::improvised::{Die, improvise};
use super::receivers;
use crate::rehearsal::{RATE_HZ, Score, Sent, Tape, perform};

const LENGTH_S: f64 = 6.0;

fn check(name: &str, patch: &Patch, score: &Score, blocks: &[u32]) -> Vec<Sent> {
    let whole = perform(patch, RATE_HZ, &[8192], score, LENGTH_S + 2.0);
    let cut = perform(patch, RATE_HZ, blocks, score, LENGTH_S + 2.0);
    let differs = whole.iter().zip(&cut).position(|(a, b)| a != b);
    if let Some(place) = differs {
        panic!("{name}, {blocks:?}: message {place}: {:?} or {:?}", whole[place], cut[place]);
    }
    assert_eq!(whole.len(), cut.len(), "{name}, {blocks:?}");
    whole
}

#[test]
fn blocks_of_every_length_sound_the_same() {
    for (name, patch) in receivers::all() {
        let score = improvise(1, &receivers::manner(&patch, LENGTH_S, 0.0));
        for length in [1, 7, 64, 1024, 8191] {
            let sent = check(name, &patch, &score, &[length]);
            assert!(sent.len() > 100, "{name} plays something");
        }
    }
}

#[test]
fn random_splits_with_empty_blocks_sound_the_same() {
    for (name, patch) in receivers::all() {
        for seed in 0..4 {
            let score = improvise(100 + seed, &receivers::manner(&patch, LENGTH_S, 0.0));
            let mut die = Die(seed);
            let lengths = [0, 0, 1, 2, 47, 48, 49, 480, 8192];
            let blocks: Vec<u32> = (0..400)
                .map(|_| {
                    let most = 1 << die.below(13);
                    if die.below(2) == 0 { die.pick(&lengths) } else { die.below(most) as u32 }
                })
                .collect();
            check(name, &patch, &score, &blocks);
        }
    }
}

#[test]
fn events_on_the_edges_of_blocks_sound_the_same() {
    // 144 frames are 3 ms at 48 kHz: with this grid every event stands on the first frame of a
    // block, and every third tick too; with 143 the edges wander through all places.
    for (name, patch) in receivers::all() {
        let score = improvise(50, &receivers::manner(&patch, LENGTH_S, RATE_HZ / 144.0));
        check(name, &patch, &score, &[144]);
        check(name, &patch, &score, &[143]);
        check(name, &patch, &score, &[145]);
        check(name, &patch, &score, &[144, 0]);
    }
}

/// Hands the events of each frame over in a block of no frames, just before that frame.
fn perform_in_empty_blocks(patch: &Patch, score: &Score, end_s: f64) -> Vec<Sent> {
    let mut engine = Section::prepare(RATE_HZ, patch);
    let mut tape = Tape::default();
    let events = score.timed(RATE_HZ);
    let end_frame = (end_s * RATE_HZ) as u64;
    for together in events.chunk_by(|a, b| a.0 == b.0) {
        let frame = together[0].0;
        engine.process((frame - tape.block_frame) as u32, &[], &mut tape);
        tape.block_frame = frame;
        let input: Vec<Timed> = together.iter().map(|(_, timed)| *timed).collect();
        engine.process(0, &input, &mut tape);
    }
    engine.process((end_frame - tape.block_frame) as u32, &[], &mut tape);
    tape.sent
}

#[test]
fn events_in_blocks_of_no_frames_sound_the_same() {
    for (name, patch) in receivers::all() {
        let score = improvise(3, &receivers::manner(&patch, LENGTH_S, 0.0));
        let whole = perform(&patch, RATE_HZ, &[8192], &score, LENGTH_S + 2.0);
        let cut = perform_in_empty_blocks(&patch, &score, LENGTH_S + 2.0);
        assert!(whole == cut, "{name}: {} or {} messages", whole.len(), cut.len());
    }
}

/// A wish for every third note, and now and then an articulation.
fn ask(score: &Score) -> Score {
    let mut asking = score.clone();
    for (place, (frame, timed)) in score.timed(RATE_HZ).into_iter().enumerate() {
        let Some(Message::NoteOn { channel, key, .. }) = timed.input.message() else { continue };
        let seconds = frame as f64 / RATE_HZ;
        let wish = |asked| Input::Wish(Wish { channel, key, asked });
        let none = NoteWish::NONE;
        match place % 6 {
            0 => asking = asking.at(seconds, wish(NoteWish { is_still: true, ..none })),
            3 => asking = asking.at(seconds, wish(NoteWish { style: Some(2), ..none })),
            4 => asking = asking.at(seconds, Input::Articulation(place as u8 % 4)),
            _ => {}
        }
    }
    asking
}

#[test]
fn wishes_and_articulations_reach_their_notes_in_blocks_of_every_length() {
    for is_held in [false, true] {
        let mut patch = receivers::keyswitches(is_held);
        let mut keys = [None; ARTICULATIONS_MAX];
        (30..33).zip(&mut keys).for_each(|(key, own)| *own = Some(key));
        let choice = ChoicePatch::Keyswitch { keys, velocity: 100, is_held: false };
        patch.target.articulation = ArticulationPatch { choice, usual: 0 };
        let plain = improvise(3, &receivers::manner(&patch, LENGTH_S, 0.0));
        let score = ask(&plain);
        let silent = check("plain", &patch, &plain, &[64]);
        for length in [1, 7, 64, 1024, 8191] {
            assert!(check("asking", &patch, &score, &[length]) != silent, "something is asked");
        }
        let whole = perform(&patch, RATE_HZ, &[8192], &score, LENGTH_S + 2.0);
        assert!(whole == perform_in_empty_blocks(&patch, &score, LENGTH_S + 2.0));
    }
}
