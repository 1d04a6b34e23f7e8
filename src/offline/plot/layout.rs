//! Where everything stands in the picture: the lanes from top to bottom, time from left to right.

use super::performed_curves::TimeWindow;

/// One lane of the picture, in the order from top to bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lane {
    /// The notes with the performed pitch on them.
    Notes,
    /// Dynamics and expression.
    Level,
    /// The thread that everything comes from.
    Gesture,
    /// Width and rate.
    Vibrato,
    /// The weights of the styles.
    Style,
    /// How notes join.
    Legato,
    /// What is left of bow or breath.
    Budget,
    /// Drawn-out ends and the ambience send.
    Tail,
}

impl Lane {
    /// From top to bottom.
    pub const ALL: [Lane; 8] = [
        Lane::Notes,
        Lane::Level,
        Lane::Gesture,
        Lane::Vibrato,
        Lane::Style,
        Lane::Legato,
        Lane::Budget,
        Lane::Tail,
    ];

    /// The stable name of the lane's group.
    pub const fn id(self) -> &'static str {
        match self {
            Lane::Notes => "notes",
            Lane::Level => "level",
            Lane::Gesture => "gesture",
            Lane::Vibrato => "vibrato",
            Lane::Style => "style",
            Lane::Legato => "legato",
            Lane::Budget => "budget",
            Lane::Tail => "tail",
        }
    }

    const fn height(self) -> f64 {
        match self {
            Lane::Notes => 270.0,
            Lane::Level | Lane::Gesture | Lane::Vibrato => 84.0,
            Lane::Style => 58.0,
            Lane::Legato => 66.0,
            Lane::Budget => 58.0,
            Lane::Tail => 44.0,
        }
    }
}

/// The picture's narrowest and widest, in its own units (pixels of a screen).
pub const WIDTH_MIN: u32 = 700;
/// The widest.
pub const WIDTH_MAX: u32 = 8000;
/// Columns of a unit of width: a curve is as fine as a print of it.
pub const COLUMNS_PER_UNIT: f64 = 2.0;
/// The title above the ruler.
const HEAD: f64 = 40.0;
/// The ruler above the lanes, and the seconds below them.
const RULER: f64 = 34.0;
const GAP: f64 = 12.0;
const LEGEND: f64 = 128.0;
/// Titles and axes between the branches and the lanes.
const TITLES: f64 = 124.0;

/// The places of one picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlotLayout {
    /// The whole picture.
    pub width: f64,
    /// Where the branches end and the titles begin.
    pub branches_end: f64,
    /// Where time begins.
    pub left: f64,
    /// Where it ends.
    pub right: f64,
    /// From when to when.
    pub window: TimeWindow,
}

impl PlotLayout {
    /// A layout of this width for a stretch of time.
    pub fn new(width: u32, start_s: f64, end_s: f64) -> PlotLayout {
        let width = f64::from(width.clamp(WIDTH_MIN, WIDTH_MAX));
        let branches_end = (width * 0.07).clamp(56.0, 110.0);
        let (left, right) = (branches_end + TITLES, width - LEGEND);
        let column_count = ((right - left) * COLUMNS_PER_UNIT) as usize;
        let window = TimeWindow { start_s, end_s, column_count };
        PlotLayout { width, branches_end, left, right, window }
    }

    /// Where a moment stands.
    pub fn x(&self, time_s: f64) -> f64 {
        let TimeWindow { start_s, end_s, .. } = self.window;
        self.left + (time_s - start_s) / (end_s - start_s) * (self.right - self.left)
    }

    /// A place between the columns; the first begins at 0.
    pub fn column_x(&self, column: f64) -> f64 {
        let share = column / self.window.column_count as f64;
        self.left + share * (self.right - self.left)
    }

    /// A moment lies inside.
    pub fn holds(&self, time_s: f64) -> bool {
        (self.window.start_s..=self.window.end_s).contains(&time_s)
    }

    /// The top of the ruler.
    pub fn ruler_top(&self) -> f64 {
        HEAD
    }

    /// Top and bottom of a lane.
    pub fn lane(&self, lane: Lane) -> (f64, f64) {
        let before = Lane::ALL.iter().take_while(|it| **it != lane);
        let top = HEAD + RULER + before.map(|it| it.height() + GAP).sum::<f64>();
        (top, top + lane.height())
    }

    /// The bottom of the last lane.
    pub fn lanes_bottom(&self) -> f64 {
        self.lane(Lane::Tail).1
    }

    /// Where a value between `low` and `high` stands in a lane.
    pub fn y(&self, lane: Lane, value: f64, (low, high): (f64, f64)) -> f64 {
        let (top, bottom) = self.lane(lane);
        bottom - ((value - low) / (high - low)).clamp(0.0, 1.0) * (bottom - top)
    }
}
