//! A small CLAP host: it loads the built library and plays one of its plugins.
#![allow(unsafe_code, reason = "a host loads a library and talks to it")]

use std::ffi::{CStr, CString};
use std::path::Path;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamInfoBuffer,
    ParamRescanFlags, PluginParams,
};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_host::prelude::*;
use clack_host::utils::ClapId;

use super::booth::Booth;
use super::room::{Host, RATE_HZ, Said, Song, library};

/// The id of the pure note effect.
pub const NOTE_EFFECT: &CStr = c"polso.note-effect";
/// The id of the variant with audio.
pub const THROUGH: &CStr = c"polso.through";
/// The most frames of a block.
pub const FRAMES_MAX: u32 = 8192;

/// A studio, which listens to what its plugin asks for only as far as it has windows.
#[derive(Default)]
pub struct Studio {
    pub has_windows: bool,
    /// The plugin wants its main thread.
    pub is_called: AtomicBool,
    /// The plugin has closed its window by itself.
    pub is_closed: AtomicBool,
}

/// Where its windows are.
pub struct MainThread;

impl SharedHandler<'_> for Studio {
    fn request_restart(&self) {}
    fn request_process(&self) {}
    fn request_callback(&self) {
        self.is_called.store(true, Ordering::Release);
    }
}

impl MainThreadHandler<'_> for MainThread {}

impl HostHandlers for Studio {
    type Shared<'a> = Studio;
    type MainThread<'a> = MainThread;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Studio>, studio: &Studio) {
        if studio.has_windows {
            builder.register::<HostGui>().register::<HostParams>();
        }
    }
}

impl HostGuiImpl for Studio {
    fn resize_hints_changed(&self) {}
    fn request_resize(&self, _: GuiSize) -> Result<(), HostError> {
        Ok(())
    }
    fn request_show(&self) -> Result<(), HostError> {
        Ok(())
    }
    fn request_hide(&self) -> Result<(), HostError> {
        Ok(())
    }
    fn closed(&self, _: bool) {
        self.is_closed.store(true, Ordering::Release);
    }
}

impl HostParamsImplShared for Studio {
    fn request_flush(&self) {}
}

impl HostParamsImplMainThread for MainThread {
    fn rescan(&self, _: ParamRescanFlags) {}
    fn clear(&self, _: ClapId, _: ParamClearFlags) {}
}

/// A control as the plugin describes it.
#[derive(Clone, Debug)]
pub struct Control {
    pub name: String,
    pub id: ClapId,
    pub min: f64,
    pub max: f64,
    pub default: f64,
}

/// One plugin in its host.
pub struct Clap {
    pub plugin: PluginInstance<Studio>,
    /// Where it is played.
    pub booth: Booth,
}

impl Clap {
    /// Loads a plugin and does not activate it yet.
    pub fn load(id: &CStr) -> Clap {
        // Loaded once: as in a studio, it stays while any of its plugins may come back.
        static ENTRY: OnceLock<PluginEntry> = OnceLock::new();
        Clap::of(ENTRY.get_or_init(|| Clap::entry(&library())), id)
    }

    /// The same in a studio that has windows.
    pub fn with_windows(id: &CStr) -> Clap {
        let studio = Studio { has_windows: true, ..Studio::default() };
        Clap::inside(studio, &Clap::entry(&library()), id)
    }

    /// The door of a library.
    pub fn entry(library: &Path) -> PluginEntry {
        // SAFETY: the library is our own build of a CLAP plugin.
        unsafe { PluginEntry::load(library) }.expect("a CLAP library")
    }

    /// Makes a plugin of a library and does not activate it yet.
    pub fn of(entry: &PluginEntry, id: &CStr) -> Clap {
        Clap::inside(Studio::default(), entry, id)
    }

    fn inside(studio: Studio, entry: &PluginEntry, id: &CStr) -> Clap {
        let info = HostInfo::new("Room", "Polso", "", "1").expect("host info");
        let mut plugin =
            PluginInstance::<Studio>::new(|()| studio, |_| MainThread, entry, id, &info)
                .expect("a plugin");
        let controls = controls(&mut plugin);
        Clap { plugin, booth: Booth::new(controls, if id == THROUGH { 2 } else { 0 }) }
    }

    /// Loads the pure note effect and activates it.
    pub fn open() -> Clap {
        let mut clap = Clap::load(NOTE_EFFECT);
        clap.activate(RATE_HZ);
        clap
    }

    /// Activates it and starts.
    pub fn activate(&mut self, sample_rate: f64) {
        assert!(self.try_activate(sample_rate), "it activates at {sample_rate} Hz");
    }

    /// The same, if it says yes.
    pub fn try_activate(&mut self, sample_rate: f64) -> bool {
        let config = PluginAudioConfiguration {
            sample_rate,
            min_frames_count: 1,
            max_frames_count: FRAMES_MAX,
        };
        let Ok(stopped) = self.plugin.activate(|_, _| (), config) else { return false };
        self.booth.running = Some(stopped.start_processing().expect("it starts"));
        true
    }

    /// Stops and deactivates it.
    pub fn deactivate(&mut self) {
        let running = self.booth.running.take().expect("it runs");
        self.plugin.deactivate(running.stop_processing());
    }

    /// Resets it while it runs.
    pub fn reset(&mut self) {
        self.booth.running.as_mut().expect("it runs").reset();
    }

    /// Tells it that nobody listens: the project is bounced.
    pub fn bounce(&mut self) {
        let handle = self.plugin.plugin_handle();
        let render = handle.get_extension::<PluginRender>().expect("render modes");
        render.set(&handle, RenderMode::Offline).expect("it bounces");
    }

    /// Every control.
    pub fn controls(&self) -> &[Control] {
        &self.booth.controls
    }

    /// A control by name.
    pub fn control(&self, name: &str) -> &Control {
        self.booth.control(name)
    }

    /// The present value of a control, in the host's terms.
    pub fn value(&mut self, name: &str) -> f64 {
        let id = self.control(name).id;
        let handle = self.plugin.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        params.get_value(&handle, id).expect("a value")
    }

    /// What a control says at a value.
    pub fn text(&mut self, name: &str, value: f64) -> String {
        let id = self.control(name).id;
        let handle = self.plugin.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        let mut buffer = [0; 128];
        let text = params.value_to_text(&handle, id, value, &mut buffer).expect("a text");
        String::from_utf8(text.to_vec()).expect("UTF-8")
    }

    /// The value that a control reads from a text.
    pub fn read_text(&mut self, name: &str, text: &str) -> Option<f64> {
        let id = self.control(name).id;
        let handle = self.plugin.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        params.text_to_value(&handle, id, &CString::new(text).expect("a text"))
    }

    /// What the project would keep.
    pub fn save(&mut self) -> Vec<u8> {
        let handle = self.plugin.plugin_handle();
        let state = handle.get_extension::<PluginState>().expect("state");
        let mut bytes = Vec::new();
        state.save(&handle, &mut bytes).expect("it saves");
        bytes
    }

    /// Gives it what a project kept. False if it refuses.
    pub fn restore(&mut self, mut bytes: &[u8]) -> bool {
        let handle = self.plugin.plugin_handle();
        let state = handle.get_extension::<PluginState>().expect("state");
        state.load(&handle, &mut bytes).is_ok()
    }
}

impl Drop for Clap {
    fn drop(&mut self) {
        if self.booth.running.is_some() {
            self.deactivate();
        }
    }
}

impl Host for Clap {
    fn block(&mut self, frames: u32, said: &[(u32, Said)], song: Option<Song>) -> Vec<(u32, Said)> {
        self.booth.block(frames, said, song)
    }
}

fn controls(plugin: &mut PluginInstance<Studio>) -> Vec<Control> {
    let handle = plugin.plugin_handle();
    let params = handle.get_extension::<PluginParams>().expect("parameters");
    let mut buffer = ParamInfoBuffer::new();
    let mut controls = Vec::new();
    for index in 0..params.count(&handle) {
        let info = params.get_info(&handle, index, &mut buffer).expect("a description");
        controls.push(Control {
            name: String::from_utf8(info.name.to_vec()).expect("UTF-8"),
            id: info.id,
            min: info.min_value,
            max: info.max_value,
            default: info.default_value,
        });
    }
    controls
}
