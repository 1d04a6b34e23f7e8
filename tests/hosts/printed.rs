//! What is on the track was printed: it passes untouched, and the project keeps it so.

use polso::engine::Message;
use serde_json::{Value, json};

use super::clap::Clap;
use super::clap_frames::shipped;
use super::project::{opened, project, stored, text};
use super::room::{Heard, Host, Said, Song, check_equal, engine, play, without_numbers};
use super::take::{END, frame, off, on, take, wheel};
use super::vst3::Vst3;
use polso::host::state::State;

fn printed(at: f64, value: f64) -> (u64, Said) {
    (frame(at), Said::Control("Printed", value))
}

/// A song in which the printed take runs.
fn song() -> Option<Song> {
    Some(Song::running(16.0, 120.0))
}

/// A printed take: what the engine made of a hand's, and messages of every kind.
fn performance() -> Vec<(u64, Said)> {
    let made = engine(&shipped(), &take(), END, song());
    let bend = Message::PitchBend { channel: 0, value: 9000 };
    let pressure = Message::ChannelPressure { channel: 0, value: 77 };
    let mut events: Vec<(u64, Said)> = made.iter().map(|it| (it.frame, it.said)).collect();
    events.extend([bend, pressure].map(|it| (frame(0.15), Said::Message(it, -1))));
    events.sort_by_key(|(at, _)| *at);
    // Before it the plugin is told that it is printed.
    events.iter_mut().for_each(|(at, _)| *at += 1);
    events
}

fn heard(events: &[(u64, Said)]) -> Vec<Heard> {
    events.iter().map(|&(frame, said)| Heard { frame, said }).collect()
}

#[test]
fn a_printed_take_passes_byte_for_byte() {
    let performance = performance();
    let mut events = vec![printed(0.0, 1.0)];
    events.extend(&performance);
    let end = END + 1024;
    let clap = play(&mut Clap::open(), &[256, 97], &events, end, song());
    let clap: Vec<Heard> = clap.into_iter().filter(|it| it.frame > 0).collect();
    check_equal("CLAP", &without_numbers(&clap), &without_numbers(&heard(&performance)));
    let vst3 = play(&mut Vst3::open("Polso"), &[256, 97], &events, end, song());
    let vst3: Vec<Heard> = vst3.into_iter().filter(|it| it.frame > 0).collect();
    // VST3 keeps no order among controllers of one frame.
    let sorted = |list: &[Heard]| {
        let mut list = without_numbers(list);
        list.sort_by_key(|it| (it.frame, format!("{:?}", it.said)));
        list
    };
    check_equal("VST3", &sorted(&vst3), &sorted(&heard(&performance)));
}

/// As a bypass does, which the engine alone shows.
#[test]
fn a_turn_to_printed_ends_what_sounds_and_a_turn_back_tells_the_receiver_again() {
    let aside = [on(1.1, 60, 4), wheel(1.2, 70), off(1.4, 60, 4)];
    let events = |turn: fn(f64, f64) -> (u64, Said)| {
        let mut events = vec![wheel(0.0, 80), on(0.1, 69, 1), turn(1.0003, 1.0)];
        events.extend(aside);
        events.extend([turn(2.0, 0.0), on(2.5, 70, 2), off(2.7, 70, 2)]);
        events
    };
    let bypass = |at: f64, value| (frame(at), Said::Control("Bypass", value));
    let expected = engine(&shipped(), &events(bypass), frame(4.0), None);
    let heard = play(&mut Clap::open(), &[512], &events(printed), frame(4.0), None);
    check_equal("CLAP", &heard, &expected);
    let vst3 = play(&mut Vst3::open("Polso"), &[512], &events(printed), frame(4.0), None);
    check_equal("VST3", &without_numbers(&vst3), &without_numbers(&expected));
    let ends = heard.iter().any(|it| {
        it.frame == frame(1.0003)
            && matches!(it.said, Said::Message(Message::NoteOff { key: 69, .. }, _))
    });
    assert!(ends, "the note that sounded ends at the frame of the turn");
}

/// How many messages [`passed`] plays.
const PLAYED: usize = 3;

/// A note under a wheel; how many messages come out.
fn passed(host: &mut impl Host) -> usize {
    let played: [_; PLAYED] = [on(0.1, 69, 1), wheel(0.2, 90), off(0.4, 69, 1)];
    play(host, &[256], &played, frame(1.0), None).len()
}

#[test]
fn the_project_keeps_it_and_an_older_project_follows_the_hand() {
    let mut clap = Clap::open();
    play(&mut clap, &[256], &[printed(0.0, 1.0)], 256, None);
    let saved = clap.save();
    let params: Value = serde_json::from_slice(&saved[8..]).expect("JSON");
    let params = params["params"].clone();
    assert!(params["printd"].to_string().contains("true"), "{params}");
    let mut again = opened(&saved);
    assert_eq!(again.save(), saved);
    let count = passed(&mut again);
    assert_eq!(count, PLAYED, "it passes untouched");
    let mut vst3 = Vst3::open("Polso");
    let state = State::new(text("erhu"), text("generic"), text("wheel"), 0).to_text();
    assert!(vst3.restore(&stored(&state, &params)));
    let count = passed(&mut vst3);
    assert_eq!(count, PLAYED, "it passes untouched");
    let mut old = opened(&project(&state, &json!({})));
    let count = passed(&mut old);
    assert!(count > 2 * PLAYED, "the line follows the hand: {count}");
}
