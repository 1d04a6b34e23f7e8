//! The room in which the editor is tried: a take, a harness, and a feed that writes orders down.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use egui_kittest::kittest::Queryable;
use egui_kittest::{Harness, Node};
use polso::editor::feed::{
    ComputerHand, Feed, InputMessage, Order, Snapshot, TakeTransport, Texts,
};
use polso::editor::model::Model;
use polso::editor::printing::song::{PrintedSong, PrintingState};
use polso::editor::song_wishes::SongWishes;
use polso::editor::take_feed::TakeFeed;
use polso::editor::{Editor, fonts};
use polso::engine::Message;
use polso::profile::wish::SongStretch;
use polso::profile::{self, FileKind, Hand, Instrument, Target};

/// The take that the pictures are drawn over.
pub const TAKE: &[u8] = include_bytes!("../../examples/last-ferry.mid");

/// What the tests see of the feed.
#[derive(Clone, Default)]
pub struct Tap {
    orders: Arc<Mutex<Vec<Order>>>,
    heard: Arc<Mutex<VecDeque<InputMessage>>>,
    asked: Arc<Mutex<Vec<SongStretch>>>,
    song: Arc<Mutex<PrintedSong>>,
    computer_hand: Arc<Mutex<Option<PathBuf>>>,
}

impl Tap {
    /// The orders so far, which are then forgotten.
    pub fn orders(&self) -> Vec<Order> {
        std::mem::take(&mut self.orders.lock().expect("one thread"))
    }

    /// This was performed.
    pub fn set_song(&self, song: PrintedSong) {
        *self.song.lock().expect("one thread") = song;
    }

    /// The hand of this computer stands here, if it is chosen.
    pub fn set_computer_hand_path(&self, path: &Path) {
        *self.computer_hand.lock().expect("one thread") = Some(path.to_owned());
    }

    /// The input hears this.
    pub fn play(&self, message: Message) {
        self.heard.lock().expect("one thread").push_back(InputMessage { at_s: 0.0, message });
    }
}

/// A take whose orders are written down, and whose input the tests play.
struct Tapped {
    take: TakeFeed,
    tap: Tap,
}

impl Feed for Tapped {
    fn read(&mut self) -> Option<Snapshot> {
        self.take.read()
    }

    fn hear(&mut self) -> Option<InputMessage> {
        let played = self.tap.heard.lock().expect("one thread").pop_front();
        played.or_else(|| self.take.hear())
    }

    fn order(&mut self, order: Order) {
        self.tap.orders.lock().expect("one thread").push(order.clone());
        if let Order::Ask(stretches) = &order {
            stretches.clone_into(&mut self.tap.asked.lock().expect("one thread"));
        }
        self.take.order(order);
    }

    fn pass(&mut self, elapsed_s: f64) {
        self.take.pass(elapsed_s);
    }

    fn transport(&self) -> Option<TakeTransport> {
        self.take.transport()
    }

    fn computer_hand_path(&self) -> Option<PathBuf> {
        self.tap.computer_hand.lock().expect("one thread").clone()
    }

    fn computer_hand(&mut self) -> Option<ComputerHand> {
        let is_chosen = self.computer_hand_path()?.exists();
        Some(ComputerHand { name: is_chosen.then(|| "breath".to_owned()), is_recorded: true })
    }

    fn performed(&mut self) -> Option<PrintedSong> {
        Some(self.tap.song.lock().expect("one thread").clone())
    }

    /// As if a host played it, so that every page is there.
    fn printing(&mut self) -> Option<PrintingState> {
        Some(PrintingState { is_printed: false, events: 1200, last_bar: 17, lost: 3 })
    }

    fn song_wishes(&mut self) -> Option<SongWishes> {
        let asked = self.tap.asked.lock().expect("one thread").clone();
        // A song in 3/4, and from its ninth quarter on in 6/8.
        let metres = [(0, (3, 2)), (9 * 960, (6, 3))].into();
        Some(SongWishes { stretches: asked, metres })
    }

    fn seek(&mut self, place_s: f64) {
        self.take.seek(place_s);
    }

    fn run(&mut self, is_running: bool) {
        self.take.run(is_running);
    }
}

/// The editor and the time that each of its frames takes.
pub struct Seat {
    pub editor: Editor,
    pub elapsed_s: f64,
    /// Frames drawn so far.
    pub frames: u32,
}

/// A window without a display.
pub struct Room {
    pub harness: Harness<'static, Seat>,
    pub tap: Tap,
}

/// The texts of shipped files.
pub fn texts(instrument: &str, target: &str, hand: &str) -> Texts {
    let read = "a shipped file is in order";
    Texts {
        instrument: profile::load::<Instrument>(instrument).expect(read).flattened().to_owned(),
        target: profile::load::<Target>(target).expect(read).flattened().to_owned(),
        hand: profile::load::<Hand>(hand).expect(read).flattened().to_owned(),
    }
}

/// The editor over the take, with the same texts in both slots.
pub fn editor(texts: &Texts) -> (Editor, Tap) {
    let model = Model::open(&[texts.clone(), texts.clone()], 0, 0).expect("texts in order");
    let patch = model.slot().patch(0).expect("texts that go together");
    let take = TakeFeed::open(TAKE, &patch).expect("a take in order");
    let tap = Tap::default();
    let feed = Tapped { take, tap: tap.clone() };
    (Editor::new(model, Box::new(feed)), tap)
}

impl Room {
    /// The erhu into the generic receiver under a wheel.
    pub fn erhu() -> Room {
        Room::with(&texts("erhu", "generic", "wheel"))
    }

    /// Other texts.
    pub fn with(texts: &Texts) -> Room {
        Room::sized(texts, 1280.0, 800.0)
    }

    /// A window of another size, points.
    pub fn sized(texts: &Texts, width: f32, height: f32) -> Room {
        let (editor, tap) = editor(texts);
        let seat = Seat { editor, elapsed_s: 0.0, frames: 0 };
        let harness = Harness::builder()
            .with_size([width, height])
            .with_max_steps(12)
            .with_context_setup(fonts::install)
            .build_ui_state(
                |ui, seat: &mut Seat| {
                    seat.frames += 1;
                    if seat.editor.frame(ui, seat.elapsed_s) {
                        ui.ctx().request_repaint();
                    }
                },
                seat,
            );
        let mut room = Room { harness, tap };
        room.harness.run();
        room
    }

    pub fn editor(&mut self) -> &mut Editor {
        &mut self.harness.state_mut().editor
    }

    pub fn model(&self) -> &Model {
        self.harness.state().editor.model()
    }

    /// The widget of this name.
    pub fn named<'a>(&'a self, name: &'a str) -> Node<'a> {
        self.harness.get_by_label(name)
    }

    /// Whether these words stand somewhere.
    pub fn is_there(&self, words: &str) -> bool {
        self.harness.query_by_label(words).is_some()
    }

    /// Presses what has this name, as an assistive tool does.
    pub fn press(&mut self, name: &str) {
        self.named(name).click_accesskit();
        // What waits for the player goes on being drawn.
        self.harness.run_ok();
    }

    /// Presses keys while what has this name holds the keyboard.
    pub fn keys(&mut self, name: &str, keys: &[egui::Key]) {
        self.named(name).focus();
        self.harness.run();
        for key in keys {
            self.harness.key_press(*key);
            self.harness.run();
        }
    }

    /// Types into the field of this name, and is done with it.
    pub fn type_into(&mut self, name: &str, text: &str) {
        self.named(name).focus();
        self.harness.run();
        self.harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
        self.harness.run();
        self.named(name).type_text(text);
        self.harness.run();
        self.harness.key_press(egui::Key::Enter);
        self.harness.run();
    }

    /// Lets time go by, in frames of a twentieth of a second.
    pub fn wait(&mut self, seconds: f64) {
        self.harness.state_mut().elapsed_s = 0.05;
        for _ in 0..(seconds / 0.05).round() as u32 {
            self.harness.step();
        }
        self.harness.state_mut().elapsed_s = 0.0;
        self.harness.run_steps(2);
    }

    /// A field's number in the slot that plays.
    pub fn number(&self, kind: FileKind, path: &str) -> f64 {
        self.model().file(kind).number(path).expect("a number")
    }

    /// The breakpoints of a curve of the instrument.
    pub fn points(&self, path: &str) -> Vec<(f64, f64)> {
        self.model().file(FileKind::Instrument).points(path).expect("a curve")
    }
}
