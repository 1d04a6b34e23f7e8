//! Every shipped instrument plays its vibrato in tune: over whole cycles its mean is near the note.
//!
//! The heard pitch of a vibrato is its mean (Brown & Vaughn 1993; JASA 100, 1996).

use polso::engine::patch::{Patch, Response};
use polso::engine::{Input, Message, Origin, Section, Sink, Timed};
use polso::profile::shipped::SHIPPED;
use polso::profile::{FileKind, Instrument, load};

use super::receiver::settings;
use super::sample::figure;

/// From the start of a vibrato until its mean is in tune.
const SETTLED_MS: usize = 600;
/// Whole cycles over which the mean is taken.
const CYCLE_COUNT: usize = 8;
/// How far the mean may be from the note, cents: pressing is left a little sharp on purpose.
const PRESSED_CENTS_MAX: f64 = 15.0;
const OTHERS_CENTS_MAX: f64 = 8.0;

struct Deaf;

impl Sink for Deaf {
    fn send(&mut self, _: u32, _: Message, _: Origin) -> bool {
        true
    }
}

/// An instrument without unevenness under a hand without dead zones.
fn even(id: &str) -> Patch {
    let mut patch = settings(id, "perform", 0.0).patch;
    (patch.hand.low, patch.hand.high) = (0.0, 1.0);
    (patch.hand.dead_zone_rest, patch.hand.dead_zone_full) = (0.0, 0.0);
    patch.hand.response = Response::Exponential(0.0);
    patch
}

/// The mean over whole cycles from 0.6 s after the vibrato began, cents; and how wide it is.
fn mean_cents(patch: &Patch, key: u8, gesture: f64) -> (f64, f64) {
    let mut engine = Section::prepare(48_000.0, patch);
    let at_start = |input| Timed { frame: 0, tag: 0, input };
    let on = Message::NoteOn { channel: 0, key, velocity: 64 };
    engine.process(1, &[at_start(Input::Gesture(gesture)), at_start(Input::Midi(on))], &mut Deaf);
    let mut tick = || {
        engine.process(48, &[], &mut Deaf);
        engine.view()
    };
    let Some(_) = (0..1000).find(|_| tick().pitch_cents != 0.0) else { return (0.0, 0.0) };
    let _ = (0..SETTLED_MS).map(|_| tick()).last();
    let first = tick();
    let length = (CYCLE_COUNT as f64 / first.rate_hz * 1000.0).round() as usize;
    let sum: f64 = (0..length).map(|_| tick().pitch_cents).sum();
    (sum / length as f64, first.width_cents)
}

/// The largest mean of an instrument over all keys and gestures, by whether anything is pressed.
fn largest_means(id: &str) -> [f64; 2] {
    let instrument = load::<Instrument>(id).expect("a shipped instrument").profile;
    let pressed = instrument.vibrato.styles.iter().position(|style| style.name == "pressed");
    // A pressed style counts from where it enters.
    let entry = pressed.map_or(2.0, |place| instrument.vibrato.style_edges[place - 1].0);
    let patch = even(id);
    let (low, high) = instrument.range.hard_keys;
    let (mut largest, mut widest) = ([0.0_f64; 2], 0.0_f64);
    for key in low..=high {
        for step in 0..=20 {
            let gesture = f64::from(step) / 20.0;
            let (mean, width) = mean_cents(&patch, key, gesture);
            let is_pressed = gesture > entry;
            let most = if is_pressed { PRESSED_CENTS_MAX } else { OTHERS_CENTS_MAX };
            assert!(mean.abs() <= most, "{id}, key {key} at {gesture}: {mean} cents");
            let largest = &mut largest[usize::from(is_pressed)];
            *largest = largest.max(mean.abs());
            widest = widest.max(width);
        }
    }
    assert!(widest > 20.0, "{id} has no vibrato: {widest} cents");
    largest
}

#[test]
fn the_mean_of_every_vibrato_is_in_tune() {
    let ids = SHIPPED.iter().filter(|each| each.kind == FileKind::Instrument).map(|each| each.id);
    let (mut pressed, mut others) = (0.0_f64, 0.0_f64);
    for id in ids {
        let [other, press] = largest_means(id);
        println!("{id}: {other:.2} cents, pressed {press:.2}");
        (pressed, others) = (pressed.max(press), others.max(other));
    }
    figure(
        "intonation",
        &format!(
            "from 0.6 s after a vibrato began its mean is within {others:.1} cents of the note, \
             pressed within {pressed:.1}: every shipped instrument, key and gesture"
        ),
    );
}
