//! The line in rows of whole bars, one under the other as on a sheet of music.

use super::content::PageContent;
use super::paper::{MARGIN, WIDTH};
use crate::offline::performed_notes::PerformedNote;
use crate::offline::plot::svg::{Anchor, Svg, number, text_width};
use crate::profile::pitch::key_name;

/// A row is no lower than this, so that its notes can be told apart.
const ROW_MIN: f64 = 74.0;
/// And no higher.
const ROW_MAX: f64 = 150.0;
/// The room above the notes of a row for marks and findings.
pub(super) const ABOVE: f64 = 30.0;
const BELOW: f64 = 10.0;
/// Bars of a row that is easy to read.
const BARS_PER_ROW: u64 = 4;
/// Seconds of a row where there are no bars.
const SECONDS_PER_ROW: f64 = 10.0;
/// Less of a note than this is no note.
const SLIVER: f64 = 7.0;
/// A note this long before a bar is meant for it.
const EARLY_S: f64 = 0.1;
/// Names of notes before a row.
const AXIS: f64 = 24.0;

/// One row.
#[derive(Clone, Copy, Debug)]
pub(super) struct PageRow {
    pub start_s: f64,
    pub end_s: f64,
    /// The right end of the page, which a short last row does not reach.
    full_s: f64,
    pub top: f64,
    pub height: f64,
}

/// All rows of a page.
pub(super) struct PageRows {
    pub rows: Vec<PageRow>,
    keys: (f64, f64),
    /// Bars with their beginnings, seconds.
    bars: Vec<(u64, f64)>,
}

impl PageRow {
    /// Where a moment stands.
    pub fn x(&self, time_s: f64) -> f64 {
        let time_s = time_s.clamp(self.start_s, self.end_s);
        let share = (time_s - self.start_s) / (self.full_s - self.start_s);
        MARGIN + AXIS + share * (WIDTH - 2.0 * MARGIN - AXIS)
    }

    /// A moment lies in this row.
    pub fn holds(&self, time_s: f64) -> bool {
        time_s >= self.start_s && time_s < self.end_s
    }

    /// Some of this stretch of time does.
    pub fn meets(&self, start_s: f64, end_s: f64) -> bool {
        start_s < self.end_s && end_s > self.start_s
    }
}

impl PageRows {
    /// PageRows for this window of time between two heights of the page.
    pub fn new(
        content: &PageContent,
        (start_s, end_s): (f64, f64),
        top: f64,
        bottom: f64,
    ) -> PageRows {
        let most = (((bottom - top) / ROW_MIN) as usize).max(1);
        let bars = bars(content, start_s, end_s);
        let edges = match bars.len() {
            0 | 1 => even(start_s, end_s, most),
            _ => by_bars(&bars, end_s, most),
        };
        let count = edges.len() - 1;
        let height = ((bottom - top) / count as f64).min(ROW_MAX);
        let usual_s = edges[1] - edges[0];
        let row = |(place, pair): (usize, &[f64])| PageRow {
            start_s: pair[0],
            end_s: pair[1],
            full_s: if place + 1 == count { pair[1].max(pair[0] + usual_s) } else { pair[1] },
            top: top + height * place as f64,
            height,
        };
        let rows = edges.windows(2).enumerate().map(row).collect();
        PageRows { rows, keys: keys(content, start_s, end_s), bars }
    }

    /// Draws the bars and notes of a row.
    pub fn draw(&self, svg: &mut Svg, content: &PageContent, number: usize, row: &PageRow) {
        svg.open(&format!("row-{number}"), "fill=\"none\" stroke=\"#000000\"");
        self.ground(svg, content, row);
        self.notes(svg, content, row);
        svg.close();
    }

    /// The height of a key in a row.
    pub fn y(&self, row: &PageRow, key: u8) -> f64 {
        let share = (f64::from(key) - self.keys.0) / (self.keys.1 - self.keys.0);
        let (top, bottom) = (row.top + ABOVE, row.top + row.height - BELOW);
        bottom - share * (bottom - top)
    }

    fn ground(&self, svg: &mut Svg, content: &PageContent, row: &PageRow) {
        let (top, bottom) = (row.top + ABOVE - 4.0, row.top + row.height - BELOW + 4.0);
        let (left, right) = (MARGIN + AXIS, row.x(row.end_s));
        let mut named: Vec<f64> = Vec::new();
        let open = content.instrument.strings.iter().flat_map(|strings| strings.open_keys.clone());
        let cs = (0..128_u8).filter(|key| key % 12 == 0);
        for key in
            open.chain(cs).filter(|key| (self.keys.0..=self.keys.1).contains(&f64::from(*key)))
        {
            let y = self.y(row, key);
            if named.iter().any(|it| (it - y).abs() < 9.0) {
                continue;
            }
            let line = format!("M{} {}H{}", number(left), number(y), number(right));
            svg.path(&line, "stroke=\"#999999\" stroke-width=\"0.5\" stroke-dasharray=\"1 2\"");
            let style = "class=\"axis\" fill=\"#444444\" stroke=\"none\"";
            svg.text(left - 4.0, y + 2.5, 7.5, Anchor::End, style, &key_name(key));
            named.push(y);
        }
        let mut free_from = f64::NEG_INFINITY;
        for (bar, start_s) in self.bars.iter().filter(|(_, start_s)| row.holds(*start_s + 1e-9)) {
            let x = row.x(*start_s);
            let line = format!("M{} {}V{}", number(x), number(top), number(bottom));
            svg.path(&line, "stroke-width=\"0.6\"");
            let words = bar.to_string();
            if x >= free_from {
                let style = "class=\"bar\" fill=\"#000000\" stroke=\"none\"";
                svg.text(x + 1.5, row.top + 8.0, 7.5, Anchor::Start, style, &words);
                free_from = x + text_width(&words, 7.5) + 4.0;
            }
        }
        let end = format!("M{} {}V{}", number(right), number(top), number(bottom));
        svg.path(&end, "stroke-width=\"0.6\"");
    }

    fn notes(&self, svg: &mut Svg, content: &PageContent, row: &PageRow) {
        let mut line = String::new();
        for note in notes_in(content, row) {
            let (from, to) = (row.x(note.start_s), row.x(note.end_s));
            // The end of a note that the row before has shown already.
            if note.start_s < row.start_s && to - from < SLIVER {
                continue;
            }
            let y = self.y(row, note.key);
            line +=
                &format!("M{} {}H{}", number(from), number(y), number((from + 1.0).max(to - 1.0)));
        }
        svg.path(&line, "class=\"line\" stroke-width=\"3.4\"");
    }
}

/// The notes that sound in a row.
pub(super) fn notes_in<'a>(
    content: &'a PageContent,
    row: &PageRow,
) -> impl Iterator<Item = &'a PerformedNote> {
    let row = *row;
    content.notes.iter().filter(move |note| row.meets(note.start_s, note.end_s))
}

/// The keys that the rows go from and to.
fn keys(content: &PageContent, start_s: f64, end_s: f64) -> (f64, f64) {
    let inside = content.notes.iter().filter(|note| note.start_s < end_s && note.end_s > start_s);
    let (low, high) =
        inside.fold((127, 0), |(low, high), note| (note.key.min(low), note.key.max(high)));
    match low > high {
        true => (60.0, 72.0),
        false => (f64::from(low), f64::from(high.max(low + 7))),
    }
}

fn bars(content: &PageContent, start_s: f64, end_s: f64) -> Vec<(u64, f64)> {
    let Some(meter) = content.meter else { return Vec::new() };
    let first = meter.position(content.clock.tick_at(start_s + 1e-6) as u64).0;
    let each = (first..).map(|bar| (bar, content.clock.seconds_at(meter.bar_start(bar))));
    each.take_while(|(_, at_s)| *at_s < end_s - 1e-6).collect()
}

/// Edges of rows of equally many bars.
fn by_bars(bars: &[(u64, f64)], end_s: f64, most: usize) -> Vec<f64> {
    let wanted = (bars.len() as u64).div_ceil(BARS_PER_ROW) as usize;
    let per_row = bars.len().div_ceil(wanted.clamp(1, most));
    // Hands come in a little before the bar; such a note belongs to the row that it leads into.
    let early =
        |(place, bar): (usize, &(u64, f64))| if place == 0 { bar.1 } else { bar.1 - EARLY_S };
    let mut edges: Vec<f64> = bars.iter().step_by(per_row).enumerate().map(early).collect();
    edges.push(end_s);
    edges
}

/// Edges of rows of equal length.
fn even(start_s: f64, end_s: f64, most: usize) -> Vec<f64> {
    let wanted = ((end_s - start_s) / SECONDS_PER_ROW).ceil() as usize;
    let count = wanted.clamp(1, most);
    (0..=count).map(|edge| start_s + (end_s - start_s) * edge as f64 / count as f64).collect()
}
