//! The page for the live player: what stands on it, and that it can be read and printed.

use std::process::Command;

use polso::engine::patch::Source;
use polso::offline::audit::AuditFinding;
use polso::offline::page::{HEIGHT, WIDTH, audit_and_page_bytes};
use polso::offline::plot::svg::text_width;
use polso::offline::{Provenance, Settings};
use polso::profile::{self, Instrument};
use roxmltree::{Document, Node};

const FERRY: &[u8] = include_bytes!("../../examples/last-ferry.mid");

fn settings(instrument: &Instrument, bars: Option<&str>) -> Settings {
    let target = profile::load("generic").expect("a shipped target").profile;
    let hand = profile::hand_for(Source::Controller(1)).expect("a hand").profile;
    Settings {
        patch: profile::patch(instrument, &target, &hand, 1, 1.0).expect("a patch"),
        styles: Vec::new(),
        provenance: Provenance::default(),
        imperfection: 1.0,
        tracks: Vec::new(),
        channels: Vec::new(),
        bars: bars.map(|bars| bars.parse().expect("bars")),
        wishes: Default::default(),
        is_forced: false,
    }
}

/// The page of the example's take, and the findings of the audit.
fn page(name: &str, bars: Option<&str>) -> (String, Vec<AuditFinding>) {
    let instrument = profile::load::<Instrument>(name).expect("a shipped instrument").profile;
    let settings = settings(&instrument, bars);
    let (audit, svg) = audit_and_page_bytes(FERRY, &settings, &instrument, "take").expect("a page");
    (svg, audit.findings)
}

fn group<'a>(tree: &'a Document, id: &str) -> Node<'a, 'a> {
    let found = tree.descendants().find(|node| node.attribute("id") == Some(id));
    found.unwrap_or_else(|| panic!("the page has a group {id}"))
}

/// The texts of a class.
fn words(tree: &Document, class: &str) -> Vec<String> {
    let texts = tree.descendants().filter(|node| node.has_tag_name("text"));
    let of_class = texts.filter(|node| node.attribute("class") == Some(class));
    of_class.filter_map(|node| node.text()).map(str::to_owned).collect()
}

/// The strokes of a class, one for each "M" of its paths.
fn strokes(tree: &Document, class: &str) -> usize {
    let paths = tree.descendants().filter(|node| node.attribute("class") == Some(class));
    paths.filter_map(|node| node.attribute("d")).map(|path| path.matches('M').count()).sum()
}

#[test]
fn every_finding_has_its_number_on_the_line_and_in_the_list() {
    for name in ["erhu", "violin", "dizi-d"] {
        let (svg, findings) = page(name, None);
        let tree = Document::parse(&svg).expect("XML");
        assert!(!findings.is_empty(), "{name}");
        let numbers: Vec<String> = (1..=findings.len()).map(|number| number.to_string()).collect();
        let mut twice = words(&tree, "number");
        twice.sort_by_key(|number| number.parse::<usize>().expect("a number"));
        let expected: Vec<String> =
            numbers.iter().flat_map(|it| [it.clone(), it.clone()]).collect();
        assert_eq!(twice, expected, "{name}: once on the line and once in the list");
        let list = words(&tree, "finding").join(" ");
        for finding in &findings {
            let (bar, beat) = (finding.bar.expect("a bar"), finding.beat.expect("a beat"));
            let severity = finding.severity.name();
            let words = format!("bar {bar}, beat {beat}, {severity}: {}", finding.sentence);
            assert!(list.contains(&words), "{name}: {words}");
        }
    }
}

#[test]
fn the_player_knows_better() {
    let (svg, _) = page("erhu", None);
    let tree = Document::parse(&svg).expect("XML");
    let said = group(&tree, "deference")
        .descendants()
        .find_map(|node| node.text().filter(|it| it.len() > 5));
    let sentence = "These are rules of thumb. Where the player knows better, the player is right.";
    assert_eq!(said, Some(sentence));
}

#[test]
fn bows_breaths_and_open_strings_are_marked() {
    // The example has 17 fresh notes on the erhu, and two times the low D of the open string.
    let (svg, _) = page("erhu", None);
    let tree = Document::parse(&svg).expect("XML");
    assert_eq!(strokes(&tree, "bow"), 17);
    assert_eq!(strokes(&tree, "open"), 2);
    assert!(strokes(&tree, "slur") >= 8, "slurs, those over two rows in two parts");
    assert_eq!(strokes(&tree, "breath"), 0);
    // Two gaps are long enough for a breath: in bars 4 and 8.
    let (svg, _) = page("dizi-d", None);
    let tree = Document::parse(&svg).expect("XML");
    assert_eq!(
        (strokes(&tree, "breath"), strokes(&tree, "bow"), strokes(&tree, "open")),
        (2, 0, 0)
    );
}

#[test]
fn every_bar_and_every_note_is_on_the_page() {
    let (svg, _) = page("erhu", None);
    let tree = Document::parse(&svg).expect("XML");
    let bars: Vec<String> = (1..=21).map(|bar| bar.to_string()).collect();
    assert_eq!(words(&tree, "bar"), bars);
    assert!(strokes(&tree, "line") >= 80, "80 notes, those over two rows in two parts");
    let (svg, findings) = page("erhu", Some("12..13"));
    let tree = Document::parse(&svg).expect("XML");
    assert_eq!(words(&tree, "bar"), ["12", "13"]);
    assert!(findings.iter().all(|it| (12..=13).contains(&it.bar.expect("a bar"))));
}

#[test]
fn no_two_words_stand_on_each_other_and_none_leaves_the_page() {
    for (name, bars) in
        [("erhu", None), ("violin", None), ("dizi-d", None), ("erhu", Some("9..12"))]
    {
        let (svg, _) = page(name, bars);
        let tree = Document::parse(&svg).expect("XML");
        let texts = tree.descendants().filter(|node| node.has_tag_name("text"));
        let boxes: Vec<_> = texts
            .map(|node| {
                let of = |name: &str| {
                    node.attribute(name).and_then(|it| it.parse::<f64>().ok()).expect("a number")
                };
                let (x, y, size) = (of("x"), of("y"), of("font-size"));
                let words = node.text().unwrap_or_default().to_owned();
                let width = text_width(&words, size) * 0.85;
                let left = match node.attribute("text-anchor") {
                    Some("middle") => x - width / 2.0,
                    Some("end") => x - width,
                    _ => x,
                };
                (words, left, y - size * 0.72, left + width, y + size * 0.2)
            })
            .collect();
        for (place, (words, left, top, right, bottom)) in boxes.iter().enumerate() {
            let is_inside = *left >= 0.0 && *right <= WIDTH && *top >= 0.0 && *bottom <= HEIGHT;
            assert!(is_inside, "{name}: {words} leaves the page");
            for (others, l, t, r, b) in &boxes[..place] {
                let meet = left < r && l < right && top < b && t < bottom;
                assert!(!meet, "{name}: {words} stands on {others}");
            }
        }
    }
}

#[test]
fn the_verb_writes_the_page_and_refuses_what_it_cannot() {
    let folder = tempfile::tempdir().expect("a folder");
    let check = |words: &[&str], code: i32, said: &str| {
        let ferry = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/last-ferry.mid");
        let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
        command.current_dir(folder.path()).args(["audit", ferry, "-i", "erhu"]).args(words);
        let output = command.output().expect("it runs");
        let err = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{words:?}: {err}");
        assert!(err.contains(said), "{words:?}: {err}");
    };
    check(&["--page", "a.svg"], 1, "");
    check(&["--page", "a.svg"], 2, "the file exists; --force overwrites it");
    check(&["--page", "a.svg", "--force"], 1, "");
    check(&["--page", "a.doc"], 2, "--page is a.doc; allowed is .svg or .pdf");
    let svg = std::fs::read_to_string(folder.path().join("a.svg")).expect("a page");
    assert!(svg.contains("width=\"595\" height=\"842\""), "A4 in points");
}

#[cfg(feature = "png")]
#[test]
fn a_pdf_is_one_page_whose_objects_stand_where_its_table_says() {
    use std::io::Read;
    let (svg, _) = page("erhu", None);
    let pdf = match polso::offline::page::pdf::pdf(&svg) {
        Ok(pdf) => pdf.bytes,
        Err(sentence) => return assert!(sentence.contains("no font is installed"), "{sentence}"),
    };
    assert!(pdf.starts_with(b"%PDF-1.4\n") && pdf.ends_with(b"%%EOF\n"));
    let find = |what: &[u8]| pdf.windows(what.len()).position(|it| it == what).expect("found");
    // ISO 32000-1, 7.5.4: after two lines, 20 bytes for each object.
    let table = find(b"xref\n0 5\n") + 9;
    for number in 1..5 {
        let entry = std::str::from_utf8(&pdf[table + 20 * number..][..10]).expect("digits");
        let place: usize = entry.parse().expect("a place");
        assert!(
            pdf[place..].starts_with(format!("{number} 0 obj\n").as_bytes()),
            "object {number}"
        );
    }
    let start = find(b"stream\n") + 7;
    let mut content = String::new();
    flate2::read::ZlibDecoder::new(&pdf[start..]).read_to_string(&mut content).expect("inflated");
    let count = |operator: &str| content.lines().filter(|line| *line == operator).count();
    assert_eq!(count("q"), count("Q"));
    assert!(count("f") > 50 && count("S") > 30, "letters are areas, the line is strokes");
    let operands = |line: &&str| match line.split(' ').next_back() {
        Some("m" | "l") => Some(2),
        Some("c" | "cm") => Some(6),
        Some("rg" | "RG") => Some(3),
        _ => None,
    };
    for line in content.lines() {
        if let Some(expected) = operands(&line) {
            let numbers = line.split(' ').filter(|word| word.parse::<f64>().is_ok()).count();
            assert_eq!(numbers, expected, "{line}");
        }
    }
}
