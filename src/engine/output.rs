//! The outputs: each layer's number is sent when it is news, its time has come and the cable is free.

use super::abandoned::Abandoned;
use super::address::{listens, send, send_bend_range};
use super::clock::TICKS_PER_SECOND;
use super::event::{BEND_CENTRE, Layer, Message, Sink};
use super::moment::Moment;
use super::patch::{Address, OUTPUTS_MAX, OutputPatch, TargetPatch};
use super::thrift::{Allowance, Thrift};
use super::wire::Way;

/// A value that has not reached its next step is looked at this often.
const LOOKS_PER_INTERVAL: u64 = 5;

/// The swing takes a step at least this often, whoever hears it.
pub const SWING_TICKS_MAX: u64 = 5;

/// One output on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Output {
    patch: OutputPatch,
    interval_ticks: u64,
    /// From one look at a value that needs no message to the next.
    look_ticks: u64,
    next_tick: u64,
    /// It may not send before this tick.
    free_tick: u64,
    /// A number was due and has to wait.
    waits: bool,
    /// What the value was made of when it was last looked at.
    seen: [f64; 3],
    sent: Option<u16>,
    thrift: Thrift,
}

impl Output {
    /// Looks at its value and sends its number if that is news and the cable is free. True if it
    /// had had to wait.
    fn look(
        &mut self,
        tick: u64,
        bend_range_cents: f64,
        is_free: bool,
        values: &Moment<'_>,
        way: &mut Way<'_, impl Sink>,
    ) -> bool {
        self.next_tick = tick + self.look_ticks;
        let state = values.state(self.patch.layer);
        // Its value may have changed since it was last looked at.
        let is_stale = self.sent.is_none() || self.seen != state;
        if !is_stale && self.is_true() {
            return false;
        }
        let exact = match is_stale {
            true => self.patch.exact(bend_range_cents, values),
            false => self.thrift.exact(),
        };
        // A number that leads the motion may not lead beyond the ends.
        let (least, most) = self.patch.ends();
        let number = self.thrift.look(exact, self.sent).map(|it| it.clamp(least, most));
        self.seen = state;
        let Some(number) = number.filter(|_| self.patch.sends_by_itself(values.key)) else {
            self.waits = false;
            return false;
        };
        if !is_free {
            // Looked at again as if it had not been seen.
            self.seen = [f64::NAN; 3];
            self.waits = true;
            return false;
        }
        send(self.patch.layer, self.patch.address, number, self.sent, values, way);
        self.sent = Some(number);
        self.free_tick = tick + self.interval_ticks;
        if !self.thrift.is_on() {
            self.next_tick = self.free_tick;
        }
        core::mem::take(&mut self.waits)
    }

    /// Its number, settled or not, is what the receiver has.
    fn is_true(&self) -> bool {
        self.sent.is_none_or(|sent| !self.thrift.is_on() || sent == self.thrift.rounded())
    }
}

/// All outputs of a target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outputs {
    outputs: [Output; OUTPUTS_MAX],
    count: usize,
    bend_range_semitones: f64,
    sends_bend_range: bool,
    allowance: Allowance,
    late_values: u64,
    /// No output may send before this tick.
    next_tick: u64,
    /// The key that the last pressure went to.
    pressed_key: Option<u8>,
    /// Panic has put the outputs at rest, until something is played.
    is_parked: bool,
    abandoned: Abandoned,
}

impl Outputs {
    /// Nothing has been sent.
    pub fn load(patch: &TargetPatch) -> Outputs {
        let mut outputs = patch.outputs.map(|patch| {
            let interval_ticks = interval_ticks(patch.interval_s);
            let thrift = Thrift::load(patch.error_bound);
            // The motion can only be led by one who watches it.
            let looks = if thrift.is_on() { interval_ticks } else { LOOKS_PER_INTERVAL };
            Output {
                patch,
                interval_ticks,
                look_ticks: (interval_ticks / looks).max(1),
                next_tick: 0,
                free_tick: 0,
                waits: false,
                seen: [f64::NAN; 3],
                sent: None,
                thrift,
            }
        });
        outputs[..patch.output_count].sort_unstable_by_key(|output| output.patch.priority);
        Outputs {
            outputs,
            count: patch.output_count,
            bend_range_semitones: patch.bend_range_semitones,
            sends_bend_range: patch.sends_bend_range,
            allowance: Allowance::load(patch.messages_per_s, patch.burst_messages),
            late_values: 0,
            next_tick: 0,
            pressed_key: None,
            is_parked: false,
            abandoned: Abandoned::NONE,
        }
    }

    /// Nothing has been sent; what the settings before drove and these do not waits to be put to
    /// rest.
    pub fn after(before: &Outputs, patch: &TargetPatch) -> Outputs {
        let mut outputs = Outputs::load(patch);
        let is_driven = |address| patch.outputs().iter().any(|own| own.address == address);
        let moved = |output: &&Output| output.sent.is_some_and(|sent| sent != output.patch.rest);
        for output in before.iter().filter(moved).filter(|own| !is_driven(own.patch.address)) {
            outputs.abandoned.add(output.patch.layer, output.patch.address, output.patch.rest);
        }
        outputs.abandoned.keep(&before.abandoned, is_driven);
        outputs
    }

    /// Velocity of a note-on where an output drives it.
    pub fn velocity(&self, values: &Moment<'_>) -> Option<u8> {
        let output = self.iter().find(|output| output.patch.address == Address::Velocity)?;
        let exact = output.patch.exact(self.bend_range_cents(), values);
        Some(libm::round(exact).clamp(1.0, 127.0) as u8)
    }

    /// Some output may send at this tick.
    #[inline]
    pub fn is_due(&self, tick: u64) -> bool {
        tick >= self.next_tick && !self.is_parked
    }

    /// Ticks up to here were left out: every output goes on looking at the ticks it would have.
    pub fn skip_to(&mut self, tick: u64) {
        for output in &mut self.outputs[..self.count] {
            let missed = tick.saturating_sub(output.next_tick);
            output.next_tick += missed.div_ceil(output.look_ticks) * output.look_ticks;
        }
        self.next_tick = self.iter().map(|output| output.next_tick).min().unwrap_or(u64::MAX);
    }

    /// Each output whose time has come sends what has changed.
    pub fn send_due(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.send_each(tick, values, way, Due::InTime);
    }

    /// Another tick would send nothing, as long as the values stand.
    pub fn is_settled(&self, values: &Moment<'_>) -> bool {
        let stands = |output: &Output| {
            let is_sent = output.sent.is_some() || !output.patch.sends_by_itself(values.key);
            let is_there =
                output.patch.address != Address::PolyPressure || self.pressed_key == values.key;
            is_sent
                && is_there
                && output.is_true()
                && output.seen == values.state(output.patch.layer)
        };
        self.is_parked || self.iter().all(stands)
    }

    /// At a note-on: every output sends what has changed, whatever its time. Poly pressure goes
    /// to the new key, so it has to wait for the note.
    pub fn flush(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.is_parked = false;
        self.send_each(tick, values, way, Due::NowButKey);
    }

    /// After a note-on: the pressure of its key.
    pub fn flush_key(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.forget_key(values.key);
        self.send_each(tick, values, way, Due::NowAtKey);
    }

    /// Everything again, so that the receiver is right.
    pub fn resync(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.abandoned.put_to_rest(values, way);
        if self.sends_bend_range {
            send_bend_range(self.bend_range_semitones, values.channel, way);
        }
        self.forget();
        self.send_each(tick, values, way, Due::NowButKey);
    }

    /// Every output to its rest; nothing more until something is played.
    pub fn rest(&mut self, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        for output in &mut self.outputs[..self.count] {
            let rest = output.patch.rest;
            if output.patch.sends_by_itself(values.key) {
                send(output.patch.layer, output.patch.address, rest, None, values, way);
            }
            output.sent = Some(rest);
        }
        self.is_parked = true;
    }

    /// Every number that was sent and is not its rest goes there; bends have gone home already.
    pub fn leave(&mut self, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        for output in &mut self.outputs[..self.count] {
            let OutputPatch { rest, address, .. } = output.patch;
            let is_moved = output.sent.is_some_and(|sent| sent != rest);
            if is_moved && address != Address::PitchBend && output.patch.sends_by_itself(None) {
                send(output.patch.layer, output.patch.address, rest, None, values, way);
            }
            output.sent = None;
        }
    }

    /// Centres a bend that this target has moved.
    pub fn centre(&mut self, channel: u8, way: &mut Way<'_, impl Sink>) {
        let bend = self.outputs[..self.count].iter_mut();
        for output in bend.filter(|output| output.patch.address == Address::PitchBend) {
            if output.sent.is_some_and(|sent| sent != BEND_CENTRE) {
                way.centre(channel);
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
        for output in &mut self.outputs[..self.count] {
            output.sent = None;
        }
        self.next_tick = 0;
    }

    /// The pressure of this key is not known.
    fn forget_key(&mut self, key: Option<u8>) {
        self.pressed_key = key;
        for output in &mut self.outputs[..self.count] {
            if output.patch.address == Address::PolyPressure {
                output.sent = None;
            }
        }
    }

    /// Someone else sent to the address of an output: it is sent again when its time comes.
    pub fn forget_address(&mut self, message: Message) {
        for output in &mut self.outputs[..self.count] {
            if listens(output.patch.address, message) {
                output.sent = None;
            }
        }
    }

    fn iter(&self) -> impl Iterator<Item = &Output> {
        self.outputs[..self.count].iter()
    }

    fn bend_range_cents(&self) -> f64 {
        100.0 * self.bend_range_semitones
    }

    fn send_each(
        &mut self,
        tick: u64,
        values: &Moment<'_>,
        way: &mut Way<'_, impl Sink>,
        due: Due,
    ) {
        if self.pressed_key != values.key {
            self.forget_key(values.key);
        }
        let bend_range_cents = self.bend_range_cents();
        self.allowance.settle(tick, way.take_count());
        let mut next_tick = u64::MAX;
        for output in &mut self.outputs[..self.count] {
            let is_due = match due {
                Due::InTime => tick >= output.next_tick,
                Due::NowButKey => output.patch.address != Address::PolyPressure,
                Due::NowAtKey => output.patch.address == Address::PolyPressure,
            };
            if is_due {
                let is_free = due != Due::InTime
                    || tick >= output.free_tick && self.allowance.allows(output.patch.priority);
                let is_late = output.look(tick, bend_range_cents, is_free, values, way);
                self.late_values += u64::from(is_late);
                let count = way.take_count();
                if count > 0 {
                    self.allowance.settle(tick, count);
                }
            }
            next_tick = next_tick.min(output.next_tick);
        }
        self.next_tick = next_tick;
    }
}

fn interval_ticks(interval_s: f64) -> u64 {
    (libm::round(interval_s * TICKS_PER_SECOND) as u64).max(1)
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

impl TargetPatch {
    fn outputs(&self) -> &[OutputPatch] {
        &self.outputs[..self.output_count]
    }

    /// A layer has an address.
    pub fn has(&self, layer: Layer) -> bool {
        self.outputs().iter().any(|output| output.layer == layer)
    }

    /// The pitch is looked at every so many ticks, 1..=5.
    pub fn swing_ticks(&self) -> u64 {
        let pitches = self.outputs().iter().filter(|output| output.layer == Layer::Pitch);
        pitches.map(|output| interval_ticks(output.interval_s)).fold(SWING_TICKS_MAX, u64::min)
    }

    /// An output goes to the bend wheel.
    pub fn bends(&self) -> bool {
        self.outputs().iter().any(|output| output.address == Address::PitchBend)
    }
}

impl OutputPatch {
    /// Velocity goes out with its note, and poly pressure only to a key.
    fn sends_by_itself(&self, key: Option<u8>) -> bool {
        match self.address {
            Address::Velocity => false,
            Address::PolyPressure => key.is_some(),
            _ => true,
        }
    }
}
