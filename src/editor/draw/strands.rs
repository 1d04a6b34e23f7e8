//! The thread and its strands: the gesture comes from the hand at the left and splits into its consequences.
//!
//! At the hand the thread shows the present, and the further to the right, the longer ago. So a
//! movement of the hand is seen to run along the thread and into every strand.

use egui::{
    Align2, FontId, Id, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui, pos2, vec2,
};

use super::scene::WindowScene;
use super::widget::{SpokenText, caption, ring, tell};
use super::{strand_icons, toolbars};
use crate::editor::act::Act;
use crate::editor::feed::Snapshot;
use crate::editor::recent::Recent;
use crate::editor::strand::Strand;

/// How long a movement takes from the hand to the knot, where the thread splits, seconds.
const THREAD_S: f64 = 0.9;
/// And from the knot to the end of a strand.
const STRAND_S: f64 = 1.2;
/// How far a strand swings to either side at most, points.
const SWAY: f32 = 7.0;
/// Of how many pieces a line is drawn.
const STEPS: u16 = 40;
/// The strands behind the knot.
const FAN: [Strand; 7] = [
    Strand::Dynamics,
    Strand::Width,
    Strand::Rate,
    Strand::Style,
    Strand::Legato,
    Strand::Tail,
    Strand::Pitch,
];

/// Draws the thread, the strands and their names.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>, rect: Rect) {
    let painter = ui.painter_at(rect.expand(4.0));
    painter.rect_filled(rect, 2, scene.theme.paper);
    let inner = rect.shrink2(vec2(16.0, 14.0));
    let plate_width = (inner.width() * 0.40).clamp(158.0, 260.0);
    let rail = Rect::from_min_size(inner.min + vec2(4.0, 34.0), vec2(26.0, inner.height() - 58.0));
    let fan_x = inner.right() - plate_width;
    let knot = pos2(rail.right() + (fan_x - rail.right()) * 0.45, rail.center().y);
    let hand = hand(ui, scene, &painter, rail);
    thread(scene, &painter, rail, hand, knot);
    let row = inner.height() / FAN.len() as f32;
    for (place, strand) in FAN.into_iter().enumerate() {
        let top = inner.top() + row * place as f32;
        let name_plate = Rect::from_min_size(pos2(fan_x, top + 2.0), vec2(plate_width, row - 4.0));
        fan(scene, &painter, strand, knot, name_plate.left_center());
        self::name_plate(ui, scene, strand, name_plate);
    }
    painter.circle_filled(knot, 4.5, scene.theme.ink);
    if scene.recent.view().is_none() {
        let words = "Nothing has been played yet.";
        // Above the thread, so that it crosses no words.
        let middle = pos2(rail.right().midpoint(knot.x), knot.y - 26.0);
        toolbars::empty(ui, scene, Rect::from_center_size(middle, vec2(10.0, 30.0)), words);
    }
}

/// The hand: where the controller stands, and the gesture that is made of it. The point from which
/// the thread comes.
fn hand(ui: &mut Ui, scene: &mut WindowScene<'_>, painter: &Painter, rail: Rect) -> Pos2 {
    let theme = scene.theme;
    let view = scene.recent.view();
    let y = |share: f64| rail.bottom() - share.clamp(0.0, 1.0) as f32 * rail.height();
    let x = rail.center().x;
    let whole = Rect::from_min_max(rail.min - vec2(6.0, 34.0), rail.max + vec2(66.0, 24.0));
    let response = ui.interact(whole, Id::unique("hand"), Sense::click());
    let is_chosen = scene.model.strand() == Strand::Gesture;
    painter.vline(x, rail.y_range(), Stroke::new(2.0, theme.quiet));
    for share in [0.0, 0.5, 1.0] {
        painter.hline(x - 5.0..=x + 5.0, y(share), Stroke::new(1.0, theme.quiet));
    }
    let gesture = view.map_or(0.0, |view| view.gesture);
    let raw = view.and_then(|view| view.raw);
    if let Some(raw) = raw {
        let at = pos2(x, y(raw));
        painter.line_segment(
            [at - vec2(11.0, 0.0), at + vec2(11.0, 0.0)],
            Stroke::new(2.0, theme.quiet),
        );
    }
    let at = pos2(x, y(gesture));
    painter.circle_filled(at, 7.0, theme.ink);
    let name = if is_chosen { "▸ hand" } else { "hand" };
    let font = FontId::proportional(14.0);
    painter.text(whole.min + vec2(2.0, 0.0), Align2::LEFT_TOP, name, font.clone(), theme.ink);
    let number = format!("{:.0} %", 100.0 * gesture);
    painter.text(
        pos2(whole.left() + 2.0, whole.bottom()),
        Align2::LEFT_BOTTOM,
        number,
        font,
        theme.ink,
    );
    let said = match raw {
        Some(raw) => format!("gesture {:.0} %, controller {:.0} %", 100.0 * gesture, 100.0 * raw),
        None => "the controller has not moved yet".to_owned(),
    };
    let words = SpokenText { name: "Strand gesture", value: &said };
    tell(ui, &response, Role::Button, &words, Some(is_chosen));
    ring(ui, &theme, &response, whole.shrink(3.0));
    if response.clicked() {
        scene.acts.push(Act::Look(Strand::Gesture));
    }
    at
}

/// The thread from the hand to the knot: the gesture of the last 0.9 s, the present at the left.
fn thread(scene: &WindowScene<'_>, painter: &Painter, rail: Rect, hand: Pos2, knot: Pos2) {
    let recent = RecentStrands::of(scene.recent);
    let point = |step: u16| {
        let u = f32::from(step) / f32::from(STEPS);
        let gesture = match scene.model.appearance.is_still {
            true => recent.at(0.0, Strand::Gesture),
            false => recent.at(f64::from(u) * THREAD_S, Strand::Gesture),
        };
        let free_y = rail.bottom() - gesture as f32 * rail.height();
        // From 45 % of its way on it is pulled to the knot.
        let pulled = ease((u - 0.45).max(0.0) / 0.55);
        pos2(hand.x + u * (knot.x - hand.x), free_y + pulled * (knot.y - free_y))
    };
    let points: Vec<Pos2> = (0..=STEPS).map(point).collect();
    painter.add(Shape::line(points, Stroke::new(4.0, scene.theme.ink)));
}

/// One strand from the knot to its name.
fn fan(scene: &WindowScene<'_>, painter: &Painter, strand: Strand, knot: Pos2, end: Pos2) {
    let recent = RecentStrands::of(scene.recent);
    let is_chosen = scene.model.strand() == strand;
    let mut points = Vec::with_capacity(usize::from(STEPS) + 1);
    for step in 0..=STEPS {
        let u = f32::from(step) / f32::from(STEPS);
        let age_s = THREAD_S + f64::from(u) * STRAND_S;
        let age_s = if scene.model.appearance.is_still { 0.0 } else { age_s };
        let sway = (recent.at(age_s, strand) as f32 - 0.5) * 2.0 * SWAY;
        // It swings most in the middle and not at all at both ends.
        let free = 4.0 * u * (1.0 - u);
        let y = knot.y + ease(u) * (end.y - knot.y) - sway * free;
        points.push(pos2(knot.x + u * (end.x - knot.x), y));
    }
    let colour = scene.theme.strand(strand);
    let share = scene.recent.view().map_or(0.0, |view| strand.share(view)) as f32;
    let width = if is_chosen { 2.6 } else { 1.2 } + 1.8 * share;
    let mark = points[usize::from(STEPS) * 7 / 10];
    painter.add(Shape::line(points, Stroke::new(width, colour)));
    painter.circle_filled(mark, 9.0, scene.theme.paper);
    strand_icons::draw(painter, strand, mark, 11.0, colour);
}

/// A strand's name, unit and present number; a press looks at its curve.
fn name_plate(ui: &mut Ui, scene: &mut WindowScene<'_>, strand: Strand, rect: Rect) {
    let theme = scene.theme;
    let response = ui.interact(rect, Id::unique(("strand", strand)), Sense::click());
    let is_chosen = scene.model.strand() == strand;
    let ink = if is_chosen { theme.ground } else { theme.ink };
    let painter = ui.painter();
    if is_chosen {
        painter.rect_filled(rect, 2, theme.chosen);
    } else if response.hovered() {
        painter.rect_stroke(rect, 2, Stroke::new(1.0, theme.ink), StrokeKind::Inside);
    }
    let styles = scene.model.styles();
    let view = scene.recent.view();
    let number = view.map_or("–".to_owned(), |view| strand.value_text(view, &styles));
    let colour = if is_chosen { theme.ground } else { theme.strand(strand) };
    let left = rect.left_center() + vec2(14.0, 0.0);
    strand_icons::draw(painter, strand, left, 12.0, colour);
    let font = FontId::proportional(14.0);
    let is_narrow = rect.width() < 230.0;
    // In a narrow window the number stands under the name.
    let (name_y, number_y) = match is_narrow {
        true => (rect.top() + rect.height() * 0.28, rect.top() + rect.height() * 0.72),
        false => (rect.center().y, rect.center().y),
    };
    let name_at = pos2(left.x + 14.0, name_y);
    painter.text(name_at, Align2::LEFT_CENTER, strand.name(), font.clone(), ink);
    let unit_at = pos2(rect.right() - 42.0, number_y);
    painter.text(unit_at, Align2::LEFT_CENTER, strand.unit(), font, ink);
    let is_word = strand.unit().is_empty();
    let number_x = if is_word { rect.right() - 8.0 } else { unit_at.x - 5.0 };
    let font = FontId::proportional(if is_word || is_narrow { 15.0 } else { 18.0 });
    painter.text(pos2(number_x, number_y), Align2::RIGHT_CENTER, number, font, ink);
    let value = view.map_or_else(String::new, |view| strand.spoken(view, &styles));
    let name = format!("Strand {}", strand.name());
    let words = SpokenText { name: &name, value: &value };
    tell(ui, &response, Role::Button, &words, Some(is_chosen));
    ring(ui, &theme, &response, rect.shrink(3.0));
    if response.clicked() {
        scene.acts.push(Act::Look(strand));
    }
    if view.is_some_and(|view| view.raw.is_none()) && strand == Strand::Dynamics {
        let words = "waits for the hand";
        let at = rect.left_bottom() + vec2(28.0, 0.0);
        if rect.height() > 34.0 {
            caption(ui, scene, at, Align2::LEFT_BOTTOM, words);
        }
    }
}

/// The strands of the last two seconds.
struct RecentStrands<'a> {
    snapshots: Vec<&'a Snapshot>,
}

impl RecentStrands<'_> {
    fn of(recent: &Recent) -> RecentStrands<'_> {
        let now_s = recent.last().map_or(0.0, |last| last.at_s);
        let is_near = |snapshot: &&Snapshot| snapshot.at_s > now_s - THREAD_S - STRAND_S - 0.1;
        RecentStrands { snapshots: recent.snapshots().rev().take_while(is_near).collect() }
    }

    /// A strand's share, `age_s` ago.
    fn at(&self, age_s: f64, strand: Strand) -> f64 {
        let Some(now) = self.snapshots.first() else { return 0.5 };
        let place = self.snapshots.partition_point(|snapshot| snapshot.at_s > now.at_s - age_s);
        let snapshot = self.snapshots.get(place).or(self.snapshots.last());
        snapshot.map_or(0.5, |snapshot| strand.share(&snapshot.view))
    }
}

/// u²(3−2u).
fn ease(u: f32) -> f32 {
    u * u * (3.0 - 2.0 * u)
}
