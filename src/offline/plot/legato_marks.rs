//! How each note joined, as a mark of its own shape, and a number where a slide was refused.

use super::lanes::LanePen;
use super::layout::{Lane, PlotLayout};
use super::notes::is_inside;
use super::performed_curves::PerformedCurves;
use super::svg::{Anchor, Svg, number, text_width};
use super::theme::PlotTheme;
use crate::engine::Mode;
use crate::engine::reason::Reason;
use crate::offline::audit::slide::is_refusal;

/// The number of each refused slide, from 1, the place of its note, and why.
pub type RefusedSlides = Vec<(usize, usize, Reason)>;

const NUMBER_SIZE: f64 = 9.5;

/// The refused slides in the picture.
pub fn refusals(layout: &PlotLayout, curves: &PerformedCurves) -> RefusedSlides {
    let notes = curves.notes.iter().enumerate();
    let refused = notes.filter(|(_, note)| is_inside(layout, note) && is_refusal(note.reason));
    refused.enumerate().map(|(count, (place, note))| (count + 1, place, note.reason)).collect()
}

/// Draws the marks.
pub fn draw(svg: &mut Svg, pen: LanePen, curves: &PerformedCurves) {
    let LanePen { layout, theme, is_other } = pen;
    let suffix = if is_other { "-other" } else { "" };
    svg.open(&format!("lane-legato{suffix}"), "fill=\"none\" stroke-linecap=\"round\"");
    let (top, _) = layout.lane(Lane::Legato);
    for mode in Mode::ALL {
        let mut marks = String::new();
        let of_mode =
            curves.notes.iter().filter(|note| note.mode == mode && layout.holds(note.start_s));
        for note in of_mode {
            marks += &mark(mode, layout.x(note.start_s), top + 30.0);
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
pub fn names(
    svg: &mut Svg,
    layout: &PlotLayout,
    theme: &PlotTheme,
    numbers: &RefusedSlides,
    curves: &PerformedCurves,
) {
    let (top, bottom) = layout.lane(Lane::Legato);
    svg.open("refusals", &format!("fill=\"{}\" font-weight=\"600\"", theme.ink));
    let mut free_from = layout.left;
    for (number, place, _) in numbers {
        let x = layout.x(curves.notes[*place].start_s);
        let words = number.to_string();
        let half = text_width(&words, NUMBER_SIZE) / 2.0;
        if x - half >= free_from && x + half <= layout.right {
            svg.text(x, bottom - 10.0, NUMBER_SIZE, Anchor::Middle, "class=\"refusal\"", &words);
            free_from = x + half + 2.0;
        }
    }
    svg.close();
    svg.open("names-legato", &format!("fill=\"{}\"", theme.quiet));
    for (place, mode) in Mode::ALL.into_iter().enumerate() {
        let y = top + 11.0 + 13.0 * place as f64;
        let x = layout.right + 30.0;
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
