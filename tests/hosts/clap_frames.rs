//! In a CLAP host every event comes out at the frame at which the engine alone would send it.

use clack_host::prelude::ProcessStatus;
use polso::engine::Message;
use polso::engine::patch::Patch;
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use polso::profile::shipped::SHIPPED;
use serde_json::json;

use super::clap::{Clap, NOTE_EFFECT, THROUGH};
use super::project::project;
use super::room::{
    Bytes, Heard, Host, RATE_HZ, Said, Shade, Song, check_equal, engine, play, without_numbers,
};
use super::take::{END, frame, off, on, take, wheel};

/// The patch of a fresh plugin.
pub fn shipped() -> Patch {
    *SlotPatches::of(&State::shipped()).expect("patches").first().expect("a patch")
}

#[test]
fn it_plays_as_the_engine_in_blocks_of_any_length() {
    let expected = engine(&shipped(), &take(), END, None);
    for blocks in [&[32][..], &[100], &[1024], &[8192], &[1, 2, 3], &[441, 7, 64, 1000, 33, 5]] {
        let heard = play(&mut Clap::open(), blocks, &take(), END, None);
        check_equal(&format!("blocks of {blocks:?}"), &heard, &expected);
    }
}

#[test]
fn a_bounce_equals_what_was_heard() {
    let heard = play(&mut Clap::open(), &[64], &take(), END, None);
    let mut clap = Clap::load(NOTE_EFFECT);
    clap.bounce();
    clap.activate(RATE_HZ);
    check_equal("bounced", &play(&mut clap, &[4096], &take(), END, None), &heard);
}

#[test]
fn notes_keep_their_numbers_and_note_ons_their_frames() {
    let heard = play(&mut Clap::open(), &[100], &take(), END, None);
    for (at, said) in take() {
        if let Said::Message(Message::NoteOn { key, .. }, number) = said {
            let is_it = |heard: &&Heard| {
                matches!(heard.said, Said::Message(Message::NoteOn { key: k, .. }, n)
                    if (k, n) == (key, number))
            };
            let found = heard.iter().find(is_it).expect("every note-on comes out");
            assert_eq!(found.frame, at, "note {number}");
            let ends = |heard: &&Heard| {
                matches!(heard.said, Said::Message(Message::NoteOff { key: k, .. }, n)
                    if (k, n) == (key, number))
            };
            assert_eq!(heard.iter().filter(ends).count(), 1, "the off of note {number}");
        }
    }
}

#[test]
fn an_automated_gesture_arrives_at_its_own_frame() {
    let mut events = vec![on(0.2, 69, 1), off(3.0, 69, 1)];
    for step in 1..=200 {
        let share = f64::from(step) / 200.0;
        events.push((frame(0.5) + 317 * step as u64, Said::Control("Gesture", share)));
    }
    events.sort_by_key(|(frame, _)| *frame);
    let end = frame(4.0);
    let rounded = |(at, said): &(u64, Said)| match said {
        // Controls are single precision inside a host.
        Said::Control(name, value) => (*at, Said::Control(name, f64::from(*value as f32))),
        other => (*at, *other),
    };
    let expected = engine(&shipped(), &events.iter().map(rounded).collect::<Vec<_>>(), end, None);
    for blocks in [&[64][..], &[1000]] {
        let heard = play(&mut Clap::open(), blocks, &events, end, None);
        check_equal(&format!("blocks of {blocks:?}"), &heard, &expected);
    }
}

/// The wrapper hands what stands before a control of the same frame over with the block before.
#[test]
fn a_wheel_queued_before_a_control_of_its_frame_is_not_a_frame_early() {
    let width = |at: u64, share| (at, Said::Control("Vibrato width", share));
    let mut events = vec![wheel(0.0, 30), on(0.1, 69, 1)];
    for step in 0..40_u8 {
        let at = 1.0 + 0.01 * f64::from(step);
        events.extend([wheel(at, 30 + step), on(at, 60, 9), off(at, 60, 9)]);
        events.push(width(frame(at), 0.5 + 0.25 * f64::from(step % 2)));
    }
    let end = frame(2.0);
    let expected = engine(&shipped(), &events, end, None);
    for blocks in [&[1024][..], &[480], &[7]] {
        let heard = play(&mut Clap::open(), blocks, &events, end, None);
        check_equal(&format!("blocks of {blocks:?}"), &heard, &expected);
    }
}

#[test]
fn a_flood_of_one_block_is_played_in_pieces_and_nothing_moves() {
    let mut events = Vec::new();
    for step in 0..4000_u64 {
        let value = (step * 7 % 128) as u8;
        let message = Message::Controller { channel: 3, number: 20, value };
        events.push((step / 2, Said::Message(message, -1)));
    }
    events.extend((0..3000_u64).map(|step| {
        let message = Message::Controller { channel: 3, number: 21, value: (step % 128) as u8 };
        (5000, Said::Message(message, -1))
    }));
    let end = 8192;
    let expected = engine(&shipped(), &events, end, None);
    let heard = play(&mut Clap::open(), &[8192], &events, end, None);
    check_equal("a flood", &heard, &expected);
}

/// What both formats must do: more events at one frame than are held at once leave at that frame.
/// They left at the frame before it at which something had been played last.
pub fn check_flood_at_one_frame(host: &mut impl Host) {
    let at = frame(0.5);
    let flood = (0..3000_u64).map(|step| {
        let message = Message::Controller { channel: 3, number: 20, value: (step % 128) as u8 };
        (at, Said::Message(message, -1))
    });
    let mut events = vec![wheel(0.0, 80), on(0.1, 69, 1)];
    events.extend(flood);
    events.push(off(0.6, 69, 1));
    let end = frame(1.0);
    let expected = without_numbers(&engine(&shipped(), &events, end, None));
    let is_flood =
        |it: &&Heard| matches!(it.said, Said::Message(Message::Controller { channel: 3, .. }, _));
    assert_eq!(expected.iter().filter(is_flood).filter(|it| it.frame == at).count(), 3000);
    let heard = without_numbers(&play(host, &[7000], &events, end, None));
    check_equal("a flood at one frame", &heard, &expected);
}

#[test]
fn a_flood_at_one_frame_leaves_at_that_frame() {
    check_flood_at_one_frame(&mut Clap::open());
}

#[test]
fn expressions_of_a_note_pass_with_its_number() {
    let said = [
        Said::Expression(Shade::Tuning, 69, 5, 0.25),
        Said::Expression(Shade::Expression, 69, 5, 0.75),
        Said::Expression(Shade::Brightness, 69, 5, 0.5),
        Said::Expression(Shade::Vibrato, 69, 5, 1.0),
    ];
    let mut events = vec![on(0.1, 69, 5)];
    events.extend(said.map(|said| (frame(0.1), said)));
    events.push(off(0.2, 69, 5));
    let heard = play(&mut Clap::open(), &[333], &events, frame(0.5), None);
    let passed: Vec<Heard> =
        heard.iter().copied().filter(|heard| matches!(heard.said, Said::Expression(..))).collect();
    assert_eq!(passed, said.map(|said| Heard { frame: frame(0.1), said }));
    let place = |wanted: fn(&Said) -> bool| heard.iter().position(|heard| wanted(&heard.said));
    let note = place(|said| matches!(said, Said::Message(Message::NoteOn { .. }, 5)));
    assert!(note < place(|said| matches!(said, Said::Expression(..))), "after its note-on");
}

/// Messages of MIDI's universal system exclusive numbers: GM on, master volume, a scale tuning.
pub fn exclusives() -> [Said; 3] {
    let mut scale = vec![0xF0, 0x7F, 0x7F, 0x08, 0x08, 0x03, 0x7F, 0x7F];
    scale.extend([64, 50, 78, 64, 64, 20, 64, 64, 64, 64, 64, 44, 0xF7]);
    let on = Bytes::new(&[0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7]);
    let volume = Bytes::new(&[0xF0, 0x7F, 0x7F, 0x04, 0x01, 0x00, 0x60, 0xF7]);
    [on, volume, Bytes::new(&scale)].map(Said::Exclusive)
}

/// What both formats must answer: whole messages before the notes of their frame, and no longer one.
pub fn check_exclusives(host: &mut impl Host) {
    let [system, volume, scale] = exclusives();
    let mut long = [1; Bytes::LENGTH_MAX];
    (long[0], long[Bytes::LENGTH_MAX - 1]) = (0xF0, 0xF7);
    let events = [
        (frame(0.1), on(0.1, 69, 5).1),
        (frame(0.1), system),
        (frame(0.2), volume),
        (frame(0.3), Said::Exclusive(Bytes::new(&long))),
        (frame(0.4), scale),
        off(0.4, 69, 5),
    ];
    let heard = play(host, &[333], &events, frame(0.6), None);
    let is_exclusive = |it: &&Heard| matches!(it.said, Said::Exclusive(_));
    let passed: Vec<Heard> = heard.iter().filter(is_exclusive).copied().collect();
    let expected = [(0.1, system), (0.2, volume), (0.4, scale)];
    assert_eq!(passed, expected.map(|(at, said)| Heard { frame: frame(at), said }));
    let place = |wanted: fn(&Said) -> bool| heard.iter().position(|it| wanted(&it.said));
    let first = place(|said| matches!(said, Said::Exclusive(_)));
    assert!(first < place(|said| matches!(said, Said::Message(Message::NoteOn { .. }, _))));
}

#[test]
fn system_exclusive_messages_pass_whole_and_before_the_notes_of_their_frame() {
    check_exclusives(&mut Clap::open());
}

#[test]
fn the_variant_with_audio_plays_the_same_and_passes_the_sound() {
    let mut clap = Clap::load(THROUGH);
    clap.activate(RATE_HZ);
    let heard = play(&mut clap, &[256], &take(), END, None);
    check_equal("through", &heard, &engine(&shipped(), &take(), END, None));
    for (channel, samples) in clap.booth.audio.0.iter_mut().enumerate() {
        for (place, sample) in samples.iter_mut().enumerate() {
            *sample = (place as f32 + 0.5) * if channel == 0 { 0.001 } else { -0.002 };
        }
    }
    let frames = clap.booth.audio.0[0].len() as u32;
    clap.block(frames, &[], None);
    assert_eq!(clap.booth.audio.1, clap.booth.audio.0);
    assert!(clap.booth.audio.1[0].iter().any(|sample| *sample != 0.0));
}

#[test]
fn offs_owed_at_deactivate_come_first_when_it_plays_again() {
    for rate_hz in [RATE_HZ, 96_000.0] {
        let mut clap = Clap::open();
        let events = [wheel(0.0, 80), on(0.01, 69, 1), on(0.02, 72, 2)];
        play(&mut clap, &[480], &events, frame(0.1), None);
        assert_eq!(clap.booth.status, Some(ProcessStatus::Continue), "it stays awake");
        clap.deactivate();
        clap.activate(rate_hz);
        let first = clap.block(64, &[(0, on(0.0, 60, 3).1)], None);
        let is_off = |said: &Said| matches!(said, Said::Message(Message::NoteOff { .. }, _));
        let offs: Vec<_> = first.iter().take_while(|(_, said)| is_off(said)).collect();
        let number = |(at, said): &&(u32, Said)| match said {
            Said::Message(Message::NoteOff { key, .. }, number) => (*at, *key, *number),
            _ => unreachable!("an off"),
        };
        let offs: Vec<_> = offs.iter().map(number).collect();
        assert_eq!(offs, [(0, 69, 1), (0, 72, 2)], "at {rate_hz} Hz");
    }
}

#[test]
fn it_sleeps_when_nothing_is_owed_or_moves() {
    let mut clap = Clap::open();
    let events = [wheel(0.0, 80), on(0.01, 69, 1), off(1.5, 69, 1)];
    play(&mut clap, &[480], &events, frame(1.6), None);
    assert_eq!(clap.booth.status, Some(ProcessStatus::Continue), "in the tail");
    play(&mut clap, &[480], &[], frame(8.0), None);
    assert_eq!(clap.booth.status, Some(ProcessStatus::ContinueIfNotQuiet), "at rest");
}

#[test]
fn bypassed_it_passes_everything_from_the_frame_of_the_switch() {
    let bypass = |at: f64, value| (frame(at), Said::Control("Bypass", value));
    let aside = [on(1.1, 60, 4), wheel(1.2, 70), wheel(1.3, 20), off(1.4, 60, 4)];
    let mut events = vec![wheel(0.0, 80), on(0.1, 69, 1), bypass(1.0003, 1.0)];
    events.extend(aside);
    events.extend([bypass(2.0, 0.0), on(2.5, 70, 2), off(2.7, 70, 2)]);
    let end = frame(4.0);
    let heard = play(&mut Clap::open(), &[512], &events, end, None);
    check_equal("bypass", &heard, &engine(&shipped(), &events, end, None));
    let between = |it: &&Heard| (frame(1.0003) + 1..frame(2.0)).contains(&it.frame);
    let passed: Vec<Heard> = heard.iter().filter(between).copied().collect();
    assert_eq!(passed, aside.map(|(frame, said)| Heard { frame, said }));
}

#[test]
fn panic_and_resync_act_once_at_their_own_frame() {
    let panic = |at: f64, value| (frame(at), Said::Control("Panic", value));
    let resync = |at: f64, value| (frame(at), Said::Control("Resync", value));
    let events = [
        wheel(0.0, 80),
        on(0.1, 69, 1),
        resync(0.5, 1.0),
        resync(0.6, 0.0),
        panic(1.0003, 1.0),
        panic(1.2, 0.0),
        on(1.5, 70, 2),
        off(1.7, 70, 2),
    ];
    let end = frame(3.0);
    let turned_on = |(_, said): &&(u64, Said)| !matches!(said, Said::Control(_, 0.0));
    let heard_by_engine: Vec<_> = events.iter().filter(turned_on).copied().collect();
    let expected = engine(&shipped(), &heard_by_engine, end, None);
    let heard = play(&mut Clap::open(), &[512], &events, end, None);
    check_equal("panic and resync", &heard, &expected);
}

#[test]
fn a_song_that_runs_gives_the_same_unevenness_from_wherever_it_began() {
    // At 120 beats a minute a bar of four lasts 2 s, so every bar begins on a control tick.
    let bar = |number: u32| f64::from(number) * 4.0;
    let song = |number| Some(Song::running(bar(number), 120.0));
    // The bends of a note at bar 33 of a song played from `first_bar`, counted from 0.
    let bends = |first_bar: u32, note_bar: u32, blocks: &[u32]| {
        let start_s = 2.0 * f64::from(note_bar - first_bar);
        let events = [wheel(0.0, 95), on(start_s, 69, 1), off(start_s + 3.0, 69, 1)];
        let (start, end) = (frame(start_s), frame(start_s + 3.0));
        let mut clap = Clap::load(NOTE_EFFECT);
        assert!(clap.restore(&performing()));
        clap.activate(RATE_HZ);
        let heard = play(&mut clap, blocks, &events, end, song(first_bar));
        let is_bend = |it: &&Heard| {
            it.frame >= start && matches!(it.said, Said::Message(Message::PitchBend { .. }, _))
        };
        let bends = heard.iter().filter(is_bend);
        bends.map(|it| Heard { frame: it.frame - start, ..*it }).collect::<Vec<_>>()
    };
    let from_there = bends(31, 32, &[64]);
    assert!(from_there.len() > 300, "{} bends", from_there.len());
    check_equal("from bar 1", &bends(0, 32, &[1000]), &from_there);
    check_equal("from bar 30", &bends(29, 32, &[37]), &from_there);
    assert_ne!(bends(31, 33, &[64]), bends(30, 32, &[64]), "another bar is another chance");
}

/// A project whose receiver hears the vibrato as bends.
fn performing() -> Vec<u8> {
    let text = |id: &str| SHIPPED.iter().find(|it| it.id == id).expect("a shipped file").text;
    let state = State::new(text("erhu"), text("perform"), text("wheel"), 1);
    project(&state.to_text(), &json!({}))
}
