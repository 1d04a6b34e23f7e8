//! A receiver: at which address it hears each layer, and how it is told legato and articulation.

use super::about::About;
use super::address::{Stream, streams};
use super::articulation::{read_choice, read_told};
use super::kind::FileKind;
use super::load::Profile;
use super::output::{self, Drives, OUTPUT_NAMES, OutputTable};
use super::table_reader::TableReader;
use super::transition;
use super::voices::read_channels;
use crate::engine::Layer;
use crate::engine::Mode;
use crate::engine::input::message::{
    LEGATO_SWITCH, PORTAMENTO_CONTROL, PORTAMENTO_SWITCH, PORTAMENTO_TIME,
};
use crate::engine::patch::{
    Address, ArticulationPatch, ChoicePatch, JoinedVelocity, ModePatch, OUTPUTS_MAX, SlidePatch,
    StyleLaw, TransitionPatch, TransitionWay,
};

/// What a slide or a portamento is told by.
const SLIDE_CONTROLLERS: [u8; 3] = [PORTAMENTO_TIME, PORTAMENTO_SWITCH, PORTAMENTO_CONTROL];

/// One receiver.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// Who and what it is.
    pub about: About,
    /// The outputs in the order of the path, at most 16 of them on.
    pub outputs: Vec<OutputTable>,
    /// The receiver's bend range, semitones either way, 1..=96.
    pub bend_range_semitones: f64,
    /// Tell the receiver its bend range by RPN 0 at each resync.
    pub sends_bend_range: bool,
    /// Messages a second that the channel carries.
    pub messages_per_s: f64,
    /// Messages that it takes at once.
    pub burst_messages: f64,
    /// How the receiver is told the legato mode.
    pub legato: ModePatch,
    /// How it is told the articulation.
    pub articulations: ArticulationPatch,
    /// How it is told to slide, if it is.
    pub slide: Option<SlidePatch>,
    /// What the velocities of joined notes say.
    pub joined_velocity: JoinedVelocity,
    /// How style weights reach a receiver that has styles of its own.
    pub style_law: StyleLaw,
    /// Exponent that hurries through the middle of a crossfade; 1 is off.
    pub quick_through: f64,
    /// How the pitch gets from note to note.
    pub transition: TransitionPatch,
    /// The channels of several voices, from 1, the highest first, all different; empty where all
    /// share one.
    pub channels: Vec<u8>,
}

impl Profile for Target {
    const KIND: FileKind = FileKind::Target;

    fn read(root: &TableReader<'_>) -> Target {
        let about = About::read(root, None);
        let channels = read_channels(root);
        let outputs = read_outputs(&root.table("outputs"));
        let bend = root.table("bend");
        let bend_range_semitones = bend.number("range_semitones", 1.0..=96.0, Some(2.0));
        let sends_bend_range = bend.flag("send_range", false);
        let channel = root.table("channel");
        // A five-pin cable of 31,250 baud carries 1,041 messages a second for all its channels
        // (MIDI 1.0); 250 for one line leaves it room.
        let messages_per_s = channel.number("messages_per_s", 20.0..=10_000.0, Some(400.0));
        let burst_messages = channel.number("burst_messages", 10.0..=1_000.0, Some(40.0));
        let legato = read_choice(&root.table("legato"), Mode::ALL.map(Mode::name), "joined");
        let articulations = read_told(&root.table("articulations"), legato);
        let slide = read_slide(&root.table("slide"));
        let joined_velocity = read_joined_velocity(root);
        let styles = root.table("styles");
        let laws = [
            ("equal-gain", StyleLaw::EqualGain),
            ("equal-power", StyleLaw::EqualPower),
            ("latched", StyleLaw::Latched),
        ];
        let style_law = styles.choice("law", &laws, Some(StyleLaw::EqualGain));
        let quick_through = styles.number("quick_through", 1.0..=6.0, Some(1.0));
        let told =
            [("legato", stream_of(&legato)), ("articulations", stream_of(&articulations.choice))];
        let joins_itself = legato != ChoicePatch::Silent || slide.is_some();
        let transition = transition::read(root, &outputs, joins_itself);
        let joins = join_streams(slide, &transition);
        refuse_shared_streams(root, &outputs, sends_bend_range, told, joins);
        refuse_two_vibratos(root, &outputs);
        Target {
            about,
            outputs,
            bend_range_semitones,
            sends_bend_range,
            messages_per_s,
            burst_messages,
            legato,
            articulations,
            slide,
            joined_velocity,
            style_law,
            quick_through,
            transition,
            channels,
        }
    }
}

fn read_outputs(table: &TableReader<'_>) -> Vec<OutputTable> {
    let mut outputs = Vec::new();
    for name in OUTPUT_NAMES {
        if table.gives(name) {
            outputs.extend(output::read_named(table, name));
        } else {
            table.accept(name);
        }
    }
    let weights = table.table("style_weight");
    let mut names = weights.names();
    names.sort_unstable();
    for name in names {
        let drives = Drives::StyleWeight(name.to_owned());
        outputs.push(output::read(&weights.table(name), drives));
    }
    let count = outputs.iter().filter(|output| output.is_on).count();
    if count > OUTPUTS_MAX {
        let found = format!("{count} tables that are on");
        table.refuse("style_weight", found, format!("at most {OUTPUTS_MAX} outputs"));
    }
    outputs
}

/// The stream that a choice goes out on; keys need none.
fn stream_of<const N: usize>(choice: &ChoicePatch<N>) -> Option<Stream> {
    match choice {
        ChoicePatch::Controller { number, .. } => Some(Stream::Controller(*number)),
        ChoicePatch::Program(_) => Some(Stream::Other(Address::Program)),
        ChoicePatch::Silent | ChoicePatch::Keyswitch { .. } => None,
    }
}

fn read_slide(table: &TableReader<'_>) -> Option<SlidePatch> {
    table.is_given().then(|| SlidePatch {
        time: table.whole("time", 0..=127, None) as u8,
        says_source_key: table.flag("says_source_key", false),
    })
}

/// The ways in which a joined note's velocity may speak.
#[derive(Clone, Copy, PartialEq)]
enum JoinedWord {
    Blended,
    Played,
    Speed,
}

/// A file that gives the two speeds and no word means them. With another word they are passed
/// over, so that a target based on such a one can take another way.
fn read_joined_velocity(root: &TableReader<'_>) -> JoinedVelocity {
    let table = root.table("speed_velocity");
    let speed = table.is_given().then(|| {
        let read = |name| table.whole(name, 1..=127, None) as u8;
        JoinedVelocity::Speed { slow: read("slow"), fast: read("fast") }
    });
    let words = [
        ("blended", JoinedWord::Blended),
        ("played", JoinedWord::Played),
        ("speed", JoinedWord::Speed),
    ];
    let says = root.gives("joined_velocity");
    let word = root.choice("joined_velocity", &words, Some(JoinedWord::Blended));
    match (word, speed) {
        (_, Some(speed)) if !says || word == JoinedWord::Speed => speed,
        (JoinedWord::Speed, _) => {
            let allowed = "\"blended\" or \"played\" without a table speed_velocity";
            root.refuse("joined_velocity", "\"speed\"", allowed);
            JoinedVelocity::Blended
        }
        (JoinedWord::Blended, _) => JoinedVelocity::Blended,
        (JoinedWord::Played, _) => JoinedVelocity::Played,
    }
}

/// The streams that joins are told by.
fn join_streams(
    slide: Option<SlidePatch>,
    transition: &TransitionPatch,
) -> Vec<(Stream, &'static str)> {
    let is_portamento = transition.way == TransitionWay::Portamento;
    let mut streams = Vec::new();
    let mut take = |number: u8, name| streams.push((Stream::Controller(number), name));
    if slide.is_some() {
        SLIDE_CONTROLLERS.iter().for_each(|&number| take(number, "slide"));
    } else if is_portamento {
        SLIDE_CONTROLLERS.iter().for_each(|&number| take(number, "transition"));
    }
    if transition.has_legato_switch {
        take(LEGATO_SWITCH, "transition.legato_switch");
    }
    streams
}

/// Two outputs at one address would overwrite each other.
fn refuse_shared_streams(
    root: &TableReader<'_>,
    outputs: &[OutputTable],
    sends_bend_range: bool,
    told: [(&'static str, Option<Stream>); 2],
    joins: Vec<(Stream, &'static str)>,
) {
    // Mode and articulation may share one: each is told anew after the other.
    let told = told.into_iter().filter_map(|(name, stream)| Some((stream?, name)));
    let mut taken: Vec<(Stream, &str)> = told.collect();
    for (stream, name) in &taken {
        if let Some((_, join)) = joins.iter().find(|join| join.0 == *stream) {
            let found = format!("an address that {join} uses too");
            root.table(name).refuse("by", found, "an address of its own");
        }
    }
    taken.extend(joins);
    if sends_bend_range {
        // MIDI 1.0: RPN 0 is the bend range.
        taken.push((Stream::Other(Address::Registered(0)), "bend.send_range"));
    }
    let is_known = |output: &&OutputTable| {
        output.is_on && !root.log().has_refused(&format!("{}.address", output.path))
    };
    for output in outputs.iter().filter(is_known) {
        let own = streams(output.address);
        if let Some((_, other)) = taken.iter().find(|(stream, _)| own.contains(stream)) {
            let found = format!("an address that {other} uses too");
            let mut place = root.table("outputs");
            for name in output.path.split('.').skip(1) {
                place = place.table(name);
            }
            place.refuse("address", found, "an address of its own");
        }
        taken.extend(own.into_iter().map(|stream| (stream, output.path.as_str())));
    }
}

/// A performed vibrato on top of the receiver's own would be vibrato twice.
fn refuse_two_vibratos(root: &TableReader<'_>, outputs: &[OutputTable]) {
    let is_on = |output: &&OutputTable| output.is_on;
    let driven = outputs.iter().filter(is_on).find(|output| output.drives.is_receivers_vibrato());
    let performed =
        outputs.iter().filter(is_on).find(|output| output.drives == Drives::Layer(Layer::Pitch));
    if let (Some(driven), Some(_)) = (driven, performed) {
        let found = format!("on while {} is on", driven.path);
        let allowed = "one of the two: drive the receiver's own vibrato, or perform it as pitch";
        root.table("outputs").refuse("pitch", found, allowed);
    }
}
