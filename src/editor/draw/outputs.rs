//! The target's outputs: where each goes, a trial of each, and keyswitches learned by playing them.

use egui::{Grid, RichText, ScrollArea, Ui};

use super::Scene;
use super::widget::button;
use crate::editor::act::Act;
use crate::editor::figure::key;
use crate::editor::model::Waiting;
use crate::engine::Mode;
use crate::profile::FileKind;
use crate::profile::address::address_text;

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut Scene<'_>) {
    let Some(target) = scene.model.sheet(FileKind::Target).target().cloned() else { return };
    ui.label(
        "Turn the volume down first: a long note sounds, and only the tested output is swept.",
    );
    let tested = scene.model.trial.as_ref().map(|trial| (trial.path.clone(), trial.share()));
    ScrollArea::vertical().id_salt("outputs").show(ui, |ui| {
        Grid::new("outputs").num_columns(3).spacing([14.0, 5.0]).show(ui, |ui| {
            for output in &target.outputs {
                let name = output.path.trim_start_matches("outputs.").replace(['_', '.'], " ");
                ui.label(&name);
                ui.label(address_text(output.address));
                match &tested {
                    Some((path, share)) if *path == output.path => {
                        let words = format!("Stop ({:.0} %)", 100.0 * share);
                        if button(ui, &words, &format!("Stop the test of {name}")) {
                            scene.acts.push(Act::Test(None));
                        }
                    }
                    _ if output.is_on => {
                        if button(ui, "Test", &format!("Test {name}")) {
                            scene.acts.push(Act::Test(Some(output.path.clone())));
                        }
                    }
                    _ => {
                        ui.label(RichText::new("off").color(scene.theme.quiet));
                    }
                }
                ui.end_row();
            }
        });
        ui.add_space(8.0);
        ui.label(RichText::new("Keyswitches of the legato modes").size(17.0));
        keyswitches(ui, scene);
    });
}

fn keyswitches(ui: &mut Ui, scene: &mut Scene<'_>) {
    let waits_for = match scene.model.waiting {
        Some(Waiting::Key(mode)) => Some(mode),
        _ => None,
    };
    Grid::new("keyswitches").num_columns(3).spacing([14.0, 5.0]).show(ui, |ui| {
        for mode in Mode::ALL.map(Mode::name) {
            let number = scene.model.sheet(FileKind::Target).number(&format!("legato.{mode}"));
            ui.label(mode);
            ui.label(number.map_or("–".to_owned(), |number| key(number as u8)));
            if waits_for == Some(mode) {
                if button(ui, "Waiting for a key", &format!("Give up the keyswitch of {mode}")) {
                    scene.acts.push(Act::LearnKey(None));
                }
            } else if button(ui, "Learn", &format!("Learn the keyswitch of {mode}")) {
                scene.acts.push(Act::LearnKey(Some(mode)));
            }
            ui.end_row();
        }
    });
}
