//! The player's own controller: where the gesture comes from and how its travel becomes music.

use super::about::About;
use super::address::{SOURCE_RULE, source, source_text};
use super::articulation::read_keys;
use super::fault::LoadError;
use super::kind::FileKind;
use super::load::{Loaded, Profile, check};
use super::table_reader::TableReader;
use super::voices::{VoiceChoice, read_voices};
use crate::engine::patch::{ARTICULATIONS_MAX, LeadingVoice, Response, Source};

/// How much travel a controller needs at least between rest and full, share of its range.
pub const TRAVEL_MIN: f64 = 0.1;
/// Foot controllers by MIDI 1.0 number: foot, expression, and the pedals from damper to soft.
const PEDALS: [u8; 6] = [4, 11, 64, 65, 66, 67];
/// The breath controller of MIDI 1.0.
const BREATH_CONTROLLER: u8 = 2;

/// One controller.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    /// Who and what it is.
    pub about: About,
    /// Where the gesture comes from.
    pub source: Source,
    /// The source's messages go on to the receiver too; else they are consumed.
    pub source_passes: bool,
    /// The player blows into it.
    pub is_breath: bool,
    /// Raw value that counts as 0, share of the source's range.
    pub low: f64,
    /// Raw value that counts as 1, share; at least 0.1 above `low`.
    pub high: f64,
    /// The controller is turned round: `low` is full.
    pub is_inverted: bool,
    /// Share of the travel that still counts as rest, 0..=0.4.
    pub dead_zone_rest: f64,
    /// Share of the travel that already counts as full, 0..=0.4.
    pub dead_zone_full: f64,
    /// The gesture until the controller moves, 0..=1.
    pub rest: f64,
    /// The shape of the response.
    pub response: Response,
    /// Heaviness of the bow arm: scales the smoothing, 0.5..=3.
    pub weight: f64,
    /// The keys that choose articulations, by the places of the common list.
    pub articulation_keys: [Option<u8>; ARTICULATIONS_MAX],
    /// How keys that sound together are understood.
    pub voices: VoiceChoice,
    /// Whom the outputs follow where all voices share one channel.
    pub leading_voice: LeadingVoice,
}

impl Hand {
    /// The defaults for a source that nobody has measured yet.
    pub fn for_source(source: Source) -> Hand {
        let (low, high, dead_zone_rest, dead_zone_full) = match source {
            // An automated curve has no worn ends.
            Source::Parameter => (0.0, 1.0, 0.0, 0.0),
            // A bend wheel springs back to its middle, so only its upper half is a gesture;
            // a hundredth above the centre takes up the slack.
            Source::PitchBend => (0.51, 0.98, 0.02, 0.01),
            _ => (0.02, 0.98, 0.02, 0.01),
        };
        let k = match source {
            Source::Controller(BREATH_CONTROLLER) | Source::ControllerPair(BREATH_CONTROLLER) => {
                -0.5
            }
            Source::Controller(number) | Source::ControllerPair(number)
                if PEDALS.contains(&number) =>
            {
                1.0
            }
            Source::ChannelPressure | Source::PolyPressure | Source::MpePressure => 1.5,
            _ => 0.0,
        };
        Hand {
            about: About {
                id: "my-hand".to_owned(),
                names: Vec::new(),
                author: String::new(),
                licence: String::new(),
                notes: String::new(),
            },
            source,
            source_passes: false,
            is_breath: is_breath(source),
            low,
            high,
            is_inverted: false,
            dead_zone_rest,
            dead_zone_full,
            rest: 0.0,
            response: Response::Exponential(k),
            weight: 1.0,
            articulation_keys: [None; ARTICULATIONS_MAX],
            voices: VoiceChoice::LINE,
            leading_voice: LeadingVoice::Highest,
        }
    }

    /// A hand file that says no more than where the gesture comes from.
    pub fn text_for(source: Source) -> String {
        let source = source_text(source);
        format!("polso = \"hand\"\nformat = 1\n\n[controller]\nsource = \"{source}\"\n")
    }
}

impl Profile for Hand {
    const KIND: FileKind = FileKind::Hand;

    fn read(root: &TableReader<'_>) -> Hand {
        let about = About::read(root, Some("my-hand"));
        let (voices, leading_voice) = read_voices(root);
        let table = root.table("controller");
        let fits = |text: &str| source(text).is_some();
        let source = source(&table.text("source", SOURCE_RULE, None, fits));
        let usual = Hand::for_source(source.unwrap_or(Source::Controller(1)));
        let low = table.number("low", 0.0..=1.0, Some(usual.low));
        let high = table.number("high", 0.0..=1.0, Some(usual.high));
        if high < low + TRAVEL_MIN - 1e-9 {
            let allowed = format!("at least {TRAVEL_MIN} above low, which is {low}");
            table.refuse_beside(&["high", "low"], high.to_string(), allowed);
        }
        Hand {
            about,
            source: usual.source,
            source_passes: table.flag("passes", usual.source_passes),
            is_breath: table.flag("breath", usual.is_breath),
            low,
            high,
            is_inverted: table.flag("inverted", usual.is_inverted),
            dead_zone_rest: table.number("dead_zone_rest", 0.0..=0.4, Some(usual.dead_zone_rest)),
            dead_zone_full: table.number("dead_zone_full", 0.0..=0.4, Some(usual.dead_zone_full)),
            rest: table.number("rest", 0.0..=1.0, Some(usual.rest)),
            response: read_response(&table, usual.response),
            weight: table.number("weight", 0.5..=3.0, Some(usual.weight)),
            articulation_keys: read_keys(&root.table("articulations")),
            voices,
            leading_voice,
        }
    }
}

/// A hand with the defaults of its source, as if a file had named only that.
///
/// # Errors
/// None for a source that a hand file can name.
pub fn hand_for(source: Source) -> Result<Loaded<Hand>, LoadError> {
    check(&Hand::text_for(source))
        .map_err(|faults| LoadError::Faulty { name: "the hand".to_owned(), faults })
}

fn read_response(table: &TableReader<'_>, usual: Response) -> Response {
    let usual_k = match usual {
        Response::Exponential(k) => k,
        Response::Points(_) => 0.0,
    };
    if !table.gives("response") {
        table.accept("response");
        return Response::Exponential(table.number("response_k", -6.0..=6.0, Some(usual_k)));
    }
    if table.gives("response_k") {
        table.accept("response_k");
        table.refuse("response_k", "given beside response", "one of the two");
    }
    Response::Points(table.curve("response", 0.0..=1.0, 0.0..=1.0, None))
}

/// The breath controller of MIDI 1.0, coarse or with its fine half.
fn is_breath(source: Source) -> bool {
    let breath = BREATH_CONTROLLER;
    source == Source::Controller(breath) || source == Source::ControllerPair(breath)
}
