//! The first picture of a window is not lost: the display tells the window from its beginning when one is due.
//!
//! The window's library draws when the X server answers that a picture is due (the extension
//! Present), and asks again only after an answer. It listens for answers from the moment on at which the
//! window is shown. What it asks before, as soon as anything moves, is answered to nobody, and the
//! window stays black for ever: always if a host lets a twentieth of a second go by between making
//! a window and showing it, now and then if the machine is busy. So the window is made to listen
//! before anything can be asked.
#![cfg_attr(
    target_os = "linux",
    allow(unsafe_code, reason = "the library hands its connection over as a pointer")
)]

use egui_baseview::Frame;

/// The window's thread, while the window is being made. On a display without the extension, and on
/// systems without X, nothing is to be done.
#[cfg(target_os = "linux")]
pub fn expect(frame: &Frame) {
    // The window is drawn all the same if the host takes it as it hoped: shown at once.
    let _ = linux::listen(frame);
}

/// Other systems say by themselves when a picture is due.
#[cfg(not(target_os = "linux"))]
pub fn expect(_: &Frame) {}

#[cfg(target_os = "linux")]
mod linux {
    use std::error::Error;

    use egui_baseview::Frame;
    use raw_window_handle::{HasDisplayHandle, HasWindowHandle, RawDisplayHandle, RawWindowHandle};
    use x11rb::connection::{Connection, RequestConnection};
    use x11rb::protocol::present::{ConnectionExt, EventMask, X11_EXTENSION_NAME};
    use x11rb::xcb_ffi::XCBConnection;

    /// Asks the server to tell the window's own connection of every answer. Those that the library
    /// asks for once more when the window is shown it knows by their number.
    pub fn listen(frame: &Frame) -> Result<(), Box<dyn Error>> {
        let handle = frame.baseview_window().platform_handle();
        let (Ok(window), Ok(display)) = (handle.window_handle(), handle.display_handle()) else {
            return Ok(());
        };
        let (RawWindowHandle::Xcb(window), RawDisplayHandle::Xcb(display)) =
            (window.as_raw(), display.as_raw())
        else {
            return Ok(());
        };
        let Some(pointer) = display.connection else { return Ok(()) };
        // SAFETY: `handle` keeps the connection open for longer than this face of it, which does
        // not close it.
        let connection =
            unsafe { XCBConnection::from_raw_xcb_connection(pointer.as_ptr(), false) }?;
        if connection.extension_information(X11_EXTENSION_NAME)?.is_some() {
            let number = connection.generate_id()?;
            let mask = EventMask::COMPLETE_NOTIFY;
            connection.present_select_input(number, window.window.get(), mask)?.check()?;
        }
        Ok(())
    }
}
