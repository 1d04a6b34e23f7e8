//! Every layer's value at one moment, each in its own unit, for the outputs to read.

use super::event::Layer;
use super::fade::Fade;
use super::style::Style;
use super::tail::{Expression, Tail};
use super::vibrato::Vibrato;

/// The line at one moment.
#[derive(Clone, Copy)]
pub struct Moment<'a> {
    /// The line's channel, 0..=15.
    pub channel: u8,
    /// The line's key, if a note sounds.
    pub key: Option<u8>,
    /// The gesture, 0..=1.
    pub gesture: f64,
    /// The level, 0..=1, without the breath's swing.
    pub level: f64,
    /// Decibels that a level of 0..=1 stands for.
    pub span_db: f64,
    /// When it is.
    pub now_s: f64,
    /// Niente, tail and ambience.
    pub tail: &'a Tail,
    /// Only dynamics has an address, so it carries the expression too.
    pub carries_expression: bool,
    /// The player's own bend, −1..=1 of the bend range.
    pub player_bend: f64,
    /// The vibrato.
    pub vibrato: &'a Vibrato,
    /// The styles.
    pub style: &'a Style,
    /// Other settings have just been taken: the old ones' values still count.
    pub fade: Option<&'a Fade>,
}

impl Moment<'_> {
    /// The value of a layer that is no level, in its own unit (see [`Layer`]).
    pub fn value(&self, layer: Layer) -> f64 {
        let value = self.own_value(layer);
        self.fade.map_or(value, |fade| fade.value(self.now_s, layer, value))
    }

    fn own_value(&self, layer: Layer) -> f64 {
        match layer {
            Layer::VibratoWidth => self.vibrato.width_cents(),
            Layer::VibratoRate => self.vibrato.rate_hz(),
            Layer::Style => self.style.position(),
            Layer::StyleWeight(place) => self.style.sent_weight(usize::from(place)),
            Layer::Pitch => self.vibrato.pitch_cents(),
            Layer::Send => self.tail.send(self.now_s),
            Layer::Gesture => self.gesture,
            Layer::Dynamics => self.level,
            Layer::Expression => self.expression().whole(),
            Layer::Legato | Layer::Articulation | Layer::Slide => 0.0,
        }
    }

    fn expression(&self) -> Expression {
        self.tail.expression(self.now_s)
    }

    /// Decibels of a level: dynamics, or expression, or both where only dynamics has an address.
    pub fn level_db(&self, layer: Layer) -> f64 {
        let db = self.own_level_db(layer);
        self.fade.map_or(db, |fade| fade.level_db(self.now_s, layer, db))
    }

    fn own_level_db(&self, layer: Layer) -> f64 {
        if layer == Layer::Expression {
            return self.expression().db();
        }
        let db = self.vibrato.level_swing_db() - self.span_db * (1.0 - self.level);
        let db = db.clamp(-self.span_db, 0.0);
        if self.carries_expression { db + self.expression().db() } else { db }
    }

    /// What a layer's value is made of: while it stands, so does the value. It costs no more
    /// than a look, except for a pitch that swings.
    #[inline]
    pub fn state(&self, layer: Layer) -> [f64; 3] {
        if self.fade.is_some() {
            // Equal to nothing: it moves.
            return [f64::NAN; 3];
        }
        match layer {
            Layer::Dynamics => {
                let Expression { amplitude, fall_db } = self.expression();
                [self.level + self.vibrato.level_swing_db(), amplitude, fall_db]
            }
            Layer::Expression => {
                let Expression { amplitude, fall_db } = self.expression();
                [amplitude, fall_db, 0.0]
            }
            Layer::Pitch => [self.vibrato.turn(), self.vibrato.width_cents(), self.player_bend],
            Layer::Style | Layer::StyleWeight(_) => self.style.state(),
            layer => [self.own_value(layer), 0.0, 0.0],
        }
    }
}
