//! The instruments and targets to choose from, by family, with a field to search in.

use egui::{Id, RichText, ScrollArea, TextEdit, Ui, vec2};

use super::Scene;
use super::widget::{button, choice};
use crate::editor::act::Act;
use crate::editor::edit::Place;
use crate::editor::model::KINDS;
use crate::profile::FileKind;

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut Scene<'_>) {
    copies(ui, scene);
    ui.horizontal(|ui| {
        ui.label("Search");
        let mut words = scene.model.search.clone();
        let edit = TextEdit::singleline(&mut words).id(Id::unique("search"));
        let response = ui.add_sized(vec2(220.0, 22.0), edit);
        let name = "Search instruments and targets";
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
        if response.changed() {
            scene.acts.push(Act::Search(words));
        }
        if button(ui, "Clear", "Clear the search") {
            scene.acts.push(Act::Search(String::new()));
        }
    });
    ScrollArea::vertical().id_salt("choose").show(ui, |ui| {
        for (kind, words) in [
            (FileKind::Instrument, "Instruments"),
            (FileKind::Target, "Targets: who hears it"),
            (FileKind::Hand, "Hands"),
        ] {
            ui.add_space(6.0);
            ui.label(RichText::new(words).size(17.0));
            list(ui, scene, kind);
        }
    });
}

fn list(ui: &mut Ui, scene: &mut Scene<'_>, kind: FileKind) {
    let families = scene.model.library.families(kind, &scene.model.search);
    if families.is_empty() {
        ui.label("Nothing here has these words.");
    }
    let playing = scene.model.sheet(kind).meaning().about().id.clone();
    for (family, entries) in families {
        ui.label(RichText::new(family).color(scene.theme.quiet));
        ui.horizontal_wrapped(|ui| {
            for entry in entries {
                let name = format!("Choose {}", entry.id);
                let is_chosen = entry.id == playing;
                if choice(ui, &scene.theme, is_chosen, &entry.title(), &name) {
                    scene.acts.push(Act::Choose(kind, entry.id.clone()));
                }
            }
        });
    }
}

/// Where the project's copy is another one than the library's.
fn copies(ui: &mut Ui, scene: &mut Scene<'_>) {
    let slot = scene.model.slot_number();
    for kind in KINDS {
        let is_kept = scene.model.slot().kept[kind as usize];
        let Some(entry) = scene.model.other_copy(kind).filter(|_| !is_kept) else { continue };
        let count = scene.model.differences_to_library(kind).len();
        let (id, name) = (entry.id.clone(), kind.name());
        ui.label(format!(
            "The {name} {id} of this project differs from the library's in {count} fields."
        ));
        ui.horizontal(|ui| {
            let place = Place { slot, kind };
            if button(ui, "Keep", &format!("Keep the project's {name}")) {
                scene.acts.push(Act::Keep(place));
            }
            if button(ui, "Compare", &format!("Compare the {name} with the library's")) {
                scene.acts.push(Act::Turn(crate::editor::act::Page::Compare));
            }
            if button(ui, "Adopt", &format!("Adopt the library's {name}")) {
                scene.acts.push(Act::Adopt(place));
            }
        });
    }
}
