//! Every layer's value at one moment, each in its own unit and worked out when somebody asks.

use super::body::BodySwing;
use super::dynamics::{Dynamics, plain_level};
use super::fade::Fade;
use super::style::Style;
use super::tail::{Expression, Tail};
use super::transition::Transition;
use super::vibrato::{Swing, Vibrato};
use crate::input::{Channel, Key};
use crate::layer::Layer;
use crate::math::glide::Glide;
use crate::patch::setup::Setup;

/// A level this far down is nothing, decibels.
const NOTHING_DB: f64 = -120.0;
/// A moving hand goes on for about so long: of 0.05, 0.1 and 0.2 s this takes the fewest messages,
/// over folk melodies and recorded hands, with and without a swing of the level.
const HAND_AHEAD_S: f64 = 0.1;

/// A line's layers at one moment. No number here knows of 7 or 14 bits.
#[derive(Clone, Copy)]
pub struct Values<'a> {
    /// What the line is played with.
    pub setup: &'a Setup,
    /// When it is.
    pub now_s: f64,
    /// The line's channel.
    pub channel: Channel,
    /// The line's key, if a note sounds.
    pub key: Option<Key>,
    /// The gesture, 0..=1.
    pub gesture: f64,
    /// How fast it rises, a second.
    pub rise_per_s: f64,
    /// How loud, without the body's swing.
    pub dynamics: &'a Dynamics,
    /// Niente, tail and ambience.
    pub tail: &'a Tail,
    /// The vibrato.
    pub vibrato: &'a Vibrato,
    /// The styles.
    pub style: &'a Style,
    /// The way from the note before.
    pub transition: &'a Transition,
    /// The player's own bend, −1..=1 of the bend range.
    pub player_bend: &'a Glide,
    /// Other settings may have just been taken: then the old ones' values still count.
    pub fade: &'a Fade,
}

impl Values<'_> {
    /// The value of a layer that is no level, in its own unit (see [`Layer`]).
    pub fn value(&self, layer: Layer) -> f64 {
        let value = self.own_value(layer);
        if self.fade.is_on(self.now_s) { self.fade.value(self.now_s, layer, value) } else { value }
    }

    fn own_value(&self, layer: Layer) -> f64 {
        let vibrato = &self.setup.patch.vibrato;
        match layer {
            Layer::VibratoWidth => self.vibrato.width_cents(),
            Layer::VibratoRate => self.vibrato.rate_hz(),
            Layer::Style => self.style.position(vibrato),
            Layer::StyleWeight(place) => self.style.sent_weight(vibrato, usize::from(place)),
            Layer::Pitch => self.vibrato.pitch_cents(vibrato) + self.transition.cents(self.now_s),
            Layer::Send => self.tail.send(&self.setup.patch.tail, self.now_s),
            Layer::Gesture => self.gesture,
            Layer::Dynamics => self.level(),
            Layer::Expression => self.expression().whole(),
            Layer::Brightness => self.brightness_with(self.vibrato.body(self.setup, self.now_s)),
            Layer::Legato | Layer::Articulation | Layer::Slide => 0.0,
        }
    }

    /// The player's own bend, −1..=1 of the bend range.
    pub fn player_bend(&self) -> f64 {
        self.player_bend.at(self.now_s)
    }

    /// The pitch is on its way from note to note, and fast.
    pub fn pitch_hurries(&self) -> bool {
        self.transition.hurries(self.now_s)
    }

    /// How loud, 0..=1, without the body's swing.
    fn level(&self) -> f64 {
        self.dynamics.level(&self.setup.patch.dynamics)
    }

    /// Decibels that a level of 0..=1 stands for.
    pub fn span_db(&self) -> f64 {
        self.setup.patch.dynamics.span_db
    }

    fn expression(&self) -> Expression {
        self.tail.expression(self.now_s)
    }

    /// Decibels of a level: dynamics, or expression, or both where only dynamics has an address.
    pub fn level_db(&self, layer: Layer) -> f64 {
        let db = self.own_level_db(layer);
        if self.fade.is_on(self.now_s) { self.fade.level_db(self.now_s, layer, db) } else { db }
    }

    fn own_level_db(&self, layer: Layer) -> f64 {
        self.db_of(layer, (self.level(), self.expression()), self.swing(layer))
    }

    /// Decibels of a level that is made of these.
    fn db_of(&self, layer: Layer, (level, expression): (f64, Expression), swing: BodySwing) -> f64 {
        if layer == Layer::Expression {
            return swung_db(expression, swing);
        }
        let db = self.dynamics_db(level, swing);
        if self.setup.carries_expression { db + expression.db() } else { db }
    }

    /// How a level swings with the body, decibels.
    fn swing(&self, layer: Layer) -> BodySwing {
        match self.setup.swung_level == Some(layer) {
            true => self.vibrato.level_swing_db(self.setup, self.now_s),
            false => BodySwing::STILL,
        }
    }

    /// The decibels of the dynamics with a swing, whose middle lies so far inside that neither end
    /// is cut off.
    fn dynamics_db(&self, level: f64, swing: BodySwing) -> f64 {
        let span_db = self.span_db();
        let reach_db = swing.reach.min(0.5 * span_db);
        let db = (-span_db * (1.0 - level)).clamp(reach_db - span_db, -reach_db);
        db + swing.wave.clamp(-reach_db, reach_db)
    }

    /// What is heard of dynamics, expression and the body's swing together, decibels.
    pub fn heard_db(&self, swing: &Swing) -> f64 {
        let still = BodySwing::STILL;
        let [dynamics, expression] = match self.setup.swung_level {
            Some(Layer::Dynamics) => [swing.level_db, still],
            Some(Layer::Expression) => [still, swing.level_db],
            _ => [still, still],
        };
        let expression_db = swung_db(self.expression(), expression);
        (self.dynamics_db(self.level(), dynamics) + expression_db).max(NOTHING_DB)
    }

    /// How bright, 0..=1: as loud as it is, and brighter and duller by turns with the body.
    pub fn brightness_with(&self, body: BodySwing) -> f64 {
        let swing = self.setup.patch.vibrato.brightness_swing;
        let wave = if self.setup.drives_vibrato { 0.0 } else { body.of(swing).wave };
        (self.level() + wave).clamp(0.0, 1.0)
    }

    /// Decibels that a level is on its way to, as far as anyone can know: the hand goes on for
    /// [`HAND_AHEAD_S`] as it moves, an accent has died, the expression has arrived and the swing is
    /// at the end of its way; it goes up if `onward` is 1 and down if it is −1. None while other
    /// settings are taken.
    pub fn level_db_ahead(&self, layer: Layer, onward: f64) -> Option<f64> {
        if self.fade.is_on(self.now_s) {
            return None;
        }
        let swing = self.swing(layer);
        let swing = BodySwing { wave: onward * swing.reach, ..swing };
        let gesture = (self.gesture + HAND_AHEAD_S * self.rise_per_s).clamp(0.0, 1.0);
        let level = plain_level(&self.setup.patch.dynamics, gesture);
        Some(self.db_of(layer, (level, self.tail.expression_ahead(gesture)), swing))
    }

    /// What a layer's value is made of: while it stands, so does the value. It costs no more
    /// than a look, except for a pitch that swings.
    #[inline]
    pub fn state(&self, layer: Layer) -> [f64; 3] {
        if self.fade.is_on(self.now_s) {
            // Equal to nothing: it moves.
            return [f64::NAN; 3];
        }
        match layer {
            Layer::Dynamics => {
                let Expression { amplitude, fall_db } = self.expression();
                [self.level() + self.swing_state(layer), amplitude, fall_db]
            }
            Layer::Expression => {
                let Expression { amplitude, fall_db } = self.expression();
                [amplitude, fall_db, self.swing_state(layer)]
            }
            // Equal to nothing: it is on its way.
            Layer::Pitch if self.transition.is_on(self.now_s) => [f64::NAN; 3],
            Layer::Pitch => [self.vibrato.turn(), self.vibrato.width_cents(), self.player_bend()],
            Layer::Style | Layer::StyleWeight(_) => self.style.state(),
            Layer::Brightness => [self.level(), self.vibrato.body_state(), 0.0],
            layer => [self.own_value(layer), 0.0, 0.0],
        }
    }

    /// Moves while the swing of a level does, and is 0 while that stands.
    #[inline]
    fn swing_state(&self, layer: Layer) -> f64 {
        if self.setup.swung_level == Some(layer) { self.vibrato.body_state() } else { 0.0 }
    }

    /// Away from these values, when other settings are taken now.
    pub fn fade(&self) -> Fade {
        Fade::away_from(self.now_s, |layer| self.value(layer), |layer| self.level_db(layer))
    }
}

/// Decibels of an expression with a swing, which lies below full by half its size.
fn swung_db(expression: Expression, swing: BodySwing) -> f64 {
    expression.db() - swing.reach + swing.wave
}
