//! The player's own controller: learned by moving it, measured in thirty seconds, its numbers below.

use egui::{Grid, ProgressBar, RichText, ScrollArea, Ui};

use super::numbers;
use super::scene::WindowScene;
use super::widget::button;
use crate::editor::act::Act;
use crate::editor::calibration::{Calibration, MeasuredHand};
use crate::editor::feed::ComputerHand;
use crate::editor::learn::SourceLearner;
use crate::editor::model::Waiting;
use crate::profile::FileKind;
use crate::profile::address::source_text;

/// Draws the page.
pub fn draw(ui: &mut Ui, scene: &mut WindowScene<'_>) {
    let hand = scene.model.file(FileKind::Hand).hand();
    let source = hand.map(|hand| source_text(hand.source)).unwrap_or_default();
    ui.label(RichText::new(format!("The gesture is {source}.")).size(17.0));
    match &scene.model.waiting {
        Some(Waiting::Source(learner)) => learning(ui, scene, learner),
        Some(Waiting::Hand(calibration)) => calibrating(ui, scene, calibration),
        _ => {
            ui.horizontal(|ui| {
                if button(ui, "Learn by moving", "Learn the controller by moving it") {
                    scene.acts.push(Act::Learn(true));
                }
                if button(ui, "Calibrate, 30 s", "Calibrate the hand in 30 seconds") {
                    scene.acts.push(Act::Calibrate(true));
                }
            });
        }
    }
    if let Some(hand) = scene.model.computer_hand.clone() {
        computer(ui, scene, &hand);
    }
    if let Some(measured) = scene.model.measured {
        told(ui, &measured);
    }
    ScrollArea::vertical().id_salt("hand").show(ui, |ui| {
        ui.add_space(6.0);
        Grid::new("hand numbers").num_columns(4).spacing([10.0, 4.0]).show(ui, |ui| {
            let fields = scene.model.file(FileKind::Hand).meaning().fields().to_vec();
            let is_shown = |path: &str| path.starts_with("controller.");
            for field in fields.iter().filter(|field| is_shown(&field.path)) {
                if field.value.is_number() {
                    numbers::row(ui, scene, FileKind::Hand, field);
                    ui.end_row();
                }
            }
        });
    });
}

/// The hand of this computer, which reads what is played just now in every project.
fn computer(ui: &mut Ui, scene: &mut WindowScene<'_>, hand: &ComputerHand) {
    ui.add_space(6.0);
    ui.label(match &hand.name {
        Some(name) => format!("What you play just now is read by this computer's hand, {name}."),
        None => "What you play just now is read by the project's hand.".to_owned(),
    });
    ui.label(match (hand.is_recorded, hand.name.is_some()) {
        (true, _) => "What is on the track is read by the project's hand.",
        (false, true) => "What you record takes this computer's hand into the project.",
        (false, false) => "So is what you record.",
    });
    ui.horizontal_wrapped(|ui| {
        if button(ui, "On this computer", "Play by this hand in every project on this computer") {
            scene.acts.push(Act::ComputerHand(true));
        }
        if hand.name.is_some() && button(ui, "Forget", "Forget the hand of this computer") {
            scene.acts.push(Act::ComputerHand(false));
        }
        let can_renew = hand.is_recorded && hand.name.is_some();
        if can_renew && button(ui, "Record anew", "Record anew by this computer's hand") {
            scene.acts.push(Act::RecordAnew);
        }
    });
}

fn learning(ui: &mut Ui, scene: &mut WindowScene<'_>, learner: &SourceLearner) {
    ui.label("Move your controller from one end to the other.");
    let bar = ProgressBar::new(learner.progress() as f32).desired_width(240.0);
    let response = ui.add(bar.text(format!("{:.0} %", 100.0 * learner.progress())));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_label("Movement so far"));
    if button(ui, "Give up", "Give up learning") {
        scene.acts.push(Act::Learn(false));
    }
}

fn calibrating(ui: &mut Ui, scene: &mut WindowScene<'_>, calibration: &Calibration) {
    ui.label(RichText::new(calibration.step().sentence()).size(17.0));
    ui.label(format!("{:.0} s are left.", calibration.left_s().ceil()));
    told(ui, &calibration.measured());
    if button(ui, "Give up", "Give up calibrating") {
        scene.acts.push(Act::Calibrate(false));
    }
}

fn told(ui: &mut Ui, measured: &MeasuredHand) {
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    ui.label(format!("Rest at {} of the range", percent(measured.rest)));
    ui.label(format!("Full at {}", percent(measured.full)));
    ui.label(format!("Flutter {}", percent(measured.flutter)));
    let way = if measured.is_inverted() { "turned round: down is full" } else { "upright" };
    ui.label(format!("Polarity: {way}"));
}
