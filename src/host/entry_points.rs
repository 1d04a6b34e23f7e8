//! The doors by which hosts come in: one library holds both plugins in both formats.
#![allow(unsafe_code, reason = "doors are found by their names, and speak in pointers")]

use std::ffi::{CStr, c_char, c_void};
use std::sync::{Arc, OnceLock};

use nice_plug::prelude::ClapPlugin;
use nice_plug::wrapper::clap::{
    CLAP_PLUGIN_FACTORY_ID, CLAP_VERSION, PluginDescriptor, Wrapper, clap_host, clap_plugin,
    clap_plugin_descriptor, clap_plugin_entry, clap_plugin_factory,
};
use nice_plug::wrapper::setup_logger;

use super::gui_filter::filter_gui;
use super::plugin::{Polso, PolsoThrough};

/// VST3's doors, as the framework's macro writes them.
mod vst3 {
    #![allow(missing_docs, reason = "the framework's macro writes the doors")]
    use super::{Polso, PolsoThrough};

    nice_plug::nice_export_vst3!(Polso, PolsoThrough);
}

/// CLAP's door. The framework's macro would write it too, but leave no room for the filter of
/// [`super::gui_filter`].
#[unsafe(no_mangle)]
#[used]
pub static clap_entry: clap_plugin_entry = clap_plugin_entry {
    clap_version: CLAP_VERSION,
    init: Some(init),
    deinit: Some(deinit),
    get_factory: Some(get_factory),
};

static FACTORY: clap_plugin_factory = clap_plugin_factory {
    get_plugin_count: Some(get_plugin_count),
    get_plugin_descriptor: Some(get_plugin_descriptor),
    create_plugin: Some(create_plugin),
};

/// What is offered, in the order in which hosts list it.
fn descriptors() -> &'static [PluginDescriptor; 2] {
    static DESCRIPTORS: OnceLock<[PluginDescriptor; 2]> = OnceLock::new();
    DESCRIPTORS.get_or_init(|| {
        [PluginDescriptor::for_plugin::<Polso>(), PluginDescriptor::for_plugin::<PolsoThrough>()]
    })
}

unsafe extern "C" fn init(_path: *const c_char) -> bool {
    setup_logger::<Polso>();
    true
}

unsafe extern "C" fn deinit() {}

unsafe extern "C" fn get_factory(id: *const c_char) -> *const c_void {
    // SAFETY: CLAP's name of a factory.
    if !id.is_null() && unsafe { CStr::from_ptr(id) } == CLAP_PLUGIN_FACTORY_ID {
        (&raw const FACTORY).cast()
    } else {
        std::ptr::null()
    }
}

unsafe extern "C" fn get_plugin_count(_: *const clap_plugin_factory) -> u32 {
    descriptors().len() as u32
}

unsafe extern "C" fn get_plugin_descriptor(
    _: *const clap_plugin_factory,
    index: u32,
) -> *const clap_plugin_descriptor {
    match descriptors().get(index as usize) {
        Some(descriptor) => descriptor.clap_plugin_descriptor(),
        None => std::ptr::null(),
    }
}

unsafe extern "C" fn create_plugin(
    _: *const clap_plugin_factory,
    host: *const clap_host,
    id: *const c_char,
) -> *const clap_plugin {
    if host.is_null() || id.is_null() {
        return std::ptr::null();
    }
    let [bare, through] = descriptors();
    // SAFETY: CLAP's name of a plugin.
    let id = unsafe { CStr::from_ptr(id) };
    if id == bare.clap_id() {
        made::<Polso>(host)
    } else if id == through.clap_id() {
        made::<PolsoThrough>(host)
    } else {
        std::ptr::null()
    }
}

/// Makes a plugin; its `destroy` takes it back.
fn made<P: ClapPlugin>(host: *const clap_host) -> *const clap_plugin {
    // SAFETY: the host stays as long as its plugin, and the wrapper until `destroy`.
    unsafe {
        let wrapper = Arc::into_raw(Wrapper::<P>::new(host));
        filter_gui((*wrapper).clap_plugin.as_ptr(), host)
    }
}
