//! What stands in the picture, and that it stands where it belongs.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use roxmltree::Document;

use super::room::{FERRY, Wish, draw, group, instrument, number, take, wish, words};

#[test]
fn every_lane_has_its_title_its_unit_and_its_axis() {
    let svg = draw(&wish(FERRY, "erhu"));
    let tree = Document::parse(&svg).expect("XML");
    let titles = [
        "pitch",
        "notes, cents",
        "level",
        "0 to 1",
        "gesture",
        "0 to 1",
        "vibrato",
        "cents, Hz",
        "style",
        "weights 0 to 1",
        "legato",
        "mode",
        "bow left",
        "share",
        "phrase end",
        "lift 0 to 1",
    ];
    assert_eq!(words(group(&tree, "titles")), titles);
    assert_eq!(words(group(&tree, "names-legato")), ["fresh", "quick", "joined", "slow", "slide"]);
    let named = words(group(&tree, "names"));
    for name in
        ["dynamics", "expression", "gesture", "controller", "width", "plain", "rolled", "pressed"]
    {
        assert!(named.iter().any(|word| word == name), "{name}: {named:?}");
    }
    assert!(words(group(&tree, "axis-notes")).contains(&"100 cents".to_owned()));
    assert_eq!(words(group(&tree, "axes")).len(), 12, "a low and a high end of six lanes");
    for id in [
        "lane-level",
        "lane-gesture",
        "lane-vibrato",
        "lane-style",
        "lane-legato",
        "lane-budget",
        "pitch",
    ] {
        let drawn = group(&tree, id).children().filter(|node| node.has_tag_name("path")).count();
        assert!(drawn > 0, "{id} is drawn");
    }
    let breath = draw(&wish(FERRY, "dizi-d"));
    assert!(breath.contains(">breath left<"), "a wind has a breath");
}

#[test]
fn one_thread_splits_into_eight_strands() {
    let svg = draw(&wish(FERRY, "erhu"));
    let tree = Document::parse(&svg).expect("XML");
    let paths: Vec<_> =
        group(&tree, "thread").children().filter(|node| node.is_element()).collect();
    assert_eq!(paths.len(), 9);
    let start =
        |path: &str| path.trim_start_matches('M').split(['C', 'H']).next().map(str::to_owned);
    let starts: Vec<_> = paths.iter().map(|it| start(it.attribute("d").expect("a path"))).collect();
    assert!(
        starts[..8].windows(2).all(|pair| pair[0] == pair[1]),
        "they leave from one knot: {starts:?}"
    );
}

#[test]
fn every_note_stands_at_its_time_and_height() {
    let notes = [(69, 0, 480), (71, 500, 900), (74, 1000, 1900), (69, 2000, 4700)];
    let bytes = take(&notes, &[(0, 64)]);
    let svg = draw(&Wish { bars: Some("1..2"), ..wish(&bytes, "erhu") });
    let tree = Document::parse(&svg).expect("XML");
    let drawn: Vec<_> = group(&tree, "notes").children().filter(|node| node.is_element()).collect();
    assert_eq!(drawn.len(), notes.len());
    let ground = group(&tree, "grounds").first_element_child().expect("a ground");
    let (left, width) = (number(ground, "x"), number(ground, "width"));
    let middle = |place: usize| number(drawn[place], "y") + number(drawn[place], "height") / 2.0;
    let semitone = (middle(0) - middle(2)) / 5.0;
    for (place, (key, on, _)) in notes.iter().enumerate() {
        assert_eq!(number(drawn[place], "data-key") as u8, *key);
        // Two bars of four beats at 120 a minute are four seconds.
        let x = left + width * *on as f64 / 4000.0;
        let (found_x, found_y) = (number(drawn[place], "x"), middle(place));
        assert!(abs_diff_eq!(found_x, x, epsilon = 0.02), "note {place} at {found_x}, not {x}");
        let y = middle(0) - semitone * f64::from(key - 69);
        assert!(abs_diff_eq!(found_y, y, epsilon = 0.02), "note {place} at {found_y}, not {y}");
    }
    let end = number(drawn[1], "x") + number(drawn[1], "width");
    // The second ends at 0.9 s.
    assert_abs_diff_eq!(end, left + width * 0.225, epsilon = 0.02);
    assert_eq!(words(group(&tree, "note-names")), ["A4", "B4", "D5", "A4"]);
}

#[test]
fn the_whole_take_has_all_its_notes_and_bars() {
    let svg = draw(&wish(FERRY, "erhu"));
    let tree = Document::parse(&svg).expect("XML");
    let file = polso::offline::midi::read::read(FERRY).expect("a take");
    let ons = file
        .tracks
        .iter()
        .flat_map(|track| &track.events)
        .filter(|event| matches!(event.message(), Some(polso::engine::Message::NoteOn { .. })));
    let drawn = group(&tree, "notes").children().filter(|node| node.is_element()).count();
    assert_eq!(drawn, ons.count());
    let bars: Vec<String> = (1..=21).map(|bar| bar.to_string()).collect();
    assert_eq!(words(group(&tree, "bars"))[..21], bars, "20 bars on a page are all named");
    assert_eq!(words(group(&tree, "tempi")), ["66 bpm", "63 bpm", "58 bpm", "52 bpm"]);
}

#[test]
fn a_refused_slide_has_a_number_and_its_reason() {
    // A full gesture asks for slides; A4 and A5 share no string of the erhu.
    let bytes = take(&[(69, 200, 720), (81, 700, 1200)], &[(0, 127)]);
    let svg = draw(&wish(&bytes, "erhu"));
    let tree = Document::parse(&svg).expect("XML");
    assert_eq!(words(group(&tree, "refusals")), ["1"]);
    let reason = "1  bar 1, beat 2: Slow legato instead of a slide: no string carries both notes.";
    assert_eq!(words(group(&tree, "footnotes")), [reason]);
    let many: Vec<_> =
        (0..20).map(|n| (if n % 2 == 0 { 69 } else { 81 }, 200 + 500 * n, 720 + 500 * n)).collect();
    let svg = draw(&wish(&take(&many, &[(0, 127)]), "erhu"));
    let tree = Document::parse(&svg).expect("XML");
    let told = words(group(&tree, "footnotes"));
    assert_eq!(told.len(), 9);
    assert_eq!(told[8], "and 11 more refused slides");
}

#[test]
fn a_second_take_is_laid_over_the_first_with_dotted_lines() {
    let first = take(&[(69, 0, 900), (71, 1000, 1900)], &[(0, 64)]);
    let second = take(&[(69, 0, 900), (72, 1000, 1900)], &[(0, 20)]);
    let svg = draw(&Wish { other: Some(&second), ..wish(&first, "erhu") });
    let tree = Document::parse(&svg).expect("XML");
    let keys = |id: &str| -> Vec<f64> {
        let notes = group(&tree, id).children().filter(|node| node.is_element());
        notes.map(|note| number(note, "data-key")).collect()
    };
    assert_eq!((keys("notes"), keys("notes-other")), (vec![69.0, 71.0], vec![69.0, 72.0]));
    assert!(
        group(&tree, "lane-gesture-other")
            .children()
            .any(|node| node.attribute("stroke-dasharray").is_some())
    );
    assert!(svg.contains(">dotted: other<"));
}

#[test]
fn a_single_stroke_in_ten_hours_is_still_seen() {
    // One wheel movement of 20 ms, seven hours in; the hand is still before and after.
    let at = 7 * 3_600_000;
    let bytes =
        take(&[(69, 1000, 2000), (69, 36_000_000, 36_000_500)], &[(0, 0), (at, 127), (at + 20, 0)]);
    let svg = draw(&wish(&bytes, "erhu"));
    let tree = Document::parse(&svg).expect("XML");
    let ground = group(&tree, "grounds")
        .children()
        .filter(|node| node.is_element())
        .nth(2)
        .expect("a ground");
    let top = number(ground, "y");
    let raw = group(&tree, "lane-gesture").first_element_child().expect("the controller");
    let path = raw.attribute("d").expect("a path");
    let heights = path.split(['M', 'L']).filter_map(|it| it.split(' ').nth(1)?.parse::<f64>().ok());
    let highest = heights.fold(f64::INFINITY, f64::min);
    // The stroke reaches the top of the lane.
    assert_abs_diff_eq!(highest, top, epsilon = 0.02);
    let shown = group(&tree, "notes").children().filter(|node| node.is_element()).count();
    assert_eq!(shown, 2);
}

#[test]
fn pictures_change_only_on_purpose() {
    // Without a gesture there is no vibrato, so the picture shows the notes and the frame alone.
    let bytes = take(&[(69, 0, 480), (71, 500, 980)], &[]);
    let mut plain = instrument("erhu");
    plain.about.names.truncate(1);
    let svg =
        draw(&Wish { width: 700, bars: Some("1..1"), instrument: plain, ..wish(&bytes, "erhu") });
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/plot/golden/two_notes.svg");
    if std::env::var_os("POLSO_GOLDEN").is_some() {
        std::fs::write(path, &svg).expect("written");
    }
    let golden = std::fs::read_to_string(path).expect("POLSO_GOLDEN=1 writes it");
    let lines = svg.lines().zip(golden.lines()).enumerate();
    for (number, (now, before)) in lines {
        assert_eq!(now, before, "line {}; POLSO_GOLDEN=1 takes the new picture", number + 1);
    }
    assert_eq!(svg.lines().count(), golden.lines().count());
}
