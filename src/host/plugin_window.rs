//! The plugin's own window: the editor inside a window of the host's.

use std::error::Error;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use atomic_float::AtomicF64;
use egui_baseview::baseview::dpi::{LogicalSize, Size};
use egui_baseview::baseview::{self, HandlerError, WindowSize};
use egui_baseview::{EguiWindow, EguiWindowSettings, Frame};
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{self, EditorHandle, HostMethods, ParentWindowHandle};
use nice_plug::editor::{ResizeHint, SpawnedEditor};

use super::plugin_editor::PluginEditor;
use super::plugin_feed::PluginFeed;
use super::window_access::{TellHost, WindowAccess};
use super::window_thread::{WindowOnThread, WindowThread};
use crate::editor::first_picture;
use crate::editor::window::SIZE;

/// The smallest that it may become, points.
const SIZE_MIN: (f32, f32) = (800.0, 500.0);

/// Makes the plugin's window, again and again, on the host's main thread. What the player did in it
/// stays while it is closed.
pub struct PluginWindow {
    access: Arc<WindowAccess>,
    editor: Arc<Mutex<PluginEditor>>,
    extent: Arc<WindowExtent>,
}

impl PluginWindow {
    /// The host's main thread. A window that is not open yet; nothing is read or prepared before it is.
    pub fn new(access: Arc<WindowAccess>, tell: TellHost) -> PluginWindow {
        let feed = PluginFeed::new(Arc::clone(&access), tell);
        let editor = PluginEditor::new(Arc::clone(&access), feed);
        PluginWindow {
            access,
            editor: Arc::new(Mutex::new(editor)),
            extent: Arc::new(WindowExtent::new()),
        }
    }
}

/// How large the window is. Its own thread says it, and the host's main thread asks.
struct WindowExtent {
    /// Points.
    width: AtomicF64,
    /// Points.
    height: AtomicF64,
    /// Pixels of a point.
    scale_factor: AtomicF64,
}

impl WindowExtent {
    fn new() -> WindowExtent {
        let [width, height, scale_factor] = [SIZE.0, SIZE.1, 1.0].map(AtomicF64::new);
        WindowExtent { width, height, scale_factor }
    }

    /// As the host counts it.
    fn native(&self) -> NativeSize<u32> {
        let [width, height, scale_factor] = [&self.width, &self.height, &self.scale_factor]
            .map(|value| value.load(Ordering::Relaxed));
        NativeSize::from_size(Size::Logical(LogicalSize { width, height }), scale_factor)
    }

    fn set(&self, WindowSize { logical, scale_factor, .. }: WindowSize) {
        self.width.store(logical.width, Ordering::Relaxed);
        self.height.store(logical.height, Ordering::Relaxed);
        self.scale_factor.store(scale_factor, Ordering::Relaxed);
    }
}

impl editor::Editor for PluginWindow {
    type Handle = OpenWindow;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        waits_for_parent: bool,
        scale: Option<f64>,
        context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<OpenWindow>, Box<dyn Error>> {
        self.access.set_context(context);
        let size: Size = self.extent.native().into();
        let least = LogicalSize { width: SIZE_MIN.0, height: SIZE_MIN.1 };
        let settings = EguiWindowSettings::new()
            .with_title("Polso")
            .with_size(size)
            .with_min_size(Some(least))
            .with_parent(parent.as_ref())
            .with_wait_for_parent(waits_for_parent)
            .with_fallback_scale_factor(scale)
            .with_repaint_notifier(self.access.live_values.repaint());
        let (editor, extent) = (Arc::clone(&self.editor), Arc::clone(&self.extent));
        let thread = WindowThread::default();
        let content = WindowContent { editor, extent, thread: thread.clone() };
        let window = EguiWindow::create_with_host(settings, content, host.map(translated))?;
        let window = WindowOnThread::new(window, thread);
        let handle =
            OpenWindow { access: Arc::clone(&self.access), editor: Arc::clone(&self.editor) };
        Ok(SpawnedEditor { handle, window })
    }

    fn size(&self) -> NativeSize<u32> {
        self.extent.native()
    }

    fn resize_hint(&self) -> ResizeHint {
        hint()
    }
}

fn hint() -> ResizeHint {
    let (width, height) = SIZE_MIN;
    ResizeHint::resizable().with_min_logical_size(LogicalSize { width, height })
}

/// What is drawn inside, on the window's own thread.
struct WindowContent {
    editor: Arc<Mutex<PluginEditor>>,
    extent: Arc<WindowExtent>,
    thread: WindowThread,
}

impl egui_baseview::App for WindowContent {
    fn build(&mut self, context: egui::Context, frame: &mut Frame) -> Result<(), HandlerError> {
        self.thread.begin();
        first_picture::expect(frame);
        crate::editor::fonts::install(&context);
        lock(&self.editor).open();
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        lock(&self.editor).frame(ui);
    }

    fn resized(&mut self, size: WindowSize) {
        self.extent.set(size);
    }
}

/// The host's hold on an open window, on its main thread.
pub struct OpenWindow {
    access: Arc<WindowAccess>,
    editor: Arc<Mutex<PluginEditor>>,
}

impl OpenWindow {
    fn repaint(&self) {
        self.access.live_values.repaint().request_repaint();
    }
}

impl Drop for OpenWindow {
    fn drop(&mut self) {
        lock(&self.editor).close();
    }
}

impl EditorHandle for OpenWindow {
    type Window = WindowOnThread;
    type Error = baseview::Error;

    fn run_until_closed(window: WindowOnThread) -> Result<(), baseview::Error> {
        window.window.run_until_closed()
    }

    fn set_parent(
        &self,
        parent: ParentWindowHandle,
        WindowOnThread { window, .. }: &WindowOnThread,
    ) -> Result<(), baseview::Error> {
        window.set_parent(&parent)
    }

    fn show(&self, WindowOnThread { window, .. }: &WindowOnThread) -> Result<(), baseview::Error> {
        lock(&self.editor).begin_showing();
        window.show()?;
        self.repaint();
        Ok(())
    }

    fn hide(&self, WindowOnThread { window, .. }: &WindowOnThread) -> Result<(), baseview::Error> {
        window.hide()
    }

    fn set_size(
        &self,
        size: NativeSize<u32>,
        WindowOnThread { window, .. }: &WindowOnThread,
    ) -> Result<(), baseview::Error> {
        window.resize(size)
    }

    fn host_main_thread_callback(&self, WindowOnThread { window, .. }: &WindowOnThread) {
        window.host_main_thread_callback();
    }

    fn adjust_size(
        &self,
        size: NativeSize<u32>,
        WindowOnThread { window, .. }: &WindowOnThread,
    ) -> Option<NativeSize<u32>> {
        let WindowSize { logical, physical, scale_factor } = window.size();
        let present = NativeSize::from_logical_or_physical(logical, physical);
        Some(hint().adjust_size(size, present, scale_factor))
    }

    fn set_fallback_scale_factor(
        &self,
        scale: f64,
        WindowOnThread { window, .. }: &WindowOnThread,
    ) -> Result<(), baseview::Error> {
        window.suggest_fallback_scale_factor(scale)
    }

    fn state_changed(&self) {
        self.repaint();
    }

    fn param_value_changed(&self, _: &str, _: f32) {
        self.repaint();
    }

    fn param_modulation_changed(&self, _: &str, _: f32) {}
}

/// The host's methods in the words of the window's library.
fn translated(host: HostMethods) -> baseview::host::Host {
    struct Callbacks(Box<dyn editor::HostCallbacks>);
    impl baseview::host::HostCallbacks for Callbacks {
        fn request_resize(&mut self, size: WindowSize) -> Result<(), HandlerError> {
            let asked = self.0.request_resize(size.physical.into(), size.scale_factor);
            asked.map_err(HandlerError::from_boxed)
        }

        fn destroyed(&mut self) {
            self.0.destroyed();
        }
    }
    struct Caller(Box<dyn editor::HostMainThreadCaller>);
    impl baseview::host::HostMainThreadCaller for Caller {
        fn call_main_thread(&mut self) {
            self.0.call_main_thread();
        }
    }
    baseview::host::Host::new()
        .with_callbacks(Callbacks(host.callbacks))
        .with_main_thread(Caller(host.main_thread_caller))
}

fn lock(editor: &Mutex<PluginEditor>) -> MutexGuard<'_, PluginEditor> {
    editor.lock().unwrap_or_else(PoisonError::into_inner)
}
