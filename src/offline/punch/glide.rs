//! One address across the seams: what moves there glides from the old take to the new and back.

use crate::engine::Message;
use crate::engine::input::message::BEND_CENTRE;
use crate::offline::destination::Destination;

/// Points of a glide between the takes' own values, so that even a wide one goes in small steps.
const POINTS: u64 = 1024;
/// A glide ends a sixteenth of its time early, so that what lags behind by its steps arrives.
const EARLY: u64 = 16;
/// The steps of the wheel that a glide may always take: its range over the points of half a bar.
const BEND_STEP_MIN: u16 = 32;

/// Where the new take comes and goes: ticks from the first to before the last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seams {
    /// From where to where the new take comes; `None` where the bars begin with the take.
    pub coming: Option<(u64, u64)>,
    /// From where to where it goes; `None` where the bars have no end.
    pub going: Option<(u64, u64)>,
    /// The bars.
    pub start: u64,
    /// The first tick after them; `u64::MAX` if they have no end.
    pub end: u64,
}

impl Seams {
    /// How much of the new take there is at a tick, 0..=1.
    fn share(&self, tick: u64) -> f64 {
        let way = |(from, to): (u64, u64)| {
            let length = (to - from) - (to - from) / EARLY;
            ((tick.saturating_sub(from)) as f64 / length.max(1) as f64).clamp(0.0, 1.0)
        };
        let come = self.coming.map_or(1.0, way);
        let gone = self.going.map_or(0.0, way);
        come.min(1.0 - gone)
    }

    /// The ticks of the points of both glides.
    fn points(&self) -> Vec<u64> {
        let mut points = Vec::new();
        for (from, to) in [self.coming, self.going].into_iter().flatten() {
            let step = (to - from).div_ceil(POINTS).max(1);
            points.extend((from..to).step_by(step as usize));
            points.extend(to.checked_sub(1).filter(|last| *last >= from));
        }
        points
    }
}

/// The values of one address in one take, in order of ticks.
#[derive(Clone, Debug, Default)]
pub struct SentValues(pub Vec<(u64, u16)>);

impl SentValues {
    /// What holds at a tick; the first value before there is any.
    fn at(&self, tick: u64) -> Option<u16> {
        let after = self.0.partition_point(|(at, _)| *at <= tick);
        self.0.get(after.saturating_sub(1)).map(|(_, value)| *value)
    }

    /// What holds before a tick, if anything was sent.
    pub fn before(&self, tick: u64) -> Option<u16> {
        let after = self.0.partition_point(|(at, _)| *at < tick);
        after.checked_sub(1).map(|place| self.0[place].1)
    }

    fn step_max(&self) -> u16 {
        let steps = self.0.windows(2).map(|two| two[0].1.abs_diff(two[1].1));
        steps.max().unwrap_or(0)
    }
}

/// The values inside the bars. None is further from the last than the takes' own steps go, or than
/// one step where they stand still.
pub fn glide(
    destination: Destination,
    old: &SentValues,
    new: &SentValues,
    seams: &Seams,
) -> Vec<(u64, u16)> {
    let rest = if destination == Destination::PitchBend { BEND_CENTRE } else { 0 };
    let held = |values: &SentValues, other: &SentValues, tick: u64| {
        f64::from(values.at(tick).or_else(|| other.at(tick)).unwrap_or(rest))
    };
    let step_min = if destination == Destination::PitchBend { BEND_STEP_MIN } else { 1 };
    let step_max = i32::from(old.step_max().max(new.step_max()).max(step_min));
    let inside = |tick: &u64| (seams.start..seams.end).contains(tick);
    let mut ticks = seams.points();
    ticks.extend(new.0.iter().map(|(tick, _)| *tick).filter(inside));
    let in_glide = |tick: &u64| {
        let is_in = |glide: Option<(u64, u64)>| glide.is_some_and(|it| (it.0..it.1).contains(tick));
        is_in(seams.coming) || is_in(seams.going)
    };
    ticks.extend(old.0.iter().map(|(tick, _)| *tick).filter(|tick| inside(tick) && in_glide(tick)));
    ticks.sort_unstable();
    ticks.dedup();
    let mut last = old.before(seams.start).map(i32::from);
    let mut values = Vec::new();
    for tick in ticks {
        let share = seams.share(tick);
        let (from, to) = (held(old, new, tick), held(new, old, tick));
        let wanted = (from + share * (to - from)).round() as i32;
        let value = match last {
            Some(last) => wanted.clamp(last - step_max, last + step_max),
            None => wanted,
        };
        if last != Some(value) {
            values.push((tick, value as u16));
            last = Some(value);
        }
    }
    values
}

/// A message of this address.
pub fn message(destination: Destination, channel: u8, value: u16) -> Option<Message> {
    Some(match destination {
        Destination::Controller(number) => {
            Message::Controller { channel, number, value: value as u8 }
        }
        Destination::PitchBend => Message::PitchBend { channel, value },
        Destination::ChannelPressure => Message::ChannelPressure { channel, value: value as u8 },
        Destination::Program => Message::Program { channel, program: value as u8 },
        Destination::PolyPressure | Destination::Key => return None,
    })
}
