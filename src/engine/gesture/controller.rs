//! What the player's controller means: which messages are the gesture, and which of their
//! movements are only the controller's own flutter.

use crate::input::message::{
    BEND_CENTRE, EXPRESSION_CONTROLLER, FINE_CONTROLLER_OFFSET, FINE_MAX, MODULATION_CONTROLLER,
    Message,
};
use crate::math::grain::{grain, is_reached};
use crate::patch::{HandPatch, Source};

/// Steps of a seven-bit value above 0.
const STEPS: f64 = 127.0;
/// A position below this is rest; it keeps the filters clear of denormals.
const RAW_MIN: f64 = 1e-9;
/// A reversal of one step must last this long to be believed.
const FLUTTER_S: f64 = 0.25;
/// After this much stillness a single step either way counts as a reversal again: at least, at most,
/// and so many of the hand's own intervals between.
const STILLNESS_S_MIN: f64 = 0.6;
const STILLNESS_S_MAX: f64 = 3.0;
const STILLNESS_INTERVALS: f64 = 2.5;
/// What a new gap weighs in the hand's own interval. Longer gaps are rests, not playing.
const INTERVAL_WEIGHT: f64 = 0.35;
const GAP_S_MAX: f64 = 3.0;
/// MIDI 1.0 controller 74, which MPE uses for timbre.
const TIMBRE_CONTROLLER: u8 = 74;

/// MIDI 1.0 controllers 64–67, the pedals that RP-015 lets up: damper to soft.
const PEDAL_FIRST: u8 = 64;
const PEDAL_LAST: u8 = 67;

/// A position of the controller as the hand meant it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    /// Share of the source's whole range, 0..=1.
    pub raw: f64,
    /// Share of the travel between the dead zones, 0..=1.
    pub travel: f64,
}

/// Reads the controller. It holds no settings: each method is given the hand's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controller {
    coarse: u8,
    /// The last believed value of a seven-bit source.
    step: Option<u8>,
    /// Direction of the last believed movement: −1, 1, or 0 before the first.
    direction: i8,
    moved_s: f64,
    /// The hand's own interval: a moving average of the gaps between onward values, from 0. A swell
    /// of a minute steps once a second, and is believed at once for it.
    interval_s: f64,
    /// A reversal that is not yet believed: the value, and since when.
    doubted: Option<(u8, f64)>,
}

impl Controller {
    /// A controller that has never moved.
    pub const UNMOVED: Controller = Controller {
        coarse: 0,
        step: None,
        direction: 0,
        moved_s: 0.0,
        interval_s: 0.0,
        doubted: None,
    };

    /// Settles at the last value: what is doubted counts, or else `raw` stands. It is time 0.
    pub fn settle(&mut self, hand: &HandPatch, raw: f64) -> Position {
        (self.direction, self.moved_s, self.interval_s) = (0, 0.0, 0.0);
        match self.doubted.take() {
            Some((value, _)) => {
                self.step = Some(value);
                Controller::position(hand, f64::from(value) / STEPS)
            }
            None => Controller::position(hand, raw),
        }
    }

    /// The message belongs to the source. `owner` is channel and key of the newest held note.
    pub fn is_source(hand: &HandPatch, message: Message, owner: Option<(u8, u8)>) -> bool {
        match (hand.source, message) {
            (Source::Controller(wanted), Message::Controller { number, .. }) => number == wanted,
            (Source::ControllerPair(wanted), Message::Controller { number, .. }) => {
                number == wanted || number == wanted + FINE_CONTROLLER_OFFSET
            }
            (Source::ChannelPressure, Message::ChannelPressure { .. }) => true,
            (Source::PitchBend, Message::PitchBend { .. }) => true,
            (Source::PolyPressure, Message::PolyPressure { channel, key, .. }) => {
                owner == Some((channel, key))
            }
            (Source::MpeTimbre, Message::Controller { channel, number, .. }) => {
                number == TIMBRE_CONTROLLER && owner.is_some_and(|(own, _)| own == channel)
            }
            (Source::MpePressure, Message::ChannelPressure { channel, .. }) => {
                owner.is_some_and(|(own, _)| own == channel)
            }
            _ => false,
        }
    }

    /// A message of the source. `None` while it may be no more than flutter.
    pub fn receive(&mut self, hand: &HandPatch, now_s: f64, message: Message) -> Option<Position> {
        let seven = match message {
            Message::Controller { number, value, .. } => {
                if let Source::ControllerPair(coarse) = hand.source {
                    return Some(self.receive_pair(hand, number == coarse, value));
                }
                value
            }
            Message::ChannelPressure { value, .. } | Message::PolyPressure { value, .. } => value,
            Message::PitchBend { value, .. } => {
                return Some(Controller::position(hand, f64::from(value) / f64::from(FINE_MAX)));
            }
            _ => return None,
        };
        self.doubt(now_s, seven).then(|| self.believe(hand, now_s, seven))
    }

    /// What a reset of all controllers makes of the source, after RP-015: modulation 0, expression
    /// full, pedals up, pressure 0, bend centred. `None` for what it leaves alone.
    pub fn reset_message(hand: &HandPatch, channel: u8) -> Option<Message> {
        let controller = |number, value| Some(Message::Controller { channel, number, value });
        match hand.source {
            Source::Controller(number) | Source::ControllerPair(number) => match number {
                MODULATION_CONTROLLER | PEDAL_FIRST..=PEDAL_LAST => controller(number, 0),
                EXPRESSION_CONTROLLER => controller(number, 127),
                _ => None,
            },
            Source::ChannelPressure | Source::MpePressure => {
                Some(Message::ChannelPressure { channel, value: 0 })
            }
            Source::PolyPressure => Some(Message::PolyPressure { channel, key: 0, value: 0 }),
            Source::PitchBend => Some(Message::PitchBend { channel, value: BEND_CENTRE }),
            Source::Parameter | Source::MpeTimbre => None,
        }
    }

    /// A position of the automated parameter.
    pub fn position(hand: &HandPatch, raw: f64) -> Position {
        // NaN is rest.
        let raw = if raw > RAW_MIN { raw.min(1.0) } else { 0.0 };
        let HandPatch { low, high, dead_zone_rest, dead_zone_full, is_inverted, .. } = *hand;
        let share = ((raw - low) / (high - low)).clamp(0.0, 1.0);
        let share = if is_inverted { 1.0 - share } else { share };
        let room = 1.0 - dead_zone_rest - dead_zone_full;
        Position { raw, travel: ((share - dead_zone_rest) / room).clamp(0.0, 1.0) }
    }

    /// A doubted reversal that has lasted.
    #[inline]
    pub fn tick(&mut self, hand: &HandPatch, now_s: f64) -> Option<Position> {
        let (value, since_s) = self.doubted?;
        // It moved when it was first seen, not when it was believed.
        is_reached(now_s, since_s + FLUTTER_S).then(|| self.believe(hand, since_s, value))
    }

    /// Nothing is doubted.
    pub fn is_settled(&self) -> bool {
        self.doubted.is_none()
    }

    /// MIDI 1.0: a new coarse value sets the fine half to 0.
    fn receive_pair(&mut self, hand: &HandPatch, is_coarse: bool, value: u8) -> Position {
        let fine = if is_coarse { 0 } else { value };
        self.coarse = if is_coarse { value } else { self.coarse };
        Controller::position(
            hand,
            f64::from(u16::from(self.coarse) << 7 | u16::from(fine)) / f64::from(FINE_MAX),
        )
    }

    /// Whether a value can be believed at once: not a single step against the last direction.
    fn doubt(&mut self, now_s: f64, value: u8) -> bool {
        let Some(step) = self.step else { return true };
        if value == step {
            self.doubted = None;
            return false;
        }
        let stillness_s = (STILLNESS_INTERVALS * self.interval_s).min(STILLNESS_S_MAX);
        let has_stood = grain(now_s - self.moved_s) > grain(stillness_s.max(STILLNESS_S_MIN));
        let change = i16::from(value) - i16::from(step);
        let is_rail = value == 0 || value == 127;
        let is_onward = !has_stood && change.signum() == i16::from(self.direction);
        if is_rail || is_onward || change.abs() > 1 {
            return true;
        }
        if self.doubted.is_none_or(|(doubted, _)| doubted != value) {
            self.doubted = Some((value, now_s));
        }
        false
    }

    /// The hand has moved to this value at this time.
    fn believe(&mut self, hand: &HandPatch, moved_s: f64, value: u8) -> Position {
        let change = i16::from(value) - i16::from(self.step.unwrap_or(value));
        let direction = change.signum() as i8;
        let gap_s = moved_s - self.moved_s;
        // A turn begins another movement, and says nothing of how fast it will be.
        if direction != 0 && direction == self.direction && grain(gap_s) <= GAP_S_MAX {
            self.interval_s += INTERVAL_WEIGHT * (gap_s - self.interval_s);
        }
        self.direction = direction;
        self.step = Some(value);
        self.moved_s = moved_s;
        self.doubted = None;
        Controller::position(hand, f64::from(value) / STEPS)
    }
}
