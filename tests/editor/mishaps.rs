//! What once went wrong in the window, each mishap with a test of its name.

use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;
use polso::editor::act::{Act, Light};
use polso::editor::feed::{Feed, Order};
use polso::editor::sheet::Setting;
use polso::editor::strand::Strand;
use polso::editor::take::TakeFeed;
use polso::editor::theme::Theme;
use polso::engine::event::{Input, Message};
use polso::profile::{Any, FileKind};

use crate::room::{Room, texts};

const WIDTH: &str = "vibrato.rolled.width_cents";

fn text(room: &Room) -> String {
    room.model().sheet(FileKind::Instrument).text().to_owned()
}

#[test]
fn undo_in_the_middle_of_a_drag_left_a_broken_file() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    room.press("Add a breakpoint");
    room.press("Reset the curve");
    let before = text(&room);
    let from = room.named("Breakpoint 2 of 3").rect().center();
    room.harness.drag_at(from);
    room.harness.run();
    for step in 1..=8_u8 {
        if step == 5 {
            room.harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
            room.harness.run();
            assert_eq!(text(&room), before, "what is held is taken back first");
        }
        let to = from + f32::from(step) * vec2(-6.0, -4.0);
        room.harness.event(egui::Event::PointerMoved(to));
        room.harness.run();
    }
    room.harness.drop_at(from + vec2(-48.0, -32.0));
    room.harness.run();
    assert!(Any::check(text(&room).as_bytes()).is_ok(), "{}", text(&room));
    assert_ne!(text(&room), before, "the hand goes on");
    room.press("Undo: width");
    assert_eq!(text(&room), before, "and the rest is one step");
}

#[test]
fn a_drag_that_was_never_let_go_swallowed_the_steps_after_it() {
    let mut room = Room::erhu();
    room.editor().act(Act::Grip);
    room.harness.run();
    room.press("Strand style");
    room.type_into("onset in ms", "300");
    room.type_into("growth in ms", "500");
    room.press("Undo: growth");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.growth_ms"), 350.0);
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 300.0);
}

#[test]
fn the_highest_breakpoint_ran_away_from_the_hand() {
    let mut room = Room::erhu();
    room.press("Strand vibrato width");
    let from = room.named("Breakpoint 3 of 3").rect().center();
    room.harness.drag_at(from);
    room.harness.run();
    for step in 1..=10_u8 {
        room.harness.event(egui::Event::PointerMoved(from - vec2(0.0, 2.0 * f32::from(step))));
        room.harness.run();
        let at = room.named("Breakpoint 3 of 3").rect().center();
        let hand = from - vec2(0.0, 2.0 * f32::from(step));
        // The first movement only takes hold.
        assert!(
            (at.y - hand.y).abs() < if step == 1 { 3.0 } else { 1.5 },
            "step {step}: {at:?} is under {hand:?}"
        );
    }
    room.harness.drop_at(from - vec2(0.0, 20.0));
    room.harness.run();
    let (_, width) = room.points(WIDTH)[2];
    assert!((126.0..140.0).contains(&width), "20 of 212 points of 150 cents: {width}");
}

#[test]
fn the_end_of_a_deep_tail_lay_outside_its_canvas() {
    let mut room = Room::erhu();
    room.press("Strand tail and send");
    room.type_into("tail in dB", "60");
    let handle = room.named("End of the tail").rect().center();
    let field = room.named("tail in dB").rect();
    assert!(handle.y < field.top() - 20.0, "{handle:?} {field:?}");
    room.keys("End of the tail", &[Key::ArrowRight]);
    assert_eq!(room.number(FileKind::Instrument, "tail.tail_db"), 60.0);
}

#[test]
fn a_copied_slot_took_three_steps_to_take_back() {
    let mut room = Room::erhu();
    for (kind, id) in [
        (FileKind::Instrument, "violin"),
        (FileKind::Target, "perform"),
        (FileKind::Hand, "breath"),
    ] {
        room.editor().act(Act::Choose(kind, id.to_owned()));
    }
    room.press("Page Compare");
    room.press("Copy slot A to B");
    assert!(room.model().differences().is_empty());
    let ids = |room: &mut Room| {
        room.editor().act(Act::Slot(1));
        [FileKind::Instrument, FileKind::Target, FileKind::Hand]
            .map(|kind| room.model().sheet(kind).meaning().about().id.clone())
    };
    room.press("Undo: copy of the other slot");
    assert_eq!(ids(&mut room), ["erhu", "generic", "wheel"]);
    assert_eq!(room.model().history().last_done(), Some("hand breath"));
    room.press("Redo: copy of the other slot");
    assert_eq!(ids(&mut room), ["violin", "perform", "breath"]);
}

/// Begins the trial of the dynamics, and forgets the orders so far.
fn trying() -> Room {
    let mut room = Room::erhu();
    room.press("Page Outputs");
    room.named("Test dynamics").click_accesskit();
    room.harness.run_steps(2);
    room.tap.orders();
    room
}

#[test]
fn a_trial_swept_on_after_another_slot_had_been_taken() {
    let mut room = trying();
    room.named("Slot B").click_accesskit();
    room.harness.run_steps(2);
    let orders = room.tap.orders();
    let is_off =
        |order: &Order| matches!(order, Order::Input(Input::Live(Message::NoteOff { .. })));
    let off = orders.iter().position(is_off).expect("its note ends");
    let play = orders.iter().position(|it| matches!(it, Order::Play(_))).expect("B plays");
    assert!(off < play, "{orders:?}");
    room.wait(1.0);
    assert!(room.tap.orders().is_empty(), "no sweep goes on");
}

#[test]
fn after_a_trial_a_conflict_left_the_trial_playing() {
    let mut room = trying();
    room.named("Learn the keyswitch of joined").click_accesskit();
    room.harness.run_steps(2);
    room.tap.play(Message::NoteOn { channel: 0, key: 70, velocity: 90 });
    room.harness.run_steps(2);
    room.wait(7.0);
    assert_eq!(room.model().conflicts().len(), 1);
    let orders = room.tap.orders();
    let plays: Vec<_> = orders
        .iter()
        .filter_map(|it| if let Order::Play(setup) = it { Some(setup) } else { None })
        .collect();
    let [setup] = plays[..] else { panic!("what played before plays again: {orders:?}") };
    assert_eq!(setup.slots[0], texts("erhu", "generic", "wheel"));
}

#[test]
fn escape_took_over_what_was_to_be_given_up() {
    let mut room = Room::erhu();
    room.press("Strand style");
    room.named("onset in ms").focus();
    room.harness.run();
    room.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    room.harness.run();
    room.named("onset in ms").type_text("400");
    room.harness.run();
    room.harness.key_press(Key::Escape);
    room.harness.run();
    room.harness.run();
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 220.0);
    assert_eq!(room.named("onset in ms").value().as_deref(), Some("220 ms"));
}

#[test]
fn a_question_outlived_the_next_saving() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    std::fs::write(path("there.toml"), "mine").expect("written");
    let mut room = Room::erhu();
    room.press("Page Files");
    for name in ["there.toml", "other.toml"] {
        room.type_into("Save the instrument: path", &path(name));
        room.press("Save the instrument");
    }
    assert!(room.harness.query_by_label("Overwrite the file").is_none());
    assert_eq!(std::fs::read_to_string(path("there.toml")).expect("there"), "mine");
}

#[test]
fn a_file_with_a_hundred_faults_pushed_everything_out_of_the_window() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("bad.toml");
    let instrument = texts("erhu", "generic", "wheel").instrument;
    let bad: String = instrument
        .lines()
        .map(|line| match line.split_once(" = ") {
            Some((name, value)) if value.parse::<f64>().is_ok() && name != "format" => {
                format!("{name} = -99999\n")
            }
            _ => format!("{line}\n"),
        })
        .collect();
    std::fs::write(&path, bad).expect("written");
    let mut room = Room::erhu();
    room.editor().act(Act::Open(path));
    room.harness.run();
    let sentence = room.model().sentence().expect("a sentence");
    assert_eq!(sentence.lines().count(), 7, "{sentence}");
    assert!(sentence.lines().last().is_some_and(|last| last.starts_with("and ")), "{sentence}");
}

#[test]
fn in_a_flat_window_the_strands_lay_upon_each_other() {
    let room = Room::sized(&texts("erhu", "generic", "wheel"), 1280.0, 300.0);
    let mut below = 0.0;
    for strand in Strand::ALL.into_iter().filter(|strand| *strand != Strand::Gesture) {
        let plaque = room.named(&format!("Strand {}", strand.name())).rect();
        assert!(plaque.height() >= 24.0, "{}: {plaque:?}", strand.name());
        assert!(plaque.top() >= below, "{}: {plaque:?}", strand.name());
        below = plaque.bottom();
    }
}

#[test]
fn in_a_narrow_window_undo_was_cut_off() {
    let mut room = Room::sized(&texts("erhu", "generic", "wheel"), 320.0, 400.0);
    room.editor().act(Act::Set {
        kind: FileKind::Instrument,
        path: "vibrato.onset_ms".to_owned(),
        value: Setting::Number(300.0),
    });
    room.harness.run();
    for name in ["Undo: onset", "Redo", "Slot A", "Slot B", "Resend everything"] {
        let rect = room.named(name).rect();
        assert!(rect.left() >= 0.0 && rect.right() <= 320.0, "{name}: {rect:?}");
    }
}

#[test]
fn a_strand_ran_through_the_names_of_the_strands() {
    let mut room = Room::erhu();
    room.editor().act(Act::Wind(15.0));
    room.press("Strand style");
    let colour = Theme::of(Light::Day).strand(Strand::Style);
    let past = room.named("The last 8 seconds").rect();
    let (mut names, mut lines) = (f32::MIN, f32::MAX);
    for clipped in &room.harness.output().shapes {
        let bounds = clipped.shape.visual_bounding_rect();
        match &clipped.shape {
            egui::Shape::Text(text) if text.galley.text() == "gesture" => names = bounds.bottom(),
            egui::Shape::Path(path)
                if past.contains_rect(bounds)
                    && bounds.width() > 200.0
                    && path.stroke.color == egui::epaint::ColorMode::Solid(colour) =>
            {
                lines = lines.min(bounds.top());
            }
            _ => {}
        }
    }
    assert!(names > 0.0 && lines < f32::MAX, "both are drawn: {names} {lines}");
    assert!(lines > names - 4.0, "{lines} is below {names}");
}

/// A take with one note of 30 s (120 a minute, 96 ticks a quarter), the wheel half up.
fn long_note() -> Vec<u8> {
    let mut track = vec![0x00, 0xB0, 1, 64, 0x00, 0x90, 69, 80];
    track.extend([0xAD, 0x00, 0x80, 69, 64, 0x00, 0xFF, 0x2F, 0x00]); // 5,760 ticks
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk".to_vec();
    file.extend(u32::try_from(track.len()).expect("short").to_be_bytes());
    file.extend(track);
    file
}

#[test]
fn a_note_of_more_than_eight_seconds_was_silent_after_winding_into_it() {
    let texts = texts("erhu", "generic", "wheel");
    let room = Room::with(&texts);
    let patch = room.model().slot().patch(0).expect("a patch");
    let mut take = TakeFeed::open(&long_note(), &patch).expect("a take");
    let mut sounding = |place_s: f64| {
        take.wind(place_s);
        std::iter::from_fn(|| take.read()).last().and_then(|moment| moment.view.key)
    };
    assert_eq!(sounding(4.0), Some(69));
    assert_eq!(sounding(20.0), Some(69));
    assert_eq!(sounding(31.5), None, "and its end is heard");
}
