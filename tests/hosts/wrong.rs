//! A host says what is no MIDI: nothing of it is played, it is counted, and the music goes on.

use nice_plug::midi::{Channel, Key, NoteEvent, VoiceID};
use nice_plug::prelude::PluginApi;
use polso::engine::Message;

use super::clap::Clap;
use super::clap_frames::shipped;
use super::in_process::InProcess;
use super::room::{Edge, Heard, Host, Said, Shade, check_equal, engine, play, without_numbers};
use super::take::{END, frame, off, on, take, wheel};
use super::vst3::Vst3;

/// The take, with things in between that are not to be heard.
fn among(wrong: impl IntoIterator<Item = (u64, Said)>) -> Vec<(u64, Said)> {
    let mut events: Vec<(u64, Said)> = take().into_iter().chain(wrong).collect();
    events.sort_by_key(|(at, _)| *at);
    events
}

/// A CLAP host hands raw bytes over as they are: `90 C8 40` was key 200 of 128, and ended it.
#[test]
fn raw_bytes_above_127_are_not_played_and_the_host_lives() {
    let wrong = [
        [0x90, 0xC8, 0x40],
        [0x80, 0xC8, 0x40],
        [0x90, 0x45, 0xC8],
        [0xA0, 0xFF, 0x10],
        [0xA0, 0x45, 0x80],
        // Controller 200 was taken for controller 72.
        [0xB0, 0xC8, 0x40],
        [0xB0, 0x01, 0xC8],
        [0xC0, 0xC8, 0x00],
        [0xD0, 0x80, 0x00],
        [0xE0, 0x00, 0x80],
    ];
    let wrong = (0..80).map(|step| {
        let bytes = wrong[step as usize % wrong.len()];
        (frame(0.2) + 2_909 * step, Said::Raw(bytes))
    });
    let expected = engine(&shipped(), &take(), END, None);
    check_equal(
        "wrong bytes",
        &play(&mut Clap::open(), &[256], &among(wrong), END, None),
        &expected,
    );
}

#[test]
fn no_three_bytes_end_the_host() {
    let edges = [0, 1, 0x3F, 0x7F, 0x80, 0xC8, 0xF7, 0xFF];
    let mut clap = Clap::open();
    for status in 0..=u8::MAX {
        let all = edges.iter().flat_map(|first| edges.map(|second| [status, *first, second]));
        let said: Vec<_> = all.map(|bytes| (7, Said::Raw(bytes))).collect();
        clap.block(64, &said, None);
    }
    let panic = [(0, Said::Control("Panic", 1.0)), (1, Said::Control("Panic", 0.0))];
    clap.block(64, &panic, None);
    let heard = play(&mut clap, &[64], &[on(0.1, 69, 1), off(0.3, 69, 1)], frame(0.5), None);
    let is_on = |it: &Heard| matches!(it.said, Said::Message(Message::NoteOn { key: 69, .. }, 1));
    assert!(heard.iter().any(is_on), "the next note sounds");
}

/// Keys and channels that there are not, as notes of the host; VST3 remembers them for expressions.
#[test]
fn notes_on_keys_that_there_are_not_are_not_played() {
    let keys = [128, 200, 255, 300, i16::MAX, -2, i16::MIN];
    let note = |edge, at: f64, key, number| (frame(at), Said::Note(edge, 0, key, number));
    let mut wrong = Vec::new();
    for (number, key) in (100..).zip(keys) {
        let at = 0.3 + 0.2 * f64::from(number - 100);
        wrong.push(note(Edge::Begins, at, key, number));
        wrong.push((frame(at + 0.01), Said::Expression(Shade::Tuning, 0, number, 0.25)));
    }
    let expected = engine(&shipped(), &take(), END, None);
    let is_message = |it: &Heard| matches!(it.said, Said::Message(..));
    let heard = play(&mut Clap::open(), &[256], &among(wrong.clone()), END, None);
    let heard: Vec<Heard> = heard.into_iter().filter(is_message).collect();
    check_equal("CLAP", &heard, &expected);
    // CLAP's end of a key below 0 is the end of every key; VST3 has no such thing.
    for (number, key) in (100..).zip(keys) {
        wrong.push(note(Edge::Ends, 0.4 + 0.2 * f64::from(number - 100), key, number));
    }
    let heard = play(&mut Vst3::open("Polso"), &[256], &among(wrong), END, None);
    let passed: Vec<&Heard> = heard.iter().filter(|it| !is_message(it)).collect();
    // The framework takes what is below 0 or above 255 for key 0.
    assert_eq!(passed.len(), 4, "expressions of keys 128 to 255 do not pass: {passed:?}");
    let heard: Vec<Heard> = heard.into_iter().filter(is_message).collect();
    check_equal("VST3", &without_numbers(&heard), &without_numbers(&expected));
}

#[test]
fn a_note_on_a_channel_that_there_is_not_sounds_on_the_first_and_ends() {
    let events = |channel| {
        let note = |edge, at| (frame(at), Said::Note(edge, channel, 69, 1));
        [wheel(0.0, 80), note(Edge::Begins, 0.2), note(Edge::Ends, 0.6)]
    };
    let end = frame(1.0);
    let expected = play(&mut Clap::open(), &[256], &events(0), end, None);
    let is_off = |it: &Heard| matches!(it.said, Said::Message(Message::NoteOff { key: 69, .. }, _));
    assert!(expected.iter().any(is_off));
    for channel in [16, 200, 255, 300, i16::MAX, -2] {
        let heard = play(&mut Clap::open(), &[256], &events(channel), end, None);
        check_equal(&format!("CLAP, channel {channel}"), &heard, &expected);
        let heard = play(&mut Vst3::open("Polso"), &[256], &events(channel), end, None);
        let (heard, expected) = (without_numbers(&heard), without_numbers(&expected));
        check_equal(&format!("VST3, channel {channel}"), &heard, &expected);
    }
}

#[test]
fn what_is_no_midi_is_counted() {
    let (timing, voice_id, channel) = (3, VoiceID::Wildcard, Channel::Number(0));
    let on = |key, velocity| NoteEvent::NoteOn { timing, voice_id, channel, key, velocity };
    let off = |key| NoteEvent::NoteOff { timing, voice_id, channel, key, velocity: 0.5 };
    let wrong = [
        on(Key::Number(200), 0.5),
        on(Key::Number(60), 200.0 / 127.0),
        on(Key::Number(60), f32::NAN),
        off(Key::Number(128)),
        NoteEvent::MidiCC { timing, channel: 0, cc: 200, value: 0.5 },
        NoteEvent::MidiCC { timing, channel: 16, cc: 1, value: 0.5 },
        NoteEvent::MidiProgramChange { timing, channel: 0, program: 128 },
        NoteEvent::MidiPitchBend { timing, channel: 0, value: 1.01 },
        NoteEvent::PolyTuning { timing, voice_id, channel, key: Key::Number(128), tuning: 1.0 },
    ];
    for api in [PluginApi::Clap, PluginApi::Vst3] {
        let mut host = InProcess::open(api);
        let before = host.block(64, &[]).len();
        assert!(before > 0, "a receiver is told everything first");
        assert_eq!(host.block(64, &wrong), [], "{api:?}");
        host.block(4800, &[]);
        assert_eq!(host.dropped(), wrong.len() as u64, "{api:?}");
    }
    // A key that nobody names is every key in CLAP, and wrong in VST3.
    for (api, dropped) in [(PluginApi::Clap, 0), (PluginApi::Vst3, 1)] {
        let mut host = InProcess::open(api);
        host.block(64, &[on(Key::Number(60), 0.5)]);
        let ends = host.block(64, &[off(Key::Wildcard)]);
        let is_off = |it: &NoteEvent<_>| matches!(it, NoteEvent::NoteOff { .. });
        assert_eq!(ends.iter().any(is_off), api == PluginApi::Clap, "{api:?}: {ends:?}");
        host.block(4800, &[]);
        assert_eq!(host.dropped(), dropped, "{api:?}");
    }
}
