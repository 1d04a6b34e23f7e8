//! Ten thousand interruptions at random: whatever happens, nothing hangs and all comes to rest.

use polso::engine::event::{Input, Message};
use polso::engine::patch::Patch;

use crate::desk::{Desk, Die, Fault, take};
use crate::music::strike;
use crate::table::whole;

const OPERATIONS: u32 = 10_000;
/// Each run has its own take and seed.
const RUNS: u64 = 50;
/// After a stop the bend is home in 30 ms, the expression 0.25 s and 40 ms after the last off.
const REST_S: f64 = 0.4;

/// One run of random operations: what broke, and how often it stopped.
fn run(seed: u64, operations: u32, fault: Fault) -> Result<u32, String> {
    let mut die = Die(seed);
    let take = take(&mut die, 6.0, true);
    let patches = ["violin", "erhu"].map(|name| [whole(name, false), whole(name, true)]).concat();
    let mut desk = Desk::new(&patches[0], &take, fault);
    let mut hand: Vec<u8> = Vec::new();
    let mut stops = 0;
    for operation in 0..operations {
        let told = operate(&mut desk, &mut die, &patches, &mut hand);
        let result = if told == "stop" {
            stops += 1;
            desk.play(&mut die, REST_S);
            rested(&desk, &hand)
        } else {
            let seconds = die.between(0.001, 0.3);
            desk.play(&mut die, seconds);
            desk.receiver.breach.take().map_or(Ok(()), Err)
        };
        result
            .map_err(|breach| format!("seed {seed}, operation {operation} ({told}): {breach}"))?;
    }
    Ok(stops)
}

/// One operation; its name.
fn operate(
    desk: &mut Desk<'_>,
    die: &mut Die,
    patches: &[Patch],
    hand: &mut Vec<u8>,
) -> &'static str {
    let place = |die: &mut Die, rate_hz: f64| (die.between(0.0, 6.0) * rate_hz) as u64;
    match die.below(11) {
        0 | 1 => {
            desk.run(true);
            "play"
        }
        2 | 3 => {
            let was_running = desk.is_running;
            desk.run(false);
            if was_running { "stop" } else { "stop at rest" }
        }
        4 => {
            let to = place(die, desk.rate_hz);
            desk.locate(to);
            hand.clear();
            "locate"
        }
        5 => {
            let start = place(die, desk.rate_hz);
            let length = (die.between(0.01, 2.0) * desk.rate_hz) as u64;
            desk.cycle = (die.below(3) > 0).then_some((start, start + length));
            desk.locate(start);
            hand.clear();
            "loop"
        }
        6 => {
            desk.tell(Input::Panic);
            hand.clear();
            "panic"
        }
        7 => {
            desk.engine.load(&patches[die.below(patches.len() as u64) as usize]);
            "profile change"
        }
        8 => {
            let seconds = desk.place as f64 / desk.rate_hz;
            desk.rate_hz = [44_100.0, 48_000.0, 96_000.0][die.below(3) as usize];
            desk.place = (seconds * desk.rate_hz) as u64;
            desk.cycle = None;
            desk.engine.retime(desk.rate_hz);
            desk.run(desk.is_running);
            hand.clear();
            "rate change"
        }
        _ if hand.len() < 3 && die.below(2) == 0 => {
            // Above the take's keys, so that none is struck by both.
            let key = 90 + die.below(8) as u8;
            if !hand.contains(&key) {
                hand.push(key);
                desk.tell(Input::Live(strike(key, 80)));
            }
            "key down"
        }
        _ => {
            for key in hand.drain(..) {
                let off = Message::NoteOff { channel: 0, key, velocity: 64 };
                desk.tell(Input::Live(off));
            }
            "keys up"
        }
    }
}

/// After a stop: only the hand's keys sound, and without them all is at rest.
fn rested(desk: &Desk<'_>, hand: &[u8]) -> Result<(), String> {
    let receiver = &desk.receiver;
    if let Some(breach) = &receiver.breach {
        return Err(breach.clone());
    }
    // A loop takes the hand's keys too, when it comes round.
    let keys = receiver.keys();
    let is_switch = |key: &u8| (24..=28).contains(key);
    let holds = keys.iter().any(|key| hand.contains(key));
    let may_sound = |key: &u8| hand.contains(key) || holds && is_switch(key);
    if let Some(key) = keys.iter().find(|key| !may_sound(key)) {
        return Err(format!("key {key} sounds on"));
    }
    if !keys.is_empty() {
        return Ok(());
    }
    let bend = receiver.last(|message| match message {
        Message::PitchBend { value, .. } => Some(value),
        _ => None,
    });
    let expression = receiver.last(|message| match message {
        Message::Controller { number: 11, value, .. } => Some(value),
        _ => None,
    });
    match (bend, expression) {
        (Some(8192) | None, Some(127) | None) => Ok(()),
        found => Err(format!("bend and expression stand at {found:?}")),
    }
}

#[test]
fn ten_thousand_random_operations_leave_nothing_sounding() {
    let mut stops = 0;
    for seed in 0..RUNS {
        match run(seed, OPERATIONS / RUNS as u32, Fault::None) {
            Ok(count) => stops += count,
            Err(breach) => panic!("{breach}; `run(seed, …)` plays it again"),
        }
    }
    assert!(stops > 800, "{stops} stops are not many");
}

#[test]
fn a_planted_fault_is_caught_and_its_seed_plays_it_again() {
    for fault in [Fault::SilentStop, Fault::LostOff(7)] {
        let found = (0..RUNS).find_map(|seed| Some((seed, run(seed, 200, fault).err()?)));
        let (seed, breach) = found.expect("the fault is noticed");
        assert!(breach.starts_with(&format!("seed {seed}, ")), "{breach}");
        assert_eq!(run(seed, 200, fault), Err(breach));
        assert!(run(seed, 200, Fault::None).is_ok());
    }
}
