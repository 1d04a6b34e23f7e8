//! The window's own widgets: each has a name and a value to be read aloud, and answers to the keyboard.

use egui::text::LayoutJob;
use egui::{
    Align2, Event, EventFilter, FontId, Id, Key, Pos2, Rect, Response, Role, Sense, Stroke,
    StrokeKind, TextEdit, Ui, WidgetInfo, accesskit, vec2,
};

use super::scene::WindowScene;
use crate::editor::theme::WindowTheme;

/// How near a handle the pointer must be, points.
const REACH: f32 = 11.0;

/// What the player does with a handle in this frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum HandleEvent {
    /// Nothing.
    Rest,
    /// The pointer takes hold.
    Grab,
    /// The pointer drags it to here.
    To(Pos2),
    /// The pointer lets go.
    Release,
    /// Steps by the keyboard: to the right and up; large with Shift.
    Step(f64, f64),
    /// It is to be removed: Delete or Backspace.
    Remove,
}

/// What a screen reader says of a widget.
pub struct SpokenText<'a> {
    /// Its name.
    pub name: &'a str,
    /// Where it stands, in words.
    pub value: &'a str,
}

/// A point to be dragged, or moved by the arrow keys. It draws only the ring of the focus; the
/// caller draws the point.
pub fn handle(
    ui: &mut Ui,
    theme: &WindowTheme,
    id: Id,
    at: Pos2,
    words: &SpokenText<'_>,
) -> HandleEvent {
    let rect = Rect::from_center_size(at, vec2(2.0 * REACH, 2.0 * REACH));
    let response = ui.interact(rect, id, Sense::click_and_drag());
    tell(ui, &response, Role::Slider, words, None);
    if response.clicked() || response.drag_started() {
        response.request_focus();
    }
    ring(ui, theme, &response, rect.shrink(2.0));
    if response.hovered() {
        ui.painter().circle_stroke(at, REACH - 3.0, Stroke::new(1.0, theme.ink));
    }
    if response.drag_started() {
        return HandleEvent::Grab;
    }
    if response.drag_stopped() {
        return HandleEvent::Release;
    }
    let is_moved = response.dragged() && response.drag_delta() != vec2(0.0, 0.0);
    if let (true, Some(pointer)) = (is_moved, response.interact_pointer_pos()) {
        return HandleEvent::To(pointer);
    }
    let steps = steps_of(ui, id);
    if response.has_focus() {
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
        let is_gone = |key| ui.input(|input| input.key_pressed(key));
        if is_gone(Key::Delete) || is_gone(Key::Backspace) {
            return HandleEvent::Remove;
        }
    }
    match steps {
        (0.0, 0.0) => HandleEvent::Rest,
        (right, up) => HandleEvent::Step(right, up),
    }
}

/// How many steps to the right and up the arrow keys and a screen reader ask for.
fn steps_of(ui: &Ui, id: Id) -> (f64, f64) {
    let has_focus = ui.memory(|memory| memory.has_focus(id));
    ui.input(|input| {
        let count = |action| input.num_accesskit_action_requests(id, action) as f64;
        let mut up = count(accesskit::Action::Increment) - count(accesskit::Action::Decrement);
        let mut right = 0.0;
        for event in input.events.iter().filter(|_| has_focus) {
            let Event::Key { key, pressed: true, modifiers, .. } = event else { continue };
            let size = if modifiers.shift { 10.0 } else { 1.0 };
            match key {
                Key::ArrowUp => up += size,
                Key::ArrowDown => up -= size,
                Key::ArrowRight => right += size,
                Key::ArrowLeft => right -= size,
                _ => {}
            }
        }
        (right, up)
    })
}

/// Says a widget's name, value and role to a screen reader.
pub fn tell(
    ui: &Ui,
    response: &Response,
    role: Role,
    words: &SpokenText<'_>,
    is_selected: Option<bool>,
) {
    response.widget_info(|| match is_selected {
        Some(is_selected) => WidgetInfo::selected(role, true, is_selected, words.name),
        None => WidgetInfo::labeled(role, true, words.name),
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        if !words.value.is_empty() {
            node.set_value(words.value);
        }
        if role == Role::Slider {
            node.add_action(accesskit::Action::Increment);
            node.add_action(accesskit::Action::Decrement);
        }
    });
}

/// The ring around what the keyboard holds.
pub fn ring(ui: &Ui, theme: &WindowTheme, response: &Response, rect: Rect) {
    if response.has_focus() {
        let stroke = Stroke::new(2.5, theme.focus);
        ui.painter().rect_stroke(rect.expand(2.0), 3, stroke, StrokeKind::Outside);
    }
}

/// An ordinary button with words; `name` is what is read aloud where the words do not say enough.
pub fn button(ui: &mut Ui, words: &str, name: &str) -> bool {
    let response = ui.button(words);
    if name != words {
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
    }
    response.clicked()
}

/// A button that is chosen or not; what is chosen is filled, and has a mark before its words.
pub fn choice(ui: &mut Ui, theme: &WindowTheme, is_chosen: bool, words: &str, name: &str) -> bool {
    let font = FontId::proportional(14.0);
    let ink = if is_chosen { theme.ground } else { theme.ink };
    let mut job = LayoutJob::simple_singleline(words.to_owned(), font, ink);
    job.wrap.max_width = ui.max_rect().width() - 24.0;
    (job.wrap.max_rows, job.wrap.break_anywhere) = (1, true);
    let galley = ui.painter().layout_job(job);
    let size = galley.size() + vec2(16.0, 8.0);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let fill = if is_chosen { theme.chosen } else { theme.button };
    ui.painter().rect_filled(rect, 2, fill);
    let line = if response.hovered() { theme.ink } else { theme.quiet };
    ui.painter().rect_stroke(rect, 2, Stroke::new(1.0, line), StrokeKind::Inside);
    ui.painter().galley(rect.min + vec2(8.0, 4.0), galley, ink);
    if is_chosen {
        let y = rect.bottom() + 2.0;
        ui.painter().hline(rect.x_range(), y, Stroke::new(2.0, theme.chosen));
    }
    let words = SpokenText { name, value: "" };
    tell(ui, &response, Role::Button, &words, Some(is_chosen));
    ring(ui, theme, &response, rect);
    response.clicked()
}

/// A field in which a number or words are typed. What was typed comes back when the player is
/// done with it: at Enter, or when the keyboard goes elsewhere; Escape gives it up.
pub fn typed(ui: &mut Ui, id: Id, name: &str, present: &str, width: f32) -> Option<String> {
    let kept = ui.data(|data| data.get_temp::<String>(id));
    let mut text = kept.clone().unwrap_or_else(|| present.to_owned());
    let edit = TextEdit::singleline(&mut text).id(id);
    let response = ui.add_sized(vec2(width, 22.0), edit);
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
    if response.has_focus() {
        ui.data_mut(|data| data.insert_temp(id, text));
        return None;
    }
    ui.data_mut(|data| data.remove::<String>(id));
    // An assistive tool may set a text without holding the keyboard.
    let is_set = response.changed() || response.lost_focus() || kept.is_some();
    let is_given_up = ui.input(|input| input.key_pressed(Key::Escape));
    (is_set && !is_given_up && text != present).then_some(text)
}

/// Words beside a widget that has a name of its own; a screen reader does not say them once more.
pub fn silent(ui: &mut Ui, theme: &WindowTheme, words: &str) {
    let font = FontId::proportional(14.0);
    let galley = ui.painter().layout_no_wrap(words.to_owned(), font, theme.ink);
    let (_, rect) = ui.allocate_space(galley.size());
    ui.painter().galley(rect.min, galley, theme.ink);
}

/// Words at a place, in the small size.
pub fn caption(ui: &Ui, scene: &WindowScene<'_>, at: Pos2, anchor: Align2, words: &str) -> Rect {
    let font = FontId::proportional(12.0);
    ui.painter().text(at, anchor, words, font, scene.theme.quiet)
}
