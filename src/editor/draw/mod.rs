//! Draws the window: one function of the model and the last eight seconds; what the player does comes back as values.

// What every part is drawn with.
mod axes;
mod scene;
mod strand_icons;
mod widget;
mod wishes;

// The large picture.
mod recent;
mod strands;
mod toolbars;

// The pages.
mod curve;
mod numbers;
mod strand_shapes;

mod library;

mod hand;
mod outputs;

mod compare;
mod files;

mod print;

use egui::{Rect, ScrollArea, Ui, UiBuilder, pos2, vec2};

use super::act::{Act, Tab};
use super::feed::TakeTransport;
use super::model::Model;
use super::recent::Recent;
use super::theme::WindowTheme;
use scene::WindowScene;

/// Below this width everything stands in one column, points.
const COLUMN_WIDTH_MAX: f32 = 860.0;
/// And below this height, points.
const COLUMN_HEIGHT_MAX: f32 = 520.0;
/// The height of the strands in one column, points.
const STRANDS_HEIGHT: f32 = 330.0;
/// The height of the last eight seconds in one column, points.
const RECENT_HEIGHT: f32 = 230.0;
/// Between two areas, points.
const GAP: f32 = 10.0;

/// Draws everything into the whole of `ui`. What the player does there is added to `acts`; nothing
/// else changes.
pub fn view(
    ui: &mut Ui,
    model: &Model,
    recent: &Recent,
    transport: Option<TakeTransport>,
    acts: &mut Vec<Act>,
) {
    let theme = WindowTheme::of(model.appearance.light);
    theme.dress(ui.style_mut());
    let whole = ui.max_rect();
    ui.painter().rect_filled(whole, 0, theme.ground);
    let mut scene = WindowScene { model, recent, transport, theme, acts };
    toolbars::keys(ui, &mut scene);
    let inner = whole.shrink2(vec2(14.0, 10.0));
    let mut ui = ui.new_child(UiBuilder::new().max_rect(inner));
    if inner.width() < COLUMN_WIDTH_MAX || inner.height() < COLUMN_HEIGHT_MAX {
        ScrollArea::vertical().show(&mut ui, |ui| column(ui, &mut scene));
        return;
    }
    toolbars::top(&mut ui, &mut scene);
    ui.add_space(4.0);
    let foot_height = toolbars::FOOT_HEIGHT;
    let body = Rect::from_min_max(
        pos2(inner.left(), ui.cursor().top()),
        pos2(inner.right(), inner.bottom() - foot_height),
    );
    let split_x = body.left() + (body.width() * 0.60).round();
    let left = Rect::from_min_max(body.min, pos2(split_x - GAP, body.bottom()));
    let right = Rect::from_min_max(pos2(split_x + GAP, body.top()), body.max);
    let sentence_height = 34.0;
    let strands_height = ((left.height() - sentence_height) * 0.56).round();
    let strands = Rect::from_min_size(left.min, vec2(left.width(), strands_height));
    let sentence = Rect::from_min_size(strands.left_bottom(), vec2(left.width(), sentence_height));
    let recent = Rect::from_min_max(sentence.left_bottom(), left.max);
    strands::draw(&mut ui, &mut scene, strands);
    toolbars::reason(&mut ui, &mut scene, sentence);
    recent::draw(&mut ui, &mut scene, recent);
    let mut page = ui.new_child(UiBuilder::new().max_rect(right));
    self::page(&mut page, &mut scene);
    let foot = Rect::from_min_max(pos2(inner.left(), inner.bottom() - foot_height), inner.max);
    let mut foot = ui.new_child(UiBuilder::new().max_rect(foot));
    toolbars::foot(&mut foot, &mut scene);
}

/// Everything below each other, for narrow windows and large letters.
fn column(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    toolbars::top(ui, scene);
    let width = ui.available_width();
    let (_, strands) = ui.allocate_space(vec2(width, STRANDS_HEIGHT));
    strands::draw(ui, scene, strands);
    let (_, sentence) = ui.allocate_space(vec2(width, 52.0));
    toolbars::reason(ui, scene, sentence);
    let (_, recent) = ui.allocate_space(vec2(width, RECENT_HEIGHT));
    recent::draw(ui, scene, recent);
    page(ui, scene);
    ui.add_space(GAP);
    toolbars::foot(ui, scene);
}

/// The large area: a row of pages, and the one that is open.
fn page(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    toolbars::pages(ui, scene);
    ui.add_space(6.0);
    match scene.model.tab() {
        Tab::Curve => curve::draw(ui, scene),
        Tab::Library => library::draw(ui, scene),
        Tab::Hand => hand::draw(ui, scene),
        Tab::Outputs => outputs::draw(ui, scene),
        Tab::Compare => compare::draw(ui, scene),
        Tab::Conflicts => compare::conflicts(ui, scene),
        Tab::Files => files::draw(ui, scene),
        Tab::Wishes => wishes::draw(ui, scene),
        Tab::Print => print::draw(ui, scene),
    }
}
