//! How the receiver learns the articulation and the legato: keyswitch, program or controller, and the slide.

use super::portamento::{Portamento, PortamentoNote};
use super::sender::{PLAIN_RELEASE, Sender};
use super::sink::{Origin, Sink};
use crate::input::message::{PORTAMENTO_CONTROL, PORTAMENTO_SWITCH, PORTAMENTO_TIME};
use crate::input::{Channel, Key, Message};
use crate::layer::Layer;
use crate::math::grain::is_reached;
use crate::mode::Mode;
use crate::patch::setup::Setup;
use crate::patch::{ChoicePatch, LEGATO, SlidePatch, TargetPatch};

/// A tapped keyswitch is released this long after its note.
const TAP_S: f64 = 0.010;

/// A keyswitch that is down.
#[derive(Clone, Copy, Debug, PartialEq)]
struct KeyDown {
    channel: Channel,
    key: Key,
    /// Infinite for one that is held until the next.
    due_s: f64,
}

/// What the receiver has been told of one choice: the mode or the articulation.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Switch {
    layer: Layer,
    sent: Option<u8>,
    down: Option<KeyDown>,
}

impl Switch {
    /// Nothing has been told.
    const fn untold(layer: Layer) -> Switch {
        Switch { layer, sent: None, down: None }
    }

    /// The receiver does not know yet.
    fn is_news<const N: usize>(&self, choice: &ChoicePatch<N>, place: usize) -> bool {
        choice.value(place).is_some_and(|value| self.sent != Some(value))
    }

    fn tell<const N: usize>(
        &mut self,
        choice: &ChoicePatch<N>,
        now_s: f64,
        place: usize,
        channel: Channel,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        let Some(value) = choice.value(place) else { return };
        self.sent = Some(value);
        let origin = Origin::Layer(self.layer);
        match *choice {
            ChoicePatch::Silent => {}
            ChoicePatch::Keyswitch { velocity, is_held, .. } => {
                self.release(sender);
                let Some(key) = Key::new(value) else { return };
                sender.note_on(channel, key, f64::from(velocity), origin);
                let due_s = if is_held { f64::INFINITY } else { now_s + TAP_S };
                self.down = Some(KeyDown { channel, key, due_s });
            }
            ChoicePatch::Program(_) => {
                let channel = channel.number();
                sender.send(Message::Program { channel, program: value }, origin);
            }
            ChoicePatch::Controller { number, .. } => {
                sender.controller(channel, number, value, self.layer);
            }
        }
    }

    fn due_s(&self) -> f64 {
        self.down.map_or(f64::INFINITY, |down| down.due_s)
    }

    /// A keyswitch that is down comes up; one that is held must be struck again.
    fn close(&mut self, sender: &mut Sender<'_, impl Sink>) {
        if self.down.is_some_and(|down| down.due_s == f64::INFINITY) {
            self.sent = None;
        }
        self.release(sender);
    }

    fn release(&mut self, sender: &mut Sender<'_, impl Sink>) {
        if let Some(down) = self.down.take() {
            sender.note_off(down.channel, down.key, PLAIN_RELEASE, Origin::Layer(self.layer));
        }
    }
}

/// A keyswitch stays down until the next.
fn holds<const N: usize>(choice: &ChoicePatch<N>) -> bool {
    matches!(choice, ChoicePatch::Keyswitch { is_held: true, .. })
}

/// What the receiver of one line has been told. It holds no settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Switching {
    mode: Switch,
    articulation: Switch,
    slides: Option<bool>,
    /// Portamento and legato switch, for a receiver whose transitions they are.
    pub portamento: Portamento,
    /// When the next tapped keyswitch comes up.
    due_s: f64,
}

/// What the next note is told with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteManner {
    /// How it joins.
    pub mode: Mode,
    /// What was chosen last.
    pub articulation: Option<u8>,
    /// The key it joins from.
    pub from_key: Option<u8>,
    /// The line's channel.
    pub channel: Channel,
    /// How its pitch gets there.
    pub glide: PortamentoNote,
}

/// The articulation that the receiver plays, if it is told any.
pub fn played(target: &TargetPatch, chosen: Option<u8>) -> Option<u8> {
    let patch = &target.articulation;
    let is_told = patch.choice != ChoicePatch::Silent;
    is_told.then(|| patch.played(chosen.unwrap_or(patch.usual)))
}

impl Switching {
    /// Nothing has been told.
    pub const UNTOLD: Switching = Switching {
        mode: Switch::untold(Layer::Legato),
        articulation: Switch::untold(Layer::Articulation),
        slides: None,
        portamento: Portamento::UNTOLD,
        due_s: f64::INFINITY,
    };

    /// Other settings: nothing has been told of them, and a keyswitch that the old ones left down
    /// comes up at the next tick.
    pub fn exchange(&mut self, now_s: f64) {
        let due = |down: KeyDown| KeyDown { due_s: now_s, ..down };
        let (mode, articulation) = (self.mode.down.map(due), self.articulation.down.map(due));
        self.untell();
        (self.mode.down, self.articulation.down) = (mode, articulation);
        self.schedule();
    }

    /// Nothing has been told, but for what is on and must still be turned off.
    pub fn untell(&mut self) {
        let mut portamento = self.portamento;
        portamento.forget();
        *self = Switching { portamento, ..Switching::UNTOLD };
    }

    /// Mode and articulation again, if the receiver has been told any.
    pub fn tell_again(
        &mut self,
        setup: &Setup,
        now_s: f64,
        manner: NoteManner,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        let has_told = self.mode.sent.is_some() || self.articulation.sent.is_some();
        let has_told = has_told || self.slides.is_some();
        if has_told || self.portamento != Portamento::UNTOLD {
            self.forget();
            self.tell(setup, now_s, NoteManner { from_key: None, ..manner }, sender);
        }
    }

    /// Keyswitches that are down come up; one that is held must be struck again.
    pub fn close(&mut self, sender: &mut Sender<'_, impl Sink>) {
        self.mode.close(sender);
        self.articulation.close(sender);
        self.schedule();
    }

    /// The receiver no longer knows.
    pub fn forget(&mut self) {
        self.mode.sent = None;
        self.articulation.sent = None;
        self.slides = None;
        self.portamento.forget();
    }

    /// Articulation and mode of the note that is about to sound, as far as the receiver does not
    /// know them yet. A mode that reaches it in the way of the articulations would take it out of
    /// any but the legato, and is told there only.
    pub fn tell(
        &mut self,
        setup: &Setup,
        now_s: f64,
        manner: NoteManner,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        let NoteManner { mode, articulation, from_key, channel, glide } = manner;
        let (target, is_shared) = (&setup.patch.target, setup.shares_switching);
        let articulations = &target.articulation.choice;
        let mut joins = true;
        if let Some(played) = played(target, articulation) {
            if self.articulation.is_news(articulations, usize::from(played)) {
                if is_shared {
                    self.mode.release(sender);
                }
                let place = usize::from(played);
                self.articulation.tell(articulations, now_s, place, channel, sender);
                if is_shared {
                    // One mode may have the very value of the articulation.
                    self.mode.sent = self.articulation.sent;
                }
            }
            joins = !is_shared || played == target.articulation.played(LEGATO);
        }
        if joins && self.mode.is_news(&target.mode, mode as usize) {
            if is_shared && (holds(&target.mode) || !holds(articulations)) {
                // Two keyswitches at once would leave the receiver to guess.
                self.articulation.release(sender);
            }
            self.mode.tell(&target.mode, now_s, mode as usize, channel, sender);
        }
        if let Some(slide) = target.slide {
            self.tell_slide(slide, joins && mode == Mode::Slide, channel, from_key, sender);
        }
        let from_key = from_key.filter(|_| joins);
        self.portamento.tell(&target.transition, glide, from_key, channel, sender);
        self.schedule();
    }

    /// When the next tapped keyswitch is to come up.
    #[inline]
    pub fn due_s(&self) -> f64 {
        self.due_s
    }

    /// One tick: a tapped keyswitch comes up.
    pub fn tick(&mut self, now_s: f64, sender: &mut Sender<'_, impl Sink>) {
        if !is_reached(now_s, self.due_s) {
            return;
        }
        if is_reached(now_s, self.mode.due_s()) {
            self.mode.release(sender);
        }
        if is_reached(now_s, self.articulation.due_s()) {
            self.articulation.release(sender);
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
    pub fn yield_key(&mut self, channel: Channel, key: Key, sender: &mut Sender<'_, impl Sink>) {
        let is_own =
            |down: Option<KeyDown>| down.is_some_and(|it| (it.channel, it.key) == (channel, key));
        if is_own(self.mode.down) {
            self.mode.release(sender);
        }
        if is_own(self.articulation.down) {
            self.articulation.release(sender);
        }
        self.schedule();
    }

    /// The keyswitches come up.
    pub fn release(&mut self, sender: &mut Sender<'_, impl Sink>) {
        self.mode.release(sender);
        self.articulation.release(sender);
        self.schedule();
    }

    fn tell_slide(
        &mut self,
        slide: SlidePatch,
        slides: bool,
        channel: Channel,
        from_key: Option<u8>,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        if self.slides != Some(slides) {
            self.slides = Some(slides);
            if slides {
                sender.controller(channel, PORTAMENTO_TIME, slide.time, Layer::Slide);
            }
            let switch = if slides { 127 } else { 0 };
            sender.controller(channel, PORTAMENTO_SWITCH, switch, Layer::Slide);
        }
        if let Some(key) = from_key.filter(|_| slides && slide.says_source_key) {
            sender.controller(channel, PORTAMENTO_CONTROL, key, Layer::Slide);
        }
    }
}
