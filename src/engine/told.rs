//! How the receiver learns which legato is meant: keyswitch, program or controller, and the slide.

use super::Mode;
use super::event::{Layer, Message, Origin, Sink};
use super::patch::{ModePatch, SlidePatch, TargetPatch};
use super::wire::Way;

/// MIDI 1.0: portamento time, portamento switch, portamento control.
const PORTAMENTO_TIME: u8 = 5;
const PORTAMENTO_SWITCH: u8 = 65;
const PORTAMENTO_CONTROL: u8 = 84;
/// A tapped keyswitch is released this long after its note.
const TAP_S: f64 = 0.010;

/// A keyswitch that is down.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Down {
    channel: u8,
    key: u8,
    /// Infinite for one that is held until the next.
    due_s: f64,
}

/// Tells the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    mode: ModePatch,
    slide: Option<SlidePatch>,
    speed_velocity: Option<(u8, u8)>,
    sent: Option<u8>,
    slides: Option<bool>,
    down: Option<Down>,
}

impl Told {
    /// Nothing has been told.
    pub fn load(patch: &TargetPatch) -> Told {
        let TargetPatch { mode, slide, speed_velocity, .. } = *patch;
        Told { mode, slide, speed_velocity, sent: None, slides: None, down: None }
    }

    /// Velocities of joined notes at a slow and a fast pace.
    pub fn speed_velocity(&self) -> Option<(u8, u8)> {
        self.speed_velocity
    }

    /// A keyswitch that other settings left down comes up at the next tick.
    pub fn take_over(&mut self, now_s: f64, old: &Told) {
        self.down = old.down.map(|down| Down { due_s: now_s, ..down });
    }

    /// The mode again, if the receiver has been told one.
    pub fn tell_again(
        &mut self,
        now_s: f64,
        mode: Mode,
        channel: u8,
        way: &mut Way<'_, impl Sink>,
    ) {
        if self.sent.is_some() || self.slides.is_some() {
            self.forget();
            self.tell(now_s, mode, channel, None, way);
        }
    }

    /// A keyswitch that is down comes up; one that is held for its mode must be struck again.
    pub fn close(&mut self, way: &mut Way<'_, impl Sink>) {
        if self.down.is_some_and(|down| down.due_s == f64::INFINITY) {
            self.sent = None;
        }
        self.release(way);
    }

    /// The receiver no longer knows.
    pub fn forget(&mut self) {
        self.sent = None;
        self.slides = None;
    }

    /// The mode of the note that is about to sound, if the receiver does not know it yet.
    pub fn tell(
        &mut self,
        now_s: f64,
        mode: Mode,
        channel: u8,
        from_key: Option<u8>,
        way: &mut Way<'_, impl Sink>,
    ) {
        let place = mode as usize;
        let value = match self.mode {
            ModePatch::Silent => None,
            ModePatch::Keyswitch { keys, .. } => keys[place],
            ModePatch::Program(programs) => programs[place],
            ModePatch::Controller { values, .. } => values[place],
        };
        if let Some(value) = value.filter(|&value| self.sent != Some(value)) {
            self.sent = Some(value);
            match self.mode {
                ModePatch::Silent => {}
                ModePatch::Keyswitch { velocity, is_held, .. } => {
                    self.release(way);
                    way.note_on(channel, value, velocity, Origin::Layer(Layer::Legato));
                    let due_s = if is_held { f64::INFINITY } else { now_s + TAP_S };
                    self.down = Some(Down { channel, key: value, due_s });
                }
                ModePatch::Program(_) => {
                    let message = Message::Program { channel, program: value };
                    way.send(message, Origin::Layer(Layer::Legato));
                }
                ModePatch::Controller { number, .. } => {
                    way.controller(channel, number, value, Layer::Legato);
                }
            }
        }
        if let Some(slide) = self.slide {
            self.tell_slide(slide, mode == Mode::Slide, channel, from_key, way);
        }
    }

    /// One tick: a tapped keyswitch comes up.
    #[inline]
    pub fn tick(&mut self, now_s: f64, way: &mut Way<'_, impl Sink>) {
        if self.down.is_some_and(|down| now_s >= down.due_s) {
            self.release(way);
        }
    }

    /// No keyswitch comes up by itself.
    pub fn is_settled(&self) -> bool {
        self.down.is_none_or(|down| down.due_s == f64::INFINITY)
    }

    /// A note begins on the very key of the keyswitch: from here on the key is the note's.
    pub fn yield_key(&mut self, channel: u8, key: u8, way: &mut Way<'_, impl Sink>) {
        if self.down.is_some_and(|down| (down.channel, down.key) == (channel, key)) {
            self.release(way);
        }
    }

    /// The keyswitch comes up.
    pub fn release(&mut self, way: &mut Way<'_, impl Sink>) {
        if let Some(down) = self.down.take() {
            way.note_off(down.channel, down.key, 64, Origin::Layer(Layer::Legato));
        }
    }

    fn tell_slide(
        &mut self,
        slide: SlidePatch,
        slides: bool,
        channel: u8,
        from_key: Option<u8>,
        way: &mut Way<'_, impl Sink>,
    ) {
        if self.slides != Some(slides) {
            self.slides = Some(slides);
            if slides {
                way.controller(channel, PORTAMENTO_TIME, slide.time, Layer::Slide);
            }
            let switch = if slides { 127 } else { 0 };
            way.controller(channel, PORTAMENTO_SWITCH, switch, Layer::Slide);
        }
        if let Some(key) = from_key.filter(|_| slides && slide.says_source_key) {
            way.controller(channel, PORTAMENTO_CONTROL, key, Layer::Slide);
        }
    }
}
