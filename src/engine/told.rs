//! How the receiver learns the articulation and the legato: keyswitch, program or controller, and the slide.

use super::Mode;
use super::event::{Layer, Message, Origin, Sink};
use super::patch::{
    ARTICULATIONS_MAX, ArticulationPatch, ChoicePatch, LEGATO, SlidePatch, TargetPatch,
};
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

/// Tells the receiver one of `N` things.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Teller<const N: usize> {
    choice: ChoicePatch<N>,
    layer: Layer,
    sent: Option<u8>,
    down: Option<Down>,
}

impl<const N: usize> Teller<N> {
    /// Nothing has been told.
    fn load(choice: ChoicePatch<N>, layer: Layer) -> Teller<N> {
        Teller { choice, layer, sent: None, down: None }
    }

    /// The receiver does not know yet.
    fn is_news(&self, place: usize) -> bool {
        self.choice.value(place).is_some_and(|value| self.sent != Some(value))
    }

    fn tell(&mut self, now_s: f64, place: usize, channel: u8, way: &mut Way<'_, impl Sink>) {
        let Some(value) = self.choice.value(place) else { return };
        self.sent = Some(value);
        match self.choice {
            ChoicePatch::Silent => {}
            ChoicePatch::Keyswitch { velocity, is_held, .. } => {
                self.release(way);
                way.note_on(channel, value, velocity, Origin::Layer(self.layer));
                let due_s = if is_held { f64::INFINITY } else { now_s + TAP_S };
                self.down = Some(Down { channel, key: value, due_s });
            }
            ChoicePatch::Program(_) => {
                let message = Message::Program { channel, program: value };
                way.send(message, Origin::Layer(self.layer));
            }
            ChoicePatch::Controller { number, .. } => {
                way.controller(channel, number, value, self.layer);
            }
        }
    }

    fn holds(&self) -> bool {
        matches!(self.choice, ChoicePatch::Keyswitch { is_held: true, .. })
    }

    fn due_s(&self) -> f64 {
        self.down.map_or(f64::INFINITY, |down| down.due_s)
    }

    /// A keyswitch that is down comes up; one that is held must be struck again.
    fn close(&mut self, way: &mut Way<'_, impl Sink>) {
        if self.down.is_some_and(|down| down.due_s == f64::INFINITY) {
            self.sent = None;
        }
        self.release(way);
    }

    fn release(&mut self, way: &mut Way<'_, impl Sink>) {
        if let Some(down) = self.down.take() {
            way.note_off(down.channel, down.key, 64, Origin::Layer(self.layer));
        }
    }
}

/// Tells the receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    mode: Teller<5>,
    articulation: Teller<ARTICULATIONS_MAX>,
    patch: ArticulationPatch,
    /// Mode and articulation are told in one way.
    is_shared: bool,
    slide: Option<SlidePatch>,
    speed_velocity: Option<(u8, u8)>,
    slides: Option<bool>,
    /// When the next tapped keyswitch comes up.
    due_s: f64,
}

/// What the next note is told with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Telling {
    /// How it joins.
    pub mode: Mode,
    /// What was chosen last.
    pub articulation: Option<u8>,
    /// The key it joins from.
    pub from_key: Option<u8>,
    /// 0..=15.
    pub channel: u8,
}

impl Told {
    /// Nothing has been told.
    pub fn load(patch: &TargetPatch) -> Told {
        let TargetPatch { mode, articulation, slide, speed_velocity, .. } = *patch;
        Told {
            mode: Teller::load(mode, Layer::Legato),
            articulation: Teller::load(articulation.choice, Layer::Articulation),
            patch: articulation,
            is_shared: articulation.choice.shares(&mode),
            slide,
            speed_velocity,
            slides: None,
            due_s: f64::INFINITY,
        }
    }

    /// Velocities of joined notes at a slow and a fast pace.
    pub fn speed_velocity(&self) -> Option<(u8, u8)> {
        self.speed_velocity
    }

    /// The articulation that the receiver plays, if it is told any.
    pub fn played(&self, chosen: Option<u8>) -> Option<u8> {
        let is_told = self.patch.choice != ChoicePatch::Silent;
        is_told.then(|| self.patch.played(chosen.unwrap_or(self.patch.usual)))
    }

    /// A keyswitch that other settings left down comes up at the next tick.
    pub fn take_over(&mut self, now_s: f64, old: &Told) {
        let due = |down: Down| Down { due_s: now_s, ..down };
        self.mode.down = old.mode.down.map(due);
        self.articulation.down = old.articulation.down.map(due);
        self.schedule();
    }

    /// Mode and articulation again, if the receiver has been told any.
    pub fn tell_again(&mut self, now_s: f64, telling: Telling, way: &mut Way<'_, impl Sink>) {
        let has_told = self.mode.sent.is_some() || self.articulation.sent.is_some();
        if has_told || self.slides.is_some() {
            self.forget();
            self.tell(now_s, Telling { from_key: None, ..telling }, way);
        }
    }

    /// Keyswitches that are down come up; one that is held must be struck again.
    pub fn close(&mut self, way: &mut Way<'_, impl Sink>) {
        self.mode.close(way);
        self.articulation.close(way);
        self.schedule();
    }

    /// The receiver no longer knows.
    pub fn forget(&mut self) {
        self.mode.sent = None;
        self.articulation.sent = None;
        self.slides = None;
    }

    /// Articulation and mode of the note that is about to sound, as far as the receiver does not
    /// know them yet. A mode that reaches it in the way of the articulations would take it out of
    /// any but the legato, and is told there only.
    pub fn tell(&mut self, now_s: f64, telling: Telling, way: &mut Way<'_, impl Sink>) {
        let Telling { mode, articulation, from_key, channel } = telling;
        let mut joins = true;
        if let Some(played) = self.played(articulation) {
            if self.articulation.is_news(usize::from(played)) {
                if self.is_shared {
                    self.mode.release(way);
                }
                self.articulation.tell(now_s, usize::from(played), channel, way);
                if self.is_shared {
                    // One mode may have the very value of the articulation.
                    self.mode.sent = self.articulation.sent;
                }
            }
            joins = !self.is_shared || played == self.patch.played(LEGATO);
        }
        if joins && self.mode.is_news(mode as usize) {
            if self.is_shared && (self.mode.holds() || !self.articulation.holds()) {
                // Two keyswitches at once would leave the receiver to guess.
                self.articulation.release(way);
            }
            self.mode.tell(now_s, mode as usize, channel, way);
        }
        if let Some(slide) = self.slide {
            self.tell_slide(slide, joins && mode == Mode::Slide, channel, from_key, way);
        }
        self.schedule();
    }

    /// One tick: a tapped keyswitch comes up.
    #[inline]
    pub fn tick(&mut self, now_s: f64, way: &mut Way<'_, impl Sink>) {
        if now_s >= self.due_s {
            self.release_due(now_s, way);
        }
    }

    fn release_due(&mut self, now_s: f64, way: &mut Way<'_, impl Sink>) {
        if now_s >= self.mode.due_s() {
            self.mode.release(way);
        }
        if now_s >= self.articulation.due_s() {
            self.articulation.release(way);
        }
        self.schedule();
    }

    fn schedule(&mut self) {
        self.due_s = self.mode.due_s().min(self.articulation.due_s());
    }

    /// No keyswitch comes up by itself.
    pub fn is_settled(&self) -> bool {
        self.due_s == f64::INFINITY
    }

    /// A note begins on the very key of a keyswitch: from here on the key is the note's.
    pub fn yield_key(&mut self, channel: u8, key: u8, way: &mut Way<'_, impl Sink>) {
        let is_own =
            |down: Option<Down>| down.is_some_and(|it| (it.channel, it.key) == (channel, key));
        if is_own(self.mode.down) {
            self.mode.release(way);
        }
        if is_own(self.articulation.down) {
            self.articulation.release(way);
        }
        self.schedule();
    }

    /// The keyswitches come up.
    pub fn release(&mut self, way: &mut Way<'_, impl Sink>) {
        self.mode.release(way);
        self.articulation.release(way);
        self.schedule();
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
