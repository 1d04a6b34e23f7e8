//! The program's own window, with the editor in it, and the time between its frames.

use std::time::Instant;

use egui_baseview::baseview::HandlerError;
use egui_baseview::baseview::dpi::LogicalSize;
use egui_baseview::{EguiWindow, EguiWindowSettings, Frame};

use super::app::Editor;
use super::first_picture;

/// How large it opens, points.
pub const SIZE: (f64, f64) = (1280.0, 800.0);
/// From one frame to the next while something moves, seconds.
const FRAME_S: f32 = 1.0 / 60.0;

/// A window that has just been opened is drawn again so long, in these steps, seconds: the display
/// may lose a picture of a window that is about to be shown.
const OPENING_S: f64 = 1.0;
const AGAIN_S: f32 = 0.3;

/// Measures the time from frame to frame, and asks for another frame only while something moves, or
/// the window has just been opened.
#[derive(Debug, Default)]
pub struct FrameTimer {
    first: Option<Instant>,
    last: Option<Instant>,
}

impl FrameTimer {
    /// Draws one frame, and asks for another while something moves.
    pub fn frame(&mut self, editor: &mut Editor, ui: &mut egui::Ui) {
        let now = Instant::now();
        let elapsed_s = self.last.map_or(0.0, |last| now.duration_since(last).as_secs_f64());
        // While nothing moved there was no frame: the time until the next one does not count.
        self.last = editor.frame(ui, elapsed_s).then_some(now);
        let opened = *self.first.get_or_insert(now);
        if self.last.is_some() {
            ui.ctx().request_repaint_after_secs(FRAME_S);
        } else if now.duration_since(opened).as_secs_f64() < OPENING_S {
            ui.ctx().request_repaint_after_secs(AGAIN_S);
        }
    }
}

struct ProgramWindow {
    editor: Editor,
    pace: FrameTimer,
}

impl egui_baseview::App for ProgramWindow {
    fn build(&mut self, context: egui::Context, frame: &mut Frame) -> Result<(), HandlerError> {
        first_picture::expect(frame);
        super::fonts::install(&context);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        self.pace.frame(&mut self.editor, ui);
    }
}

/// Opens a window and comes back when it is closed.
///
/// # Errors
/// One sentence if there is no display, or it cannot be drawn on.
pub fn open(title: &str, editor: Editor) -> Result<(), String> {
    let (width, height) = SIZE;
    let settings =
        EguiWindowSettings::new().with_title(title).with_size(LogicalSize { width, height });
    let no_window = |error: &dyn std::fmt::Display| {
        format!("no window can be opened here: {error}; is there a display?")
    };
    let window =
        EguiWindow::create(settings, ProgramWindow { editor, pace: FrameTimer::default() })
            .map_err(|error| no_window(&error))?;
    window.run_until_closed().map_err(|error| no_window(&error))
}
