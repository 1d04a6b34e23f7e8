//! One page for the live player: the drawn line with bows or breaths, open strings and the findings.
//!
//! Black on white, A4, to be printed. It is a question to the player, not an order.

// From the whole page to its marks.
mod rows;

mod listed;
mod marks;

#[cfg(feature = "png")]
pub mod pdf;

use super::audit::drain::{Stretch, drain};
use super::audit::finding::Found;
use super::audit::written::DEFERENCE;
use super::audit::{Finding, Placing, look_at};
use super::midi::{MetreMap, TempoMap};
use super::part::Part;
use super::plot::song_name;
use super::plot::svg::{Anchor, Svg, text_width};
use super::take::Region;
use super::take::{self, PreparedTake};
use super::{Error, Settings};
use crate::profile::Instrument;
use crate::profile::instrument::Budget;
use rows::Rows;

/// A4 in points.
pub const WIDTH: f64 = 595.0;
/// A4 in points.
pub const HEIGHT: f64 = 842.0;
/// What stays white around the page.
pub(super) const MARGIN: f64 = 34.0;
const HEAD: f64 = 74.0;
const FOOT: f64 = 26.0;
/// Loudness is followed every millisecond, as the audit does.
const CELL_MS: u32 = 1;

/// A page, and what the user should know.
#[derive(Debug)]
pub struct Page {
    /// As SVG.
    pub svg: String,
    /// Sentences.
    pub notices: Vec<String>,
}

/// What stands on the page.
pub(super) struct Sheet<'a> {
    pub part: &'a Part,
    pub instrument: &'a Instrument,
    pub stretches: &'a [Stretch],
    /// Each with its place in seconds, in order of time.
    pub findings: &'a [(f64, Finding)],
    pub clock: &'a TempoMap,
    pub meter: Option<&'a MetreMap>,
}

/// Draws the page of a take's first line, or of the bars chosen; `title` stands above it if the
/// file does not name its song.
///
/// # Errors
/// As [`super::shape_bytes`].
pub fn page_bytes(
    bytes: &[u8],
    settings: &Settings,
    instrument: &Instrument,
    title: &str,
) -> Result<Page, Error> {
    let mut take = take::prepare(bytes, settings)?;
    let mut notices = std::mem::take(&mut take.notices);
    let PreparedTake { file, factor, clock, lines, region, .. } = &take;
    let (factor, region) = (*factor, *region);
    let line = &lines[0];
    if lines.len() > 1 {
        notices.push(format!(
            "of {} lines only track {}, channel {} is on the page; choose another with --track",
            lines.len(),
            line.track + 1,
            line.channel + 1
        ));
    }
    let meter = MetreMap::of(file);
    let asked = take.asked(line, settings);
    let part = Part::play(file, clock, &settings.patch, line, &asked, CELL_MS, |_| {})?;
    let stretches = drain(&part, &instrument.budget, |_, _, _| {});
    let place = Placing { clock, meter: meter.as_ref(), factor, region, track: None };
    let placed = |found: Found| Some((found.at_s, place.finding(&part, found)?));
    let findings: Vec<(f64, Finding)> =
        look_at(&part, instrument).into_iter().filter_map(placed).collect();
    let sheet = Sheet {
        part: &part,
        instrument,
        stretches: &stretches,
        findings: &findings,
        clock,
        meter: meter.as_ref(),
    };
    let title = song_name(file).unwrap_or(title);
    Ok(Page { svg: sheet.draw(title, window(&part, clock, region)), notices })
}

/// When the drawn line begins and ends, seconds.
fn window(part: &Part, clock: &TempoMap, region: Region) -> (f64, f64) {
    let start_s = clock.seconds_at(region.start);
    let sounds_until_s = part.notes.iter().map(|note| note.end_s).fold(start_s + 1.0, f64::max);
    match region.end {
        u64::MAX => (start_s, sounds_until_s),
        end => (start_s, clock.seconds_at(end)),
    }
}

impl Sheet<'_> {
    fn draw(&self, title: &str, window: (f64, f64)) -> String {
        let mut svg = Svg::new(WIDTH, HEIGHT, "#ffffff", title);
        self.head(&mut svg, title);
        let listed = listed::listed(self);
        let list_top = HEIGHT - FOOT - listed::height(&listed);
        let rows = Rows::new(self, window, HEAD, list_top - 8.0);
        rows.draw(&mut svg, self);
        listed::draw(&mut svg, &listed, list_top);
        svg.open("deference", "fill=\"#000000\"");
        svg.text(MARGIN, HEIGHT - 16.0, 8.5, Anchor::Start, "font-style=\"italic\"", DEFERENCE);
        svg.close();
        svg.finish()
    }

    fn head(&self, svg: &mut Svg, title: &str) {
        let mut names: Vec<&str> = Vec::new();
        for (_, name) in &self.instrument.about.names {
            if !names.contains(&name.as_str()) {
                names.push(name);
            }
        }
        svg.open("head", "fill=\"#000000\"");
        svg.text(MARGIN, 40.0, 16.0, Anchor::Start, "font-weight=\"600\"", title);
        let mut names = names.join("  ");
        let left = MARGIN + text_width(title, 17.5) + 12.0;
        while left + text_width(&names, 10.0) > WIDTH - MARGIN && names.pop().is_some() {}
        svg.text(left, 40.0, 10.0, Anchor::Start, "class=\"instrument\"", &names);
        svg.close();
        marks::legend(svg, self, 58.0);
    }

    /// The player blows.
    pub fn is_wind(&self) -> bool {
        matches!(self.instrument.budget, Budget::Breath { .. })
    }
}
