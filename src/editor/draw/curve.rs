//! The chosen strand, large: its curve with breakpoints to drag and the living dot, its numbers below.

use egui::{Id, Rect, RichText, ScrollArea, Shape, Stroke, StrokeKind, Ui, vec2};

use super::canvas::{Canvas, steady};
use super::widget::{Pull, Words, button, choice, handle, typed};
use super::{Scene, marks, numbers, shapes};
use crate::editor::act::Act;
use crate::editor::figure::{self, plain, written};
use crate::editor::model::Model;
use crate::editor::sheet::Setting;
use crate::editor::strand::Strand;
use crate::engine::curve::{Curve, POINTS_MAX};
use crate::profile::FileKind;
use crate::profile::form::Form;

/// The height of the curve, points.
const HEIGHT: f32 = 250.0;
/// Room for the words beside it.
const MARGIN: (f32, f32, f32, f32) = (72.0, 10.0, 12.0, 28.0);
/// How near two breakpoints may stand (a file allows 0.001).
const STEP_MIN: f64 = 0.01;

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut Scene<'_>) {
    let strand = scene.model.strand();
    ui.horizontal(|ui| {
        let (_, rect) = ui.allocate_space(vec2(20.0, 24.0));
        let colour = scene.theme.strand(strand);
        marks::draw(ui.painter(), strand, rect.center(), 15.0, colour);
        ui.label(RichText::new(strand.name()).size(20.0));
        if matches!(strand, Strand::Width | Strand::Rate | Strand::Pitch) {
            styles(ui, scene);
        }
    });
    ScrollArea::vertical().id_salt("curve").show(ui, |ui| {
        let (_, whole) = ui.allocate_space(vec2(ui.available_width(), HEIGHT));
        let (left, top, right, bottom) = MARGIN;
        let rect = Rect::from_min_max(whole.min + vec2(left, top), whole.max - vec2(right, bottom));
        match strand {
            Strand::Style => shapes::style(ui, scene, rect),
            Strand::Legato => shapes::legato(ui, scene, rect),
            Strand::Tail => shapes::tail(ui, scene, rect),
            Strand::Pitch => shapes::pitch(ui, scene, rect),
            _ => bend(ui, scene, rect),
        }
        numbers::draw(ui, scene);
    });
}

/// The styles of the instrument; the numbers below are those of the chosen one.
fn styles(ui: &mut Ui, scene: &mut Scene<'_>) {
    let chosen = scene.model.style();
    for (place, name) in scene.model.styles().into_iter().enumerate() {
        let words = format!("Style {name}");
        if choice(ui, &scene.theme, name == chosen, &name, &words) {
            scene.acts.push(Act::LookStyle(place));
        }
    }
}

/// A curve of a file, with everything that is needed to bend it.
struct Bend {
    kind: FileKind,
    path: String,
    unit: &'static str,
    points: Vec<(f64, f64)>,
    canvas: Canvas,
    /// The lowest and the highest value that a file may have.
    allowed: (f64, f64),
}

impl Bend {
    fn of(ui: &Ui, model: &Model, strand: Strand, rect: Rect) -> Option<Bend> {
        let kind = Model::kind_of(strand);
        let path = strand.curve(&model.style())?;
        let sheet = model.sheet(kind);
        let (points, allowed) = match sheet.points(&path) {
            Some(points) => {
                let form = &sheet.field(&path)?.form;
                let Form::Curve { y, .. } = form else { return None };
                (points, *y)
            }
            // A hand without points has a bend that is one number; its ends and middle stand in.
            None => (response_points(model)?, (0.0, 1.0)),
        };
        let highest = points.iter().map(|point| point.1).fold(0.0, f64::max);
        let top = match strand {
            Strand::Width => (highest * 1.25).clamp(50.0, allowed.1).ceil(),
            Strand::Rate => allowed.1,
            _ => 1.0,
        };
        let bottom = if strand == Strand::Rate { allowed.0 } else { 0.0 };
        let y = steady(ui, &path, (bottom, top));
        let canvas = Canvas { rect, x: (0.0, 1.0), y };
        let unit = if strand == Strand::Gesture { "" } else { figure::unit(&path) };
        Some(Bend { kind, path, unit, points, canvas, allowed })
    }

    fn set(&self, scene: &mut Scene<'_>, points: &[(f64, f64)]) {
        let (kind, path) = (self.kind, self.path.clone());
        scene.acts.push(Act::Set { kind, path, value: Setting::Points(points.to_vec()) });
    }

    /// A breakpoint where it may stand: between its neighbours, within what is allowed.
    fn within(&self, place: usize, (x, y): (f64, f64)) -> (f64, f64) {
        let before = place.checked_sub(1).map_or(0.0, |it| self.points[it].0 + STEP_MIN);
        let after = self.points.get(place + 1).map_or(1.0, |next| next.0 - STEP_MIN);
        let x = if before <= after { x.clamp(before, after) } else { self.points[place].0 };
        let round = |value: f64, steps: f64| (value * steps).round() / steps;
        let fine = if self.canvas.y.1 > 20.0 { 10.0 } else { 1000.0 };
        (round(x, 1000.0), round(y, fine).clamp(self.allowed.0, self.allowed.1))
    }

    /// What to say of a typed breakpoint that could not go where it was sent.
    fn bounded(&self, place: usize, wish: (f64, f64), got: (f64, f64)) -> Option<Act> {
        let (low, high) = self.allowed;
        let is_kept = (low..=high).contains(&wish.1) && (wish.0 - got.0).abs() < 1e-3;
        let said = format!(
            "breakpoint {}: it stands at gesture {}, {}; allowed is a place between its \
             neighbours, {} to {}",
            place + 1,
            plain(got.0),
            written(got.1, self.unit),
            plain(low),
            written(high, self.unit)
        );
        (!is_kept).then_some(Act::Say(said))
    }
}

/// The response of a hand that gives only its bend.
fn response_points(model: &Model) -> Option<Vec<(f64, f64)>> {
    let k = model.sheet(FileKind::Hand).number("controller.response_k")?;
    let at = |x: f64| match k.abs() < 1e-9 {
        true => x,
        false => libm::expm1(k * x) / libm::expm1(k),
    };
    Some([0.0, 0.25, 0.5, 0.75, 1.0].map(|x| (x, at(x))).to_vec())
}

fn bend(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect) {
    let strand = scene.model.strand();
    let Some(bend) = Bend::of(ui, scene.model, strand, rect) else { return };
    let x_unit = if strand == Strand::Gesture { "of the travel" } else { "of the gesture" };
    bend.canvas.ground(ui.painter(), scene, x_unit, bend.unit);
    let colour = scene.theme.strand(strand);
    let curve = Curve::through(&bend.points).unwrap_or(Curve::constant(bend.points[0].1));
    let line = bend.canvas.line(|x| curve.at(x));
    ui.painter().add(Shape::line(line, Stroke::new(2.4, colour)));
    let dot = scene.meter.view().map(|view| match strand {
        Strand::Gesture => (view.raw.unwrap_or(0.0), view.gesture),
        _ => (view.gesture, curve.at(view.gesture)),
    });
    let mut taken = None;
    for (place, &(x, y)) in bend.points.iter().enumerate() {
        let at = bend.canvas.at(x, y);
        let name = format!("Breakpoint {} of {}", place + 1, bend.points.len());
        let value = format!("gesture {}, {}", plain(x), written(y, bend.unit));
        let words = Words { name: &name, value: &value };
        let pull = handle(ui, &scene.theme, Id::unique(("breakpoint", place)), at, &words);
        let square = Rect::from_center_size(at, vec2(9.0, 9.0));
        ui.painter().rect_filled(square, 1, scene.theme.sheet);
        ui.painter().rect_stroke(square, 1, Stroke::new(2.0, colour), StrokeKind::Inside);
        if pull != Pull::Rest {
            taken = Some((place, pull));
        }
    }
    if let Some((x, y)) = dot {
        shapes::living_dot(ui, scene, &bend.canvas, (x, y));
    }
    if let Some((place, pull)) = taken {
        follow(scene, &bend, place, pull);
    }
    rows(ui, scene, &bend);
}

/// Does what the player does with a breakpoint.
fn follow(scene: &mut Scene<'_>, bend: &Bend, place: usize, pull: Pull) {
    let mut points = bend.points.clone();
    match pull {
        Pull::Rest => return,
        Pull::Grip => return scene.acts.push(Act::Grip),
        Pull::Release => return scene.acts.push(Act::Release),
        Pull::To(at) => points[place] = bend.within(place, bend.canvas.numbers(at)),
        Pull::Step(right, up) => {
            let (x, y) = points[place];
            let step = if bend.canvas.y.1 > 20.0 { 1.0 } else { 0.01 };
            points[place] = bend.within(place, (x + 0.01 * right, y + step * up));
        }
        Pull::Remove => {
            if points.len() <= 2 {
                return;
            }
            points.remove(place);
        }
    }
    bend.set(scene, &points);
}

/// The breakpoints as numbers to be typed, and buttons to add, remove and reset.
fn rows(ui: &mut Ui, scene: &mut Scene<'_>, bend: &Bend) {
    ui.horizontal_wrapped(|ui| {
        ui.add_enabled_ui(bend.points.len() < POINTS_MAX, |ui| {
            if button(ui, "Add a breakpoint", "Add a breakpoint") {
                bend.set(scene, &with_another(&bend.points));
            }
        });
        if button(ui, "Reset the curve", "Reset the curve") {
            let (kind, path) = (bend.kind, bend.path.clone());
            scene.acts.push(Act::Reset { kind, path });
        }
    });
    let unit = if bend.unit.is_empty() { "share" } else { bend.unit };
    for (place, &(x, y)) in bend.points.iter().enumerate() {
        ui.horizontal(|ui| {
            ui.label(format!("{}", place + 1));
            let name = format!("Breakpoint {} gesture", place + 1);
            let id = Id::unique(("breakpoint x", place));
            let moved_x = typed(ui, id, &name, &plain(x), 56.0);
            ui.label("→");
            let name = format!("Breakpoint {} in {unit}", place + 1);
            let id = Id::unique(("breakpoint y", place));
            let moved_y = typed(ui, id, &name, &written(y, bend.unit), 96.0);
            if moved_x.is_some() || moved_y.is_some() {
                let read = |text: Option<String>, unit: &str, old: f64| {
                    text.map_or(Ok(old), |text| figure::read(&text, unit))
                };
                match (read(moved_x, "", x), read(moved_y, bend.unit, y)) {
                    (Ok(x), Ok(y)) => {
                        let mut points = bend.points.clone();
                        points[place] = bend.within(place, (x, y));
                        bend.set(scene, &points);
                        scene.acts.extend(bend.bounded(place, (x, y), points[place]));
                    }
                    (Err(sentence), _) | (_, Err(sentence)) => {
                        let said = format!("breakpoint {}: {sentence}", place + 1);
                        scene.acts.push(Act::Say(said));
                    }
                }
            }
            ui.add_enabled_ui(bend.points.len() > 2, |ui| {
                if button(ui, "Remove", &format!("Remove breakpoint {}", place + 1)) {
                    follow(scene, bend, place, Pull::Remove);
                }
            });
        });
    }
}

/// One breakpoint more, in the middle of the widest gap, where the curve is anyway.
fn with_another(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut points = points.to_vec();
    let gap = |place: &usize| points[place + 1].0 - points[*place].0;
    let widest = (0..points.len() - 1).max_by(|a, b| gap(a).total_cmp(&gap(b)).then(b.cmp(a)));
    let Some(widest) = widest else { return points };
    let x = points[widest].0.midpoint(points[widest + 1].0);
    let y = Curve::through(&points).map_or(points[widest].1, |curve| curve.at(x));
    let round = |value: f64| (value * 1000.0).round() / 1000.0;
    points.insert(widest + 1, (round(x), round(y)));
    points
}
