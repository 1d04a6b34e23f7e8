//! Draws the window: one function of the model and the last eight seconds, which only gives wishes back.

mod bands;
mod canvas;
mod curve;
mod loom;
mod marks;
mod numbers;
mod past;
mod shapes;
mod widget;

mod choose;
mod compare;
mod files;
mod hand;
mod outputs;

use egui::{Rect, ScrollArea, Ui, UiBuilder, pos2, vec2};

use super::act::{Act, Page};
use super::feed::Reel;
use super::meter::Meter;
use super::model::Model;
use super::theme::Theme;

/// Below this width everything stands in one column, points.
const COLUMN_WIDTH_MAX: f32 = 860.0;
/// And below this height, points.
const COLUMN_HEIGHT_MAX: f32 = 520.0;
/// The height of the loom in one column, points.
const LOOM_HEIGHT: f32 = 330.0;
/// The height of the past in one column, points.
const PAST_HEIGHT: f32 = 230.0;
/// Between two areas, points.
const GAP: f32 = 10.0;

/// What every part of the window is drawn from, and where its wishes go.
pub(super) struct Scene<'a> {
    pub model: &'a Model,
    pub meter: &'a Meter,
    pub reel: Option<Reel>,
    pub theme: Theme,
    pub acts: &'a mut Vec<Act>,
}

/// Draws everything into the whole of `ui`. What the player does there is added to `acts`; nothing
/// else changes.
pub fn view(ui: &mut Ui, model: &Model, meter: &Meter, reel: Option<Reel>, acts: &mut Vec<Act>) {
    let theme = Theme::of(model.look.light);
    theme.dress(ui.style_mut());
    let whole = ui.max_rect();
    ui.painter().rect_filled(whole, 0, theme.ground);
    let mut scene = Scene { model, meter, reel, theme, acts };
    bands::keys(ui, &mut scene);
    let inner = whole.shrink2(vec2(14.0, 10.0));
    let mut ui = ui.new_child(UiBuilder::new().max_rect(inner));
    if inner.width() < COLUMN_WIDTH_MAX || inner.height() < COLUMN_HEIGHT_MAX {
        ScrollArea::vertical().show(&mut ui, |ui| column(ui, &mut scene));
        return;
    }
    bands::top(&mut ui, &mut scene);
    ui.add_space(4.0);
    let foot_height = bands::FOOT_HEIGHT;
    let body = Rect::from_min_max(
        pos2(inner.left(), ui.cursor().top()),
        pos2(inner.right(), inner.bottom() - foot_height),
    );
    let split_x = body.left() + (body.width() * 0.60).round();
    let left = Rect::from_min_max(body.min, pos2(split_x - GAP, body.bottom()));
    let right = Rect::from_min_max(pos2(split_x + GAP, body.top()), body.max);
    let sentence_height = 34.0;
    let loom_height = ((left.height() - sentence_height) * 0.56).round();
    let loom = Rect::from_min_size(left.min, vec2(left.width(), loom_height));
    let sentence = Rect::from_min_size(loom.left_bottom(), vec2(left.width(), sentence_height));
    let past = Rect::from_min_max(sentence.left_bottom(), left.max);
    loom::draw(&mut ui, &mut scene, loom);
    bands::reason(&mut ui, &mut scene, sentence);
    past::draw(&mut ui, &mut scene, past);
    let mut page = ui.new_child(UiBuilder::new().max_rect(right));
    self::page(&mut page, &mut scene);
    let foot = Rect::from_min_max(pos2(inner.left(), inner.bottom() - foot_height), inner.max);
    let mut foot = ui.new_child(UiBuilder::new().max_rect(foot));
    bands::foot(&mut foot, &mut scene);
}

/// Everything below each other, for narrow windows and large letters.
fn column(ui: &mut Ui, scene: &mut Scene<'_>) {
    bands::top(ui, scene);
    let width = ui.available_width();
    let (_, loom) = ui.allocate_space(vec2(width, LOOM_HEIGHT));
    loom::draw(ui, scene, loom);
    let (_, sentence) = ui.allocate_space(vec2(width, 52.0));
    bands::reason(ui, scene, sentence);
    let (_, past) = ui.allocate_space(vec2(width, PAST_HEIGHT));
    past::draw(ui, scene, past);
    page(ui, scene);
    ui.add_space(GAP);
    bands::foot(ui, scene);
}

/// The large area: a row of pages, and the one that is open.
fn page(ui: &mut Ui, scene: &mut Scene<'_>) {
    bands::pages(ui, scene);
    ui.add_space(6.0);
    match scene.model.page() {
        Page::Curve => curve::draw(ui, scene),
        Page::Library => choose::draw(ui, scene),
        Page::Hand => hand::draw(ui, scene),
        Page::Outputs => outputs::draw(ui, scene),
        Page::Compare => compare::draw(ui, scene),
        Page::Conflicts => compare::conflicts(ui, scene),
        Page::Files => files::draw(ui, scene),
    }
}
