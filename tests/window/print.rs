//! A hand prints what a host has heard, and turns the track to printed, in both formats.

use std::fs;
use std::path::Path;

use midly::{Smf, TrackEventKind};
use polso::editor::act::Tab;
use polso::engine::Message;

use super::hall::Hall;
use super::layout::place;
use super::room::{Heard, Host, RATE_HZ, Said, Song, play};
use super::stage::{BLOCK, stage};
use super::take::{END, take};
use super::vst3_window::Hall as Vst3Hall;

/// The name that the window suggests.
const NAME: &str = "performed.mid";
const TEMPO_BPM: f64 = 120.0;
const FIRST_BEAT: f64 = 4.0;

/// The song runs under the take, and stops.
fn perform(host: &mut impl Host) -> Vec<Heard> {
    let song = Song::running(FIRST_BEAT, TEMPO_BPM);
    let mut heard = play(host, &[BLOCK], &take(), END, Some(song));
    let stopped = Song { is_running: false, ..song.after(END, RATE_HZ) };
    let last = host.block(BLOCK, &[], Some(stopped));
    heard.extend(last.into_iter().map(|(_, said)| Heard { frame: END, said }));
    heard
}

/// Every message of the file stands where the host heard it, a tick more or less.
#[track_caller]
fn check_printed(path: &Path, heard: &[Heard]) {
    let bytes = fs::read(path).expect("the file");
    let smf = Smf::parse(&bytes).expect("a MIDI file");
    let mut tick = 0;
    let mut messages = Vec::new();
    for event in &smf.tracks[1] {
        tick += u64::from(event.delta.as_int());
        if let TrackEventKind::Midi { channel, message } = event.kind {
            let mut raw = Vec::new();
            let event = midly::live::LiveEvent::Midi { channel, message };
            event.write(&mut raw).expect("bytes");
            messages.push((tick, Message::from_bytes(&raw).expect("a message")));
        }
    }
    let got: Vec<(f64, Message)> = heard
        .iter()
        .filter_map(|it| match it.said {
            Said::Message(message, _) => {
                let beat = FIRST_BEAT + it.frame as f64 / RATE_HZ * TEMPO_BPM / 60.0;
                Some((beat * 960.0, message))
            }
            _ => None,
        })
        .collect();
    // What stood at the receiver before the song is told at its first beat.
    let told = messages.len().checked_sub(got.len()).expect("every message is printed");
    assert!(told < 40, "{told} more than were heard");
    assert!(messages[..told].iter().all(|(tick, _)| *tick == (FIRST_BEAT * 960.0) as u64));
    for ((tick, message), (place, expected)) in messages[told..].iter().zip(&got) {
        assert_eq!(message, expected, "at tick {tick}");
        assert!((*tick as f64 - place).abs() <= 1.0, "{message:?} at {tick}, not at {place}");
    }
}

/// Files of one test, which the window writes into the folder where the host was started.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::env::set_current_dir(folder.path()).expect("the folder is there");
    folder
}

#[test]
fn in_clap_what_was_heard_is_printed_and_the_track_turned() {
    let _stage = stage();
    let folder = folder();
    let mut hall = Hall::open();
    hall.show();
    hall.wait_drawn();
    let heard = perform(&mut hall.clap);
    hall.screen.press(place(Tab::Curve, "Page Print"));
    hall.wait(0.4);
    hall.screen.press(place(Tab::Print, "Print into a MIDI file"));
    let path = folder.path().join(NAME);
    hall.wait_until("the file is there", |_| path.exists());
    check_printed(&path, &heard);
    hall.wait(0.3);
    hall.shot().keep("print");
    hall.hide();
    hall.show();
    hall.wait_drawn();
    hall.screen.press(place(Tab::Print, "Printed: everything passes untouched"));
    hall.wait_until("the control is turned", |hall| {
        hall.clap.block(BLOCK, &[], None);
        hall.clap.value("Printed") > 0.5
    });
    assert!(!hall.clap.booth.turned("Printed").is_empty(), "the host is told");
    // The block in which the outputs go to their rest.
    hall.clap.block(BLOCK, &[], None);
    let said = take()[0].1;
    assert_eq!(hall.clap.block(BLOCK, &[(3, said)], None), [(3, said)], "it passes untouched");
}

#[test]
fn in_vst3_what_was_heard_is_printed_and_the_track_turned() {
    let _stage = stage();
    let folder = folder();
    let mut hall = Vst3Hall::new();
    hall.show();
    hall.wait_until("something is drawn", |hall| hall.shot().is_drawn());
    let heard = perform(&mut hall.vst3);
    hall.screen.press(place(Tab::Curve, "Page Print"));
    hall.wait(0.4);
    hall.screen.press(place(Tab::Print, "Print into a MIDI file"));
    let path = folder.path().join(NAME);
    hall.wait_until("the file is there", |_| path.exists());
    check_printed(&path, &heard);
    hall.hide();
    hall.show();
    hall.wait_until("something is drawn", |hall| hall.shot().is_drawn());
    hall.wait(0.3);
    hall.screen.press(place(Tab::Print, "Printed: everything passes untouched"));
    let printed = hall.vst3.controls["Printed"];
    hall.wait_until("the host is told", |hall| {
        hall.ear.turned.lock().expect("one").iter().any(|(id, ..)| *id == printed)
    });
    hall.hide();
}
