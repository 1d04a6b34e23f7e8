//! What every part of the window is drawn from, and where it writes down what the player does.

use crate::editor::act::Act;
use crate::editor::feed::TakeTransport;
use crate::editor::model::Model;
use crate::editor::recent::Recent;
use crate::editor::theme::WindowTheme;

/// One frame of the window.
pub struct WindowScene<'a> {
    /// What is edited, and where the player looks.
    pub model: &'a Model,
    /// The last eight seconds of the line.
    pub recent: &'a Recent,
    /// Where the take stands, if there is one.
    pub transport: Option<TakeTransport>,
    /// The colours.
    pub theme: WindowTheme,
    /// What the player does in this frame.
    pub acts: &'a mut Vec<Act>,
}
