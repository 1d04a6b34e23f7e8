//! A drawn area with two axes: from the music's numbers to places in the window and back.

use egui::{Align2, FontId, Id, Painter, Pos2, Rect, Stroke, Ui, pos2};

use super::scene::WindowScene;
use crate::editor::number_text::plain;

/// An axis that follows its numbers, but stands still while something is dragged: if the axis grew
/// under the pointer, the dragged point would run away from it.
pub fn steady(ui: &Ui, salt: &str, axis: (f64, f64)) -> (f64, f64) {
    let id = Id::unique(("axis", salt));
    let kept = ui.data(|data| data.get_temp::<(f64, f64)>(id));
    if let (Some(kept), true) = (kept, ui.ctx().dragged_id().is_some()) {
        return kept;
    }
    ui.data_mut(|data| data.insert_temp(id, axis));
    axis
}

/// Two axes over a rectangle of the window.
#[derive(Clone, Copy, Debug)]
pub struct Axes {
    /// Where the numbers lie.
    pub rect: Rect,
    /// From the left to the right edge.
    pub x: (f64, f64),
    /// From the bottom to the top edge.
    pub y: (f64, f64),
}

impl Axes {
    /// Where in the window two numbers stand.
    pub fn at(&self, x: f64, y: f64) -> Pos2 {
        let share = |value: f64, (low, high): (f64, f64)| ((value - low) / (high - low)) as f32;
        pos2(
            self.rect.left() + share(x, self.x) * self.rect.width(),
            self.rect.bottom() - share(y, self.y) * self.rect.height(),
        )
    }

    /// The two numbers of a place in the window, at most those at the ends of the axes.
    pub fn numbers(&self, at: Pos2) -> (f64, f64) {
        let value = |share: f32, (low, high): (f64, f64)| {
            low + (high - low) * f64::from(share.clamp(0.0, 1.0))
        };
        let x = (at.x - self.rect.left()) / self.rect.width();
        let y = (self.rect.bottom() - at.y) / self.rect.height();
        (value(x, self.x), value(y, self.y))
    }

    /// The ground and the ruler, with words at both ends of each axis.
    pub fn ground(&self, painter: &Painter, scene: &WindowScene<'_>, x_unit: &str, y_unit: &str) {
        let theme = &scene.theme;
        painter.rect_filled(self.rect.expand(6.0), 2, theme.paper);
        let stroke = Stroke::new(1.0, theme.grid);
        for place in 0..=4_u8 {
            let share = f32::from(place) / 4.0;
            let x = self.rect.left() + share * self.rect.width();
            let y = self.rect.bottom() - share * self.rect.height();
            painter.vline(x, self.rect.y_range(), stroke);
            painter.hline(self.rect.x_range(), y, stroke);
        }
        let font = FontId::proportional(12.0);
        let words = |number: f64, unit: &str| format!("{} {unit}", plain(number));
        let below = self.rect.bottom() + 9.0;
        let say = |at: Pos2, anchor: Align2, text: String| {
            painter.text(at, anchor, text, font.clone(), theme.quiet);
        };
        say(pos2(self.rect.left(), below), Align2::LEFT_TOP, words(self.x.0, x_unit));
        say(pos2(self.rect.right(), below), Align2::RIGHT_TOP, words(self.x.1, x_unit));
        let beside = self.rect.left() - 9.0;
        say(pos2(beside, self.rect.top()), Align2::RIGHT_CENTER, words(self.y.1, y_unit));
        say(pos2(beside, self.rect.bottom()), Align2::RIGHT_CENTER, words(self.y.0, y_unit));
    }

    /// A line of `y` over the whole of `x`.
    pub fn line(&self, y: impl Fn(f64) -> f64) -> Vec<Pos2> {
        const STEPS: u16 = 96;
        let (low, high) = self.x;
        let at = |step: u16| {
            let x = low + (high - low) * f64::from(step) / f64::from(STEPS);
            self.at(x, y(x))
        };
        (0..=STEPS).map(at).collect()
    }
}
