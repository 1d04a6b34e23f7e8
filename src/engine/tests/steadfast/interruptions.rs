//! Interruptions at random, for whoever plays: what is asked, and what must hold after each.

use polso_engine::{Input, Message};

use super::test_host::{Die, Fault, Plays, Receiver, TestHost, take};

/// After a stop the bend is home in 30 ms, the expression 0.25 s and 40 ms after the last off.
const REST_S: f64 = 0.4;

/// Four keys from here on choose articulations, below those with which the receiver is told.
pub const ARTICULATION_KEY: u8 = 12;

/// One run of random operations: what broke, and how often it stopped.
pub fn run<P: Plays>(
    player: P,
    files: &[P::Files],
    seed: u64,
    operations: u32,
    fault: Fault,
) -> Result<u32, String> {
    let mut die = Die(seed);
    let take = take(&mut die, 6.0, true);
    let mut host = TestHost::new(player, &take, fault);
    let mut hand: Vec<u8> = Vec::new();
    let mut is_aside = false;
    let mut stops = 0;
    for operation in 0..operations {
        let told = if die.below(12) == 0 {
            is_aside = !is_aside;
            hand.clear();
            host.tell(Input::Bypass(is_aside));
            "bypass"
        } else {
            operate(&mut host, &mut die, files, &mut hand)
        };
        let result = if told == "stop" {
            stops += 1;
            host.play(&mut die, REST_S);
            rested(&host, &hand, is_aside)
        } else {
            let seconds = die.between(0.001, 0.3);
            host.play(&mut die, seconds);
            let breach = host.receiver.breach.take().map_or(Ok(()), Err);
            if is_aside { breach.and(expression_full(&host.receiver)) } else { breach }
        };
        result
            .map_err(|breach| format!("seed {seed}, operation {operation} ({told}): {breach}"))?;
    }
    Ok(stops)
}

/// One operation; its name.
fn operate<P: Plays>(
    host: &mut TestHost<'_, P>,
    die: &mut Die,
    files: &[P::Files],
    hand: &mut Vec<u8>,
) -> &'static str {
    let place = |die: &mut Die, rate_hz: f64| (die.between(0.0, 6.0) * rate_hz) as u64;
    match die.below(12) {
        0 | 1 => {
            host.run(true);
            "play"
        }
        2 | 3 => {
            let was_running = host.is_running;
            host.run(false);
            if was_running { "stop" } else { "stop at rest" }
        }
        4 => {
            let to = place(die, host.rate_hz);
            host.locate(to);
            hand.retain(|_| !P::HEARS_EVERY_JUMP);
            "locate"
        }
        5 => {
            let start = place(die, host.rate_hz);
            let length = (die.between(0.01, 2.0) * host.rate_hz) as u64;
            host.cycle = (die.below(3) > 0).then_some((start, start + length));
            host.locate(start);
            hand.retain(|_| !P::HEARS_EVERY_JUMP);
            "loop"
        }
        6 => {
            host.tell(Input::Panic);
            hand.clear();
            "panic"
        }
        7 => {
            host.player.load(&files[die.below(files.len() as u64) as usize]);
            "profile change"
        }
        8 => {
            retime(host, [44_100.0, 48_000.0, 96_000.0][die.below(3) as usize]);
            hand.clear();
            "rate change"
        }
        9 => {
            tap(host, ARTICULATION_KEY + die.below(4) as u8);
            "articulation"
        }
        _ if hand.len() < 3 && die.below(2) == 0 => {
            // Above the take's keys, so that none is struck by both.
            let key = 90 + die.below(8) as u8;
            if !hand.contains(&key) {
                hand.push(key);
                host.tell(Input::Live(Message::NoteOn { channel: 0, key, velocity: 80 }));
            }
            "key down"
        }
        _ => {
            for key in hand.drain(..) {
                let off = Message::NoteOff { channel: 0, key, velocity: 64 };
                host.tell(Input::Live(off));
            }
            "keys up"
        }
    }
}

/// Goes on at another rate from the same place.
fn retime<P: Plays>(host: &mut TestHost<'_, P>, rate_hz: f64) {
    let seconds = host.place as f64 / host.rate_hz;
    host.rate_hz = rate_hz;
    host.place = (seconds * rate_hz) as u64;
    host.cycle = None;
    host.player.retime(rate_hz);
    host.run(host.is_running);
}

/// A key that the hand may have for an articulation; without one it is a short note.
fn tap<P: Plays>(host: &mut TestHost<'_, P>, key: u8) {
    host.tell(Input::Live(Message::NoteOn { channel: 0, key, velocity: 80 }));
    host.tell(Input::Live(Message::NoteOff { channel: 0, key, velocity: 64 }));
}

/// After a stop: only the hand's keys sound, and without them all is at rest. What the take bends
/// while the line stands aside is not the line's.
fn rested<P>(host: &TestHost<'_, P>, hand: &[u8], is_aside: bool) -> Result<(), String> {
    let receiver = &host.receiver;
    if let Some(breach) = &receiver.breach {
        return Err(breach.clone());
    }
    // A loop takes the hand's keys too, when it comes round.
    let keys = receiver.keys();
    let is_switch = |key: &u8| (24..=33).contains(key);
    let holds = keys.iter().any(|key| hand.contains(key));
    let may_sound = |key: &u8| hand.contains(key) || holds && is_switch(key);
    if let Some(key) = keys.iter().find(|key| !may_sound(key)) {
        return Err(format!("key {key} sounds on"));
    }
    if !keys.is_empty() {
        return Ok(());
    }
    expression_full(receiver)?;
    let bend = receiver.last(|message| match message {
        Message::PitchBend { value, .. } => Some(value),
        _ => None,
    });
    match bend {
        Some(8192) | None => Ok(()),
        Some(_) if is_aside => Ok(()),
        Some(bend) => Err(format!("the bend stands at {bend}")),
    }
}

fn expression_full(receiver: &Receiver) -> Result<(), String> {
    let expression = receiver.last(|message| match message {
        Message::Controller { number: 11, value, .. } => Some(value),
        _ => None,
    });
    match expression {
        Some(127) | None => Ok(()),
        Some(value) => Err(format!("the expression stands at {value}")),
    }
}
