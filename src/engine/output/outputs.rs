//! The outputs of one line: each layer's number is sent when it is news, its time has come and the cable is free.

use super::budget::MessageBudget;
use super::midi1::{Listener, listens, send, send_bend_range};
use super::sender::Sender;
use super::sink::Sink;
use super::thinning::{Lead, Thinning};
use super::undriven::Undriven;
use crate::input::message::BEND_CENTRE;
use crate::input::{Channel, Key, Message};
use crate::layer::Layer;
use crate::layers::transition::FAST_TICKS;
use crate::layers::values::Values;
use crate::patch::setup::{OutputTiming, Setup};
use crate::patch::{Address, OUTPUTS_MAX, OutputPatch};

/// One output on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
struct OutputState {
    next_tick: u64,
    /// It may not send before this tick.
    free_tick: u64,
    /// A number was due and has to wait.
    waits: bool,
    /// What the value was made of when it was last looked at.
    seen: [f64; 3],
    sent: Option<u16>,
    thinning: Thinning,
}

impl OutputState {
    /// Nothing has been sent.
    const UNSENT: OutputState = OutputState {
        next_tick: 0,
        free_tick: 0,
        waits: false,
        seen: [f64::NAN; 3],
        sent: None,
        thinning: Thinning::NONE,
    };

    /// Looks at its value and sends its number if that is news and the cable is free. True if it
    /// has sent one.
    #[inline]
    fn look(
        &mut self,
        (patch, timing): (&OutputPatch, &OutputTiming),
        tick: u64,
        is_free: bool,
        values: &Values<'_>,
        sender: &mut Sender<'_, impl Sink>,
    ) -> bool {
        self.next_tick = tick + timing.look_ticks - tick % timing.look_ticks;
        let state = values.state(patch.layer);
        // Its value may have changed since it was last looked at.
        let is_stale = self.sent.is_none() || self.seen != state;
        if !is_stale && self.is_true(timing) {
            return false;
        }
        let exact = match is_stale {
            true => patch.exact(values),
            false => self.thinning.exact(),
        };
        // A number that leads the motion may not lead beyond the ends.
        let (least, most) = patch.ends();
        let number = self
            .thinning
            .look(patch.error_bound, exact, self.sent, |onward| patch.lead(values, onward));
        let number = number.map(|it| it.clamp(least, most));
        self.seen = state;
        let Some(number) = number.filter(|_| patch.sends_by_itself(values.key)) else {
            self.waits = false;
            return false;
        };
        if !is_free {
            // Looked at again as if it had not been seen.
            self.seen = [f64::NAN; 3];
            self.waits = true;
            return false;
        }
        send(patch.layer, patch.address, number, self.sent, listener(values), sender);
        self.sent = Some(number);
        let is_fast = patch.layer == Layer::Pitch && values.pitch_hurries();
        let most_ticks = if is_fast { FAST_TICKS } else { u64::MAX };
        self.free_tick = tick + timing.interval_ticks.min(most_ticks);
        if is_fast {
            self.next_tick = self.free_tick;
        } else if !timing.is_thinned {
            self.next_tick = self.free_tick.next_multiple_of(timing.look_ticks);
        }
        true
    }

    /// Its number, settled or not, is what the receiver has.
    fn is_true(&self, timing: &OutputTiming) -> bool {
        self.sent.is_none_or(|sent| !timing.is_thinned || sent == self.thinning.rounded())
    }
}

fn listener(values: &Values<'_>) -> Listener {
    Listener { channel: values.channel, key: values.key }
}

/// All outputs of one line, in the order of the setup's. It holds no settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outputs {
    outputs: [OutputState; OUTPUTS_MAX],
    budget: MessageBudget,
    late_values: u64,
    /// No output may send before this tick.
    next_tick: u64,
    /// The key that the last pressure went to.
    pressed_key: Option<Key>,
    /// Panic has put the outputs at rest, until something is played.
    is_parked: bool,
    undriven: Undriven,
}

impl Outputs {
    /// Nothing has been sent.
    pub fn unsent(setup: &Setup) -> Outputs {
        Outputs {
            outputs: [OutputState::UNSENT; OUTPUTS_MAX],
            budget: MessageBudget::full(&setup.patch.target),
            late_values: 0,
            next_tick: 0,
            pressed_key: None,
            is_parked: false,
            undriven: Undriven::NONE,
        }
    }

    /// Nothing has been sent of other settings; what the ones before drove and these do not waits
    /// to be put to rest.
    pub fn exchange(&mut self, before: &Setup, setup: &Setup) {
        let mut outputs = Outputs::unsent(setup);
        let driven = setup.patch.target.outputs();
        let is_driven = |address| driven.iter().any(|own| own.address == address);
        for (own, patch) in self.outputs.iter().zip(before.patch.target.outputs()) {
            let is_moved = own.sent.is_some_and(|sent| sent != patch.rest);
            if is_moved && !is_driven(patch.address) {
                outputs.undriven.add(patch.layer, patch.address, patch.rest);
            }
        }
        outputs.undriven.keep(&self.undriven, is_driven);
        *self = outputs;
    }

    /// Velocity of a note-on of 127 where an output drives it.
    pub fn velocity(&self, values: &Values<'_>) -> Option<f64> {
        let outputs = values.setup.patch.target.outputs();
        let output = outputs.iter().find(|output| output.address == Address::Velocity)?;
        Some(output.exact(values))
    }

    /// Some output may send at this tick.
    #[inline]
    pub fn is_due(&self, tick: u64) -> bool {
        tick >= self.next_tick && !self.is_parked
    }

    /// Ticks up to here were left out: every output goes on looking at the ticks it would have.
    pub fn skip_to(&mut self, setup: &Setup, tick: u64) {
        self.next_tick = u64::MAX;
        let count = setup.patch.target.output_count;
        for (output, timing) in self.outputs[..count].iter_mut().zip(&setup.timings) {
            if output.next_tick < tick {
                output.next_tick = tick.next_multiple_of(timing.look_ticks);
            }
            self.next_tick = self.next_tick.min(output.next_tick);
        }
    }

    /// Each output whose time has come sends what has changed.
    pub fn send_due(&mut self, tick: u64, values: &Values<'_>, sender: &mut Sender<'_, impl Sink>) {
        self.send_each(tick, values, sender, Due::InTime);
    }

    /// Another tick would send nothing, as long as the values stand.
    pub fn is_settled(&self, values: &Values<'_>) -> bool {
        let stands = |(patch, (output, timing)): (&OutputPatch, (&OutputState, &OutputTiming))| {
            let is_sent = output.sent.is_some() || !patch.sends_by_itself(values.key);
            let is_there = patch.address != Address::PolyPressure || self.pressed_key == values.key;
            is_sent
                && is_there
                && output.is_true(timing)
                && output.seen == values.state(patch.layer)
        };
        let states = self.outputs.iter().zip(&values.setup.timings);
        self.is_parked || values.setup.patch.target.outputs().iter().zip(states).all(stands)
    }

    /// At a note-on: every output sends what has changed, whatever its time. Poly pressure goes
    /// to the new key, so it has to wait for the note.
    pub fn flush(&mut self, tick: u64, values: &Values<'_>, sender: &mut Sender<'_, impl Sink>) {
        self.is_parked = false;
        self.send_each(tick, values, sender, Due::NowButKey);
    }

    /// After a note-on: the pressure of its key.
    pub fn flush_key(
        &mut self,
        tick: u64,
        values: &Values<'_>,
        sender: &mut Sender<'_, impl Sink>,
    ) {
        self.forget_key(values);
        self.send_each(tick, values, sender, Due::NowAtKey);
    }

    /// Everything again, so that the receiver is right.
    pub fn resync(&mut self, tick: u64, values: &Values<'_>, sender: &mut Sender<'_, impl Sink>) {
        let target = &values.setup.patch.target;
        self.undriven.put_to_rest(listener(values), sender);
        if target.sends_bend_range {
            send_bend_range(target.bend_range_semitones, values.channel, sender);
        }
        self.forget();
        self.send_each(tick, values, sender, Due::NowButKey);
    }

    /// Every output to its rest; nothing more until something is played.
    pub fn rest(&mut self, values: &Values<'_>, sender: &mut Sender<'_, impl Sink>) {
        for (output, patch) in self.outputs.iter_mut().zip(values.setup.patch.target.outputs()) {
            if patch.sends_by_itself(values.key) {
                send(patch.layer, patch.address, patch.rest, None, listener(values), sender);
            }
            output.sent = Some(patch.rest);
        }
        self.is_parked = true;
    }

    /// Every number that was sent and is not its rest goes there; bends have gone home already.
    pub fn leave(&mut self, values: &Values<'_>, sender: &mut Sender<'_, impl Sink>) {
        for (output, patch) in self.outputs.iter_mut().zip(values.setup.patch.target.outputs()) {
            let OutputPatch { rest, address, .. } = *patch;
            let is_moved = output.sent.is_some_and(|sent| sent != rest);
            if is_moved && address != Address::PitchBend && patch.sends_by_itself(None) {
                send(patch.layer, address, rest, None, listener(values), sender);
            }
            output.sent = None;
        }
    }

    /// Centres a bend that this target has moved.
    pub fn centre(&mut self, setup: &Setup, channel: Channel, sender: &mut Sender<'_, impl Sink>) {
        for (output, patch) in self.outputs.iter_mut().zip(setup.patch.target.outputs()) {
            let is_bent = output.sent.is_some_and(|sent| sent != BEND_CENTRE);
            if patch.address == Address::PitchBend && is_bent {
                sender.centre(channel);
                output.sent = Some(BEND_CENTRE);
            }
        }
    }

    /// Numbers that were due and had to wait for the cable.
    pub fn late_values(&self) -> u64 {
        self.late_values
    }

    /// The receiver's values are no longer known.
    pub fn forget(&mut self) {
        for output in &mut self.outputs {
            output.sent = None;
        }
        self.next_tick = 0;
    }

    /// The pressure of the present key is not known.
    fn forget_key(&mut self, values: &Values<'_>) {
        self.pressed_key = values.key;
        for (output, patch) in self.outputs.iter_mut().zip(values.setup.patch.target.outputs()) {
            if patch.address == Address::PolyPressure {
                output.sent = None;
            }
        }
    }

    /// Someone else sent to the address of an output: it is sent again when its time comes.
    pub fn forget_address(&mut self, setup: &Setup, message: Message) {
        for (output, patch) in self.outputs.iter_mut().zip(setup.patch.target.outputs()) {
            if listens(patch.address, message) {
                output.sent = None;
            }
        }
    }

    fn send_each(
        &mut self,
        tick: u64,
        values: &Values<'_>,
        sender: &mut Sender<'_, impl Sink>,
        due: Due,
    ) {
        if values.setup.presses_keys && self.pressed_key != values.key {
            self.forget_key(values);
        }
        let (target, timings) = (&values.setup.patch.target, &values.setup.timings);
        self.budget.settle(target, tick, sender.take_count());
        let mut next_tick = u64::MAX;
        #[expect(clippy::needless_range_loop, reason = "zipping three arrays costs more a tick")]
        for place in 0..target.output_count.min(OUTPUTS_MAX) {
            let (output, patch) = (&mut self.outputs[place], &target.outputs[place]);
            let is_due = match due {
                Due::InTime => tick >= output.next_tick,
                Due::NowButKey => patch.address != Address::PolyPressure,
                Due::NowAtKey => patch.address == Address::PolyPressure,
            };
            if is_due {
                let is_free = due != Due::InTime
                    || tick >= output.free_tick && self.budget.allows(patch.priority);
                let is_sent = output.look((patch, &timings[place]), tick, is_free, values, sender);
                if is_sent {
                    self.late_values += u64::from(core::mem::take(&mut output.waits));
                    self.budget.spend(target, sender.take_count());
                }
            }
            next_tick = next_tick.min(output.next_tick);
        }
        self.next_tick = next_tick;
    }
}

/// Which outputs are looked at.
#[derive(Clone, Copy, PartialEq)]
enum Due {
    /// Those whose time has come, as far as the cable allows.
    InTime,
    /// All but those at a key, at any rate.
    NowButKey,
    /// Those at a key, at any rate.
    NowAtKey,
}

impl OutputPatch {
    /// Where a number of it may lead. A swing turns at once; a level's accent dies, its tail falls
    /// and its hand moves on, so it is known where it goes.
    fn lead(&self, values: &Values<'_>, onward: f64) -> Lead {
        match self.layer {
            Layer::Pitch => Lead::Turning,
            Layer::Dynamics | Layer::Expression => values
                .level_db_ahead(self.layer, onward)
                .map_or(Lead::Onward, |db| Lead::To(self.at_db(db, values))),
            _ => Lead::Onward,
        }
    }

    /// Velocity goes out with its note, and poly pressure only to a key.
    fn sends_by_itself(&self, key: Option<Key>) -> bool {
        match self.address {
            Address::Velocity => false,
            Address::PolyPressure => key.is_some(),
            _ => true,
        }
    }
}
