//! From a layer's value to a receiver's number, sent when it has changed and its time has come.

use super::event::{BEND_CENTRE, FINE_CONTROLLER_OFFSET, FINE_MAX, Layer, Message, Origin, Sink};
use super::moment::Moment;
use super::patch::{Address, OUTPUTS_MAX, OutputPatch, Reading, TargetPatch};
use super::wire::Way;

/// MIDI 1.0: registered parameter numbers, coarse and fine; non-registered ones.
const REGISTERED: (u8, u8) = (101, 100);
const NON_REGISTERED: (u8, u8) = (99, 98);
/// MIDI 1.0: data entry, coarse and fine.
const DATA_ENTRY: (u8, u8) = (6, 38);
/// MIDI 1.0: the parameter number that means none.
const NULL_PARAMETER: u16 = FINE_MAX;
/// MIDI 1.0: registered parameter 0 is the bend range, semitones and cents.
const BEND_RANGE_PARAMETER: u16 = 0;
/// A value that has not reached its next step is looked at this often.
const LOOKS_PER_INTERVAL: u64 = 5;

/// One output on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Output {
    patch: OutputPatch,
    interval_ticks: u64,
    /// From one look at a value that needs no message to the next.
    look_ticks: u64,
    next_tick: u64,
    /// What the value was made of when it was last looked at.
    seen: [f64; 3],
    sent: Option<u16>,
}

impl Output {
    /// Its value may have changed since it was last looked at.
    #[inline]
    fn is_stale(&self, values: &Moment<'_>) -> bool {
        self.sent.is_none() || self.seen != values.state(self.patch.layer)
    }

    /// Its number is `raw` now: sent if that is news.
    fn look(&mut self, tick: u64, raw: u16, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.seen = values.state(self.patch.layer);
        if self.sent != Some(raw) && self.patch.sends_by_itself(values.key) {
            send(&self.patch, raw, self.sent, values, way);
            self.sent = Some(raw);
            self.next_tick = tick + self.interval_ticks;
        }
    }
}

/// All outputs of a target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outputs {
    outputs: [Output; OUTPUTS_MAX],
    count: usize,
    bend_range_semitones: f64,
    sends_bend_range: bool,
    /// No output may send before this tick.
    next_tick: u64,
    /// The key that the last pressure went to.
    pressed_key: Option<u8>,
    /// Panic has put the outputs at rest, until something is played.
    is_parked: bool,
}

impl Outputs {
    /// Nothing has been sent.
    pub fn load(patch: &TargetPatch) -> Outputs {
        let outputs = patch.outputs.map(|patch| {
            let interval_ticks = libm::round(patch.interval_s * super::clock::TICKS_PER_SECOND);
            let interval_ticks = (interval_ticks as u64).max(1);
            let look_ticks = (interval_ticks / LOOKS_PER_INTERVAL).max(1);
            Output {
                patch,
                interval_ticks,
                look_ticks,
                next_tick: 0,
                seen: [f64::NAN; 3],
                sent: None,
            }
        });
        Outputs {
            outputs,
            count: patch.output_count,
            bend_range_semitones: patch.bend_range_semitones,
            sends_bend_range: patch.sends_bend_range,
            next_tick: 0,
            pressed_key: None,
            is_parked: false,
        }
    }

    /// Velocity of a note-on where an output drives it.
    pub fn velocity(&self, values: &Moment<'_>) -> Option<u8> {
        let output = self.iter().find(|output| output.patch.address == Address::Velocity)?;
        Some(self.raw(&output.patch, values).clamp(1, 127) as u8)
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
        self.send_each(tick, values, way, |output| tick >= output.next_tick);
    }

    /// Another tick would send nothing, as long as the values stand.
    pub fn is_settled(&self, values: &Moment<'_>) -> bool {
        let stands = |output: &Output| {
            let is_sent = output.sent.is_some() || !output.patch.sends_by_itself(values.key);
            let is_there =
                output.patch.address != Address::PolyPressure || self.pressed_key == values.key;
            is_sent && is_there && output.seen == values.state(output.patch.layer)
        };
        self.is_parked || self.iter().all(stands)
    }

    /// At a note-on: every output sends what has changed, whatever its time. Poly pressure goes
    /// to the new key, so it has to wait for the note.
    pub fn flush(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.is_parked = false;
        self.send_each(tick, values, way, |output| output.patch.address != Address::PolyPressure);
    }

    /// After a note-on: the pressure of its key.
    pub fn flush_key(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        self.forget_key(values.key);
        self.send_each(tick, values, way, |output| output.patch.address == Address::PolyPressure);
    }

    /// Everything again, so that the receiver is right.
    pub fn resync(&mut self, tick: u64, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        if self.sends_bend_range {
            // Hundredths of a semitone are the fine half (MIDI 1.0, RPN 0).
            let hundredths = libm::round(self.bend_range_semitones * 100.0) as u16;
            let data = (hundredths / 100, hundredths % 100);
            let parameter = (BEND_RANGE_PARAMETER, data.0 << 7 | data.1);
            send_parameter(REGISTERED, parameter, Layer::Pitch, values.channel, way);
        }
        self.forget();
        self.send_each(tick, values, way, |output| output.patch.address != Address::PolyPressure);
    }

    /// Every output to its rest; nothing more until something is played.
    pub fn rest(&mut self, values: &Moment<'_>, way: &mut Way<'_, impl Sink>) {
        for output in &mut self.outputs[..self.count] {
            let rest = output.patch.rest;
            if output.patch.sends_by_itself(values.key) {
                send(&output.patch, rest, None, values, way);
            }
            output.sent = Some(rest);
        }
        self.is_parked = true;
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

    fn send_each(
        &mut self,
        tick: u64,
        values: &Moment<'_>,
        way: &mut Way<'_, impl Sink>,
        is_due: impl Fn(&Output) -> bool,
    ) {
        if self.pressed_key != values.key {
            self.forget_key(values.key);
        }
        let mut next_tick = u64::MAX;
        for place in 0..self.count {
            let output = &self.outputs[place];
            if is_due(output) {
                let raw = output.is_stale(values).then(|| self.raw(&output.patch, values));
                let output = &mut self.outputs[place];
                output.next_tick = tick + output.look_ticks;
                if let Some(raw) = raw {
                    output.look(tick, raw, values, way);
                }
            }
            next_tick = next_tick.min(self.outputs[place].next_tick);
        }
        self.next_tick = next_tick;
    }

    /// The receiver's number for the present value.
    fn raw(&self, patch: &OutputPatch, values: &Moment<'_>) -> u16 {
        let share = match patch.layer {
            Layer::Dynamics | Layer::Expression => {
                let db = values.level_db(patch.layer);
                match &patch.reading {
                    Reading::Gm2 => libm::exp10(db / 40.0),
                    Reading::Table(curve) => curve.at(db),
                    Reading::Straight | Reading::Response(_) => 1.0 + db / values.span_db,
                }
            }
            Layer::Pitch if patch.address == Address::PitchBend => {
                return self.bend(values);
            }
            Layer::Send => {
                let lift = values.value(Layer::Send) * f64::from(patch.address.raw_max());
                let raw = f64::from(patch.rest) + libm::round(lift);
                return (raw as u16).clamp(patch.min, patch.max.max(patch.rest));
            }
            layer => {
                let share = (values.value(layer) - patch.low) / (patch.high - patch.low);
                match &patch.reading {
                    Reading::Response(curve) => curve.at(share.clamp(0.0, 1.0)),
                    _ => share,
                }
            }
        };
        let share = share.clamp(0.0, 1.0);
        let share = if patch.is_inverted { 1.0 - share } else { share };
        patch.min + libm::round(share * f64::from(patch.max - patch.min)) as u16
    }

    /// The vibrato and the player's own bend, clipped to the receiver's range.
    fn bend(&self, values: &Moment<'_>) -> u16 {
        let range_cents = 100.0 * self.bend_range_semitones;
        let share = values.value(Layer::Pitch) / range_cents + values.player_bend;
        let steps = libm::round(share * f64::from(BEND_CENTRE));
        (f64::from(BEND_CENTRE) + steps).clamp(0.0, f64::from(FINE_MAX)) as u16
    }
}

impl TargetPatch {
    fn outputs(&self) -> &[OutputPatch] {
        &self.outputs[..self.output_count]
    }

    /// A layer has an address.
    pub fn has(&self, layer: Layer) -> bool {
        self.outputs().iter().any(|output| output.layer == layer)
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

/// A message that the address answers to.
fn listens(address: Address, message: Message) -> bool {
    match (address, message) {
        (Address::Controller(own), Message::Controller { number, .. }) => own == number,
        (Address::ControllerPair(own), Message::Controller { number, .. }) => {
            number == own || number == own + FINE_CONTROLLER_OFFSET
        }
        (Address::ChannelPressure, Message::ChannelPressure { .. }) => true,
        (Address::PolyPressure, Message::PolyPressure { .. }) => true,
        (Address::PitchBend, Message::PitchBend { .. }) => true,
        (Address::Program, Message::Program { .. }) => true,
        _ => false,
    }
}

fn send(
    patch: &OutputPatch,
    raw: u16,
    sent: Option<u16>,
    values: &Moment<'_>,
    way: &mut Way<'_, impl Sink>,
) {
    let channel = values.channel;
    let origin = Origin::Layer(patch.layer);
    let low = (raw & 0x7F) as u8;
    match patch.address {
        Address::Controller(number) => way.controller(channel, number, low, patch.layer),
        Address::ControllerPair(number) => {
            // A new coarse value zeroes the fine one (MIDI 1.0), so the fine one always follows.
            if sent.is_none_or(|sent| sent >> 7 != raw >> 7) {
                way.controller(channel, number, (raw >> 7) as u8, patch.layer);
            }
            way.controller(channel, number + FINE_CONTROLLER_OFFSET, low, patch.layer);
        }
        Address::ChannelPressure => {
            way.send(Message::ChannelPressure { channel, value: low }, origin);
        }
        Address::PolyPressure => {
            if let Some(key) = values.key {
                way.send(Message::PolyPressure { channel, key, value: low }, origin);
            }
        }
        Address::PitchBend => way.send(Message::PitchBend { channel, value: raw }, origin),
        Address::Registered(number) => {
            send_parameter(REGISTERED, (number, raw), patch.layer, channel, way);
        }
        Address::NonRegistered(number) => {
            send_parameter(NON_REGISTERED, (number, raw), patch.layer, channel, way);
        }
        Address::Program => way.send(Message::Program { channel, program: low }, origin),
        Address::Velocity => {}
    }
}

/// A parameter number, its value, and the null that keeps stray data from it.
fn send_parameter(
    numbers: (u8, u8),
    (parameter, value): (u16, u16),
    layer: Layer,
    channel: u8,
    way: &mut Way<'_, impl Sink>,
) {
    let halves = |value: u16| ((value >> 7) as u8, (value & 0x7F) as u8);
    let (coarse, fine) = halves(parameter);
    let (data_coarse, data_fine) = halves(value);
    let (null_coarse, null_fine) = halves(NULL_PARAMETER);
    let messages = [
        (numbers.0, coarse),
        (numbers.1, fine),
        (DATA_ENTRY.0, data_coarse),
        (DATA_ENTRY.1, data_fine),
        (REGISTERED.0, null_coarse),
        (REGISTERED.1, null_fine),
    ];
    for (number, value) in messages {
        way.controller(channel, number, value, layer);
    }
}
