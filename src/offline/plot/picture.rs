//! A whole picture: one or two takes are played, their curves laid out, drawn and named.

use super::lanes::{LanePen, LaneRanges};
use super::layout::PlotLayout;
use super::legato_marks::RefusedSlides;
use super::performed_curves::PerformedCurves;
use super::svg::{Anchor, Svg, text_width};
use super::theme::PlotTheme;
use super::{lane_titles, lanes, legato_marks, notes, ruler};
use crate::engine::Message;
use crate::offline::midi::{File, MetreMap, TempoMap};
use crate::offline::peel::TakeBytes;
use crate::offline::perform::RATE_HZ;
use crate::offline::song_name::song_name;
use crate::offline::take::line::TakeLine;
use crate::offline::take::wish::WishTable;
use crate::offline::take::{self, PreparedTake};
use crate::offline::{Error, Settings};
use crate::profile::Instrument;
use crate::profile::instrument::Budget;

/// Time after the last note, for its echo.
const AFTER_S: f64 = 0.8;
/// Refused slides that are told in words.
const FOOTNOTES_MAX: usize = 8;
const FOOTNOTE: f64 = 15.0;

/// How a picture is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct PlotStyle {
    /// Its width; its height follows from what it shows.
    pub width: u32,
    /// Its colours.
    pub theme: PlotTheme,
    /// What stands above it if the file does not name its song.
    pub title: String,
}

/// A take to lay over the first, and its name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SecondTake<'a> {
    /// A MIDI file.
    pub take: TakeBytes<'a>,
    /// Its name.
    pub name: &'a str,
}

/// A picture, and what the user should know.
#[derive(Debug)]
pub struct PlotPicture {
    /// As SVG.
    pub svg: String,
    /// Sentences.
    pub notices: Vec<String>,
}

/// One take, ready to be drawn.
struct PlottedTake {
    take: PreparedTake,
    line: TakeLine,
}

impl PlottedTake {
    fn of<'a>(
        take: impl Into<TakeBytes<'a>>,
        settings: &Settings,
        notices: &mut Vec<String>,
    ) -> Result<PlottedTake, Error> {
        let mut take = take::prepare(take, settings)?;
        let line = take.lines[0];
        notices.append(&mut take.notices);
        if take.lines.len() > 1 {
            notices.push(format!(
                "of {} lines only track {}, channel {} is drawn; choose another with --track",
                take.lines.len(),
                line.track + 1,
                line.channel + 1
            ));
        }
        Ok(PlottedTake { take, line })
    }

    /// When the picture begins and ends: the bars asked for, or all up to the last note's echo.
    fn window_s(&self) -> (f64, f64) {
        let PreparedTake { file, clock, region, .. } = &self.take;
        let start_s = clock.seconds_at(region.start);
        let end_s = match region.end {
            u64::MAX => clock.seconds_at(last_off(file, &self.line)) + AFTER_S,
            end => clock.seconds_at(end),
        };
        (start_s, end_s.max(start_s + 0.1))
    }

    fn perform(
        &self,
        settings: &Settings,
        instrument: &Instrument,
        layout: &PlotLayout,
    ) -> Result<PerformedCurves, Error> {
        let PreparedTake { file, clock, .. } = &self.take;
        let asked = self.take.asked(&self.line, settings);
        PerformedCurves::of(
            file,
            clock,
            &settings.patch,
            &self.line,
            &asked,
            instrument,
            layout.window,
        )
    }
}

/// Draws a line of a take; `other` is laid over it.
///
/// # Errors
/// As [`crate::offline::shape_bytes`].
pub fn plot_bytes<'a>(
    take: impl Into<TakeBytes<'a>>,
    other: Option<SecondTake>,
    settings: &Settings,
    instrument: &Instrument,
    style: &PlotStyle,
) -> Result<PlotPicture, Error> {
    let mut notices = Vec::new();
    let plotted = PlottedTake::of(take, settings, &mut notices)?;
    let (start_s, end_s) = plotted.window_s();
    let layout = PlotLayout::new(style.width, start_s, end_s);
    let curves = plotted.perform(settings, instrument, &layout)?;
    let second = match other {
        Some(other) => {
            // The table speaks of the first take's notes.
            let whole = Settings { bars: None, wishes: WishTable::default(), ..settings.clone() };
            let plotted = PlottedTake::of(other.take, &whole, &mut Vec::new())?;
            Some((plotted.perform(settings, instrument, &layout)?, other.name))
        }
        None => None,
    };
    let meter = MetreMap::of(&plotted.take.file);
    let scene = PlotScene {
        layout: &layout,
        theme: &style.theme,
        curves: &curves,
        second: second.as_ref().map(|(curves, name)| (curves, *name)),
        clock: &plotted.take.clock,
        meter: meter.as_ref(),
        styles: &settings.styles,
        instrument,
    };
    let title = song_name(&plotted.take.file).unwrap_or(&style.title);
    Ok(PlotPicture { svg: scene.draw(title), notices })
}

/// The tick of the line's last note-off.
fn last_off(file: &File, line: &TakeLine) -> u64 {
    let events = file.tracks[line.track].events.iter().rev();
    let is_note = |message: &Message| {
        message.channel() == line.channel
            && matches!(message, Message::NoteOff { .. } | Message::NoteOn { .. })
    };
    let mut notes = events.filter(|event| event.message().is_some_and(|it| is_note(&it)));
    notes.next().map_or(RATE_HZ.into(), |event| event.tick)
}

/// All that is drawn.
struct PlotScene<'a> {
    layout: &'a PlotLayout,
    theme: &'a PlotTheme,
    curves: &'a PerformedCurves,
    second: Option<(&'a PerformedCurves, &'a str)>,
    clock: &'a TempoMap,
    meter: Option<&'a MetreMap>,
    styles: &'a [String],
    instrument: &'a Instrument,
}

impl PlotScene<'_> {
    fn draw(&self, title: &str) -> String {
        let PlotScene { layout, theme, curves, clock, meter, instrument, .. } = *self;
        let numbers = legato_marks::refusals(layout, curves);
        let told = numbers.len().min(FOOTNOTES_MAX) + usize::from(numbers.len() > FOOTNOTES_MAX);
        let height = layout.lanes_bottom() + 30.0 + FOOTNOTE * told as f64;
        let mut svg = Svg::new(layout.width, height, theme.ground, title);
        self.head(&mut svg, title);
        ruler::draw(&mut svg, layout, theme, clock, meter);
        let is_breath = matches!(instrument.budget, Budget::Breath { .. });
        lane_titles::draw(&mut svg, layout, theme, is_breath);
        let takes: Vec<&PerformedCurves> =
            std::iter::once(curves).chain(self.second.map(|it| it.0)).collect();
        let ranges = LaneRanges {
            vibrato: lanes::vibrato_range(&takes),
            budget: lanes::budget_range(&takes),
        };
        let keys = notes::range(&takes, layout);
        lanes::axes(&mut svg, layout, theme, &ranges, self.styles);
        notes::axis(&mut svg, layout, theme, instrument, keys);
        for (place, curves) in takes.iter().enumerate() {
            let pen = LanePen { layout, theme, is_other: place > 0 };
            notes::draw(&mut svg, pen, curves, keys);
            lanes::draw(&mut svg, pen, curves, &ranges);
            legato_marks::draw(&mut svg, pen, curves);
        }
        notes::names(&mut svg, layout, theme, curves, keys);
        legato_marks::names(&mut svg, layout, theme, &numbers, curves);
        self.footnotes(&mut svg, &numbers);
        svg.finish()
    }

    fn head(&self, svg: &mut Svg, title: &str) {
        let PlotScene { layout, theme, instrument, second, .. } = *self;
        let mut names: Vec<&str> = Vec::new();
        for (_, name) in &instrument.about.names {
            if !names.contains(&name.as_str()) {
                names.push(name);
            }
        }
        svg.open("head", &format!("fill=\"{}\"", theme.ink));
        svg.text(16.0, 25.0, 16.0, Anchor::Start, "font-weight=\"600\"", title);
        let x = 16.0 + text_width(title, 17.5) + 14.0;
        let names = names.join("  ");
        svg.text(x, 25.0, 13.0, Anchor::Start, "class=\"instrument\"", &names);
        if let Some((_, name)) = second {
            let words = format!("dotted: {name}");
            let is_free =
                x + text_width(&names, 13.0) + text_width(&words, 12.0) + 30.0 < layout.width;
            if is_free {
                svg.text(layout.width - 12.0, 25.0, 12.0, Anchor::End, "class=\"other\"", &words);
            }
        }
        svg.close();
    }

    fn footnotes(&self, svg: &mut Svg, numbers: &RefusedSlides) {
        let PlotScene { layout, theme, curves, meter, .. } = *self;
        svg.open("footnotes", &format!("fill=\"{}\"", theme.quiet));
        let mut y = layout.lanes_bottom() + 36.0;
        for (number, place, reason) in numbers.iter().take(FOOTNOTES_MAX) {
            let tick = curves.notes[*place].tick;
            let at = match meter.map(|meter| meter.position(tick)) {
                Some((bar, beat)) => format!("bar {bar}, beat {beat}"),
                None => format!("{:.2} s", curves.notes[*place].start_s),
            };
            let words = format!("{number}  {at}: {}", reason.sentence());
            svg.text(layout.left, y, 11.0, Anchor::Start, "class=\"footnote\"", &words);
            y += FOOTNOTE;
        }
        if numbers.len() > FOOTNOTES_MAX {
            let words = format!("and {} more refused slides", numbers.len() - FOOTNOTES_MAX);
            svg.text(layout.left, y, 11.0, Anchor::Start, "class=\"footnote\"", &words);
        }
        svg.close();
    }
}
