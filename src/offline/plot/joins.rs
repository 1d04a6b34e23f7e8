//! How each note joined, as a mark of its own shape, and a number where a slide was refused.

use super::frame::{Frame, Lane};
use super::lanes::Pen;
use super::record::Record;
use super::staff::is_inside;
use super::svg::{Anchor, Svg, number, text_width};
use super::theme::Theme;
use crate::engine::Mode;
use crate::engine::reason::Reason;
use crate::offline::audit::slide::is_refusal;

/// Numbers of refused slides, from 1, by the note's place in the part.
pub type Numbers = Vec<(usize, usize, Reason)>;

const NUMBER_SIZE: f64 = 9.5;

/// The refused slides in the picture.
pub fn refusals(frame: &Frame, record: &Record) -> Numbers {
    let notes = record.part.notes.iter().enumerate();
    let refused = notes.filter(|(_, note)| is_inside(frame, note) && is_refusal(note.reason));
    refused.enumerate().map(|(count, (place, note))| (count + 1, place, note.reason)).collect()
}

/// Draws the marks.
pub fn draw(svg: &mut Svg, pen: Pen, record: &Record) {
    let Pen { frame, theme, is_other } = pen;
    let suffix = if is_other { "-other" } else { "" };
    svg.open(&format!("lane-legato{suffix}"), "fill=\"none\" stroke-linecap=\"round\"");
    let (top, _) = frame.lane(Lane::Legato);
    for mode in Mode::ALL {
        let mut marks = String::new();
        let of_mode =
            record.part.notes.iter().filter(|note| note.mode == mode && frame.holds(note.start_s));
        for note in of_mode {
            marks += &mark(mode, frame.x(note.start_s), top + 30.0);
        }
        pen.stroke(svg, &marks, theme.legato, 1.7, "");
    }
    svg.close();
}

/// A mark that ends where the note begins: a ring for a fresh note, then longer and longer ways.
fn mark(mode: Mode, x: f64, y: f64) -> String {
    let (x, y, high) =
        (number(x), number(y), number(if mode == Mode::Fresh { y - 8.0 } else { y - 16.0 }));
    match mode {
        Mode::Fresh => format!("M{x} {high}a4 4 0 1 0 0.01 0"),
        Mode::Quick => format!("M{x} {y}v-16"),
        Mode::Joined => format!("M{x} {y}q-2 -14 -8 -14"),
        Mode::Slow => format!("M{x} {y}q-2 -9 -8 -9t-8 9"),
        Mode::Slide => format!("M{x} {high}l-14 16"),
    }
}

/// Draws the numbers under the marks, where there is room, and the marks' names at the right.
pub fn names(svg: &mut Svg, frame: &Frame, theme: &Theme, numbers: &Numbers, record: &Record) {
    let (top, bottom) = frame.lane(Lane::Legato);
    svg.open("refusals", &format!("fill=\"{}\" font-weight=\"600\"", theme.ink));
    let mut free_from = frame.left;
    for (number, place, _) in numbers {
        let x = frame.x(record.part.notes[*place].start_s);
        let words = number.to_string();
        let half = text_width(&words, NUMBER_SIZE) / 2.0;
        if x - half >= free_from && x + half <= frame.right {
            svg.text(x, bottom - 10.0, NUMBER_SIZE, Anchor::Middle, "class=\"refusal\"", &words);
            free_from = x + half + 2.0;
        }
    }
    svg.close();
    svg.open("names-legato", &format!("fill=\"{}\"", theme.quiet));
    for (place, mode) in Mode::ALL.into_iter().enumerate() {
        let y = top + 11.0 + 13.0 * place as f64;
        let x = frame.right + 30.0;
        svg.open(&format!("mark-{}", mode.name()), "transform=\"translate(0 0)\"");
        let style = format!("fill=\"none\" stroke=\"{}\" stroke-width=\"1.7\"", theme.legato);
        let (x_mark, y_mark) = (number(x - 2.0), number(y));
        let small = format!("{style} transform=\"translate({x_mark} {y_mark}) scale(0.62)\"");
        svg.path(&mark(mode, 0.0, 0.0), &small);
        svg.close();
        svg.text(x + 8.0, y, 10.0, Anchor::Start, "class=\"name\"", mode.name());
    }
    svg.close();
}
