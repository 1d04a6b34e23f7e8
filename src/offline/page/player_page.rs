//! The whole page for the player: title and names, the rows of the line, the list of findings.

use super::content::{PageContent, PageFinding};
use super::paper::{HEIGHT, MARGIN, WIDTH};
use super::rows::PageRows;
use super::{finding_list, marks};
use crate::offline::audit::report::DEFERENCE;
use crate::offline::audit::review::{Audit, AuditedLine, HitPlaces, audit_take};
use crate::offline::peel::TakeBytes;
use crate::offline::performed_notes::PerformedNote;
use crate::offline::plot::svg::{Anchor, Svg, text_width};
use crate::offline::song_name::song_name;
use crate::offline::take::{self, PreparedTake};
use crate::offline::{Error, Settings};
use crate::profile::Instrument;

const HEAD: f64 = 74.0;
const FOOT: f64 = 26.0;

/// Audits a take and draws, as SVG, the page of its first line, or of the bars
/// chosen; `title` stands above it if the file does not name its song.
///
/// # Errors
/// As [`crate::offline::shape_bytes`].
pub fn audit_and_page_bytes<'a>(
    take: impl Into<TakeBytes<'a>>,
    settings: &Settings,
    instrument: &Instrument,
    title: &str,
) -> Result<(Audit, String), Error> {
    let mut take = take::prepare(take, settings)?;
    let mut notices = std::mem::take(&mut take.notices);
    let first = take.lines[0];
    if take.lines.len() > 1 {
        notices.push(format!(
            "of {} lines only track {}, channel {} is on the page; choose another with --track",
            take.lines.len(),
            first.track + 1,
            first.channel + 1
        ));
    }
    let title = song_name(&take.file).unwrap_or(title);
    let mut svg = String::new();
    let findings = audit_take(&take, settings, instrument, |line, audited| {
        if *line == first {
            svg = page(&take, audited, instrument, title);
        }
    })?;
    Ok((Audit { findings, notices }, svg))
}

/// The page of one line.
fn page(
    take: &PreparedTake,
    audited: &AuditedLine,
    instrument: &Instrument,
    title: &str,
) -> String {
    let AuditedLine { notes, foreign, spans, hits } = audited;
    let places = HitPlaces { take, notes, foreign };
    let placed = hits.iter().filter_map(|hit| {
        Some(PageFinding { hit, place: places.of(hit)?, key: places.note(hit).key })
    });
    let findings: Vec<PageFinding> = placed.collect();
    let (clock, meter) = (&take.clock, take.metre.as_ref());
    let content = PageContent { notes, instrument, spans, findings: &findings, clock, meter };
    draw(&content, title, window_s(take, notes))
}

/// When the drawn line begins and ends.
fn window_s(take: &PreparedTake, notes: &[PerformedNote]) -> (f64, f64) {
    let PreparedTake { clock, region, .. } = take;
    let start_s = clock.seconds_at(region.start);
    let sounds_until_s = notes.iter().map(|note| note.end_s).fold(start_s + 1.0, f64::max);
    match region.end {
        u64::MAX => (start_s, sounds_until_s),
        end => (start_s, clock.seconds_at(end)),
    }
}

fn draw(content: &PageContent, title: &str, window_s: (f64, f64)) -> String {
    let mut svg = Svg::new(WIDTH, HEIGHT, "#ffffff", title);
    head(&mut svg, content, title);
    let list = finding_list::lines(content);
    let list_top = HEIGHT - FOOT - finding_list::height(&list);
    let rows = PageRows::new(content, window_s, HEAD, list_top - 8.0);
    for (number, row) in (1..).zip(&rows.rows) {
        rows.draw(&mut svg, content, number, row);
        marks::draw(&mut svg, content, &rows, row);
    }
    finding_list::draw(&mut svg, &list, list_top);
    svg.open("deference", "fill=\"#000000\"");
    svg.text(MARGIN, HEIGHT - 16.0, 8.5, Anchor::Start, "font-style=\"italic\"", DEFERENCE);
    svg.close();
    svg.finish()
}

fn head(svg: &mut Svg, content: &PageContent, title: &str) {
    let mut names: Vec<&str> = Vec::new();
    for (_, name) in &content.instrument.about.names {
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
    marks::legend(svg, content, 58.0);
}
