//! Requests for single notes: as texts in the take, or in a small table beside it.
//!
//! A text event (`FF 01`, `05` or `06`) that begins with `wish` stands at the tick of its note, in
//! the note's track: `wish: no vibrato`, or `wish A4: open, no slide` where several notes begin
//! there. A line of a table says bar, beat and key: `12.3 A4: pressed`; a beat may have a fraction,
//! `12.3+1/2`. What stands after `#` is for the reader. Several requests are divided by commas.

use super::Error;
use super::line::Line;
use super::midi::{Clock, File, Meter};
use super::perform::{Look, RATE_HZ};
use crate::engine::Mode;
use crate::engine::event::Message;
use crate::engine::reason::Reason;
use crate::engine::wish::Wish;
use crate::profile::pitch::{key_name, key_of};

/// The kinds of text events that may carry a wish: text, lyric, marker (SMF 1.0).
const TEXT_KINDS: [u8; 3] = [0x01, 0x05, 0x06];
/// How such a text begins.
const TEXT_HEAD: &str = "wish";
/// A note belongs to a line of the table if it begins within this share of a beat.
const NEAR_BEATS: f64 = 0.25;

/// Ticks that share a frame are heard one frame after the other, so a note may be this late.
const LATE_FRAMES: u64 = 16;

/// A wish and the tick of its note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wished {
    /// The tick of the note-on.
    pub tick: u64,
    /// What is asked for.
    pub wish: Wish,
}

/// A line of a table: where, which key, and what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Request {
    /// Its line in the table, from 1.
    pub line: usize,
    /// From 1.
    pub bar: u64,
    /// From 1, with its fraction.
    pub beat: f64,
    /// What; the channel is that of the line that has the note.
    pub wish: Wish,
}

/// Reads a table. `styles` are the instrument's names of its styles.
///
/// # Errors
/// A sentence with line, value and what is allowed.
pub fn read_table(text: &str, styles: &[String]) -> Result<Vec<Request>, String> {
    let mut requests = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or_default().trim();
        if line.is_empty() {
            continue;
        }
        let fault = |what: String| format!("line {}: {what}", number + 1);
        let form = || fault(format!("`{line}` is no request; allowed is BAR.BEAT KEY: WISH, ..."));
        let (head, asked) = line.split_once(':').ok_or_else(form)?;
        let (place, key) = head.trim().split_once(' ').ok_or_else(form)?;
        let (bar, beat) = place_of(place).ok_or_else(|| {
            fault(format!("place is `{place}`; allowed is bar.beat from 1.1, as 12.3 or 12.3+1/2"))
        })?;
        let key = read_key(key).map_err(fault)?;
        let wish = read_wish(Wish::none(0, key), asked, styles).map_err(fault)?;
        requests.push(Request { line: number + 1, bar, beat, wish });
    }
    Ok(requests)
}

/// The wishes for one line of a file, in order of ticks: its texts, and the requests of a table.
///
/// # Errors
/// [`Error::Wish`] for a text that cannot be read or a request whose note is not there.
pub fn gather(
    file: &File,
    line: &Line,
    table: &[Request],
    styles: &[String],
) -> Result<Vec<Wished>, Error> {
    let notes = notes(file, line);
    let mut wished = Vec::new();
    for event in &file.tracks[line.track].events {
        let Some(text) = TEXT_KINDS.iter().find_map(|kind| event.meta(*kind)) else { continue };
        let Ok(text) = std::str::from_utf8(text) else { continue };
        let Some((key, asked)) = headed(text) else { continue };
        let fault = |what: String| Error::Wish {
            place: format!("track {}, tick {}: `{text}`", line.track + 1, event.tick),
            what,
        };
        let key = key.map(read_key).transpose().map_err(fault)?;
        let asked = read_wish(Wish::none(line.channel, 0), asked, styles).map_err(fault)?;
        let is_meant =
            |note: &&(u64, u8)| note.0 == event.tick && key.is_none_or(|key| key == note.1);
        let before = wished.len();
        wished.extend(
            notes
                .iter()
                .filter(is_meant)
                .map(|&(tick, key)| Wished { tick, wish: Wish { key, ..asked } }),
        );
        if wished.len() == before {
            return Err(fault("no such note begins here".to_owned()));
        }
    }
    if let Some(meter) = Meter::of(file) {
        wished.extend(table.iter().filter_map(|request| find(request, line, &notes, &meter)));
    }
    wished.sort_by_key(|wished| wished.tick);
    Ok(wished)
}

/// Refuses requests that found no note in any line.
///
/// # Errors
/// [`Error::Wish`] for the first of them.
pub fn refuse_unmet(file: &File, lines: &[Line], table: &[Request]) -> Result<(), Error> {
    let meter = Meter::of(file);
    for request in table {
        let found = |line: &Line| {
            let meter = meter.as_ref()?;
            find(request, line, &notes(file, line), meter)
        };
        if lines.iter().find_map(found).is_none() {
            let (bar, beat, key) = (request.bar, request.beat, key_name(request.wish.key));
            return Err(Error::Wish {
                place: format!("line {}", request.line),
                what: format!("no {key} begins within a quarter of a beat of {bar}.{beat}"),
            });
        }
    }
    Ok(())
}

/// The nearest note of a request.
fn find(request: &Request, line: &Line, notes: &[(u64, u8)], meter: &Meter) -> Option<Wished> {
    let beat_ticks = meter.beat_ticks(meter.bar_start(request.bar));
    let place = meter.bar_start(request.bar) as f64 + (request.beat - 1.0) * beat_ticks;
    let away = |tick: u64| (tick as f64 - place).abs();
    let own = notes.iter().filter(|(_, key)| *key == request.wish.key);
    let near = own.filter(|(tick, _)| away(*tick) <= NEAR_BEATS * beat_ticks);
    let &(tick, _) = near.min_by(|one, other| away(one.0).total_cmp(&away(other.0)))?;
    Some(Wished { tick, wish: Wish { channel: line.channel, ..request.wish } })
}

/// The note-ons of a line.
fn notes(file: &File, line: &Line) -> Vec<(u64, u8)> {
    let on = |event: &super::midi::Event| match event.message()? {
        Message::NoteOn { channel, key, .. } if channel == line.channel => Some((event.tick, key)),
        _ => None,
    };
    file.tracks[line.track].events.iter().filter_map(on).collect()
}

/// Key and requests of a text that is a wish.
fn headed(text: &str) -> Option<(Option<&str>, &str)> {
    let (head, asked) = text.trim().split_once(':')?;
    let key = head.strip_prefix(TEXT_HEAD)?;
    match key.trim() {
        "" => Some((None, asked)),
        _ if !key.starts_with(' ') => None,
        key => Some((Some(key), asked)),
    }
}

fn place_of(text: &str) -> Option<(u64, f64)> {
    let (bar, beat) = text.split_once('.')?;
    let (whole, part) = match beat.split_once('+') {
        Some((whole, part)) => {
            let (above, below) = part.split_once('/')?;
            let (above, below) = (above.parse::<u32>().ok()?, below.parse::<u32>().ok()?);
            (whole, (above < below).then(|| f64::from(above) / f64::from(below))?)
        }
        None => (beat, 0.0),
    };
    let (bar, whole) = (bar.parse::<u64>().ok()?, whole.parse::<u8>().ok()?);
    (bar >= 1 && whole >= 1).then(|| (bar, f64::from(whole) + part))
}

fn read_key(text: &str) -> Result<u8, String> {
    let allowed = "allowed is a key 0 to 127 or its name, 69 or A4";
    key_of(text.trim()).ok_or_else(|| format!("key is `{}`; {allowed}", text.trim()))
}

fn read_wish(mut wish: Wish, asked: &str, styles: &[String]) -> Result<Wish, String> {
    for word in asked.split(',').map(str::trim) {
        match word {
            "no vibrato" => wish.is_still = true,
            "open" => wish.is_open = true,
            "slide" => wish.slide = Some(true),
            "no slide" => wish.slide = Some(false),
            style => match styles.iter().position(|own| own == style) {
                Some(place) => wish.style = Some(place as u8),
                None => {
                    let styles = styles.join(", ");
                    return Err(format!(
                        "wish is `{word}`; allowed is no vibrato, open, slide, no slide, {styles}"
                    ));
                }
            },
        }
    }
    Ok(wish)
}

/// What came of each wish, written down while the line is played.
pub struct Answers {
    /// The wish, the frame of its note, and what came of it.
    all: Vec<(Wished, u64, Option<Answer>)>,
    next: usize,
}

#[derive(Clone, Copy)]
enum Answer {
    Obeyed,
    Refused(Reason),
}

impl Answers {
    /// Nothing has been played yet.
    pub fn new(wishes: &[Wished], clock: &Clock) -> Answers {
        let frame = |wished: &Wished| (*wished, clock.frame_at(wished.tick, RATE_HZ), None);
        Answers { all: wishes.iter().map(frame).collect(), next: 0 }
    }

    /// Looks at a note that has just begun.
    pub fn look(&mut self, look: &Look) {
        while self.all.get(self.next).is_some_and(|(_, frame, _)| frame + LATE_FRAMES < look.frame)
        {
            self.next += 1;
        }
        if !look.is_note {
            return;
        }
        let view = look.view;
        let near = self.all[self.next..].iter_mut().take_while(|(_, frame, _)| *frame < look.frame);
        for (wished, _, answer) in near.filter(|it| Some(it.0.wish.key) == view.key) {
            let is_slide_refused = wished.wish.slide == Some(true) && view.mode != Mode::Slide;
            let refused = view.refused_wish.or(is_slide_refused.then_some(view.legato_reason));
            *answer = Some(refused.map_or(Answer::Obeyed, Answer::Refused));
        }
    }

    /// One sentence a wish: place, key, what was asked, and what came of it.
    pub fn sentences(&self, file: &File, styles: &[String]) -> Vec<String> {
        let meter = Meter::of(file);
        let sentence = |(wished, _, answer): &(Wished, u64, Option<Answer>)| {
            let place = match &meter {
                Some(meter) => {
                    let (bar, beat) = meter.position(wished.tick);
                    format!("{bar}.{beat}")
                }
                None => format!("tick {}", wished.tick),
            };
            let came = match answer {
                Some(Answer::Obeyed) => "obeyed",
                Some(Answer::Refused(reason)) => reason.sentence(),
                None => "not obeyed: another note of the chord owns the line",
            };
            let (key, asked) = (key_name(wished.wish.key), in_words(&wished.wish, styles));
            format!("{place} {key}: {asked}: {came}")
        };
        self.all.iter().map(sentence).collect()
    }
}

/// The wish in words, as a table has it after its key.
pub fn in_words(wish: &Wish, styles: &[String]) -> String {
    let mut words: Vec<&str> = Vec::new();
    words.extend(wish.style.and_then(|style| styles.get(usize::from(style))).map(String::as_str));
    words.extend(wish.is_still.then_some("no vibrato"));
    words.extend(wish.is_open.then_some("open"));
    words.extend(wish.slide.map(|slide| if slide { "slide" } else { "no slide" }));
    words.join(", ")
}
