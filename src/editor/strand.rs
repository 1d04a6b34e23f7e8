//! The strands into which the one gesture splits: name, unit, present number, and what shapes each.

use crate::engine::View;

/// One musical consequence of the gesture, or the gesture itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Strand {
    /// The conditioned gesture, as it comes from the hand.
    Gesture,
    /// How loud.
    Dynamics,
    /// How wide the vibrato.
    Width,
    /// How fast the vibrato.
    Rate,
    /// Which kind of vibrato.
    Style,
    /// How one note joins the next.
    Legato,
    /// How the phrase ends, and its send.
    Tail,
    /// Where the pitch stands.
    Pitch,
}

impl Strand {
    /// Every strand, from the hand on.
    pub const ALL: [Strand; 8] = [
        Strand::Gesture,
        Strand::Dynamics,
        Strand::Width,
        Strand::Rate,
        Strand::Style,
        Strand::Legato,
        Strand::Tail,
        Strand::Pitch,
    ];

    /// The trade's word.
    pub const fn name(self) -> &'static str {
        match self {
            Strand::Gesture => "gesture",
            Strand::Dynamics => "dynamics",
            Strand::Width => "vibrato width",
            Strand::Rate => "vibrato rate",
            Strand::Style => "style",
            Strand::Legato => "legato",
            Strand::Tail => "tail and send",
            Strand::Pitch => "pitch",
        }
    }

    /// The unit of its number; empty where it is a word.
    pub const fn unit(self) -> &'static str {
        match self {
            Strand::Gesture | Strand::Dynamics | Strand::Tail => "%",
            Strand::Width | Strand::Pitch => "cents",
            Strand::Rate => "Hz",
            Strand::Style | Strand::Legato => "",
        }
    }

    /// Its present number or word, without the unit. `styles` are the names of the instrument's.
    pub fn value_text(self, view: &View, styles: &[String]) -> String {
        match self {
            Strand::Gesture => format!("{:.0}", 100.0 * view.gesture),
            Strand::Dynamics => format!("{:.0}", 100.0 * view.dynamics),
            Strand::Width => format!("{:.0}", view.width_cents),
            Strand::Rate => format!("{:.1}", view.rate_hz),
            Strand::Style => {
                let heaviest = (0..styles.len()).max_by(|one, other| {
                    view.weights[*one].total_cmp(&view.weights[*other]).then(other.cmp(one))
                });
                heaviest.map_or_else(String::new, |place| styles[place].clone())
            }
            Strand::Legato => view.mode.name().to_owned(),
            Strand::Tail => format!("{:.0}", 100.0 * view.expression),
            Strand::Pitch => format!("{:+.0}", view.pitch_cents),
        }
    }

    /// The same with its unit, for a screen reader.
    pub fn spoken(self, view: &View, styles: &[String]) -> String {
        let (value, unit) = (self.value_text(view, styles), self.unit());
        if unit.is_empty() { value } else { format!("{value} {unit}") }
    }

    /// How high it is drawn, 0..=1.
    pub fn share(self, view: &View) -> f64 {
        let share = match self {
            Strand::Gesture => view.gesture,
            Strand::Dynamics => view.dynamics,
            Strand::Width => view.width_cents / 200.0,
            Strand::Rate => (view.rate_hz - 2.0) / 7.0,
            Strand::Style => 1.0 - view.weights[0],
            Strand::Legato => f64::from(view.mode as u8) / 4.0,
            Strand::Tail => view.expression,
            Strand::Pitch => 0.5 + view.pitch_cents / 200.0,
        };
        share.clamp(0.0, 1.0)
    }

    /// The curve that shapes it over the gesture: the field's dotted name in the instrument, or
    /// in the hand for the gesture. `style` is the one that is looked at.
    pub fn curve(self, style: &str) -> Option<String> {
        match self {
            Strand::Gesture => Some("controller.response".to_owned()),
            Strand::Dynamics => Some("dynamics.curve".to_owned()),
            Strand::Width => Some(format!("vibrato.{style}.width_cents")),
            Strand::Rate => Some(format!("vibrato.{style}.rate_hz")),
            Strand::Style | Strand::Legato | Strand::Tail | Strand::Pitch => None,
        }
    }

    /// The numbers that shape it, as dotted names.
    pub fn fields(self, style: &str) -> Vec<String> {
        let of = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        match self {
            Strand::Gesture => of(&[
                "controller.low",
                "controller.high",
                "controller.dead_zone_rest",
                "controller.dead_zone_full",
                "controller.response_k",
                "controller.weight",
            ]),
            Strand::Dynamics => of(&[
                "dynamics.floor",
                "dynamics.ceiling",
                "dynamics.accent",
                "dynamics.span_db",
                "dynamics.velocity_share",
            ]),
            Strand::Width => of(&[
                "vibrato.join_keep",
                "vibrato.join_recover_ms",
                "vibrato.register_per_semitone",
                "vibrato.imperfection_width_percent",
                "vibrato.arch",
            ]),
            Strand::Rate => of(&["vibrato.imperfection_rate_percent"]),
            Strand::Style => of(&["vibrato.onset_ms", "vibrato.growth_ms"]),
            Strand::Legato => of(&[
                "legato.hysteresis",
                "legato.join_gap_ms",
                "legato.slide_max_semitones",
                "legato.slide_ms",
            ]),
            Strand::Tail => of(&["tail.tail_ms", "tail.tail_db", "tail.ambience_lift_steps"]),
            Strand::Pitch => vec![
                format!("vibrato.{style}.share_above"),
                format!("vibrato.{style}.sharpness"),
                format!("vibrato.{style}.level_swing_db"),
                format!("vibrato.{style}.centre"),
                "vibrato.settle_ms".to_owned(),
            ],
        }
    }
}
