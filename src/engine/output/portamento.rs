//! The receiver's own portamento and legato switch: told before the note that needs them, off before any other.

use super::sender::Sender;
use super::sink::Sink;
use crate::input::Channel;
use crate::input::message::{
    LEGATO_SWITCH, PORTAMENTO_CONTROL, PORTAMENTO_SWITCH, PORTAMENTO_TIME,
};
use crate::layer::Layer;
use crate::patch::{TransitionPatch, TransitionWay};

/// A note as these two hear of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PortamentoNote {
    /// From a tenth to nine tenths of the way, seconds; `None` where the pitch jumps.
    pub time_s: Option<f64>,
    /// It joins, and no key besides it is meant to sound.
    pub is_alone: bool,
}

impl PortamentoNote {
    /// A note that does not join.
    pub const NONE: PortamentoNote = PortamentoNote { time_s: None, is_alone: false };
}

/// What the receiver has been told. It holds no settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Portamento {
    is_on: Option<bool>,
    time: Option<u8>,
    is_legato: Option<bool>,
}

impl Portamento {
    /// Nothing has been told.
    pub const UNTOLD: Portamento = Portamento { is_on: None, time: None, is_legato: None };

    /// The note that is about to sound. The source key (controller 84) is for one note alone, so
    /// it comes last and every time; the rest only when it is news.
    pub fn tell(
        &mut self,
        patch: &TransitionPatch,
        note: PortamentoNote,
        from_key: Option<u8>,
        channel: Channel,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        if patch.has_legato_switch || self.is_legato == Some(true) {
            let is_legato = patch.has_legato_switch && note.is_alone;
            switch(&mut self.is_legato, is_legato, LEGATO_SWITCH, channel, sender);
        }
        if patch.way != TransitionWay::Portamento {
            // Other settings may have left it on.
            return end(&mut self.is_on, PORTAMENTO_SWITCH, channel, sender);
        }
        let source = note.time_s.zip(from_key);
        switch(&mut self.is_on, source.is_some(), PORTAMENTO_SWITCH, channel, sender);
        let Some((time_s, key)) = source else { return };
        let value = patch.portamento.value_for(time_s);
        if self.time != Some(value) {
            self.time = Some(value);
            sender.controller(channel, PORTAMENTO_TIME, value, Layer::Slide);
        }
        sender.controller(channel, PORTAMENTO_CONTROL, key, Layer::Slide);
    }

    /// Both are off where they are on: nothing is to be joined.
    pub fn end(&mut self, channel: Channel, sender: &mut Sender<'_, impl Sink>) {
        end(&mut self.is_on, PORTAMENTO_SWITCH, channel, sender);
        end(&mut self.is_legato, LEGATO_SWITCH, channel, sender);
    }

    /// Nothing else is known; what is on must still be turned off.
    pub fn forget(&mut self) {
        let if_on = |told: Option<bool>| told.filter(|is_on| *is_on);
        let (is_on, is_legato) = (if_on(self.is_on), if_on(self.is_legato));
        *self = Portamento { is_on, time: None, is_legato };
    }

    /// Everything again: both off until a note needs them.
    pub fn resync(
        &mut self,
        patch: &TransitionPatch,
        channel: Channel,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        self.end(channel, sender);
        *self = Portamento::UNTOLD;
        self.tell(patch, PortamentoNote::NONE, None, channel, sender);
    }
}

/// Turns a switch off that is on.
fn end(told: &mut Option<bool>, number: u8, channel: Channel, sender: &mut Sender<'_, impl Sink>) {
    if *told == Some(true) {
        switch(told, false, number, channel, sender);
    }
}

/// Tells a switch its position if that is news.
fn switch(
    told: &mut Option<bool>,
    is_on: bool,
    number: u8,
    channel: Channel,
    sender: &mut Sender<'_, impl Sink>,
) {
    if *told != Some(is_on) {
        *told = Some(is_on);
        sender.controller(channel, number, if is_on { 127 } else { 0 }, Layer::Slide);
    }
}
