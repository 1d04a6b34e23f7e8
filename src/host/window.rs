//! The plugin's own window: the editor inside a window of the host's.

use std::error::Error;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use egui_baseview::baseview::dpi::{LogicalSize, Size};
use egui_baseview::baseview::{self, HandlerError, WindowSize};
use egui_baseview::{EguiWindow, EguiWindowSettings, Frame};
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{self, EditorHandle, HostMethods, ParentWindowHandle};
use nice_plug::editor::{ResizeHint, SpawnedEditor};

use super::glass::Glass;
use super::link::{Link, Live, Tell};
use super::pane::{Pane, Thread};
use crate::editor::window::SIZE;

/// The smallest that it may become, points.
const SIZE_MIN: (f32, f32) = (800.0, 500.0);

/// Makes the plugin's window, again and again. What the player did in it stays while it is closed.
pub struct Window {
    link: Arc<Link>,
    glass: Arc<Mutex<Glass>>,
    extent: Arc<Extent>,
}

impl Window {
    /// A window that is not open yet; nothing is read or prepared before it is.
    pub fn new(link: Arc<Link>, tell: Tell) -> Window {
        let live = Live::new(Arc::clone(&link), tell);
        let glass = Glass::new(Arc::clone(&link), live);
        Window { link, glass: Arc::new(Mutex::new(glass)), extent: Arc::new(Extent::new()) }
    }
}

/// How large the window is, pixels as the host counts them.
struct Extent {
    width: AtomicU32,
    height: AtomicU32,
}

impl Extent {
    fn new() -> Extent {
        Extent { width: AtomicU32::new(SIZE.0 as u32), height: AtomicU32::new(SIZE.1 as u32) }
    }

    fn native(&self) -> NativeSize<u32> {
        let [width, height] = [&self.width, &self.height].map(|it| it.load(Ordering::Relaxed));
        NativeSize::new(width, height)
    }

    fn set(&self, NativeSize { width, height }: NativeSize<u32>) {
        self.width.store(width, Ordering::Relaxed);
        self.height.store(height, Ordering::Relaxed);
    }
}

impl editor::Editor for Window {
    type Handle = Open;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        waits_for_parent: bool,
        scale: Option<f64>,
        context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<Open>, Box<dyn Error>> {
        self.link.set_context(context);
        let size: Size = self.extent.native().into();
        let least = LogicalSize { width: SIZE_MIN.0, height: SIZE_MIN.1 };
        let settings = EguiWindowSettings::new()
            .with_title("Polso")
            .with_size(size)
            .with_min_size(Some(least))
            .with_parent(parent.as_ref())
            .with_wait_for_parent(waits_for_parent)
            .with_fallback_scale_factor(scale)
            .with_repaint_notifier(self.link.meter.repaint());
        let (glass, extent) = (Arc::clone(&self.glass), Arc::clone(&self.extent));
        let thread = Thread::default();
        let inside = Inside { glass, extent, thread: thread.clone() };
        let window = EguiWindow::create_with_host(settings, inside, host.map(translated))?;
        let window = Pane::new(window, thread);
        let handle = Open { link: Arc::clone(&self.link), glass: Arc::clone(&self.glass) };
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
struct Inside {
    glass: Arc<Mutex<Glass>>,
    extent: Arc<Extent>,
    thread: Thread,
}

impl egui_baseview::App for Inside {
    fn build(&mut self, context: egui::Context, _: &mut Frame) -> Result<(), HandlerError> {
        self.thread.begin();
        crate::editor::fonts::install(&context);
        lock(&self.glass).open();
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _: &mut Frame) {
        lock(&self.glass).frame(ui);
    }

    fn resized(&mut self, size: WindowSize) {
        self.extent.set(NativeSize::from_size(size.physical.into(), size.scale_factor));
    }
}

/// The host's hold on an open window, on its main thread.
pub struct Open {
    link: Arc<Link>,
    glass: Arc<Mutex<Glass>>,
}

impl Open {
    fn repaint(&self) {
        self.link.meter.repaint().request_repaint();
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        lock(&self.glass).close();
    }
}

impl EditorHandle for Open {
    type Window = Pane;
    type Error = baseview::Error;

    fn run_until_closed(window: Pane) -> Result<(), baseview::Error> {
        window.window.run_until_closed()
    }

    fn set_parent(
        &self,
        parent: ParentWindowHandle,
        Pane { window, .. }: &Pane,
    ) -> Result<(), baseview::Error> {
        window.set_parent(&parent)
    }

    fn show(&self, Pane { window, .. }: &Pane) -> Result<(), baseview::Error> {
        window.show()?;
        self.repaint();
        Ok(())
    }

    fn hide(&self, Pane { window, .. }: &Pane) -> Result<(), baseview::Error> {
        window.hide()
    }

    fn set_size(
        &self,
        size: NativeSize<u32>,
        Pane { window, .. }: &Pane,
    ) -> Result<(), baseview::Error> {
        window.resize(size)
    }

    fn host_main_thread_callback(&self, Pane { window, .. }: &Pane) {
        window.host_main_thread_callback();
    }

    fn adjust_size(
        &self,
        size: NativeSize<u32>,
        Pane { window, .. }: &Pane,
    ) -> Option<NativeSize<u32>> {
        let WindowSize { logical, physical, scale_factor } = window.size();
        let present = NativeSize::from_logical_or_physical(logical, physical);
        Some(hint().adjust_size(size, present, scale_factor))
    }

    fn set_fallback_scale_factor(
        &self,
        scale: f64,
        Pane { window, .. }: &Pane,
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

fn lock(glass: &Mutex<Glass>) -> MutexGuard<'_, Glass> {
    glass.lock().unwrap_or_else(PoisonError::into_inner)
}
