//! Shaping in memory: shipped instruments on every receiver that the tests know.

use polso::engine::patch::{Patch, Source};
use polso::offline::{LaneRule, Provenance, Settings, shape_over_lanes};
use polso::profile::shipped::SHIPPED;
use polso::profile::{self, Hand, Instrument};

use super::invariants::{Case, Looked, Target, breaches};
use super::smf::File;

/// The receivers, as their files have them.
pub const TARGETS: [Target; 3] = [
    Target {
        name: "generic",
        outputs: &[
            (11, 0, 127),
            (77, 64, 127),
            (76, 1, 127),
            (70, 0, 127),
            (91, 0, 127),
            // Joins by portamento.
            (5, 0, 127),
            (65, 0, 127),
            (84, 0, 127),
        ],
        keyswitches: &[],
        bend_cents: None,
    },
    Target { name: "perform", outputs: &[(11, 0, 127)], keyswitches: &[], bend_cents: Some(200.0) },
    Target {
        name: concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/keyswitches.target.toml"),
        outputs: &[
            (20, 10, 110),
            (21, 0, 100),
            (91, 5, 90),
            // Portamento time, switch and control (MIDI 1.0).
            (5, 40, 40),
            (65, 0, 127),
            (84, 0, 127),
        ],
        keyswitches: &[12, 13, 14, 15, 16, 17, 18, 19],
        bend_cents: Some(200.0),
    },
];

/// One instrument on one receiver, ready to play.
pub struct Player {
    pub name: String,
    pub target: &'static Target,
    range: (u8, u8),
    forced_open: Vec<u8>,
    patches: Vec<(u8, Patch)>,
}

/// The instruments that stand for all: bowed with two strings and with four, and blown.
const MAIN: [&str; 3] = ["erhu", "violin", "dizi-d"];

/// The main instruments on every receiver, listening to these controllers.
pub fn main_players(sources: &[u8]) -> Vec<Player> {
    players_of(&MAIN, sources)
}

/// Every shipped instrument on every receiver, the main ones first.
pub fn players(sources: &[u8]) -> Vec<Player> {
    let mut all = main_players(sources);
    all.extend(other_players(sources));
    all
}

/// All other shipped instruments on every receiver.
pub fn other_players(sources: &[u8]) -> Vec<Player> {
    let shipped = SHIPPED.iter().filter(|file| file.text.contains("polso = \"instrument\""));
    let ids: Vec<&str> = shipped.map(|file| file.id).collect();
    let others: Vec<&str> = ids.iter().copied().filter(|id| !MAIN.contains(id)).collect();
    assert!(others.len() >= 14, "shipped instruments: {ids:?}");
    players_of(&others, sources)
}

fn players_of(ids: &[&str], sources: &[u8]) -> Vec<Player> {
    let pairs = ids.iter().flat_map(|id| TARGETS.iter().map(move |target| (*id, target)));
    pairs.map(|(id, target)| player(id, target, sources)).collect()
}

fn player(id: &str, target: &'static Target, sources: &[u8]) -> Player {
    let instrument = profile::load::<Instrument>(id).expect("a shipped instrument").profile;
    let receiver = profile::load::<profile::Target>(target.name).expect("a receiver").profile;
    let patches = sources.iter().map(|number| {
        let hand: Hand = profile::hand_for(Source::Controller(*number)).expect("a hand").profile;
        let patch = profile::patch(&instrument, &receiver, &hand, 1, 1.0).expect("a patch");
        (*number, patch)
    });
    Player {
        name: format!("{id} on {}", receiver.about.id),
        target,
        patches: patches.collect(),
        range: instrument.range.hard_keys,
        forced_open: instrument.strings.map(|strings| strings.forced_open_keys).unwrap_or_default(),
    }
}

impl Player {
    /// Shapes one line of the take, tracks counted from 0.
    pub fn shape(&self, take: &[u8], track: usize, source: u8) -> Vec<u8> {
        let (_, patch) = self.patches.iter().find(|(number, _)| *number == source).expect("a hand");
        let settings = Settings {
            patch: *patch,
            styles: ["plain", "rolled", "pressed", "finger"].map(String::from).to_vec(),
            provenance: Provenance::default(),
            imperfection: 1.0,
            tracks: vec![track + 1],
            channels: Vec::new(),
            bars: None,
            wishes: Default::default(),
            is_forced: false,
        };
        // One of the recorded lines has a rate of its own, on CC 76.
        let shaped = shape_over_lanes(take, &settings, LaneRule::Keep);
        shaped.expect("the take can be shaped").bytes
    }

    /// Shapes one line of the take and holds the result against every rule.
    pub fn judge(
        &self,
        take: &File,
        (track, channel, source): (usize, u8, u8),
        looked: &mut Looked,
    ) -> Vec<String> {
        let shaped = self.shape(&take.write(), track, source);
        let shaped = match File::read(&shaped) {
            Ok(shaped) => shaped,
            Err(sentence) => return vec![format!("what came out cannot be read: {sentence}")],
        };
        let case = Case {
            played: take,
            shaped: &shaped,
            track,
            channel,
            source,
            range: self.range,
            forced_open: &self.forced_open,
            target: self.target,
        };
        breaches(&case, looked)
    }
}
