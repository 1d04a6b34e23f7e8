//! How few messages do it: what is sent, what would have been the fewest, and every change.

use std::fmt::Write;
use std::thread;

use polso::engine::patch::{OutputPatch, Patch, Reading, Source};
use polso::engine::{Input, Layer, Message, Origin, Section, Sink, Timed, View};

use super::corpus::{Take, folk_takes, recorded_takes};
use super::data::MELODY_COUNT;
use super::fewest::Fewest;
use super::receiver::settings;
use super::sample::{figure, is_whole, said};
use super::smf::File;

const RATE_HZ: f64 = 48_000.0;
const TICK_FRAMES: u32 = 48;
const THREAD_COUNT: usize = 2;
/// The exact number comes within 20 ms of settling: by then the value has stood for as many ticks.
const SETTLED_TICKS: u32 = 20;
/// Width, rate and pitch move every 5 ms, and a number may be as old as that.
const RECENT_TICKS: usize = 6;
/// Styles and the swing take a step this often, or as often as the pitch goes out: what moves with
/// them stands in between, though the view shows it moving.
const SWING_TICKS: u64 = 5;
/// Error bounds, in steps: of seven bits, and 5 cents of two semitones in fourteen.
const BOUND: f64 = 2.0;
const PITCH_BOUND: f64 = 205.0;
/// A ratio of 60 folk melodies strays from that of all by a standard deviation of 0.006 (of 33
/// samples); five of them are let pass, or one run in some would fail for nothing.
const SAMPLE_STRAYS: f64 = 0.03;
/// How long a line is listened to after its last event.
const AFTER_S: f64 = 3.0;

/// What one output did over some lines, and what would have done.
#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    /// All numbers.
    sent: u64,
    /// The fewest that stay within the bound at the moments at which it may send; and those that
    /// stay within it always and say where the value settles.
    fewest_in_time: u64,
    fewest: u64,
    /// One for each change of the rounded value, looked at every millisecond.
    changes: u64,
    /// Numbers in the midst of notes, and those of them that the layer's value did not say.
    looked_at: u64,
    untrue: u64,
}

impl Counts {
    fn add(&mut self, other: &Counts) {
        self.sent += other.sent;
        self.fewest_in_time += other.fewest_in_time;
        self.fewest += other.fewest;
        self.changes += other.changes;
        self.looked_at += other.looked_at;
        self.untrue += other.untrue;
    }

    fn ratio(&self, to: u64) -> f64 {
        self.sent as f64 / to as f64
    }
}

/// One output of one line.
struct Watch {
    output: OutputPatch,
    counts: Counts,
    fewest: Fewest,
    fewest_in_time: Fewest,
    /// From one step to the next.
    step_ticks: u64,
    /// The layer's value at the last ticks, the newest first.
    exact: [f64; RECENT_TICKS],
    /// How much of it is the way from note to note: the swing of a number is up to 5 ms older.
    transition: [f64; RECENT_TICKS],
}

impl Watch {
    fn of(output: &OutputPatch, swing_ticks: u64) -> Watch {
        // Where every change is sent, the ear's own motion is the measure.
        let is_stepped = output.error_bound > 0.5
            && matches!(
                output.layer,
                Layer::VibratoWidth | Layer::VibratoRate | Layer::Style | Layer::Pitch
            );
        Watch {
            output: *output,
            counts: Counts::default(),
            fewest: Fewest::settling(output.error_bound, SETTLED_TICKS),
            fewest_in_time: Fewest::within(output.error_bound),
            step_ticks: if is_stepped { swing_ticks } else { 1 },
            exact: [f64::NAN; RECENT_TICKS],
            transition: [0.0; RECENT_TICKS],
        }
    }

    /// The receiver's number for the layer's value, as the design states it, not yet rounded.
    fn exact(&self, view: &View, patch: &Patch) -> f64 {
        let OutputPatch { layer, low, high, min, max, rest, .. } = self.output;
        let evenly = |value: f64| ((value - low) / (high - low)).clamp(0.0, 1.0);
        let share = match layer {
            Layer::Dynamics => {
                assert!(self.output.reading == Reading::Gm2);
                libm::exp10(view.level_db / 40.0)
            }
            Layer::VibratoWidth => evenly(view.width_cents),
            Layer::VibratoRate => evenly(view.rate_hz),
            Layer::Style => {
                let weights = &view.weights[..patch.vibrato.style_count];
                let places = weights.iter().enumerate().map(|(place, it)| place as f64 * it);
                places.sum::<f64>() / (weights.len() - 1) as f64
            }
            Layer::Pitch => {
                let cents = view.pitch_cents + view.transition_cents;
                return (8192.0 + cents / high * 8192.0).min(16_383.0);
            }
            Layer::Send => return f64::from(rest) + view.send * 127.0,
            layer => panic!("{layer:?} is not watched"),
        };
        f64::from(min) + share * f64::from(max - min)
    }

    fn tick(&mut self, tick: u64, view: &View, patch: &Patch) {
        let is_step = tick.is_multiple_of(self.step_ticks) || self.exact[0].is_nan();
        let exact = if is_step { self.exact(view, patch) } else { self.exact[0] };
        self.fewest.take(exact);
        if tick.is_multiple_of(ticks(self.output.interval_s)) {
            self.fewest_in_time.take(exact);
        }
        self.counts.changes += u64::from(self.exact[0].round() != exact.round());
        self.exact.rotate_right(1);
        self.exact[0] = exact;
        self.transition.rotate_right(1);
        let is_pitch = f64::from(u8::from(self.output.layer == Layer::Pitch));
        self.transition[0] = is_pitch * view.transition_cents / self.output.high * 8192.0;
    }

    /// A number was sent in this tick.
    fn sent(&mut self, number: f64, is_midst: bool) {
        let bound = self.output.error_bound;
        self.counts.sent += 1;
        if is_midst && self.exact.iter().all(|exact| exact.is_finite()) {
            let least = |it: &[f64]| it.iter().copied().fold(f64::INFINITY, f64::min);
            let most = |it: &[f64]| it.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let (low, high) = (least(&self.exact), most(&self.exact));
            let off = bound + 0.01 + most(&self.transition) - least(&self.transition);
            let is_true = (low - off..=high + off).contains(&number);
            self.counts.looked_at += 1;
            self.counts.untrue += u64::from(!is_true);
        }
    }

    fn counts(&self) -> Counts {
        let (fewest, fewest_in_time) = (self.fewest.count, self.fewest_in_time.count);
        Counts { fewest, fewest_in_time, ..self.counts }
    }
}
fn ticks(interval_s: f64) -> u64 {
    ((interval_s * 1000.0).round() as u64).max(1)
}

/// What a target's outputs did, and how many numbers had to wait for the channel.
#[derive(Default)]
struct Sums {
    outputs: Vec<(Layer, Counts)>,
    late: u64,
    hours: f64,
}

impl Sums {
    fn add(&mut self, layer: Layer, counts: &Counts) {
        match self.outputs.iter_mut().find(|(own, _)| *own == layer) {
            Some((_, own)) => own.add(counts),
            None => self.outputs.push((layer, *counts)),
        }
    }

    fn join(&mut self, other: &Sums) {
        other.outputs.iter().for_each(|(layer, counts)| self.add(*layer, counts));
        self.late += other.late;
        self.hours += other.hours;
    }
}

/// Keeps the numbers of the layers that come out in one tick.
#[derive(Default)]
struct Tape(Vec<(Layer, f64)>);

impl Sink for Tape {
    fn send(&mut self, _: u32, message: Message, origin: Origin) -> bool {
        let number = match message {
            Message::Controller { value, .. } => f64::from(value),
            Message::PitchBend { value, .. } => f64::from(value),
            _ => return true,
        };
        if let Origin::Layer(layer) = origin {
            self.0.push((layer, number));
        }
        true
    }
}

/// The events of a line in ticks, with their frames within the tick.
fn events(take: &File, (track, channel, source): (usize, u8, u8)) -> Vec<(u64, Timed)> {
    let tempo = take.tempo_map();
    let heard = take.tracks[track].iter().filter(|event| match event.channel_message() {
        Some((0x80 | 0x90, own)) => own == channel,
        Some((0xB0, own)) => own == channel && event.bytes[1] == source,
        _ => false,
    });
    let timed = heard.filter_map(|event| {
        let input = Input::Midi(Message::from_bytes(&event.bytes)?);
        let frame = (tempo.seconds(event.tick) * RATE_HZ).round() as u64;
        let (tick, frame) = (frame / u64::from(TICK_FRAMES), frame % u64::from(TICK_FRAMES));
        Some((tick, Timed { frame: frame as u32, tag: 0, input }))
    });
    timed.collect()
}

/// Plays a take on a patch, tick by tick.
fn watch(take: &Take, patch: &Patch) -> Sums {
    let events = events(&take.1, take.2);
    let outputs = &patch.target.outputs[..patch.target.output_count];
    let pitches = outputs.iter().filter(|output| output.layer == Layer::Pitch);
    let swing_ticks = pitches.map(|it| ticks(it.interval_s)).fold(SWING_TICKS, u64::min);
    let watches = outputs.iter().map(|output| Watch::of(output, swing_ticks));
    let mut watches: Vec<Watch> = watches.collect();
    let mut engine = Section::prepare(RATE_HZ, patch);
    let last = events.last().map_or(0, |(tick, _)| *tick) + (AFTER_S * 1000.0) as u64;
    let (mut next, mut input, mut tape) = (0, Vec::new(), Tape::default());
    for tick in 0..last {
        input.clear();
        while let Some((_, timed)) = events.get(next).filter(|(at, _)| *at == tick) {
            input.push(*timed);
            next += 1;
        }
        tape.0.clear();
        // The tick is the block's first frame, so the view is that of all its messages.
        engine.process(TICK_FRAMES, &input, &mut tape);
        let view = engine.view();
        for watch in &mut watches {
            watch.tick(tick, &view, patch);
            let own = watch.output.layer;
            for (_, number) in tape.0.iter().filter(|(layer, _)| *layer == own) {
                watch.sent(*number, input.is_empty());
            }
        }
    }
    let mut sums = Sums { late: engine.losses().late_values, ..Sums::default() };
    sums.hours = last as f64 / 3.6e6;
    watches.iter().for_each(|watch| sums.add(watch.output.layer, &watch.counts()));
    sums
}

/// Plays all takes, each by the patch that listens to its controller.
fn watch_all<'a>(takes: impl Iterator<Item = &'a Take> + Clone + Send, patches: &[Patch]) -> Sums {
    let part = |number: usize, takes: &mut dyn Iterator<Item = &'a Take>| {
        let mut sums = Sums::default();
        for take in takes.skip(number).step_by(THREAD_COUNT) {
            let source = Source::Controller(take.2.2);
            let patch = patches.iter().find(|patch| patch.hand.source == source).expect("a hand");
            sums.join(&watch(take, patch));
        }
        sums
    };
    let mut sums = Sums::default();
    thread::scope(|scope| {
        let threads: Vec<_> = (0..THREAD_COUNT)
            .map(|number| {
                let mut takes = takes.clone();
                scope.spawn(move || part(number, &mut takes))
            })
            .collect();
        threads.into_iter().for_each(|thread| sums.join(&thread.join().expect("no panic")));
    });
    sums
}

/// An erhu under a wheel and under a breath, on a shipped target.
fn patches(target: &str) -> Vec<Patch> {
    let sources = [1, 2].map(Source::Controller);
    let patch = |source: Source| {
        let mut patch = settings("erhu", target, 1.0).patch;
        patch.hand.source = source;
        if target == "generic" {
            // The receiver's own vibrato is told even numbers, and the view is to show them.
            (patch.vibrato.rate_spread, patch.vibrato.width_spread) = (0.0, 0.0);
            patch.vibrato.arch = 0.0;
        }
        patch
    };
    sources.map(patch).to_vec()
}

/// The same with error bounds, on a channel and at intervals that never bind.
fn thrifty(target: &str) -> Vec<Patch> {
    let mut patches = patches(target);
    for patch in &mut patches {
        patch.target.messages_per_s = 10_000.0;
        patch.target.burst_messages = 1_000.0;
        for output in &mut patch.target.outputs[..patch.target.output_count] {
            output.interval_s = 0.001;
            let bounds = if output.layer == Layer::Pitch { PITCH_BOUND } else { BOUND };
            output.error_bound = bounds;
        }
    }
    patches
}

/// How many times the fewest each output may send, and all of a target's together.
const RATIO_MAX: f64 = 1.12;
const RATIO_TOGETHER_MAX: f64 = 1.10;
const MADE_UP: f64 = 0.01; // the promise is for real hands, not for a made-up wheel

/// The rows of a table, which is printed: outputs as they are in the files, or with bounds.
fn table(name: &str, target: &str, sums: &Sums) -> String {
    let mut rows = String::new();
    for (layer, counts) in &sums.outputs {
        let Counts { sent, fewest_in_time, fewest, changes, .. } = counts;
        let (in_time, ratio) = (counts.ratio(*fewest_in_time), counts.ratio(*fewest));
        let row = format!(
            "| {name} | {target} | {layer:?} | {sent} | {fewest_in_time} | \
             {in_time:.3} | {fewest} | {ratio:.3} | {changes} |"
        );
        writeln!(rows, "{row}").expect("a string");
    }
    println!("{rows}{:.1} hours, {} numbers had to wait", sums.hours, sums.late);
    rows
}

/// A number says what its layer's value is, or all counting is in vain.
#[track_caller]
fn check_truth(sums: &Sums) {
    for (layer, Counts { looked_at, untrue, .. }) in &sums.outputs {
        assert!(*looked_at > 500, "{layer:?}: {looked_at} numbers looked at");
        assert!(untrue * 200 <= *looked_at, "{layer:?}: {untrue} of {looked_at} are not true");
    }
}

#[test]
fn the_shipped_targets_send_fewer_numbers_than_keep_every_value() {
    let (folk, recorded) = (folk_takes(), recorded_takes());
    let mut rows = String::new();
    for target in ["generic", "perform"] {
        let patches = patches(target);
        for (name, takes) in [("folk", &folk), ("recorded", &recorded)] {
            let sums = watch_all(takes.iter(), &patches);
            rows += &table(name, target, &sums);
            check_truth(&sums);
            for (layer, counts) in &sums.outputs {
                let Counts { fewest, fewest_in_time, .. } = *counts;
                // The intervals bind: what is sent is less than what no bound of half a step
                // could do without, and little more than the fewest at these intervals. The
                // rest are numbers that a note-on does not let wait.
                let (ratio, in_time) = (counts.ratio(fewest), counts.ratio(fewest_in_time));
                assert!(ratio <= 1.0, "{name}, {target}, {layer:?}: {ratio}");
                assert!(in_time <= 1.20, "{name}, {target}, {layer:?}: {in_time}");
            }
        }
    }
    let tunes = said(MELODY_COUNT);
    figure("economy", &format!("{tunes} folk melodies, once more under recorded hands:\n{rows}"));
}

/// Everything that is sent counts, on both sides.
#[track_caller]
fn check_ratios(name: &str, target: &str, sums: &Sums) {
    let whole = if name == "folk" { MADE_UP } else { 0.0 };
    let strays = if is_whole() { whole } else { SAMPLE_STRAYS + whole };
    let mut together = Counts::default();
    for (layer, counts) in &sums.outputs {
        let ratio = counts.ratio(counts.fewest);
        assert!(ratio <= RATIO_MAX + strays, "{name}, {target}, {layer:?}: {ratio}");
        assert!(counts.sent * 2 < counts.changes, "{name}, {target}, {layer:?}");
        together.add(counts);
    }
    let ratio = together.ratio(together.fewest);
    println!("{name}, {target}, together: {ratio:.3}");
    assert!(ratio <= RATIO_TOGETHER_MAX + strays, "{name}, {target}, together: {ratio}");
}

#[test]
fn bounds_save_most_numbers_on_real_hands() {
    let (folk, recorded) = (folk_takes(), recorded_takes());
    let mut rows = String::new();
    for target in ["generic", "perform"] {
        let patches = thrifty(target);
        for (name, takes) in [("folk", &folk), ("recorded", &recorded)] {
            let sums = watch_all(takes.iter(), &patches);
            rows += &table(name, target, &sums);
            check_truth(&sums);
            assert_eq!(sums.late, 0, "nothing has to wait");
            check_ratios(name, target, &sums);
        }
    }
    let tunes = said(MELODY_COUNT);
    figure("economy-bounds", &format!("{tunes} folk melodies with error bounds:\n{rows}"));
}
