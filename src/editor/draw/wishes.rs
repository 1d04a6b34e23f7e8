//! What is asked of the song: a table to be written in, with its words beside it.

use egui::{Id, RichText, TextEdit, Ui};

use super::scene::WindowScene;
use super::widget::button;
use crate::editor::act::Act;

/// What may be written, a line each.
const EXAMPLES: &str = "12.1..14.4: softer 3 dB over 1 beat\n\
    16..17: vibrato 70 %, slower vibrato 0.5 Hz\n\
    20.3..20.4: legato slow\n\
    24..24: ending longer, no vibrato";

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let Some(wishes) = &scene.model.song_wishes else {
        ui.label("Only a song in a host can be asked for something; a take has its own table.");
        return;
    };
    ui.label(RichText::new("Asked of the song").size(17.0));
    ui.label("From bar.beat to bar.beat, both counted, or whole bars; what is asked; over how long it comes.");
    let (table, id) = (wishes.table(), Id::unique("song wishes"));
    // What is kept beside the text is the table that it began with: another one takes its place.
    let kept = ui.data(|data| data.get_temp::<(String, String)>(id));
    let kept = kept.filter(|(begun, _)| *begun == table);
    let (_, mut text) = kept.unwrap_or_else(|| (table.clone(), table.clone()));
    let response = ui.add(TextEdit::multiline(&mut text).id(id).desired_width(f32::INFINITY));
    let name = "Wishes for stretches of the song, a line each";
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
    ui.data_mut(|data| data.insert_temp(id, (table, text.clone())));
    if button(ui, "Ask", "Ask this of the song, and keep it with the project") {
        scene.acts.push(Act::Ask(text));
    }
    ui.add_space(8.0);
    ui.label(RichText::new("For example").size(17.0));
    ui.label(RichText::new(EXAMPLES).monospace());
    if wishes.metres.is_empty() {
        ui.label("Bars are counted as 4/4 until the song has run.");
    }
}
