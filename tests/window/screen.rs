//! An X display: the host's windows on it, what they look like, and a hand with a pointer and keys.

use std::path::PathBuf;
use std::time::Duration;

use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, KEY_PRESS_EVENT, KEY_RELEASE_EVENT,
    MOTION_NOTIFY_EVENT,
};
use x11rb::protocol::xproto::{
    ChangeWindowAttributesAux, ClientMessageEvent, ConnectionExt as _, CreateWindowAux, EventMask,
    ImageFormat, Window, WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

/// X's names of keys (keysymdef.h).
pub const CONTROL: u32 = 0xFFE3;
pub const LETTER_Z: u32 = 0x7A;

/// A connection of the host's own.
pub struct Screen {
    connection: RustConnection,
    root: Window,
    root_visual: u32,
}

/// A window of the host's, in which a plugin's is put.
pub struct Parent {
    pub id: Window,
    pub width: u16,
    pub height: u16,
}

/// What a window looks like: red, green, blue, row by row.
pub struct Shot {
    pub width: u32,
    pub height: u32,
    pub rgb: Vec<u8>,
}

impl Screen {
    /// The display that the system names.
    pub fn open() -> Screen {
        let (connection, number) = x11rb::connect(None).expect(
            "an X display; `cargo xtask test` brings one, and Xvfb is one without a screen",
        );
        let screen = &connection.setup().roots[number];
        let (root, root_visual) = (screen.root, screen.root_visual);
        Screen { connection, root, root_visual }
    }

    /// A window in the corner of the screen, which is shown.
    pub fn parent(&self, width: u16, height: u16) -> Parent {
        let id = self.connection.generate_id().expect("a number");
        let aux = CreateWindowAux::new().background_pixel(0x00_FF00FF).override_redirect(1);
        let class = WindowClass::INPUT_OUTPUT;
        self.connection
            .create_window(0, id, self.root, 0, 0, width, height, 0, class, self.root_visual, &aux)
            .expect("a request")
            .check()
            .expect("a window");
        self.connection.map_window(id).expect("a request").check().expect("it is shown");
        Parent { id, width, height }
    }

    /// Makes the host's window larger or smaller.
    pub fn resize(&self, parent: &mut Parent, width: u16, height: u16) {
        let aux = x11rb::protocol::xproto::ConfigureWindowAux::new();
        let aux = aux.width(u32::from(width)).height(u32::from(height));
        let asked = self.connection.configure_window(parent.id, &aux);
        asked.expect("a request").check().expect("another size");
        (parent.width, parent.height) = (width, height);
    }

    /// Takes it away.
    pub fn close(&self, parent: Parent) {
        let asked = self.connection.destroy_window(parent.id);
        asked.expect("a request").check().expect("it goes");
    }

    /// The size of the first window in it.
    pub fn child_size(&self, parent: &Parent) -> (u16, u16) {
        let asked = self.connection.query_tree(parent.id).expect("a request");
        let child = asked.reply().expect("an answer").children[0];
        let asked = self.connection.get_geometry(child).expect("a request");
        let geometry = asked.reply().expect("an answer");
        (geometry.width, geometry.height)
    }

    /// From now on this connection shows the windows that ask for it, as a window manager does.
    pub fn manage(&self) {
        let mask = EventMask::SUBSTRUCTURE_REDIRECT;
        let aux = ChangeWindowAttributesAux::new().event_mask(mask);
        let asked = self.connection.change_window_attributes(self.root, &aux);
        asked.expect("a request").check().expect("no other window manager");
    }

    /// A window that has asked to be shown since the last call, if one has.
    pub fn asking(&self) -> Option<Parent> {
        let Event::MapRequest(asking) = self.connection.poll_for_event().expect("a display")?
        else {
            return None;
        };
        let id = asking.window;
        let geometry = self.connection.get_geometry(id).expect("a request");
        let geometry = geometry.reply().expect("an answer");
        Some(Parent { id, width: geometry.width, height: geometry.height })
    }

    /// Shows it.
    pub fn show(&self, window: &Parent) {
        self.connection.map_window(window.id).expect("a request").check().expect("it is shown");
    }

    /// Asks a window to close, as the frame around it does (ICCCM 4.2.8.1).
    pub fn ask_to_close(&self, window: &Parent) {
        let [protocols, delete] = [&b"WM_PROTOCOLS"[..], b"WM_DELETE_WINDOW"].map(|name| {
            let asked = self.connection.intern_atom(false, name).expect("a request");
            asked.reply().expect("an answer").atom
        });
        let event = ClientMessageEvent::new(32, window.id, protocols, [delete, 0, 0, 0, 0]);
        let asked = self.connection.send_event(false, window.id, EventMask::NO_EVENT, event);
        asked.expect("a request").check().expect("it is told");
    }

    /// What is seen of it.
    pub fn shot(&self, parent: &Parent) -> Shot {
        let Parent { id, width, height } = *parent;
        let asked =
            self.connection.get_image(ImageFormat::Z_PIXMAP, id, 0, 0, width, height, u32::MAX);
        let image = asked.expect("a request").reply().expect("a picture");
        let rgb = image.data.chunks_exact(4).flat_map(|bgrx| [bgrx[2], bgrx[1], bgrx[0]]);
        Shot { width: width.into(), height: height.into(), rgb: rgb.collect() }
    }

    /// Moves the pointer there and presses.
    pub fn press(&self, (x, y): (i16, i16)) {
        self.fake(MOTION_NOTIFY_EVENT, 0, (x, y));
        std::thread::sleep(Duration::from_millis(60));
        self.fake(BUTTON_PRESS_EVENT, 1, (0, 0));
        std::thread::sleep(Duration::from_millis(60));
        self.fake(BUTTON_RELEASE_EVENT, 1, (0, 0));
    }

    /// Presses both keys, and lets them go again.
    pub fn keys(&self, names: [u32; 2]) {
        let codes = names.map(|name| self.code(name));
        for code in codes {
            self.fake(KEY_PRESS_EVENT, code, (0, 0));
        }
        std::thread::sleep(Duration::from_millis(30));
        for code in codes.into_iter().rev() {
            self.fake(KEY_RELEASE_EVENT, code, (0, 0));
        }
    }

    fn fake(&self, kind: u8, detail: u8, (x, y): (i16, i16)) {
        let asked = self.connection.xtest_fake_input(kind, detail, 0, self.root, x, y, 0);
        asked.expect("a request").check().expect("a hand");
    }

    fn code(&self, name: u32) -> u8 {
        let setup = self.connection.setup();
        let (low, high) = (setup.min_keycode, setup.max_keycode);
        let asked = self.connection.get_keyboard_mapping(low, high - low + 1).expect("a request");
        let mapping = asked.reply().expect("an answer");
        let per_code = usize::from(mapping.keysyms_per_keycode);
        let place = mapping.keysyms.chunks(per_code).position(|names| names.contains(&name));
        low + place.expect("a key of that name") as u8
    }
}

impl Shot {
    /// Leaves it where `POLSO_PICTURES` says, to be looked at.
    pub fn keep(&self, name: &str) {
        let Some(folder) = std::env::var_os("POLSO_PICTURES") else { return };
        let path = PathBuf::from(folder).join(format!("window-{name}.png"));
        let file = std::fs::File::create(&path).expect("a file");
        let mut encoder = png::Encoder::new(file, self.width, self.height);
        encoder.set_color(png::ColorType::Rgb);
        let mut writer = encoder.write_header().expect("a picture");
        writer.write_image_data(&self.rgb).expect("a picture");
    }

    /// How many colours are in it.
    pub fn colours(&self) -> usize {
        let mut colours: Vec<&[u8]> = self.rgb.chunks_exact(3).collect();
        colours.sort_unstable();
        colours.dedup();
        colours.len()
    }

    /// More than a bare window has.
    pub fn is_drawn(&self) -> bool {
        const COLOURS: usize = 50;
        self.colours() > COLOURS
    }

    /// Pixels that are not the same; all of them if the sizes differ.
    pub fn differing(&self, other: &Shot) -> usize {
        if (self.width, self.height) != (other.width, other.height) {
            return self.rgb.len() / 3;
        }
        let pairs = self.rgb.chunks_exact(3).zip(other.rgb.chunks_exact(3));
        pairs.filter(|(one, other)| one != other).count()
    }

    /// How many pixels have the host's own colour.
    pub fn bare(&self) -> usize {
        self.rgb.chunks_exact(3).filter(|rgb| *rgb == [0xFF, 0, 0xFF]).count()
    }

    /// The host's own colour is nowhere to be seen, and something is drawn.
    #[track_caller]
    pub fn check_drawn(&self, name: &str) {
        assert_eq!(self.bare(), 0, "{name}: pixels of the host's window are bare");
        assert!(self.is_drawn(), "{name}: {} colours", self.colours());
    }
}
