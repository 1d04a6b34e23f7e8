//! A part of a performance that stands for itself: it begins with what holds there, and leaves nothing sounding.

use super::receiver_state::ReceiverState;
use super::song::{Printed, PrintedEvent};
use crate::engine::Message;
use crate::engine::input::message::SUSTAIN_CONTROLLER;

/// The events from `from` up to `to`, in beats. What was told before and still holds is told again
/// at `from`, if anything follows; a note or a pedal that sounds at the end is ended there, at
/// `end_beat` at the latest. An off without its on is left out.
pub fn excerpt(
    events: &[PrintedEvent],
    (from, to): (f64, f64),
    end_beat: f64,
) -> Vec<PrintedEvent> {
    let mut told = ReceiverState::default();
    let mut part: Vec<PrintedEvent> = Vec::new();
    let mut sounding: Vec<(u8, u8)> = Vec::new();
    for event in events.iter().filter(|event| event.beat < to) {
        if event.beat >= from && is_whole(event.what, &mut sounding) {
            if part.is_empty() {
                part.extend(told.at(from));
            }
            part.push(*event);
        }
        told.hear(event.what);
    }
    let end = PrintedEvent { beat: to.min(end_beat), what: Printed::Tempo(0.0) };
    if part.is_empty() {
        return part;
    }
    part.extend(sounding.iter().map(|&(channel, key)| {
        let off = Message::NoteOff { channel, key, velocity: 64 };
        PrintedEvent { what: Printed::Message(off), ..end }
    }));
    part.extend(told.pedals().map(|channel| {
        let up = Message::Controller { channel, number: SUSTAIN_CONTROLLER, value: 0 };
        PrintedEvent { what: Printed::Message(up), ..end }
    }));
    part
}

/// Whether it is more than the end of a note that has not begun here.
fn is_whole(what: Printed, sounding: &mut Vec<(u8, u8)>) -> bool {
    match what {
        Printed::Message(Message::NoteOn { channel, key, .. }) => {
            sounding.push((channel, key));
            true
        }
        Printed::Message(Message::NoteOff { channel, key, .. }) => {
            let place = sounding.iter().position(|it| *it == (channel, key));
            place.map(|place| sounding.swap_remove(place)).is_some()
        }
        _ => true,
    }
}
