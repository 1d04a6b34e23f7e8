//! The numbers of the chosen strand: typed with their units, and given the library's value again.

use egui::{Grid, Id, RichText, Ui};

use super::Scene;
use super::widget::{button, silent, typed};
use crate::editor::act::Act;
use crate::editor::figure::{self, label, written};
use crate::editor::model::Model;
use crate::editor::sheet::Setting;
use crate::profile::{Field, FileKind};

/// Draws the numbers of the strand that is looked at.
pub fn draw(ui: &mut Ui, scene: &mut Scene<'_>) {
    let strand = scene.model.strand();
    let kind = Model::kind_of(strand);
    let paths = strand.fields(&scene.model.style());
    ui.add_space(6.0);
    Grid::new("numbers").num_columns(4).spacing([10.0, 4.0]).show(ui, |ui| {
        for path in paths {
            let Some(field) = scene.model.sheet(kind).field(&path).cloned() else { continue };
            row(ui, scene, kind, &field);
            ui.end_row();
        }
    });
}

/// One number: its name, itself, what it may be, and a way back.
pub fn row(ui: &mut Ui, scene: &mut Scene<'_>, kind: FileKind, field: &Field) {
    let Some(present) = field.value.as_f64() else { return };
    let unit = figure::unit(&field.path);
    let name = label(&field.path);
    silent(ui, &scene.theme, &name);
    let spoken = if unit.is_empty() { name.clone() } else { format!("{name} in {unit}") };
    let id = Id::unique(("number", &field.path));
    if let Some(text) = typed(ui, id, &spoken, &written(present, unit), 110.0) {
        let path = field.path.clone();
        scene.acts.push(match figure::read(&text, unit) {
            Ok(number) => Act::Set { kind, path, value: Setting::Number(number) },
            Err(sentence) => Act::Say(format!("{name}: {sentence}")),
        });
    }
    let allowed = RichText::new(&field.allowed).size(12.0).color(scene.theme.quiet);
    ui.label(allowed);
    if button(ui, "Reset", &format!("Reset {spoken}")) {
        let path = field.path.clone();
        scene.acts.push(Act::Reset { kind, path });
    }
}
