//! What shaping did to a line, in numbers and in sentences that a player would ask for.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::engine::patch::TargetPatch;
use crate::engine::reason::Reason;
use crate::engine::{Layer, Origin};
use crate::engine::{Losses, Mode, Phrase};
use crate::offline::destination::Destination;
use crate::offline::perform::{Fed, Observation, SentMessage};

/// Everything that `shape` did.
#[derive(Clone, Debug, Serialize)]
pub struct Report {
    /// The lines.
    pub lines: Vec<LineReport>,
    /// What the user should know about the choice of lines and the file, one sentence each.
    pub notices: Vec<String>,
    /// What works against itself, one sentence each.
    pub conflicts: Vec<String>,
}

/// What `shape` did to one line.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LineReport {
    /// The track, from 1.
    pub track: usize,
    /// The channel, from 1.
    pub channel: u8,
    /// Notes of the line.
    pub notes: usize,
    /// How long the line is, or the bars that were shaped.
    pub length_s: f64,
    /// Where the gesture came from.
    pub source: String,
    /// Messages that were taken out of the take (and kept for `peel`).
    pub consumed: usize,
    /// Note-ons with another velocity than played.
    pub velocities_changed: usize,
    /// Note-offs at another time than played.
    pub offs_moved: usize,
    /// What each output sent.
    pub outputs: Vec<OutputReport>,
    /// How often each legato mode was chosen.
    pub modes: BTreeMap<&'static str, usize>,
    /// Why, most frequent first.
    pub mode_reasons: Vec<Counted>,
    /// Where the articulation changes, and to which.
    pub articulations: Vec<String>,
    /// What was asked of single notes and what came of it, one sentence each.
    pub wishes: Vec<String>,
    /// Why there was vibrato or none, shares of the sounding time, largest first.
    pub vibrato_reasons: Vec<Share>,
    /// How phrases ended, most frequent first.
    pub endings: Vec<Counted>,
    /// Messages lost and notes cut short inside the engine.
    pub dropped_messages: u64,
    /// Notes that ended early because too many sounded at once.
    pub stolen_notes: u64,
    /// Where nothing is heard of a note that sounds, since the gesture stands at nothing.
    pub silences: Vec<Silence>,
    /// Notes more than seven semitones outside the instrument's range, which no hand claims: they
    /// passed untouched and counted for nothing.
    pub foreign_notes: usize,
    /// The way from pitch to pitch that the target names: bend, portamento, receiver or none.
    pub transition: &'static str,
    /// How the pitch of each joined note got there, most frequent first.
    pub transitions: Vec<Counted>,
    /// To how many voices the notes were shared out, and who leads or where each is heard; nothing
    /// for one line.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voices: Option<String>,
    /// Keys struck again with a join back when the note over them ended.
    pub struck_again: usize,
}

/// A silence that the gesture asked for.
#[derive(Clone, Debug, Serialize)]
pub struct Silence {
    /// Bar and beat of its beginning, `12.3`, or the tick where there are no bars.
    pub beat: String,
    /// How long it is.
    pub length_s: f64,
}

/// What one output sent.
#[derive(Clone, Debug, Serialize)]
pub struct OutputReport {
    /// What drives it.
    pub layer: String,
    /// Where it goes.
    pub address: String,
    /// Messages.
    pub messages: usize,
    /// Messages a second over the line.
    pub per_second: f64,
    /// The lowest value sent (of keyswitches, the key).
    pub lowest: u16,
    /// The highest.
    pub highest: u16,
}

/// How often something was decided, and why.
#[derive(Clone, Debug, Serialize)]
pub struct Counted {
    /// The reason's stable name.
    pub reason: &'static str,
    /// Its sentence.
    pub sentence: &'static str,
    /// How often.
    pub count: usize,
}

/// For how much of the time something was so, and why.
#[derive(Clone, Debug, Serialize)]
pub struct Share {
    /// The reason's stable name.
    pub reason: &'static str,
    /// Its sentence.
    pub sentence: &'static str,
    /// Share of the sounding time, 0..=1.
    pub share: f64,
}

/// Counts while the line is played.
#[derive(Debug)]
pub struct LineTally {
    frames: std::ops::Range<u64>,
    modes: BTreeMap<Mode, usize>,
    mode_reasons: BTreeMap<Reason, usize>,
    transitions: BTreeMap<Reason, usize>,
    sounding_frames: u64,
    vibrato_frames: BTreeMap<Reason, u64>,
    endings: BTreeMap<Reason, usize>,
    phrase: Phrase,
    silences: Vec<std::ops::Range<u64>>,
}

impl LineTally {
    /// A tally of these frames.
    pub fn new(frames: std::ops::Range<u64>) -> LineTally {
        LineTally {
            frames,
            modes: BTreeMap::new(),
            mode_reasons: BTreeMap::new(),
            transitions: BTreeMap::new(),
            sounding_frames: 0,
            vibrato_frames: BTreeMap::new(),
            endings: BTreeMap::new(),
            phrase: Phrase::Rest,
            silences: Vec::new(),
        }
    }

    /// Counts what the engine shows.
    pub fn look(&mut self, look: &Observation) {
        let view = look.view;
        let ended = self.phrase == Phrase::Sounding && view.phrase != Phrase::Sounding;
        self.phrase = view.phrase;
        if !self.frames.contains(&(look.frame - 1)) {
            return;
        }
        if view.silence.is_some() {
            self.count_silence(look.frame - u64::from(look.frames)..look.frame);
        }
        for view in look.began() {
            *self.modes.entry(view.mode).or_default() += 1;
            *self.mode_reasons.entry(view.legato_reason).or_default() += 1;
            if view.mode != Mode::Fresh {
                *self.transitions.entry(view.transition_reason).or_default() += 1;
            }
        }
        if view.phrase == Phrase::Sounding {
            self.sounding_frames += u64::from(look.frames);
            *self.vibrato_frames.entry(view.vibrato_reason).or_default() += u64::from(look.frames);
        }
        if ended {
            *self.endings.entry(view.tail_reason).or_default() += 1;
        }
    }

    /// One silence goes on from look to look.
    fn count_silence(&mut self, frames: std::ops::Range<u64>) {
        match self.silences.last_mut() {
            Some(last) if last.end == frames.start => last.end = frames.end,
            _ => self.silences.push(frames),
        }
    }

    /// The frames of every silence that the gesture asked for.
    pub fn silences(&self) -> &[std::ops::Range<u64>] {
        &self.silences
    }

    /// Puts the counts into a report.
    pub fn fill(self, report: &mut LineReport, losses: Losses) {
        report.modes = self.modes.iter().map(|(mode, count)| (mode.name(), *count)).collect();
        report.mode_reasons = counted(&self.mode_reasons);
        report.transitions = counted(&self.transitions);
        report.endings = counted(&self.endings);
        let share = |(reason, frames): (&Reason, &u64)| Share {
            reason: reason.code(),
            sentence: reason.sentence(),
            share: *frames as f64 / self.sounding_frames as f64,
        };
        report.vibrato_reasons = self.vibrato_frames.iter().map(share).collect();
        report.vibrato_reasons.sort_by(|one, other| other.share.total_cmp(&one.share));
        report.dropped_messages = losses.dropped_messages;
        report.stolen_notes = losses.stolen_notes;
    }
}

fn counted(counts: &BTreeMap<Reason, usize>) -> Vec<Counted> {
    let mut counted: Vec<Counted> = counts
        .iter()
        .map(|(reason, count)| Counted {
            reason: reason.code(),
            sentence: reason.sentence(),
            count: *count,
        })
        .collect();
    counted.sort_by_key(|counted| std::cmp::Reverse(counted.count));
    counted
}

/// What each output sent over `length_s`. `styles` are the instrument's names of its styles.
pub fn outputs(sent: &[SentMessage], styles: &[String], length_s: f64) -> Vec<OutputReport> {
    let mut sums: BTreeMap<(Layer, Destination), (usize, u16, u16)> = BTreeMap::new();
    for sent in sent {
        let Origin::Layer(layer) = sent.origin else { continue };
        let (address, value) = Destination::of(sent.message);
        let (count, lowest, highest) =
            sums.entry((layer, address)).or_insert((0, u16::MAX, u16::MIN));
        *count += 1;
        *lowest = value.min(*lowest);
        *highest = value.max(*highest);
    }
    let each =
        sums.into_iter().map(|((layer, address), (messages, lowest, highest))| OutputReport {
            layer: layer_name(layer, styles),
            address: address.to_string(),
            messages,
            per_second: if length_s > 0.0 { messages as f64 / length_s } else { 0.0 },
            lowest,
            highest,
        });
    each.collect()
}

/// The layer as targets write it.
pub fn layer_name(layer: Layer, styles: &[String]) -> String {
    let name = match layer {
        Layer::Dynamics => "dynamics",
        Layer::Expression => "expression",
        Layer::VibratoWidth => "vibrato_width",
        Layer::VibratoRate => "vibrato_rate",
        Layer::Style => "style",
        Layer::StyleWeight(index) => {
            let style = styles.get(usize::from(index));
            return match style {
                Some(style) => format!("style_weight.{style}"),
                None => format!("style_weight.{index}"),
            };
        }
        Layer::Pitch => "pitch",
        Layer::Legato => "legato",
        Layer::Articulation => "articulation",
        Layer::Slide => "slide",
        Layer::Send => "send",
        Layer::Gesture => "gesture",
        Layer::Brightness => "brightness",
    };
    name.into()
}

/// What works against itself: two ways to get vibrato at once, and messages of the take that
/// pass to an address which an output drives too.
pub fn conflicts(target: &TargetPatch, sent: &[SentMessage], fed: &[Fed]) -> Vec<String> {
    let drives = |layer: Layer| {
        target.outputs[..target.output_count].iter().any(|output| output.layer == layer)
    };
    let mut conflicts = Vec::new();
    if drives(Layer::Pitch) && (drives(Layer::VibratoWidth) || drives(Layer::VibratoRate)) {
        conflicts.push(
            "the target asks for vibrato twice: by pitch bend and by the receiver's own vibrato"
                .to_owned(),
        );
    }
    let mut passed: BTreeMap<Destination, usize> = BTreeMap::new();
    let mut driven: BTreeMap<Destination, Layer> = BTreeMap::new();
    for sent in sent {
        let (address, _) = Destination::of(sent.message);
        match sent.origin {
            Origin::Passed(tag) if fed.get(tag as usize).is_some() => {
                *passed.entry(address).or_default() += 1;
            }
            Origin::Layer(layer) => {
                driven.entry(address).or_insert(layer);
            }
            _ => {}
        }
    }
    for (address, count) in passed {
        if let Some(layer) = driven.get(&address) {
            let layer = layer_name(*layer, &[]);
            conflicts.push(format!(
                "{count} {address} messages of the take pass and meet the {layer} output on {address}"
            ));
        }
    }
    conflicts
}
