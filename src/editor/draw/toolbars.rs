//! The bars around the picture: what plays, the reason, the row of pages, the take's place, light and size.

use egui::{
    Align, Align2, FontId, Id, Key, Layout, Modifiers, Rect, RichText, Role, Sense, Slider, Ui,
    vec2,
};

use super::scene::WindowScene;
use super::widget::{SpokenText, button, choice, ring, tell};
use crate::editor::act::{Act, Light, Tab};
use crate::editor::model::SIZES;
use crate::profile::{Any, FileKind};

/// The height of the band at the foot, points.
pub const FOOT_HEIGHT: f32 = 40.0;

/// Keys that hold everywhere: undo, redo, the size, and play unless something is typed.
pub fn keys(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let shift = Modifiers::COMMAND | Modifiers::SHIFT;
    let is_typing = ui.ctx().egui_wants_keyboard_input();
    let key = |modifiers, key| ui.input_mut(|input| input.consume_key(modifiers, key));
    if key(shift, Key::Z) || key(Modifiers::COMMAND, Key::Y) {
        scene.acts.push(Act::Redo);
    } else if key(Modifiers::COMMAND, Key::Z) {
        scene.acts.push(Act::Undo);
    }
    let present =
        SIZES.iter().position(|size| *size >= scene.model.appearance.percent).unwrap_or(0);
    // The library of the window passes on Page Up, Page Down and 0, but not plus and minus.
    let larger = [Key::Plus, Key::Equals, Key::PageUp];
    if larger.into_iter().any(|each| key(Modifiers::COMMAND, each)) {
        scene.acts.push(Act::Size(SIZES[(present + 1).min(SIZES.len() - 1)]));
    }
    if [Key::Minus, Key::PageDown].into_iter().any(|each| key(Modifiers::COMMAND, each)) {
        scene.acts.push(Act::Size(SIZES[present.saturating_sub(1)]));
    }
    if key(Modifiers::COMMAND, Key::Num0) {
        scene.acts.push(Act::Size(SIZES[0]));
    }
    if let (Some(transport), false) = (scene.transport, is_typing)
        && key(Modifiers::COMMAND, Key::P)
    {
        scene.acts.push(Act::Run(!transport.is_running));
    }
}

/// The names of an open file, in every script it has.
fn title(any: &Any) -> String {
    let about = any.about();
    let mut title = about.name().to_owned();
    let mut told = vec![title.clone()];
    for (_, name) in about.names.iter().skip(1).take(3) {
        if !told.contains(name) {
            title += &format!("  {name}");
            told.push(name.clone());
        }
    }
    title
}

/// Below this width the title has a line of its own, points.
const TITLE_WIDTH_MIN: f32 = 620.0;

/// What plays, and what can be done at any time.
pub fn top(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let is_narrow = ui.available_width() < TITLE_WIDTH_MIN;
    ui.horizontal_wrapped(|ui| {
        let instrument = title(scene.model.file(FileKind::Instrument).meaning());
        ui.label(RichText::new(instrument).size(20.0).color(scene.theme.ink));
        let target = scene.model.file(FileKind::Target).meaning().about().name().to_owned();
        let source = scene.model.file(FileKind::Hand).hand().map(|hand| hand.source);
        let source = source.map(crate::profile::address::source_text).unwrap_or_default();
        let words = format!("into {target}, by {source}");
        ui.label(RichText::new(words).color(scene.theme.quiet));
        if !is_narrow {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| right(ui, scene));
        }
    });
    if is_narrow {
        // From left to right, so that what does not fit stands in the next line.
        ui.horizontal_wrapped(|ui| {
            history(ui, scene, [false, true]);
            slots(ui, scene, [0, 1]);
            rest(ui, scene, [true, false]);
        });
    }
}

fn right(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    rest(ui, scene, [false, true]);
    ui.add_space(10.0);
    slots(ui, scene, [1, 0]);
    ui.add_space(10.0);
    history(ui, scene, [true, false]);
}

/// The two buttons that put things right: everything sent again, or silence.
fn rest(ui: &mut Ui, scene: &mut WindowScene<'_>, order: [bool; 2]) {
    for is_resend in order {
        let (words, name, act) = match is_resend {
            true => ("Resend", "Resend everything", Act::Resend),
            false => ("Panic", "Panic: silence and rest, now", Act::Panic),
        };
        if button(ui, words, name) {
            scene.acts.push(act);
        }
    }
}

fn slots(ui: &mut Ui, scene: &mut WindowScene<'_>, order: [usize; 2]) {
    let playing = scene.model.slot_number();
    for place in order {
        let words = if place == 0 { "A" } else { "B" };
        let name = format!("Slot {words}");
        if choice(ui, &scene.theme, playing == place, words, &name) {
            scene.acts.push(Act::Slot(place));
        }
    }
}

fn history(ui: &mut Ui, scene: &mut WindowScene<'_>, order: [bool; 2]) {
    let history = scene.model.history();
    let redo = history.last_undone().map(|words| format!("Redo: {words}"));
    let undo = history.last_done().map(|words| format!("Undo: {words}"));
    for is_redo in order {
        let (words, name, act) = match is_redo {
            true => ("Redo", &redo, Act::Redo),
            false => ("Undo", &undo, Act::Undo),
        };
        let is_there = name.is_some();
        ui.add_enabled_ui(is_there, |ui| {
            if button(ui, words, name.as_deref().unwrap_or(words)) {
                scene.acts.push(act);
            }
        });
    }
}

/// The reason why the line sounds as it does, and beside it the phrase; while an output is frozen,
/// the button that lets it go on.
pub fn reason(ui: &mut Ui, scene: &mut WindowScene<'_>, rect: Rect) {
    let reason = scene.recent.reason().sentence();
    let painter = ui.painter_at(rect);
    let font = FontId::proportional(16.0);
    let phrase_width = 150.0;
    let width = (rect.width() - phrase_width).max(120.0);
    let galley = painter.layout(reason.to_owned(), font, scene.theme.ink, width);
    let at = rect.min + vec2(2.0, ((rect.height() - galley.size().y) / 2.0).max(0.0));
    painter.galley(at, galley, scene.theme.ink);
    let response = ui.interact(rect, Id::unique("reason"), Sense::hover());
    tell(ui, &response, Role::Status, &SpokenText { name: "Reason", value: reason }, None);
    if let Some(view) = scene.recent.view() {
        let phrase = format!("phrase: {}", view.phrase.name());
        let at = rect.right_center() - vec2(4.0, 0.0);
        let font = FontId::proportional(13.0);
        painter.text(at, Align2::RIGHT_CENTER, &phrase, font, scene.theme.quiet);
        let place = Rect::from_min_max(rect.right_top() - vec2(phrase_width, 0.0), rect.max);
        let response = ui.interact(place, Id::unique("phrase"), Sense::hover());
        let words = SpokenText { name: "Phrase", value: view.phrase.name() };
        tell(ui, &response, Role::Status, &words, None);
    }
    if scene.recent.view().is_some_and(|view| view.frozen.is_some()) {
        let place = Rect::from_min_max(rect.right_top() - vec2(290.0, -4.0), rect.right_bottom());
        let mut ui = ui.new_child(egui::UiBuilder::new().max_rect(place));
        if button(&mut ui, "Go on", "Go on: the echo has been seen to") {
            scene.acts.push(Act::Thaw);
        }
    }
}

/// The row of pages.
pub fn pages(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let count = scene.model.conflicts().len();
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        let has_song = scene.model.printing.is_some();
        let is_songs = |page: &Tab| matches!(page, Tab::Wishes | Tab::Print);
        for page in Tab::ALL.into_iter().filter(|page| has_song || !is_songs(page)) {
            let words = match (page, count) {
                (Tab::Conflicts, 1..) => format!("{} ({count})", page.name()),
                _ => page.name().to_owned(),
            };
            let is_open = scene.model.tab() == page;
            if choice(ui, &scene.theme, is_open, &words, &format!("Page {words}")) {
                scene.acts.push(Act::Turn(page));
            }
        }
    });
    if let Some(sentence) = scene.model.sentence() {
        ui.add_space(2.0);
        let response = ui.label(RichText::new(sentence).color(scene.theme.ink));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_role(Role::Status));
    }
    if scene.model.question.is_some() {
        ui.horizontal(|ui| {
            if button(ui, "Overwrite", "Overwrite the file") {
                scene.acts.push(Act::Overwrite);
            }
            if button(ui, "Keep", "Keep the file as it is") {
                scene.acts.push(Act::KeepFile);
            }
        });
    }
}

/// The take's place, the rate of messages, and the light and size of the window.
pub fn foot(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let is_narrow = ui.available_width() < 2.0 * TITLE_WIDTH_MIN / 1.5;
    ui.horizontal_wrapped(|ui| {
        if let Some(transport) = scene.transport {
            let words = if transport.is_running { "Stand" } else { "Play" };
            if button(ui, words, &format!("{words} the take")) {
                scene.acts.push(Act::Run(!transport.is_running));
            }
            let mut place_s = transport.place_s;
            ui.spacing_mut().slider_width = 180.0;
            let slider = Slider::new(&mut place_s, 0.0..=transport.length_s).show_value(false);
            let response = ui.add(slider);
            ring(ui, &scene.theme, &response, response.rect);
            let name = "Place in the take, seconds";
            ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
            if response.changed() {
                scene.acts.push(Act::Seek(place_s));
            }
            ui.label(format!("{:.1} of {:.1} s", transport.place_s, transport.length_s));
        }
        let words = format!("{} messages/s", scene.recent.messages_per_s());
        ui.label(words);
        if !is_narrow {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| appearance(ui, scene));
        }
    });
    if is_narrow {
        ui.horizontal_wrapped(|ui| appearance(ui, scene));
    }
}

fn appearance(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let appearance = scene.model.appearance;
    let mut is_still = appearance.is_still;
    let response = ui.checkbox(&mut is_still, "still");
    ring(ui, &scene.theme, &response, response.rect);
    if response.changed() {
        scene.acts.push(Act::Still(is_still));
    }
    let present = SIZES.iter().position(|size| *size >= appearance.percent).unwrap_or(0);
    if button(ui, "+", "Larger") {
        scene.acts.push(Act::Size(SIZES[(present + 1).min(SIZES.len() - 1)]));
    }
    ui.label(format!("{} %", appearance.percent));
    if button(ui, "−", "Smaller") {
        scene.acts.push(Act::Size(SIZES[present.saturating_sub(1)]));
    }
    for light in Light::ALL.into_iter().rev() {
        let name = format!("Light: {}", light.name());
        if choice(ui, &scene.theme, appearance.light == light, light.name(), &name) {
            scene.acts.push(Act::Light(light));
        }
    }
}

/// Words in the middle of an empty area.
pub fn empty(ui: &Ui, scene: &WindowScene<'_>, rect: Rect, words: &str) {
    let font = FontId::proportional(14.0);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, words, font, scene.theme.quiet);
}
