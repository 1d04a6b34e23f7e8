//! Keeps the plugin's window from a CLAP host that cannot have one.
//!
//! The framework opens a window only for hosts with the extension `clap.gui`, and ends the process
//! in any other that asks for one. So such a host is not told that there is a window.
#![allow(unsafe_code, reason = "CLAP speaks in pointers")]

use std::ffi::{CStr, c_char, c_void};

use nice_plug::wrapper::clap::{clap_host, clap_plugin};

/// The extension of windows, of a plugin and of a host.
const GUI: &CStr = c"clap.gui";

/// A plugin as its host sees it. All but two of its functions are the framework's, which look only
/// at `plugin_data`.
#[repr(C)]
struct GuiFilter {
    /// The first field, so that a pointer to it is one to all.
    face: clap_plugin,
    plugin: *const clap_plugin,
    host: *const clap_host,
}

/// The host's main thread. Puts the filter before a plugin that a host is given.
///
/// # Safety
/// `plugin` is a fresh plugin of the framework, and `host` the host that asked for it; both stay
/// until `destroy`, as CLAP has it.
pub unsafe fn filter_gui(plugin: *const clap_plugin, host: *const clap_host) -> *const clap_plugin {
    // SAFETY: the plugin is whole.
    let mut face = unsafe { std::ptr::read(plugin) };
    face.destroy = Some(destroy);
    face.get_extension = Some(get_extension);
    Box::into_raw(Box::new(GuiFilter { face, plugin, host })).cast()
}

/// `[main-thread]`
unsafe extern "C" fn destroy(face: *const clap_plugin) {
    // SAFETY: the host gives back what `filter_gui` made, once.
    let filter = unsafe { Box::from_raw(face.cast_mut().cast::<GuiFilter>()) };
    // SAFETY: the framework's plugin is still there.
    if let Some(destroy) = unsafe { (*filter.plugin).destroy } {
        // SAFETY: likewise.
        unsafe { destroy(filter.plugin) };
    }
}

/// `[thread-safe]`, after `init`, so that the host may be asked too.
unsafe extern "C" fn get_extension(face: *const clap_plugin, id: *const c_char) -> *const c_void {
    // SAFETY: the host hands in what `filter_gui` made, and CLAP's name of an extension.
    unsafe {
        let filter = &*face.cast::<GuiFilter>();
        if !id.is_null() && CStr::from_ptr(id) == GUI && !has_windows(filter.host) {
            return std::ptr::null();
        }
        match (*filter.plugin).get_extension {
            Some(get_extension) => get_extension(filter.plugin, id),
            None => std::ptr::null(),
        }
    }
}

unsafe fn has_windows(host: *const clap_host) -> bool {
    // SAFETY: the host stays as long as its plugin.
    unsafe {
        let ask = (*host).get_extension;
        ask.is_some_and(|get_extension| !get_extension(host, GUI.as_ptr()).is_null())
    }
}
