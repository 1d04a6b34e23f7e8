//! The paper of the player's page: A4, with a margin.

/// A4 in points.
pub const WIDTH: f64 = 595.0;
/// A4 in points.
pub const HEIGHT: f64 = 842.0;
/// What stays white around the page.
pub const MARGIN: f64 = 34.0;
