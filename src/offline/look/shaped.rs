//! By what a file was shaped, as the marker in it says.

use serde::Serialize;

use crate::engine::REVISION;
use crate::offline::midi::File;
use crate::offline::peel;
use crate::offline::record::{marker_engine, marker_field};

/// Who shaped a file, and with what.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShapedBy {
    /// The whole text of the marker.
    pub marker: String,
    /// The revision of the engine; this and all below are `None` where the marker is gone or does
    /// not say it.
    pub engine: Option<u32>,
    /// It is the revision of this program.
    pub is_own_revision: bool,
    /// The instrument's name and digest.
    pub instrument: Option<String>,
    /// The target's.
    pub target: Option<String>,
    /// The hand's.
    pub hand: Option<String>,
    /// The controller that was the gesture.
    pub source: Option<String>,
    /// The seed.
    pub seed: Option<u64>,
    /// The scale of the imperfection.
    pub imperfection: Option<f64>,
    /// The bars, or `all`.
    pub bars: Option<String>,
}

impl ShapedBy {
    /// `None` for a file that was never shaped.
    pub fn of(file: &File) -> Option<ShapedBy> {
        let marker = peel::shaped_mark(file)?;
        let text = |name| marker_field(&marker, name).map(str::to_owned);
        let engine = marker_engine(&marker);
        Some(ShapedBy {
            engine,
            is_own_revision: engine == Some(REVISION),
            instrument: text("instrument"),
            target: text("target"),
            hand: text("hand"),
            source: text("source"),
            seed: text("seed").and_then(|seed| seed.parse().ok()),
            imperfection: text("imperfection").and_then(|scale| scale.parse().ok()),
            bars: text("bars"),
            marker,
        })
    }
}
