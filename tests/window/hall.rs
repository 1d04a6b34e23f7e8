//! A CLAP host with the plugin's window open in one of its own.
#![allow(unsafe_code, reason = "a window is given away by its number")]

use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use clack_extensions::gui::{GuiApiType, GuiConfiguration, GuiSize, PluginGui, Window};

use super::clap::{Clap, NOTE_EFFECT};
use super::room::RATE_HZ;
use super::screen::{Parent, Screen, Shot};

/// Longer than anything that is waited for may take.
const PATIENCE: Duration = Duration::from_secs(10);

/// A host, its display, and the window if it is open.
pub struct Hall {
    pub clap: Clap,
    pub screen: Screen,
    pub parent: Option<Parent>,
}

impl Hall {
    /// A host with windows, in which the note effect is active.
    pub fn open() -> Hall {
        let mut clap = Clap::with_windows(NOTE_EFFECT);
        clap.activate(RATE_HZ);
        Hall { clap, screen: Screen::open(), parent: None }
    }

    fn gui(&mut self) -> PluginGui {
        self.clap.plugin.plugin_handle().get_extension().expect("windows")
    }

    /// Opens the plugin's window as CLAP has it.
    pub fn show(&mut self) {
        self.show_after(Duration::ZERO);
    }

    /// The same, with something else to do between making the window and showing it.
    pub fn show_after(&mut self, pause: Duration) {
        let gui = self.gui();
        let Hall { clap, screen, parent } = self;
        let handle = clap.plugin.plugin_handle();
        let way = GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };
        assert!(gui.is_api_supported(&handle, way));
        gui.create(&handle, way).expect("a window");
        let GuiSize { width, height } = gui.get_size(&handle).expect("a size");
        let own = parent.insert(screen.parent(width as u16, height as u16));
        let window = Window::from_x11_handle(own.id.into());
        // SAFETY: the window stays until `hide`.
        unsafe { gui.set_parent(&handle, window) }.expect("it is put in");
        std::thread::sleep(pause);
        gui.show(&handle).expect("it is shown");
    }

    /// Makes it larger or smaller; the size that it takes comes back.
    pub fn resize(&mut self, width: u32, height: u32) -> (u32, u32) {
        let gui = self.gui();
        let Hall { clap, screen, parent } = self;
        let handle = clap.plugin.plugin_handle();
        assert!(gui.can_resize(&handle));
        let size = gui.adjust_size(&handle, GuiSize { width, height }).expect("a size");
        let parent = parent.as_mut().expect("it is open");
        screen.resize(parent, size.width as u16, size.height as u16);
        gui.set_size(&handle, size).expect("it takes the size");
        (size.width, size.height)
    }

    /// Closes it.
    pub fn hide(&mut self) {
        let gui = self.gui();
        let handle = self.clap.plugin.plugin_handle();
        gui.hide(&handle).expect("it is hidden");
        gui.destroy(&handle);
        self.screen.close(self.parent.take().expect("it is open"));
    }

    /// What is seen.
    pub fn shot(&self) -> Shot {
        self.screen.shot(self.parent.as_ref().expect("it is open"))
    }

    /// The main thread's turn, if the plugin has asked for it.
    pub fn turn(&mut self) {
        let asked =
            self.clap.plugin.access_shared_handler(|it| it.is_called.swap(false, Ordering::AcqRel));
        if asked {
            self.clap.plugin.call_on_main_thread_callback();
        }
    }

    /// Lets time go by, as a host does.
    pub fn wait(&mut self, seconds: f64) {
        let end = Instant::now() + Duration::from_secs_f64(seconds);
        while Instant::now() < end {
            self.turn();
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Waits until the window has been drawn; how long that took comes back.
    pub fn wait_drawn(&mut self) -> Duration {
        let start = Instant::now();
        while !self.shot().is_drawn() {
            self.turn();
            assert!(start.elapsed() < PATIENCE, "nothing is drawn");
            std::thread::sleep(Duration::from_millis(5));
        }
        start.elapsed()
    }

    /// Lets the host go on until something is so.
    #[track_caller]
    pub fn wait_until(&mut self, what: &str, mut is_so: impl FnMut(&mut Hall) -> bool) {
        let start = Instant::now();
        while !is_so(self) {
            self.turn();
            assert!(start.elapsed() < PATIENCE, "never: {what}");
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Hall {
    fn drop(&mut self) {
        if self.parent.is_some() && !std::thread::panicking() {
            self.hide();
        }
    }
}
