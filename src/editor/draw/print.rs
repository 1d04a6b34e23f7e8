//! The performance that could be printed, and whether what is on the track was printed already.

use egui::{Id, RichText, TextEdit, Ui};

use super::files::asked;
use super::scene::WindowScene;
use super::widget::choice;
use crate::editor::act::Act;
use crate::editor::printing::song::PrintingState;

/// The name of a file that is printed, unless the player types another.
const USUAL_NAME: &str = "performed.mid";

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let Some(state) = scene.model.printing else {
        ui.label("Only a plugin in a host has a performance to print.");
        return;
    };
    ui.label(RichText::new("What is on the track").size(17.0));
    ui.horizontal_wrapped(|ui| {
        let ways = [
            (false, "follows the hand", "The line follows the hand"),
            (true, "printed", "Printed: everything passes untouched"),
        ];
        for (is_printed, words, name) in ways {
            if choice(ui, &scene.theme, state.is_printed == is_printed, words, name) {
                scene.acts.push(Act::Printed(is_printed));
            }
        }
    });
    ui.label(match state.is_printed {
        true => "Everything passes untouched, so that nothing is done twice.",
        false => "Print the performance, put the file on the track, and turn to \"printed\".",
    });
    ui.add_space(8.0);
    ui.label(RichText::new("Performed since the song started").size(17.0));
    ui.label(performed(&state));
    let id = Id::unique("bars to print");
    let mut bars = ui.data(|data| data.get_temp::<String>(id)).unwrap_or_default();
    ui.horizontal(|ui| {
        ui.label("Bars, as 5..12; empty is all");
        let response = ui.add(TextEdit::singleline(&mut bars).id(id).desired_width(80.0));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("Bars to print"));
    });
    ui.data_mut(|data| data.insert_temp(id, bars.clone()));
    let words = "Print into a MIDI file";
    if let Some(path) = asked(ui, &scene.theme, "print", words, USUAL_NAME, "Print") {
        scene.acts.push(Act::Print(path, bars));
    }
    ui.label("Put the file at the song's beginning: its bars are the song's.");
}

fn performed(state: &PrintingState) -> String {
    let PrintingState { events, last_bar, lost, .. } = state;
    let kept = match events {
        0 => "Nothing yet: let the song run.".to_owned(),
        _ => format!("{events} events, up to bar {last_bar}."),
    };
    match lost {
        0 => kept,
        _ => format!("{kept} {lost} found no room and are missing."),
    }
}
