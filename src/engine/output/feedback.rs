//! A cable that leads back: what is sent returns as input, and must not be sent again.

use crate::input::Message;
use crate::layer::Layer;

/// An echo comes back no sooner and no later than this.
const LATE_S_MIN: f64 = 0.001;
const LATE_S_MAX: f64 = 0.250;
/// What has come in within this time is judged together.
const JUDGED_S: f64 = 0.5;
/// So many events, and this share of them, must be our own. Twelve are a quarter of what one
/// output says in the time that is judged.
const EVENTS_MIN: usize = 12;
const SHARE_MIN: f64 = 0.8;
/// Of what goes out a cable may lose so much.
const MISSING_SHARE_MAX: f64 = 0.05;
/// A cable is always equally late, within three of these; another line that plays the same curve
/// wanders.
const BIN_S: f64 = 0.004;
/// As many as go out at 400 messages a second before the first of them comes back.
const SENT_MAX: usize = 128;
const HEARD_MAX: usize = 64;

#[derive(Clone, Copy, Debug, PartialEq)]
struct MaybeEcho {
    at_s: f64,
    message: Message,
    layer: Layer,
    /// Bit n is set if it came in again n bins and 1 ms later.
    bins: u64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct ReturnedMessage {
    at_s: f64,
    layer: Layer,
    /// Bit n is set if the very message went out n bins and 1 ms before.
    bins: u64,
}

/// Compares what comes in with what has gone out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Feedback {
    sent: [Option<MaybeEcho>; SENT_MAX],
    sent_place: usize,
    heard: [Option<ReturnedMessage>; HEARD_MAX],
    heard_place: usize,
    /// The bits of the addresses that something went to.
    known: u128,
    /// Bit n is set while the layer of that place stands still.
    frozen: u16,
}

/// What an incoming message is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Recognised {
    /// Nobody's or another's.
    Strange,
    /// Perhaps our own, of this layer.
    Own(Layer),
    /// Our own, of an output that stands still because of it.
    Echo,
}

impl Feedback {
    /// Nothing has gone out.
    pub const SILENT: Feedback = Feedback {
        sent: [None; SENT_MAX],
        sent_place: 0,
        heard: [None; HEARD_MAX],
        heard_place: 0,
        known: 0,
        frozen: 0,
    };

    /// The song has jumped and time counts from 0 again: what was sent and heard is forgotten,
    /// but an output that stands still goes on standing.
    pub fn forget(&mut self) {
        *self = Feedback { frozen: self.frozen, ..Feedback::SILENT };
    }

    /// Everything moves again.
    pub fn thaw(&mut self) {
        *self = Feedback::SILENT;
    }

    /// Takes what stands still, so that a panic gets through.
    pub fn take_frozen(&mut self) -> u16 {
        core::mem::take(&mut self.frozen)
    }

    /// Gives it back.
    pub fn give_frozen(&mut self, frozen: u16) {
        self.frozen = frozen;
    }

    /// The output stands still.
    #[inline]
    pub fn is_frozen(&self, layer: Layer) -> bool {
        self.frozen != 0 && place(layer).is_some_and(|place| self.frozen >> place & 1 == 1)
    }

    /// The first layer whose output stands still.
    pub fn frozen(&self) -> Option<Layer> {
        Layer::OUTPUTS.into_iter().find(|layer| self.is_frozen(*layer))
    }

    /// A message of a layer goes out.
    #[inline]
    pub fn send(&mut self, at_s: f64, message: Message, layer: Layer) {
        self.sent[self.sent_place] = Some(MaybeEcho { at_s, message, layer, bins: 0 });
        self.sent_place = (self.sent_place + 1) % SENT_MAX;
        self.known |= address_bit(message);
    }

    /// A message comes in.
    pub fn hear(&mut self, now_s: f64, message: Message) -> Recognised {
        if self.known & address_bit(message) == 0 {
            return Recognised::Strange;
        }
        let mut own = None;
        let mut bins = 0;
        for sent in self.sent.iter_mut().flatten() {
            if !is_same_address(sent.message, message) {
                continue;
            }
            own = Some(sent.layer);
            let late_s = now_s - sent.at_s;
            if sent.message == message && (LATE_S_MIN..=LATE_S_MAX).contains(&late_s) {
                let bin = 1 << ((late_s - LATE_S_MIN) / BIN_S) as u32;
                bins |= bin;
                sent.bins |= bin;
            }
        }
        let Some(layer) = own else { return Recognised::Strange };
        self.heard[self.heard_place] = Some(ReturnedMessage { at_s: now_s, layer, bins });
        self.heard_place = (self.heard_place + 1) % HEARD_MAX;
        if bins == 0 {
            return Recognised::Strange;
        }
        if layer == Layer::Slide {
            // Joins say too little to be judged together, and the receiver has it already.
            return Recognised::Echo;
        }
        if self.is_echo(now_s, layer)
            && let Some(place) = place(layer)
        {
            self.frozen |= 1 << place;
        }
        if self.is_frozen(layer) { Recognised::Echo } else { Recognised::Own(layer) }
    }

    /// Most of what has lately come in at a layer's address is its own, equally late.
    fn is_echo(&self, now_s: f64, layer: Layer) -> bool {
        let recent =
            |heard: &&ReturnedMessage| heard.layer == layer && now_s - heard.at_s <= JUDGED_S;
        let count = self.heard.iter().flatten().filter(recent).count();
        let late = |bin: u32| {
            let near = 0b111 << bin;
            let own = self.heard.iter().flatten().filter(recent);
            own.filter(|heard| heard.bins & near != 0).count()
        };
        if count < EVENTS_MIN {
            return false;
        }
        let is_most = |bin: &u32| late(*bin) as f64 >= SHARE_MIN * count as f64;
        (0..u64::BITS - 2).filter(is_most).any(|bin| self.all_return(now_s, layer, bin))
    }

    /// Whatever has gone out has come back so late: a cable leaves nothing out, as another
    /// player does.
    fn all_return(&self, now_s: f64, layer: Layer, bin: u32) -> bool {
        let late_s = LATE_S_MIN + f64::from(bin + 3) * BIN_S;
        let is_over = |sent: &&MaybeEcho| {
            sent.layer == layer && (late_s..=JUDGED_S).contains(&(now_s - sent.at_s))
        };
        let over = self.sent.iter().flatten().filter(is_over);
        let missing = over.clone().filter(|sent| sent.bins & 0b111 << bin == 0).count();
        let count = over.count();
        count > 0 && missing as f64 <= MISSING_SHARE_MAX * count as f64
    }
}

fn is_same_address(a: Message, b: Message) -> bool {
    match (a, b) {
        (
            Message::Controller { channel: a, number: of, .. },
            Message::Controller { channel: b, number, .. },
        ) => (a, of) == (b, number),
        (
            Message::PolyPressure { channel: a, key: of, .. },
            Message::PolyPressure { channel: b, key, .. },
        ) => (a, of) == (b, key),
        (
            Message::ChannelPressure { channel: a, .. },
            Message::ChannelPressure { channel: b, .. },
        )
        | (Message::PitchBend { channel: a, .. }, Message::PitchBend { channel: b, .. })
        | (Message::Program { channel: a, .. }, Message::Program { channel: b, .. }) => a == b,
        _ => false,
    }
}

/// A bit for what a message goes to, whatever the channel; none for notes. The numbers of channel
/// mode messages, which nothing is sent to, stand for what has no number.
fn address_bit(message: Message) -> u128 {
    match message {
        Message::Controller { number, .. } => 1 << number,
        Message::PolyPressure { .. } => 1 << 120,
        Message::ChannelPressure { .. } => 1 << 121,
        Message::PitchBend { .. } => 1 << 122,
        Message::Program { .. } => 1 << 123,
        Message::NoteOn { .. } | Message::NoteOff { .. } => 0,
    }
}

/// The place of a layer that is an output.
fn place(layer: Layer) -> Option<u16> {
    match layer {
        Layer::Dynamics => Some(0),
        Layer::Expression => Some(1),
        Layer::VibratoWidth => Some(2),
        Layer::VibratoRate => Some(3),
        Layer::Style => Some(4),
        Layer::Pitch => Some(5),
        Layer::Send => Some(6),
        Layer::Gesture => Some(7),
        Layer::StyleWeight(style) => Some(8 + u16::from(style) % 4),
        Layer::Brightness => Some(12),
        Layer::Legato | Layer::Articulation | Layer::Slide => None,
    }
}
