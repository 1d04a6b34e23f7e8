//! Files: open one, save one under a name, lay instrument and target into a folder to be shared.

use std::path::PathBuf;

use egui::{Id, RichText, TextEdit, Ui};

use super::scene::WindowScene;
use super::widget::{button, silent};
use crate::editor::act::Act;
use crate::editor::model::KINDS;
use crate::editor::theme::WindowTheme;
use crate::profile::FileKind;

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    ui.label(RichText::new("Open").size(17.0));
    if let Some(path) =
        asked(ui, &scene.theme, "open", "Open an instrument, target or hand", "", "Open")
    {
        scene.acts.push(Act::Open(path));
    }
    ui.add_space(8.0);
    ui.label(RichText::new("Save").size(17.0));
    for kind in KINDS {
        let id = &scene.model.file(kind).meaning().about().id;
        let usual = match kind {
            FileKind::Hand => format!("{id}.hand.toml"),
            _ => format!("{id}.toml"),
        };
        let words = format!("Save the {}", kind.name());
        if let Some(path) = asked(ui, &scene.theme, kind.name(), &words, &usual, "Save") {
            scene.acts.push(Act::Save(kind, path));
        }
    }
    ui.add_space(8.0);
    ui.label(RichText::new("Share").size(17.0));
    let words = "Share instrument and target in a folder; the hand stays private";
    if let Some(folder) = asked(ui, &scene.theme, "share", words, ".", "Share") {
        scene.acts.push(Act::Share(folder));
    }
}

/// A path to be typed, and a button that takes it.
pub fn asked(
    ui: &mut Ui,
    theme: &WindowTheme,
    salt: &str,
    words: &str,
    usual: &str,
    verb: &str,
) -> Option<PathBuf> {
    let id = Id::unique(("path", salt));
    let kept = ui.data(|data| data.get_temp::<String>(id));
    let mut text = kept.unwrap_or_else(|| usual.to_owned());
    silent(ui, theme, words);
    let mut is_wished = false;
    ui.horizontal(|ui| {
        let response = ui.add(TextEdit::singleline(&mut text).id(id).desired_width(300.0));
        let name = format!("{words}: path");
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(name));
        is_wished = button(ui, verb, words);
    });
    ui.data_mut(|data| data.insert_temp(id, text.clone()));
    (is_wished && !text.trim().is_empty()).then(|| PathBuf::from(text.trim()))
}
