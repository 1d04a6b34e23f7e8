//! What the window is there to show is really drawn: words, lines and dots, where they belong.

use egui::epaint::ColorMode;
use egui::{Color32, Pos2, Rect, Shape, vec2};
use egui_kittest::kittest::Queryable;
use polso::editor::act::{Act, Light};
use polso::editor::figure;
use polso::editor::strand::Strand;
use polso::editor::theme::Theme;
use polso::engine::curve::Curve;
use polso::engine::event::Message;
use polso::profile::FileKind;

use crate::room::Room;

const FAN: [Strand; 7] = [
    Strand::Dynamics,
    Strand::Width,
    Strand::Rate,
    Strand::Style,
    Strand::Legato,
    Strand::Tail,
    Strand::Pitch,
];

/// The window over the take's fifteenth second.
fn room() -> Room {
    let mut room = Room::erhu();
    room.editor().act(Act::Wind(15.0));
    room.harness.run();
    room
}

fn theme() -> Theme {
    Theme::of(Light::Day)
}

fn flat<'a>(shape: &'a Shape, all: &mut Vec<&'a Shape>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| flat(shape, all)),
        shape => all.push(shape),
    }
}

/// Every shape that is drawn.
fn shapes(room: &Room) -> Vec<&Shape> {
    let mut all = Vec::new();
    for clipped in &room.harness.output().shapes {
        flat(&clipped.shape, &mut all);
    }
    all
}

/// The words that are drawn within a place.
fn words(room: &Room, place: Rect) -> Vec<String> {
    let all = shapes(room).into_iter().filter_map(|shape| match shape {
        Shape::Text(text) if place.contains(shape.visual_bounding_rect().center()) => {
            Some(text.galley.text().to_owned())
        }
        _ => None,
    });
    all.collect()
}

fn check_words(room: &Room, place: Rect, expected: &str) {
    let words = words(room, place);
    assert!(words.iter().any(|word| word == expected), "{expected:?} is not among {words:?}");
}

/// The points of the lines of one colour within a place.
fn lines(room: &Room, place: Rect, colour: Color32) -> Vec<Vec<Pos2>> {
    let all = shapes(room).into_iter().filter_map(|shape| match shape {
        Shape::Path(path)
            if !path.closed
                && path.stroke.color == ColorMode::Solid(colour)
                && place.expand(2.0).contains_rect(Rect::from_points(&path.points)) =>
        {
            Some(path.points.clone())
        }
        _ => None,
    });
    all.collect()
}

/// The centres of the filled circles of a size.
fn dots(room: &Room, radius: f32, colour: Color32) -> Vec<Pos2> {
    let all = shapes(room).into_iter().filter_map(|shape| match shape {
        Shape::Circle(circle) if circle.radius == radius && circle.fill == colour => {
            Some(circle.center)
        }
        _ => None,
    });
    all.collect()
}

/// The filled rectangles of a colour within a place.
fn boxes(room: &Room, place: Rect, colour: Color32) -> Vec<Rect> {
    let all = shapes(room).into_iter().filter_map(|shape| match shape {
        Shape::Rect(rect) if rect.fill == colour && place.intersects(rect.rect) => Some(rect.rect),
        _ => None,
    });
    all.collect()
}

fn plaque(room: &Room, strand: Strand) -> Rect {
    room.named(&format!("Strand {}", strand.name())).rect()
}

const ALL: Rect = Rect::EVERYTHING;

#[test]
fn one_thread_comes_from_the_hand_and_every_strand_runs_from_its_end_to_its_name() {
    let room = room();
    let hand = plaque(&room, Strand::Gesture);
    let threads = lines(&room, ALL, theme().ink);
    let thread = threads
        .iter()
        .find(|thread| hand.contains(thread[0]) && thread.len() > 30)
        .expect("a thread begins at the hand");
    let knot = *thread.last().expect("points");
    for strand in FAN {
        let plaque = plaque(&room, strand);
        let all = lines(&room, ALL, theme().strand(strand));
        let is_its = |line: &&Vec<Pos2>| {
            let end = line.last().expect("points");
            (line[0] - knot).length() < 2.0 && (*end - plaque.left_center()).length() < 4.0
        };
        assert!(all.iter().any(|line| is_its(&line)), "{} runs to its name", strand.name());
    }
}

#[test]
fn each_strand_has_its_name_unit_and_present_number_painted() {
    let mut room = room();
    let styles = room.model().styles();
    let view = *room.editor().meter().view().expect("a view");
    for strand in FAN {
        let plaque = plaque(&room, strand);
        check_words(&room, plaque, strand.name());
        check_words(&room, plaque, &strand.figure(&view, &styles));
        if !strand.unit().is_empty() {
            check_words(&room, plaque, strand.unit());
        }
    }
}

#[test]
fn the_controller_and_what_is_made_of_it_are_both_seen_at_the_hand() {
    let mut room = room();
    let view = *room.editor().meter().view().expect("a view");
    let raw = view.raw.expect("the controller has moved");
    let hand = plaque(&room, Strand::Gesture);
    let dot = dots(&room, 7.0, theme().ink).into_iter().find(|dot| hand.contains(*dot));
    let dot = dot.expect("the gesture");
    let (mut tick, mut rail) = (None, None);
    for shape in shapes(&room) {
        let Shape::LineSegment { points: [from, to], .. } = shape else { continue };
        if !hand.contains(*from) {
            continue;
        }
        if (to.x - from.x - 22.0).abs() < 0.1 {
            tick = Some(from.y);
        } else if from.x == to.x {
            rail = Some((to.y - from.y).abs());
        }
    }
    let (tick, rail) = (tick.expect("the controller"), rail.expect("the rail"));
    let apart = (raw - view.gesture) as f32 * rail;
    assert!((dot.y - tick - apart).abs() < 1.0, "{dot:?} {tick} {apart}");
}

#[test]
fn the_reason_the_phrase_and_the_rate_of_messages_are_painted() {
    let mut room = room();
    let reason = room.editor().meter().reason().sentence();
    let reason_place = room.named("Reason").rect();
    check_words(&room, reason_place, reason);
    let view = *room.editor().meter().view().expect("a view");
    check_words(&room, reason_place, &format!("phrase: {}", view.phrase.name()));
    let meter = room.editor().meter();
    let now_s = meter.last().expect("a moment").at_s;
    let recent = meter.moments().filter(|moment| moment.at_s > now_s - 1.0 + 1e-9);
    let sent: u32 = recent.map(|moment| moment.sent).sum();
    assert!(sent > 5, "the line moves: {sent}");
    check_words(&room, ALL, &format!("{sent} messages/s"));
}

#[test]
fn the_notes_of_the_last_eight_seconds_have_the_pitch_drawn_on_them_in_cents() {
    let mut room = room();
    let past = room.named("The last 8 seconds").rect();
    for words in ["−8 s", "−1 s", "now"] {
        check_words(&room, past, words);
    }
    let notes = room.editor().meter().notes();
    let bars = boxes(&room, past, theme().note);
    assert_eq!(bars.len(), notes.len());
    // Two notes say how high a semitone is.
    let other = notes.iter().position(|note| note.key != notes[0].key).expect("another key");
    let semitones = f32::from(notes[other].key) - f32::from(notes[0].key);
    let semitone = (bars[0].center().y - bars[other].center().y) / semitones;
    let swings: Vec<Vec<Pos2>> = lines(&room, past, theme().strand(Strand::Pitch));
    let mut checked = 0;
    for (note, bar) in notes.iter().zip(&bars) {
        let (from_s, to_s) = (note.from_s, note.to_s);
        let inside = |at_s: f64| at_s > from_s && at_s < to_s - 0.02;
        let moments = room.editor().meter().moments();
        let widest = moments
            .filter(|moment| inside(moment.at_s) && moment.view.key == Some(note.key))
            .map(|moment| moment.view.pitch_cents)
            .fold(0.0, f64::max);
        if widest < 10.0 {
            continue;
        }
        let place = bar.expand2(vec2(3.0, 40.0));
        let line = swings
            .iter()
            .find(|line| line.iter().all(|at| place.contains(*at)))
            .unwrap_or_else(|| panic!("the pitch of {note:?} in {swings:?}"));
        let highest = line.iter().map(|at| at.y).fold(f32::MAX, f32::min);
        let expected = bar.center().y - widest as f32 / 100.0 * semitone;
        assert!((highest - expected).abs() < 1.0, "{highest} {expected}");
        checked += 1;
    }
    assert!(checked >= 2, "some notes swing: {checked}");
}

#[test]
fn a_curve_goes_through_its_breakpoints_and_the_living_dot_stands_on_it() {
    for (strand, path) in
        [(Strand::Width, "vibrato.rolled.width_cents"), (Strand::Dynamics, "dynamics.curve")]
    {
        let mut room = room();
        room.press(&format!("Strand {}", strand.name()));
        let points = room.points(path);
        let at = |place: usize| {
            room.named(&format!("Breakpoint {place} of {}", points.len())).rect().center()
        };
        let (first, last) = (at(1), at(points.len()));
        let place = Rect::from_two_pos(first, last).expand(4.0);
        let all = lines(&room, place, theme().strand(strand));
        let line = all.iter().find(|line| line.len() > 50).expect("the curve");
        for number in 1..=points.len() {
            let near = line.iter().map(|point| (*point - at(number)).length());
            assert!(near.fold(f32::MAX, f32::min) < 4.0, "{path}: breakpoint {number}");
        }
        let height = (first.y - last.y) / (points[points.len() - 1].1 - points[0].1) as f32;
        let curve = Curve::through(&points).expect("a curve");
        let gesture = room.editor().meter().view().expect("a view").gesture;
        let at_dot = egui::pos2(
            first.x + gesture as f32 * (last.x - first.x),
            first.y - (curve.at(gesture) - points[0].1) as f32 * height,
        );
        let near = dots(&room, 5.5, theme().ink).into_iter();
        let nearest = near.map(|dot| (dot - at_dot).length()).fold(f32::MAX, f32::min);
        assert!(nearest < 1.0, "{path}: the dot is {nearest} away from {at_dot:?}");
    }
}

#[test]
fn the_hysteresis_is_seen_as_the_width_of_the_edges() {
    let mut room = room();
    room.press("Strand legato");
    let widths = |room: &Room| {
        let edge = |name: &str| room.named(&format!("Edge between {name}")).rect().center();
        let (one, other) = (edge("quick and joined"), edge("slow and slide"));
        // From 0.3 to 0.85 of the gesture.
        let whole = (other.x - one.x) / 0.55;
        let place = Rect::from_min_max(one - vec2(2.0, 0.0), other + vec2(2.0, 200.0));
        let bands = boxes(room, place, theme().grid.gamma_multiply(0.7));
        bands.iter().map(|band| band.width() / whole).collect::<Vec<f32>>()
    };
    for hysteresis in [0.03_f32, 0.06] {
        room.type_into("hysteresis", &hysteresis.to_string());
        let widths = widths(&room);
        assert_eq!(widths.len(), 3, "a band about each edge");
        assert!(widths.iter().all(|width| (width - 2.0 * hysteresis).abs() < 0.003), "{widths:?}");
    }
}

#[test]
fn while_the_hand_is_measured_rest_full_flutter_and_polarity_are_seen() {
    let mut room = room();
    room.press("Page Hand");
    room.press("Calibrate the hand in 30 seconds");
    room.harness.step();
    for begin in ["Rest at ", "Full at ", "Flutter ", "Polarity: upright"] {
        let words = words(&room, ALL);
        assert!(words.iter().any(|word| word.starts_with(begin)), "{begin:?} in {words:?}");
    }
}

#[test]
fn a_number_has_what_is_allowed_beside_it_and_a_learned_keyswitch_its_name_and_number() {
    let mut room = room();
    room.press("Strand style");
    let onset = room.named("onset in ms").rect();
    let row = Rect::from_x_y_ranges(onset.right()..=1280.0, onset.y_range());
    check_words(&room, row, "0 to 3000");
    room.press("Page Outputs");
    room.press("Learn the keyswitch of joined");
    room.tap.play(Message::NoteOn { channel: 0, key: 24, velocity: 90 });
    room.harness.run();
    check_words(&room, ALL, &figure::key(24));
    assert_eq!(figure::key(24), "C1 (24)");
}

#[test]
fn each_conflict_is_listed_as_a_sentence() {
    let mut room = room();
    room.press("Page Outputs");
    room.press("Learn the keyswitch of joined");
    room.tap.play(Message::NoteOn { channel: 0, key: 70, velocity: 90 });
    room.harness.run();
    room.press("Page Conflicts (1)");
    let sentence = room.model().conflicts().remove(0);
    check_words(&room, ALL, &format!("! {sentence}"));
}

#[test]
fn a_typed_breakpoint_beyond_its_range_is_answered() {
    let mut room = room();
    room.press("Strand vibrato width");
    room.type_into("Breakpoint 3 in cents", &"9".repeat(400));
    assert_eq!(room.points("vibrato.rolled.width_cents")[2], (1.0, 400.0));
    let sentence = "breakpoint 3: it stands at gesture 1, 400 cents; \
                    allowed is a place between its neighbours, 0 to 400 cents";
    check_words(&room, ALL, sentence);
    room.type_into("Breakpoint 3 in cents", "130");
    assert_eq!(room.model().sentence(), None);
    assert!(room.model().sheet(FileKind::Instrument).faults().is_empty());
}

#[test]
fn the_size_is_changed_by_keys_that_every_window_hands_on() {
    let mut room = room();
    for (key, percent) in [
        (egui::Key::PageUp, 125),
        (egui::Key::PageUp, 150),
        (egui::Key::PageDown, 125),
        (egui::Key::Num0, 100),
    ] {
        room.harness.key_press_modifiers(egui::Modifiers::COMMAND, key);
        room.harness.run();
        assert_eq!(room.model().look.percent, percent, "after {key:?}");
    }
    assert!(room.harness.query_by_label("Larger").is_some());
}
