//! Colours for paper and for the dark, told apart by eyes that see few of them.
//!
//! Hues after Okabe and Ito, darkened or lightened until each has 4.5:1 against its ground; and
//! nothing is said by hue alone: every line has a style of its own and its name beside it.

/// The colours of one picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlotTheme {
    /// Behind everything.
    pub ground: &'static str,
    /// Behind the lanes.
    pub lane: &'static str,
    /// Words and the main line.
    pub ink: &'static str,
    /// Lesser words.
    pub quiet: &'static str,
    /// Lines of the ruler.
    pub grid: &'static str,
    /// The gesture.
    pub gesture: &'static str,
    /// Loudness.
    pub level: &'static str,
    /// Pitch and its swing.
    pub vibrato: &'static str,
    /// Kinds of vibrato.
    pub style: &'static str,
    /// How notes join.
    pub legato: &'static str,
    /// What is left of bow or breath.
    pub budget: &'static str,
    /// The end of the phrase.
    pub tail: &'static str,
    /// Notes.
    pub note: &'static str,
}

/// For paper and bright screens.
pub const LIGHT: PlotTheme = PlotTheme {
    ground: "#ffffff",
    lane: "#f5f4f0",
    ink: "#1c2026",
    quiet: "#565c66",
    grid: "#cfd0d2",
    gesture: "#1c2026",
    level: "#00609a",
    vibrato: "#a84300",
    style: "#00694e",
    legato: "#8e3a6b",
    budget: "#7a5200",
    tail: "#3d5a99",
    note: "#cdd8df",
};

/// For dark rooms.
pub const DARK: PlotTheme = PlotTheme {
    ground: "#14171c",
    lane: "#1c2027",
    ink: "#eceae4",
    quiet: "#a5abb5",
    grid: "#3a404a",
    gesture: "#eceae4",
    level: "#6bbcf0",
    vibrato: "#ff9a55",
    style: "#4fcfa4",
    legato: "#e79cc6",
    budget: "#f0b948",
    tail: "#9db6f2",
    note: "#3b4a56",
};
