//! The colours of the window: light, dark and high contrast, and how egui's own widgets get them.
//!
//! Hues after Okabe and Ito, darkened or lightened until each has 4.5:1 against its ground. Nothing
//! is said by hue alone: every strand has its name beside it and a mark of its own.

use egui::{Color32, CornerRadius, FontFamily, FontId, Stroke, Style, TextStyle, Visuals};

use super::act::Light;
use super::strand::Strand;

/// The window's colours in one light.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WindowTheme {
    /// Behind everything.
    pub ground: Color32,
    /// Behind what is drawn: the strands, the last eight seconds, the curve.
    pub paper: Color32,
    /// Words and the gesture.
    pub ink: Color32,
    /// Lesser words.
    pub quiet: Color32,
    /// Lines of a ruler; they carry no meaning by themselves.
    pub grid: Color32,
    /// Behind a button.
    pub button: Color32,
    /// Behind what is chosen; words on it are in `ground`.
    pub chosen: Color32,
    /// Around what the keyboard holds.
    pub focus: Color32,
    /// Notes.
    pub note: Color32,
    /// What wants attention.
    pub alarm: Color32,
    strands: [Color32; 8],
}

const fn hex(colour: u32) -> Color32 {
    Color32::from_rgb((colour >> 16) as u8, (colour >> 8) as u8, colour as u8)
}

const DAY: WindowTheme = WindowTheme {
    ground: hex(0xf3_efe6),
    paper: hex(0xfc_faf4),
    ink: hex(0x1d_2127),
    quiet: hex(0x55_5a_62),
    grid: hex(0xd8_d2_c4),
    button: hex(0xe4_dccb),
    chosen: hex(0x2b_3a_4a),
    focus: hex(0xa8_3800),
    note: hex(0xc9_d6_df),
    alarm: hex(0xa3_1515),
    strands: [
        hex(0x1d_2127),
        hex(0x00_5c_94),
        hex(0x9c_3f00),
        hex(0x7a_4f00),
        hex(0x00_644b),
        hex(0x86_3565),
        hex(0x3a_5595),
        hex(0xa0_2c3c),
    ],
};

const NIGHT: WindowTheme = WindowTheme {
    ground: hex(0x15_1817),
    paper: hex(0x1d_2120),
    ink: hex(0xec_e8de),
    quiet: hex(0xa9_ada8),
    grid: hex(0x3a_403e),
    button: hex(0x2b_302e),
    chosen: hex(0xd9_cba6),
    focus: hex(0xff_b454),
    note: hex(0x3d_4d55),
    alarm: hex(0xff_8f80),
    strands: [
        hex(0xec_e8de),
        hex(0x6b_bcf0),
        hex(0xff_9a55),
        hex(0xf0_b948),
        hex(0x4f_cfa4),
        hex(0xe7_9cc6),
        hex(0x9d_b6f2),
        hex(0xff_9c9c),
    ],
};

const STRONG: WindowTheme = WindowTheme {
    ground: hex(0x00_0000),
    paper: hex(0x00_0000),
    ink: hex(0xff_ffff),
    quiet: hex(0xff_ffff),
    grid: hex(0x6a_6a6a),
    button: hex(0x00_0000),
    chosen: hex(0xff_ff00),
    focus: hex(0x00_ffff),
    note: hex(0x30_4a60),
    alarm: hex(0xff_b0a0),
    strands: [
        hex(0xff_ffff),
        hex(0x80_d0ff),
        hex(0xff_b070),
        hex(0xff_e060),
        hex(0x60_ffc0),
        hex(0xff_a0e0),
        hex(0xb0_c8ff),
        hex(0xff_b0b0),
    ],
};

impl WindowTheme {
    /// The colours of a light.
    pub const fn of(light: Light) -> WindowTheme {
        match light {
            Light::Day => DAY,
            Light::Night => NIGHT,
            Light::Strong => STRONG,
        }
    }

    /// The colour of a strand.
    pub fn strand(&self, strand: Strand) -> Color32 {
        self.strands[strand as usize]
    }

    /// Every pair of a colour of words and the colour behind them, with its name, to check their
    /// contrast.
    pub fn pairs(&self) -> Vec<(&'static str, Color32, Color32)> {
        let mut pairs = vec![
            ("ink on ground", self.ink, self.ground),
            ("ink on paper", self.ink, self.paper),
            ("ink on button", self.ink, self.button),
            ("ink on a note", self.ink, self.note),
            ("quiet on ground", self.quiet, self.ground),
            ("quiet on paper", self.quiet, self.paper),
            ("ground on chosen", self.ground, self.chosen),
            ("alarm on ground", self.alarm, self.ground),
            ("alarm on paper", self.alarm, self.paper),
            ("focus on ground", self.focus, self.ground),
            ("focus on paper", self.focus, self.paper),
        ];
        for strand in Strand::ALL {
            pairs.push((strand.name(), self.strand(strand), self.paper));
            pairs.push((strand.name(), self.strand(strand), self.ground));
        }
        pairs
    }

    /// Gives egui's own widgets these colours.
    pub fn dress(&self, style: &mut Style) {
        let mut visuals = if self.is_dark() { Visuals::dark() } else { Visuals::light() };
        visuals.panel_fill = self.ground;
        visuals.window_fill = self.ground;
        visuals.extreme_bg_color = self.paper;
        visuals.override_text_color = None;
        visuals.selection.bg_fill = self.chosen;
        visuals.selection.stroke = Stroke::new(2.0, self.focus);
        visuals.hyperlink_color = self.focus;
        let widgets = &mut visuals.widgets;
        for state in [
            &mut widgets.noninteractive,
            &mut widgets.inactive,
            &mut widgets.hovered,
            &mut widgets.active,
            &mut widgets.open,
        ] {
            state.fg_stroke = Stroke::new(1.0, self.ink);
            state.bg_fill = self.grid;
            state.weak_bg_fill = self.button;
            state.bg_stroke = Stroke::new(1.0, self.quiet);
            state.corner_radius = CornerRadius::same(2);
            state.expansion = 0.0;
        }
        widgets.noninteractive.bg_stroke = Stroke::new(1.0, self.grid);
        widgets.hovered.bg_stroke = Stroke::new(1.5, self.ink);
        widgets.active.bg_stroke = Stroke::new(2.5, self.focus);
        style.visuals = visuals;
        style.visuals.slider_trailing_fill = true;
        style.animation_time = 0.0;
        style.interaction.selectable_labels = false;
        style.interaction.tooltip_delay = 0.6;
        let proportional = |size| FontId::new(size, FontFamily::Proportional);
        style.text_styles.insert(TextStyle::Body, proportional(14.0));
        style.text_styles.insert(TextStyle::Button, proportional(14.0));
        style.text_styles.insert(TextStyle::Small, proportional(12.0));
        style.text_styles.insert(TextStyle::Heading, proportional(20.0));
    }

    fn is_dark(&self) -> bool {
        luminance(self.ground) < 0.2
    }
}

/// The contrast of two colours after WCAG 2.2, 1 to 21.
pub fn contrast(one: Color32, other: Color32) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// Relative luminance after WCAG 2.2, 0..=1.
fn luminance(colour: Color32) -> f64 {
    let linear = |channel: u8| {
        let share = f64::from(channel) / 255.0;
        if share <= 0.04045 { share / 12.92 } else { libm::pow((share + 0.055) / 1.055, 2.4) }
    };
    0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
}
