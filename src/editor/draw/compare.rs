//! What the two slots do not share, what differs from the library, and what does not go together.

use egui::{Grid, RichText, ScrollArea, Ui};
use serde_json::Value as Json;

use super::scene::WindowScene;
use super::widget::button;
use crate::editor::act::Act;
use crate::editor::model::{FieldDifference, KINDS};
use crate::editor::number_text::plain;
use crate::profile::unit::{label, unit};

/// Draws the page of differences.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let playing = if scene.model.slot_number() == 0 { "A" } else { "B" };
    let other = if scene.model.slot_number() == 0 { "B" } else { "A" };
    ui.horizontal(|ui| {
        ui.label(format!("Slot {playing} plays."));
        if button(ui, &format!("Change over to {other}"), &format!("Change over to slot {other}")) {
            scene.acts.push(Act::Slot(1 - scene.model.slot_number()));
        }
        if button(
            ui,
            &format!("Copy {playing} to {other}"),
            &format!("Copy slot {playing} to {other}"),
        ) {
            scene.acts.push(Act::CopySlot);
        }
    });
    ScrollArea::vertical().id_salt("compare").show(ui, |ui| {
        let differences = scene.model.differences();
        if differences.is_empty() {
            ui.label("The two slots differ in no field.");
        } else {
            table(ui, scene, "slots", ["A", "B"], &differences);
        }
        for kind in KINDS {
            let differences = scene.model.differences_to_library(kind);
            if !differences.is_empty() {
                ui.add_space(10.0);
                let words = format!("The {} against the library's copy", kind.name());
                ui.label(RichText::new(words).size(17.0));
                table(ui, scene, kind.name(), ["project", "library"], &differences);
            }
        }
    });
}

fn table(
    ui: &mut Ui,
    scene: &WindowScene<'_>,
    salt: &str,
    heads: [&str; 2],
    all: &[FieldDifference],
) {
    Grid::new(("differences", salt)).num_columns(3).spacing([12.0, 3.0]).striped(false).show(
        ui,
        |ui| {
            ui.label("");
            for head in heads {
                ui.label(RichText::new(head).color(scene.theme.quiet));
            }
            ui.end_row();
            for FieldDifference { path, sides, .. } in all {
                let table = path.rsplit_once('.').map_or("", |(table, _)| table);
                ui.label(format!("{} {}", table.replace('.', " "), label(path)));
                for side in sides {
                    ui.label(side.as_ref().map_or("–".to_owned(), |value| said(path, value)));
                }
                ui.end_row();
            }
        },
    );
}

/// A value in a few words.
fn said(path: &str, value: &Json) -> String {
    const CHARS_MAX: usize = 34;
    let text = match value {
        Json::Number(number) => plain(number.as_f64().unwrap_or_default()),
        Json::String(text) => text.clone(),
        Json::Bool(true) => "yes".to_owned(),
        Json::Bool(false) => "no".to_owned(),
        Json::Null => "none".to_owned(),
        other => other.to_string(),
    };
    let text = match text.chars().count() > CHARS_MAX {
        true => text.chars().take(CHARS_MAX).chain(['…']).collect(),
        false => text,
    };
    match unit(path) {
        Some(unit) if value.is_number() => format!("{text} {unit}"),
        _ => text,
    }
}

/// Draws the page of conflicts.
pub fn conflicts(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let all = scene.model.conflicts();
    if all.is_empty() {
        ui.label("Everything goes together.");
        return;
    }
    ui.label("What plays is the last that went together.");
    ScrollArea::vertical().id_salt("conflicts").show(ui, |ui| {
        for sentence in all {
            ui.label(RichText::new(format!("! {sentence}")).color(scene.theme.alarm));
        }
    });
}
