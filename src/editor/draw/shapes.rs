//! The strands that are no single curve: the edges of styles, the zones of legato, the tail, the swing.

use egui::{FontId, Id, Pos2, Rect, Shape, Stroke, StrokeKind, Ui, pos2, vec2};

use super::Scene;
use super::canvas::{Canvas, steady};
use super::widget::{Pull, Words, handle};
use crate::editor::act::Act;
use crate::editor::figure::{plain, written};
use crate::editor::sheet::Setting;
use crate::editor::strand::Strand;
use crate::profile::FileKind;

/// How near two edges may stand.
const EDGE_STEP: f64 = 0.01;

/// Where the line is now: a dot with a ring, and a thread down to the gesture.
pub fn living_dot(ui: &Ui, scene: &Scene<'_>, canvas: &Canvas, (x, y): (f64, f64)) {
    let at = canvas.at(x, y);
    let painter = ui.painter();
    let foot = pos2(at.x, canvas.rect.bottom());
    painter.line_segment([foot, at], Stroke::new(1.0, scene.theme.quiet));
    painter.circle_filled(at, 5.5, scene.theme.ink);
    painter.circle_stroke(at, 8.5, Stroke::new(1.2, scene.theme.ink));
}

/// A handle that moves only to the left and right, with its knob above the canvas.
fn edge(
    ui: &mut Ui,
    scene: &Scene<'_>,
    canvas: &Canvas,
    id: Id,
    words: &Words<'_>,
    x: f64,
) -> Option<Pull> {
    let top = canvas.at(x, canvas.y.1);
    ui.painter().vline(top.x, canvas.rect.y_range(), Stroke::new(1.2, scene.theme.ink));
    let pull = handle(ui, &scene.theme, id, top, words);
    let knob = vec![top + vec2(-5.0, -6.0), top + vec2(5.0, -6.0), top + vec2(0.0, 4.0)];
    ui.painter().add(Shape::convex_polygon(knob, scene.theme.ink, Stroke::NONE));
    (pull != Pull::Rest).then_some(pull)
}

/// Where an edge goes by a pull.
fn moved(canvas: &Canvas, x: f64, pull: Pull) -> Option<f64> {
    let round = |value: f64| (value * 1000.0).round() / 1000.0;
    match pull {
        Pull::To(at) => Some(round(canvas.numbers(at).0)),
        Pull::Step(right, up) => Some(round(x + 0.01 * (right + up))),
        _ => None,
    }
}

/// Grips and releases, which are the same for every edge. True if it was one.
fn grips(scene: &mut Scene<'_>, pull: Pull) -> bool {
    match pull {
        Pull::Grip => scene.acts.push(Act::Grip),
        Pull::Release => scene.acts.push(Act::Release),
        _ => return false,
    }
    true
}

fn word(ui: &Ui, scene: &Scene<'_>, at: Pos2, words: &str) {
    let font = FontId::proportional(13.0);
    let galley = ui.painter().layout_no_wrap(words.to_owned(), font, scene.theme.ink);
    let half = galley.size() / 2.0;
    // Words near the edge stay inside the window.
    let right = ui.clip_rect().right() - half.x - 6.0;
    let at = pos2(at.x.min(right), at.y) - half;
    ui.painter().galley(at, galley, scene.theme.ink);
}

/// The weights of the styles over the gesture, and the edges between them.
pub fn style(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect) {
    let canvas = Canvas { rect, x: (0.0, 1.0), y: (0.0, 1.0) };
    canvas.ground(ui.painter(), scene, "of the gesture", "");
    let Some(instrument) = scene.model.sheet(FileKind::Instrument).instrument() else { return };
    let edges: Vec<f64> =
        instrument.vibrato.style_edges.iter().flat_map(|&(begin, end)| [begin, end]).collect();
    let ease = |u: f64| u * u * (3.0 - 2.0 * u);
    let passed = |place: usize, x: f64| match edges.get(2 * place..2 * place + 2) {
        Some([begin, end]) => ease(((x - begin) / (end - begin)).clamp(0.0, 1.0)),
        _ => 0.0,
    };
    let styles = scene.model.styles();
    let colour = scene.theme.strand(Strand::Style);
    for (place, name) in styles.iter().enumerate() {
        let weight = |x: f64| {
            let came = if place == 0 { 1.0 } else { passed(place - 1, x) };
            came - passed(place, x)
        };
        let line = canvas.line(weight);
        let stroke = Stroke::new(1.4 + 0.9 * place as f32, colour);
        ui.painter().add(Shape::line(line, stroke));
        let middle = match place {
            0 => edges.first().map_or(0.5, |edge| edge / 2.0),
            _ => {
                let from = edges.get(2 * place - 1).copied().unwrap_or(0.0);
                from.midpoint(edges.get(2 * place).copied().unwrap_or(1.0))
            }
        };
        word(ui, scene, canvas.at(middle, 0.55), name);
    }
    let mut taken = None;
    for (place, &x) in edges.iter().enumerate() {
        let side = if place % 2 == 0 { "begins" } else { "ends" };
        let from = styles.get(place / 2).map_or("", String::as_str);
        let to = styles.get(place / 2 + 1).map_or("", String::as_str);
        let name = format!("From {from} to {to} {side}");
        let value = format!("gesture {}", plain(x));
        let words = Words { name: &name, value: &value };
        let id = Id::unique(("style edge", place));
        if let Some(pull) = edge(ui, scene, &canvas, id, &words, x) {
            taken = Some((place, pull));
        }
    }
    if let Some(view) = scene.meter.view() {
        living_dot(ui, scene, &canvas, (view.gesture, 1.0 - view.weights[0]));
    }
    let Some((place, pull)) = taken else { return };
    if grips(scene, pull) {
        return;
    }
    if let Some(edges) =
        moved(&canvas, edges[place], pull).and_then(|x| placed(&edges, place, x, EDGE_STEP))
    {
        let pairs = edges.chunks_exact(2).map(|pair| (pair[0], pair[1]));
        let value = Setting::Points(pairs.collect());
        let path = "vibrato.style_edges".to_owned();
        scene.acts.push(Act::Set { kind: FileKind::Instrument, path, value });
    }
}

/// The edges with one of them elsewhere, between its neighbours.
fn placed(edges: &[f64], place: usize, x: f64, apart: f64) -> Option<Vec<f64>> {
    let mut edges = edges.to_vec();
    let low = place.checked_sub(1).map_or(0.0, |before| edges[before] + apart);
    let high = edges.get(place + 1).map_or(1.0, |after| after - apart);
    if low > high {
        return None;
    }
    edges[place] = x.clamp(low, high);
    Some(edges)
}

/// The zones of legato over the gesture, with the width of the hysteresis about each edge.
pub fn legato(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect) {
    let canvas = Canvas { rect, x: (0.0, 1.0), y: (0.0, 1.0) };
    canvas.ground(ui.painter(), scene, "of the gesture", "");
    let Some(instrument) = scene.model.sheet(FileKind::Instrument).instrument() else { return };
    let (edges, hysteresis) = (instrument.legato.edges, instrument.legato.hysteresis);
    let ends = [0.0, edges[0], edges[1], edges[2], 1.0];
    for (place, name) in ["quick", "joined", "slow", "slide"].into_iter().enumerate() {
        let middle = ends[place].midpoint(ends[place + 1]);
        let height = 0.2 + 0.2 * place as f64;
        let (from, to) = (canvas.at(ends[place], height), canvas.at(ends[place + 1], height));
        let colour = scene.theme.strand(Strand::Legato);
        ui.painter().line_segment([from, to], Stroke::new(3.0, colour));
        word(ui, scene, canvas.at(middle, height) - vec2(0.0, 12.0), name);
    }
    let mut taken = None;
    for (place, &x) in edges.iter().enumerate() {
        let (from, to) = (canvas.at(x - hysteresis, 1.0), canvas.at(x + hysteresis, 0.0));
        let band = Rect::from_min_max(from, to);
        ui.painter().rect_filled(band, 0, scene.theme.grid.gamma_multiply(0.7));
        let stroke = Stroke::new(1.0, scene.theme.quiet);
        ui.painter().rect_stroke(band, 0, stroke, StrokeKind::Inside);
        let names = ["quick and joined", "joined and slow", "slow and slide"];
        let name = format!("Edge between {}", names[place]);
        let value = format!("gesture {}, give or take {}", plain(x), plain(hysteresis));
        let words = Words { name: &name, value: &value };
        let id = Id::unique(("legato edge", place));
        if let Some(pull) = edge(ui, scene, &canvas, id, &words, x) {
            taken = Some((place, pull));
        }
    }
    if let Some(view) = scene.meter.view() {
        living_dot(ui, scene, &canvas, (view.gesture, 0.06));
    }
    let Some((place, pull)) = taken else { return };
    if grips(scene, pull) {
        return;
    }
    // The bands about two edges may touch, not overlap.
    let apart = (2.0 * hysteresis).max(EDGE_STEP);
    if let Some(edges) =
        moved(&canvas, edges[place], pull).and_then(|x| placed(&edges, place, x, apart))
    {
        let (path, value) = ("legato.edges".to_owned(), Setting::List(edges));
        scene.acts.push(Act::Set { kind: FileKind::Instrument, path, value });
    }
}

/// How the level falls after the last note-off, and how far the send rises.
pub fn tail(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect) {
    let Some(instrument) = scene.model.sheet(FileKind::Instrument).instrument() else { return };
    let tail = instrument.tail;
    let span_ms = (tail.tail_ms * 1.4).max(400.0);
    let depth_db = (tail.tail_db * 1.2).ceil().max(36.0);
    let (x, y) = (steady(ui, "tail ms", (0.0, span_ms)), steady(ui, "tail dB", (-depth_db, 0.0)));
    let canvas = Canvas { rect, x, y };
    canvas.ground(ui.painter(), scene, "ms", "dB");
    let ease = |u: f64| u * u * (3.0 - 2.0 * u);
    let level = |at_ms: f64| -tail.tail_db * ease((at_ms / tail.tail_ms.max(1.0)).clamp(0.0, 1.0));
    let colour = scene.theme.strand(Strand::Tail);
    ui.painter().add(Shape::line(canvas.line(level), Stroke::new(2.4, colour)));
    let at = canvas.at(tail.tail_ms, -tail.tail_db);
    let value =
        format!("{}, falls by {}", written(tail.tail_ms, "ms"), written(tail.tail_db, "dB"));
    let words = Words { name: "End of the tail", value: &value };
    let pull = handle(ui, &scene.theme, Id::unique("tail end"), at, &words);
    let square = Rect::from_center_size(at, vec2(9.0, 9.0));
    ui.painter().rect_filled(square, 1, scene.theme.sheet);
    ui.painter().rect_stroke(square, 1, Stroke::new(2.0, colour), StrokeKind::Inside);
    if grips(scene, pull) {
        return;
    }
    let (tail_ms, tail_db) = match pull {
        Pull::To(at) => {
            let (at_ms, level_db) = canvas.numbers(at);
            (at_ms, -level_db)
        }
        Pull::Step(right, up) => (tail.tail_ms + 10.0 * right, tail.tail_db - up),
        _ => return,
    };
    let round = |value: f64, most: f64| Setting::Number(value.clamp(0.0, most).round());
    let set = |path: &str, value: Setting| Act::Set {
        kind: FileKind::Instrument,
        path: path.to_owned(),
        value,
    };
    scene.acts.push(set("tail.tail_ms", round(tail_ms, 2000.0)));
    scene.acts.push(set("tail.tail_db", round(tail_db, 60.0)));
}

/// One swing of the chosen style about the pitch, at the present gesture.
pub fn pitch(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect) {
    let name = scene.model.style();
    let Some(instrument) = scene.model.sheet(FileKind::Instrument).instrument() else { return };
    let vibrato = &instrument.vibrato;
    let Some(style) = vibrato.styles.iter().find(|style| style.name == name) else { return };
    let gesture = scene.meter.view().map_or(0.5, |view| view.gesture);
    let width = style.width_cents.at(gesture);
    let rate = style.rate_hz.at(gesture).max(0.1);
    let most = width.ceil().max(120.0);
    let canvas = Canvas { rect, x: (0.0, (200.0 / rate).ceil() * 10.0), y: (-most, most) };
    canvas.ground(ui.painter(), scene, "ms", "cents");
    let (share, q) = (style.share_above, style.sharpness);
    let swing = |at_ms: f64| {
        let a = 0.5 * (1.0 + libm::sin(std::f64::consts::TAU * at_ms / 1000.0 * rate));
        let (above, below) = (share * libm::pow(a, q), (1.0 - share) * libm::pow(1.0 - a, q));
        width * (above - below)
    };
    let colour = scene.theme.strand(Strand::Pitch);
    let y = canvas.at(0.0, 0.0).y;
    ui.painter().hline(rect.x_range(), y, Stroke::new(1.4, scene.theme.ink));
    ui.painter().add(Shape::line(canvas.line(swing), Stroke::new(2.4, colour)));
    let words = format!(
        "two swings of {name} at gesture {:.0} %: {} wide, {} Hz",
        100.0 * gesture,
        written(width.round(), "cents"),
        plain((rate * 10.0).round() / 10.0)
    );
    word(ui, scene, pos2(rect.center().x, rect.top() + 12.0), &words);
    if let Some(view) = scene.meter.view() {
        let at = canvas.at(canvas.x.1, view.pitch_cents.clamp(-most, most));
        ui.painter().circle_filled(at, 5.5, scene.theme.ink);
    }
}
