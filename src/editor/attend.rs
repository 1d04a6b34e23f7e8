//! What the editor does over some time: it learns a controller, measures the hand, tries an output.

use super::edit::Place;
use super::learn::{Calibration, Measured, SourceLearner};
use super::model::Waiting;
use super::sheet::{Setting, Sheet};
use super::trial::{self, Trial};
use super::workbench::Editor;
use crate::engine::event::Message;
use crate::engine::patch::Source;
use crate::profile::address::source_text;
use crate::profile::pitch::key_name;
use crate::profile::{FileKind, Hand};

/// A measured rail is trusted but for this share of the range: no hand hits it every time.
const RAIL: f64 = 0.005;
/// As much travel as a hand file needs (see the file's own rule).
const TRAVEL_MIN: f64 = 0.1;

impl Editor {
    /// A message has arrived at the input.
    pub(super) fn hear(&mut self, message: Message) {
        let mut found = None;
        match &mut self.model.waiting {
            Some(Waiting::Source(learner)) => found = learner.hear(message),
            Some(Waiting::Hand(calibration)) => calibration.hear(message),
            Some(Waiting::Key(mode)) => {
                if let Message::NoteOn { key, .. } = message {
                    let mode = *mode;
                    self.model.waiting = None;
                    self.take_key(mode, key);
                }
            }
            None => {}
        }
        if let Some(source) = found {
            self.model.waiting = None;
            self.take_source(source);
        }
    }

    /// Time goes by for whatever is under way.
    pub(super) fn pass(&mut self, elapsed_s: f64) {
        if let Some(Waiting::Hand(calibration)) = &mut self.model.waiting
            && let Some(measured) = calibration.pass(elapsed_s)
        {
            self.model.waiting = None;
            self.take_hand(measured);
        }
        let Some(trial) = &mut self.model.trial else { return };
        match trial.pass(elapsed_s) {
            Some(order) => self.feed.order(order),
            None => self.play(),
        }
    }

    pub(super) fn learn(&mut self, is_wished: bool) {
        self.model.waiting = is_wished.then(|| Waiting::Source(SourceLearner::default()));
    }

    /// The hand as it is for this source; what had been measured for another one says nothing.
    fn take_source(&mut self, source: Source) {
        let place = Place { slot: self.model.slot, kind: FileKind::Hand };
        let text = Hand::text_for(source);
        self.rewrite(place, "learn the controller", &text);
        let said = format!("Learned: {} is the gesture.", source_text(source));
        self.model.sentence = Some(said);
    }

    pub(super) fn calibrate(&mut self, is_wished: bool) {
        let source = self.model.sheet(FileKind::Hand).hand().map(|hand| hand.source);
        let present = self.meter().view().and_then(|view| view.raw);
        self.model.measured = None;
        self.model.waiting = source
            .filter(|_| is_wished)
            .map(|source| Waiting::Hand(Calibration::begin(source, present)));
    }

    /// Writes what was measured into the hand.
    fn take_hand(&mut self, measured: Measured) {
        self.model.measured = Some(measured);
        if measured.travel() < TRAVEL_MIN {
            let travel = 100.0 * measured.travel();
            let said = format!(
                "The hand stays as it was: the controller moved {travel:.0} % of its range; \
                 needed are at least {:.0} %.",
                100.0 * TRAVEL_MIN
            );
            self.model.sentence = Some(said);
            return;
        }
        let (low, high) = match measured.is_inverted() {
            true => (measured.full, measured.rest),
            false => (measured.rest, measured.full),
        };
        let low = (low + RAIL).min(high - TRAVEL_MIN).max(0.0);
        let high = (high - RAIL).max(low + TRAVEL_MIN).min(1.0);
        let dead_zone = (measured.flutter / measured.travel() + 0.01).clamp(0.01, 0.4);
        let fields: [(&str, Setting); 4] = [
            ("controller.low", Setting::Number(low)),
            ("controller.high", Setting::Number(high)),
            ("controller.inverted", Setting::Flag(measured.is_inverted())),
            ("controller.dead_zone_rest", Setting::Number(dead_zone)),
        ];
        let mut text = self.model.sheet(FileKind::Hand).text().to_owned();
        for (path, value) in fields {
            let next = Sheet::open(&text).ok().and_then(|sheet| sheet.with(path, value));
            text = next.unwrap_or(text);
        }
        let place = Place { slot: self.model.slot, kind: FileKind::Hand };
        self.rewrite(place, "calibrate the hand", &text);
        self.model.sentence = Some("The hand is measured; save it to keep it.".to_owned());
    }

    /// The key that was struck becomes the keyswitch of a legato mode.
    fn take_key(&mut self, mode: &'static str, key: u8) {
        let sheet = self.model.sheet(FileKind::Target);
        let has_way = sheet.field("legato.by").is_some_and(|field| field.value == "keyswitch");
        let keyed = sheet.with(&format!("legato.{mode}"), Setting::Number(f64::from(key)));
        let text = match (keyed, has_way) {
            (Some(text), true) => Some(text),
            (Some(text), false) => with_way(&text),
            (None, _) => None,
        };
        let Some(text) = text else { return };
        let place = Place { slot: self.model.slot, kind: FileKind::Target };
        self.rewrite(place, &format!("keyswitch of {mode}"), &text);
        if self.model.sentence.is_none() {
            self.model.sentence = Some(format!("Learned: {} ({key}) is {mode}.", key_name(key)));
        }
    }

    /// Begins to sweep an output, or ends that.
    pub(super) fn test(&mut self, path: Option<String>) {
        self.stop_test();
        let Some(path) = path else { return };
        let Ok(patch) = self.model.slot().patch(self.model.seed) else { return };
        let sheet = self.model.sheet(FileKind::Target);
        let Some(target) = sheet.target() else { return };
        let Some(named) = target.outputs.iter().find(|output| output.path == path) else { return };
        // No two outputs share an address; one of a style that the instrument lacks is left out.
        let mut played = patch.target.outputs[..patch.target.output_count].iter();
        let Some(output) = played.find(|output| output.address == named.address).copied() else {
            let said = format!("{path}: nothing drives it with this instrument.");
            self.model.sentence = Some(said);
            return;
        };
        if !trial::can_be_swept(&output) {
            let said = format!("{path}: a velocity goes out with each note and cannot be swept.");
            self.model.sentence = Some(said);
            return;
        }
        let range = self.model.sheet(FileKind::Instrument).instrument().map(|one| one.range);
        let (low, high) = range.map_or((60, 60), |range| range.comfortable_keys);
        let (trial, orders) = Trial::begin(&path, &output, &patch, low.midpoint(high));
        for order in orders {
            self.feed.order(order);
        }
        self.model.trial = Some(trial);
    }

    pub(super) fn stop_test(&mut self) {
        if self.model.trial.is_some() {
            self.play();
        }
    }
}

/// The text of a target that tells its modes by keyswitches.
fn with_way(text: &str) -> Option<String> {
    let document = crate::profile::Document::parse(text).ok()?;
    document.with(&["legato", "by"], "keyswitch")
}
