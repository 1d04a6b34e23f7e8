//! The streams that the gesture drives: one name for each musical consequence.

/// One stream of messages that the gesture drives (DESIGN: outputs).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Layer {
    /// How loud, 0..=1: a position that stands for decibels.
    Dynamics,
    /// The second level, an amplitude 0..=1, for tails and niente.
    Expression,
    /// Vibrato width for the receiver's own vibrato, cents peak to peak.
    VibratoWidth,
    /// Vibrato rate for the receiver's own vibrato, Hz.
    VibratoRate,
    /// Position on the ordered list of styles, 0..=1.
    Style,
    /// The weight of one style, 0..=1, by its index.
    StyleWeight(u8),
    /// The performed vibrato, the way from note to note and the player's bend, cents.
    Pitch,
    /// The legato mode.
    Legato,
    /// The articulation.
    Articulation,
    /// Portamento time, switch and source, legato switch.
    Slide,
    /// Ambience send, steps of 127 above its base.
    Send,
    /// The conditioned gesture itself, 0..=1.
    Gesture,
    /// How bright, 0..=1: the level, and the body's swing of it under vibrato.
    Brightness,
}

impl Layer {
    /// The layers that outputs are driven by: all but mode, articulation and slide, which go out
    /// with their note.
    pub const OUTPUTS: [Layer; 13] = [
        Layer::Dynamics,
        Layer::Expression,
        Layer::VibratoWidth,
        Layer::VibratoRate,
        Layer::Style,
        Layer::Pitch,
        Layer::Send,
        Layer::Gesture,
        Layer::StyleWeight(0),
        Layer::StyleWeight(1),
        Layer::StyleWeight(2),
        Layer::StyleWeight(3),
        Layer::Brightness,
    ];
}
