//! Pictures of takes, read again as XML.

use polso::engine::patch::Source;
use polso::offline::plot::{LIGHT, PlotStyle, SecondTake, plot_bytes};
use polso::offline::{Provenance, Settings};
use polso::profile::{self, Instrument};

pub use crate::written::take;

/// The take of the examples.
pub const FERRY: &[u8] = include_bytes!("../../examples/last-ferry.mid");

/// A shipped instrument.
pub fn instrument(name: &str) -> Instrument {
    profile::load::<Instrument>(name).expect("a shipped instrument").profile
}

/// What is drawn, and how.
pub struct Wish<'a> {
    pub take: &'a [u8],
    pub other: Option<&'a [u8]>,
    pub instrument: Instrument,
    pub bars: Option<&'a str>,
    pub width: u32,
}

/// A picture of a take as wide as a page.
pub fn wish<'a>(take: &'a [u8], name: &str) -> Wish<'a> {
    Wish { take, other: None, instrument: instrument(name), bars: None, width: 1600 }
}

/// The picture as SVG.
pub fn draw(wish: &Wish) -> String {
    let target = profile::load("generic").expect("a shipped target").profile;
    let hand = profile::hand_for(Source::Controller(1)).expect("a hand").profile;
    let styles = wish.instrument.vibrato.styles.iter().map(|style| style.name.clone());
    let settings = Settings {
        patch: profile::patch(&wish.instrument, &target, &hand, 1, 1.0).expect("a patch"),
        styles: styles.collect(),
        provenance: Provenance::default(),
        imperfection: 1.0,
        tracks: Vec::new(),
        channels: Vec::new(),
        bars: wish.bars.map(|bars| bars.parse().expect("bars")),
        wishes: Default::default(),
        is_forced: false,
    };
    let look = PlotStyle { width: wish.width, theme: LIGHT, title: "take".to_owned() };
    let other = wish.other.map(|bytes| SecondTake { take: bytes.into(), name: "other" });
    plot_bytes(wish.take, other, &settings, &wish.instrument, &look).expect("a picture").svg
}

/// The group of this id.
pub fn group<'a>(tree: &'a roxmltree::Document, id: &str) -> roxmltree::Node<'a, 'a> {
    let found = tree.descendants().find(|node| node.attribute("id") == Some(id));
    found.unwrap_or_else(|| panic!("the picture has a group {id}"))
}

/// The words of a group, in order.
pub fn words(node: roxmltree::Node) -> Vec<String> {
    let texts = node.descendants().filter(|node| node.has_tag_name("text"));
    texts.filter_map(|node| node.text()).map(str::to_owned).collect()
}

/// An attribute as a number.
pub fn number(node: roxmltree::Node, name: &str) -> f64 {
    let text = node.attribute(name).unwrap_or_else(|| panic!("{name} is given"));
    text.parse().unwrap_or_else(|_| panic!("{name} is a number"))
}
