//! The last eight seconds: the notes with the pitch drawn on them in cents, and the strands below.

use egui::{
    Align2, FontId, Id, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui, pos2, vec2,
};

use super::scene::WindowScene;
use super::widget::{SpokenText, tell};
use super::{strand_icons, toolbars};
use crate::editor::number_text::key;
use crate::editor::recent::{RecentNote, SPAN_S};
use crate::editor::strand::Strand;
use crate::engine::Mode;

/// The least that the staff shows, semitones.
const SEMITONES_MIN: f64 = 8.0;
/// The share of the height that the strands below have.
const LANE_SHARE: f32 = 0.30;
/// The height of the line of their names, points.
const NAMES_HEIGHT: f32 = 16.0;

/// Where in the window a time and a pitch lie.
struct Staff {
    rect: Rect,
    now_s: f64,
    low: f64,
    high: f64,
}

impl Staff {
    fn x(&self, at_s: f64) -> f32 {
        let share = 1.0 - (self.now_s - at_s) / SPAN_S;
        self.rect.left() + share.clamp(0.0, 1.0) as f32 * self.rect.width()
    }

    fn y(&self, key: f64) -> f32 {
        let share = (key - self.low) / (self.high - self.low);
        self.rect.bottom() - share as f32 * self.rect.height()
    }
}

/// Draws the last eight seconds.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>, rect: Rect) {
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 2, scene.theme.paper);
    let notes = scene.recent.notes();
    let said = spoken(&notes);
    let response = ui.interact(rect, Id::unique("past"), Sense::hover());
    tell(
        ui,
        &response,
        Role::Image,
        &SpokenText { name: "The last 8 seconds", value: &said },
        None,
    );
    let inner = rect.shrink2(vec2(14.0, 8.0));
    let lane_height = (inner.height() * LANE_SHARE).round();
    let staff_rect =
        Rect::from_min_max(inner.min, pos2(inner.right(), inner.bottom() - lane_height - 18.0));
    let now_s = scene.recent.last().map_or(0.0, |last| last.at_s);
    let keys = notes.iter().map(|note| f64::from(note.key));
    let (low, high) = keys.fold((f64::MAX, f64::MIN), |(l, h), key| (l.min(key), h.max(key)));
    let (low, high) = if notes.is_empty() { (66.0, 72.0) } else { (low, high) };
    let spare = ((SEMITONES_MIN - (high - low)) / 2.0).max(0.0);
    let staff = Staff { rect: staff_rect, now_s, low: low - spare - 1.5, high: high + spare + 1.5 };
    let lane = Rect::from_min_max(
        pos2(inner.left(), inner.bottom() - lane_height),
        pos2(inner.right(), inner.bottom()),
    );
    ruler(scene, &painter, &staff, lane);
    for (place, note) in notes.iter().enumerate() {
        let before = place.checked_sub(1).map(|before| &notes[before]);
        self::note(scene, &painter, &staff, note, before);
    }
    pitch(scene, &painter, &staff);
    strands(scene, &painter, &staff, lane);
    if notes.is_empty() {
        toolbars::empty(ui, scene, staff_rect, "No note in the last 8 seconds.");
    }
}

fn ruler(scene: &WindowScene<'_>, painter: &Painter, staff: &Staff, lane: Rect) {
    let font = FontId::proportional(12.0);
    for second in 0..=SPAN_S as u8 {
        let x = staff.x(staff.now_s - f64::from(second));
        let y = staff.rect.top()..=lane.bottom();
        painter.vline(x, y, Stroke::new(1.0, scene.theme.grid));
        let words = if second == 0 { "now".to_owned() } else { format!("−{second} s") };
        let anchor = match second {
            0 => Align2::RIGHT_TOP,
            8 => Align2::LEFT_TOP,
            _ => Align2::CENTER_TOP,
        };
        let at = pos2(x, staff.rect.bottom() + 2.0);
        painter.text(at, anchor, words, font.clone(), scene.theme.quiet);
    }
}

/// A note: its name with its number, and how it joined the one before.
fn note(
    scene: &WindowScene<'_>,
    painter: &Painter,
    staff: &Staff,
    note: &RecentNote,
    before: Option<&RecentNote>,
) {
    let y = staff.y(f64::from(note.key));
    let half = (staff.y(0.0) - staff.y(1.0)).abs().clamp(8.0, 22.0) / 2.0;
    let (left, right) = (staff.x(note.from_s), staff.x(note.to_s));
    let bar = Rect::from_min_max(pos2(left, y - half), pos2(right.max(left + 2.0), y + half));
    painter.rect_filled(bar, 2, scene.theme.note);
    painter.rect_stroke(bar, 2, Stroke::new(1.0, scene.theme.quiet), StrokeKind::Inside);
    let font = FontId::proportional(12.0);
    let ink = scene.theme.ink;
    let name = painter.layout_no_wrap(key(note.key), font.clone(), ink);
    let short = crate::profile::pitch::key_name(note.key);
    let short = painter.layout_no_wrap(short, font.clone(), ink);
    let galley = if name.size().x < bar.width() - 4.0 { name } else { short };
    if galley.size().x < bar.width() - 4.0 {
        let at = pos2(bar.left() + 4.0, bar.bottom() + 1.0);
        painter.galley(at, galley, ink);
    }
    let Some(before) = before.filter(|_| note.first.mode != Mode::Fresh) else { return };
    let colour = scene.theme.strand(Strand::Legato);
    let from = pos2(staff.x(before.to_s) - 10.0, staff.y(f64::from(before.key)) - half);
    let to = pos2(left + 6.0, y - half);
    let top = pos2(from.x.midpoint(to.x), from.y.min(to.y) - 16.0);
    let arc = |step: u8| {
        let u = f32::from(step) / 10.0;
        let blend = |a: f32, b: f32, c: f32| {
            (1.0 - u) * (1.0 - u) * a + 2.0 * u * (1.0 - u) * b + u * u * c
        };
        pos2(blend(from.x, top.x, to.x), blend(from.y, top.y, to.y))
    };
    painter.add(Shape::line((0..=10).map(arc).collect(), Stroke::new(1.4, colour)));
    let at = pos2(to.x + 4.0, to.y - 1.0);
    if bar.width() > 52.0 {
        painter.text(at, Align2::LEFT_BOTTOM, note.first.mode.name(), font, colour);
    }
}

/// The pitch, in cents about each note.
fn pitch(scene: &WindowScene<'_>, painter: &Painter, staff: &Staff) {
    let stroke = Stroke::new(1.6, scene.theme.strand(Strand::Pitch));
    let mut run: Vec<Pos2> = Vec::new();
    let mut key = None;
    let end = |run: &mut Vec<Pos2>| {
        if run.len() > 1 {
            painter.add(Shape::line(std::mem::take(run), stroke));
        }
        run.clear();
    };
    for snapshot in scene.recent.snapshots() {
        if snapshot.view.key != key {
            end(&mut run);
            key = snapshot.view.key;
        }
        if let Some(key) = key {
            let y = staff.y(f64::from(key) + snapshot.view.heard_cents() / 100.0);
            run.push(pos2(staff.x(snapshot.at_s), y));
        }
    }
    end(&mut run);
}

/// The gesture as a heavy line, dynamics and the strand that is looked at as light ones.
fn strands(scene: &WindowScene<'_>, painter: &Painter, staff: &Staff, lane: Rect) {
    painter.hline(lane.x_range(), lane.bottom(), Stroke::new(1.0, scene.theme.grid));
    let mut shown = vec![Strand::Gesture, Strand::Dynamics];
    let looked_at = scene.model.strand();
    if !shown.contains(&looked_at) {
        shown.push(looked_at);
    }
    let count = scene.recent.snapshots().count();
    // A point of the line for every two pixels is enough for what moves slowly.
    let every = (2 * count / lane.width().max(1.0) as usize).max(1);
    for (place, strand) in shown.into_iter().enumerate() {
        let height = lane.height() - NAMES_HEIGHT - 4.0;
        let y = |share: f64| lane.bottom() - share.clamp(0.0, 1.0) as f32 * height;
        let snapshots = scene.recent.snapshots().step_by(every);
        let points: Vec<Pos2> =
            snapshots.map(|one| pos2(staff.x(one.at_s), y(strand.share(&one.view)))).collect();
        let colour = scene.theme.strand(strand);
        let width = if strand == Strand::Gesture { 2.6 } else { 1.4 };
        painter.add(Shape::line(points, Stroke::new(width, colour)));
        let at = lane.left_top() + vec2(8.0 + 120.0 * place as f32, 6.0);
        let back = Rect::from_min_size(at - vec2(8.0, 8.0), vec2(116.0, 16.0));
        painter.rect_filled(back, 0, scene.theme.paper.gamma_multiply(0.85));
        strand_icons::draw(painter, strand, at, 9.0, colour);
        let font = FontId::proportional(12.0);
        painter.text(at + vec2(9.0, 0.0), Align2::LEFT_CENTER, strand.name(), font, colour);
    }
}

/// The notes in words.
fn spoken(notes: &[RecentNote]) -> String {
    let recent = notes.iter().rev().take(8).rev();
    let all: Vec<String> =
        recent.map(|note| format!("{} {}", key(note.key), note.first.mode.name())).collect();
    if all.is_empty() { "no note".to_owned() } else { all.join(", ") }
}
