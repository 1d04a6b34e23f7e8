//! The line as a picture: one thread comes in, and everything it becomes stands under the bars.

// From the performance to the picture.
pub mod column;
pub mod record;

pub mod frame;
pub mod svg;
pub mod theme;

mod curve;
mod joins;
mod lanes;
mod ruler;
mod staff;
mod thread;

#[cfg(feature = "png")]
pub mod png;

pub use theme::{DARK, LIGHT, Theme};

use super::midi::{File, MetreMap, TempoMap};
use super::perform::RATE_HZ;
use super::take::line::TakeLine;
use super::take::{self, PreparedTake};
use super::{Error, Settings};
use crate::engine::Message;
use crate::profile::Instrument;
use frame::Frame;
use joins::Numbers;
use lanes::{Pen, Ranges};
use record::Record;
use svg::{Anchor, Svg, text_width};

/// Time after the last note, for its echo.
const AFTER_S: f64 = 0.8;
/// Refused slides that are told in words.
const FOOTNOTES_MAX: usize = 8;
const FOOTNOTE: f64 = 15.0;
/// The meta event that names a track (SMF 1.0), and the longest name that is a title.
const TRACK_NAME: u8 = 0x03;
const TITLE_MAX: usize = 60;

/// How a picture is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// Its width; its height follows from what it shows.
    pub width: u32,
    /// Its colours.
    pub theme: Theme,
    /// What stands above it if the file does not name its song.
    pub title: String,
}

/// A take to lay over the first, and its name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Other<'a> {
    /// A MIDI file.
    pub bytes: &'a [u8],
    /// Its name.
    pub name: &'a str,
}

/// A picture, and what the user should know.
#[derive(Debug)]
pub struct Picture {
    /// As SVG.
    pub svg: String,
    /// Sentences.
    pub notices: Vec<String>,
}

/// One take, ready to be drawn.
struct Sitter {
    take: PreparedTake,
    line: TakeLine,
}

impl Sitter {
    fn of(bytes: &[u8], settings: &Settings, notices: &mut Vec<String>) -> Result<Sitter, Error> {
        let mut take = take::prepare(bytes, settings)?;
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
        Ok(Sitter { take, line })
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

    fn record(
        &self,
        settings: &Settings,
        instrument: &Instrument,
        frame: &Frame,
    ) -> Result<Record, Error> {
        let PreparedTake { file, clock, .. } = &self.take;
        let asked = self.take.asked(&self.line, settings);
        Record::of(file, clock, &settings.patch, &self.line, &asked, instrument, frame.window)
    }
}

/// Draws a line of the take in `bytes`; `other` is laid over it.
///
/// # Errors
/// As [`super::shape_bytes`].
pub fn plot_bytes(
    bytes: &[u8],
    other: Option<Other>,
    settings: &Settings,
    instrument: &Instrument,
    look: &Look,
) -> Result<Picture, Error> {
    let mut notices = Vec::new();
    let sitter = Sitter::of(bytes, settings, &mut notices)?;
    let (start_s, end_s) = sitter.window_s();
    let frame = Frame::new(look.width, start_s, end_s);
    let record = sitter.record(settings, instrument, &frame)?;
    let second = match other {
        Some(other) => {
            // The table speaks of the first take's notes.
            let whole = Settings { bars: None, wishes: Vec::new(), ..settings.clone() };
            let sitter = Sitter::of(other.bytes, &whole, &mut Vec::new())?;
            Some((sitter.record(settings, instrument, &frame)?, other.name))
        }
        None => None,
    };
    let meter = MetreMap::of(&sitter.take.file);
    let scene = Scene {
        frame: &frame,
        theme: &look.theme,
        record: &record,
        second: second.as_ref().map(|(record, name)| (record, *name)),
        clock: &sitter.take.clock,
        meter: meter.as_ref(),
        styles: &settings.styles,
        instrument,
    };
    let title = song_name(&sitter.take.file).unwrap_or(&look.title);
    Ok(Picture { svg: scene.draw(title), notices })
}

/// The song's name: SMF 1.0 has it as the name of the first track.
pub(super) fn song_name(file: &File) -> Option<&str> {
    let name = file.tracks.first()?.events.iter().find_map(|event| event.meta(TRACK_NAME))?;
    let name = std::str::from_utf8(name).ok()?.trim();
    (!name.is_empty() && name.chars().count() <= TITLE_MAX).then_some(name)
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
struct Scene<'a> {
    frame: &'a Frame,
    theme: &'a Theme,
    record: &'a Record,
    second: Option<(&'a Record, &'a str)>,
    clock: &'a TempoMap,
    meter: Option<&'a MetreMap>,
    styles: &'a [String],
    instrument: &'a Instrument,
}

impl Scene<'_> {
    fn draw(&self, title: &str) -> String {
        let Scene { frame, theme, record, clock, meter, instrument, .. } = *self;
        let numbers = joins::refusals(frame, record);
        let told = numbers.len().min(FOOTNOTES_MAX) + usize::from(numbers.len() > FOOTNOTES_MAX);
        let height = frame.lanes_bottom() + 30.0 + FOOTNOTE * told as f64;
        let mut svg = Svg::new(frame.width, height, theme.ground, title);
        self.head(&mut svg, title);
        ruler::draw(&mut svg, frame, theme, clock, meter);
        let is_breath =
            matches!(instrument.budget, crate::profile::instrument::Budget::Breath { .. });
        thread::draw(&mut svg, frame, theme, is_breath);
        let records: Vec<&Record> =
            std::iter::once(record).chain(self.second.map(|it| it.0)).collect();
        let ranges = Ranges {
            vibrato: lanes::vibrato_range(&records),
            budget: lanes::budget_range(&records),
        };
        let keys = staff::range(&records, frame);
        lanes::axes(&mut svg, frame, theme, &ranges, self.styles);
        staff::axis(&mut svg, frame, theme, instrument, keys);
        for (place, record) in records.iter().enumerate() {
            let pen = Pen { frame, theme, is_other: place > 0 };
            staff::draw(&mut svg, pen, record, keys);
            lanes::draw(&mut svg, pen, record, &ranges);
            joins::draw(&mut svg, pen, record);
        }
        staff::names(&mut svg, frame, theme, record, keys);
        joins::names(&mut svg, frame, theme, &numbers, record);
        self.footnotes(&mut svg, &numbers);
        svg.finish()
    }

    fn head(&self, svg: &mut Svg, title: &str) {
        let Scene { frame, theme, instrument, second, .. } = *self;
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
                x + text_width(&names, 13.0) + text_width(&words, 12.0) + 30.0 < frame.width;
            if is_free {
                svg.text(frame.width - 12.0, 25.0, 12.0, Anchor::End, "class=\"other\"", &words);
            }
        }
        svg.close();
    }

    fn footnotes(&self, svg: &mut Svg, numbers: &Numbers) {
        let Scene { frame, theme, record, meter, .. } = *self;
        svg.open("footnotes", &format!("fill=\"{}\"", theme.quiet));
        let mut y = frame.lanes_bottom() + 36.0;
        for (number, place, reason) in numbers.iter().take(FOOTNOTES_MAX) {
            let tick = record.part.notes[*place].tick;
            let at = match meter.map(|meter| meter.position(tick)) {
                Some((bar, beat)) => format!("bar {bar}, beat {beat}"),
                None => format!("{:.2} s", record.part.notes[*place].start_s),
            };
            let words = format!("{number}  {at}: {}", reason.sentence());
            svg.text(frame.left, y, 11.0, Anchor::Start, "class=\"footnote\"", &words);
            y += FOOTNOTE;
        }
        if numbers.len() > FOOTNOTES_MAX {
            let words = format!("and {} more refused slides", numbers.len() - FOOTNOTES_MAX);
            svg.text(frame.left, y, 11.0, Anchor::Start, "class=\"footnote\"", &words);
        }
        svg.close();
    }
}
