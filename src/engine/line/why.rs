//! What a line is doing and why, for those who look.

use super::Line;
use crate::gesture::conditioning::GestureNow;
use crate::layer::Layer;
use crate::layers::dynamics::why_limited;
use crate::layers::onset::FAST_PACE_S;
use crate::notes::wishes::{why_not_open, why_still};
use crate::output::switching::played;
use crate::patch::setup::Setup;
use crate::phrase::Phrase;
use crate::reason::Reason;
use crate::view::View;

impl Line {
    /// Present values.
    pub fn view(
        &self,
        setup: &Setup,
        (gesture, raw): (&GestureNow, Option<f64>),
        articulation: Option<u8>,
        now_s: f64,
    ) -> View {
        let values = self.values(setup, gesture, now_s);
        let swing = self.vibrato.seen(setup, now_s);
        let wish = self.owner.and_then(|owner| owner.wish);
        View {
            time_s: now_s,
            key: values.key.map(|key| key.number()),
            raw,
            gesture: values.gesture,
            dynamics: self.dynamics.level(&setup.patch.dynamics),
            expression: values.value(Layer::Expression),
            width_cents: swing.width_cents,
            rate_hz: swing.rate_hz,
            pitch_cents: swing.pitch_cents,
            weights: *self.style.weights(),
            mode: self.legato.mode(),
            phrase: self.phrase,
            send: values.value(Layer::Send),
            vibrato_reason: self.vibrato_reason(setup, gesture, now_s),
            legato_reason: self.legato.reason(),
            tail_reason: self.tail_reason,
            articulation: played(&setup.patch.target, articulation),
            frozen: None,
            silence: self.silence(now_s),
            transition_cents: self.transition.cents(now_s),
            transition_reason: self.transition_reason,
            limited: why_limited(&setup.patch.dynamics, values.gesture),
            refused_wish: wish.and_then(|wish| why_not_open(&wish, &setup.patch.strings)),
            level_db: values.heard_db(&swing),
            brightness: values.brightness_with(swing.body),
            voice: self.number,
            player_bend: values.player_bend(),
        }
    }

    /// The hand has taken the note to nothing.
    fn silence(&self, now_s: f64) -> Option<Reason> {
        let is_silent = self.phrase == Phrase::Sounding && self.tail.niente.at(now_s) == 0.0;
        is_silent.then_some(Reason::Niente)
    }

    /// The owner has no vibrato by a wish.
    pub(super) fn wished_still(&self, setup: &Setup) -> Option<Reason> {
        why_still(&self.owner?.wish?, &setup.patch.strings)
    }

    fn vibrato_reason(&self, setup: &Setup, gesture: &GestureNow, now_s: f64) -> Reason {
        let onset = &self.vibrato.onset;
        let is_swinging = onset.factor(&setup.patch.vibrato, now_s).envelope > 0.0;
        if self.phrase == Phrase::Rest {
            match self.notes.drones(now_s).next() {
                Some(_) => Reason::DroneAlone,
                None => Reason::Rest,
            }
        } else if self.change.is_forced_open {
            Reason::ForcedOpen
        } else if let Some(reason) = self.wished_still(setup) {
            reason
        } else if self.is_double_stop_open {
            Reason::DoubleStopOnOpenString
        } else if self.shares_bend(setup) {
            Reason::VoicesShareBend
        } else if self.change.is_open {
            Reason::OpenString
        } else if self.vibrato.asked_width_cents() == 0.0 {
            if gesture.is_known { Reason::StyleIsPlain } else { Reason::GestureUnknown }
        } else if is_swinging {
            Reason::VibratoSounds
        } else if self.change.is_trill {
            Reason::Trill
        } else if self.change.pace_s < FAST_PACE_S {
            Reason::FastRun
        } else {
            Reason::NoteTooYoung
        }
    }
}
