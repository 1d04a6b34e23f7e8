//! What an author wrote stays: comments, order, blank lines and fields that nobody knows.

use polso::profile::shipped::SHIPPED;
use polso::profile::{Any, Document, Hand, Instrument, check, load};

const WITH_EXTRAS: &str = "# mine, 手写\r\npolso = \"hand\"\r\nformat = 1 # first\r\n\r\n\
    [controller]\r\n  source='cc 1'\r\n\twieght = 2.0 # heavy\r\n\r\n[colour]\r\nlever = \"red\"\r\n# end";

#[test]
fn loading_changes_no_byte() {
    for each in SHIPPED {
        let document = Document::parse(each.text).expect("a shipped file");
        assert_eq!(document.text(), each.text, "{}", each.id);
    }
    let loaded = check::<Hand>(WITH_EXTRAS).expect("a hand");
    assert_eq!(loaded.document.text(), WITH_EXTRAS);
}

#[test]
fn unknown_fields_are_noted_with_the_nearest_known_one() {
    let notes = check::<Hand>(WITH_EXTRAS).expect("a hand").notes;
    let sentences: Vec<String> = notes.iter().map(ToString::to_string).collect();
    assert_eq!(
        sentences,
        [
            "line 7: controller.wieght: unknown field, kept; the nearest known one is weight",
            "line 9: colour: unknown field, kept",
        ]
    );
}

#[test]
fn a_number_without_an_origin_is_noted() {
    let text = SHIPPED[0].text.replace("\"bow.pp_s\" = \"M: players' guides\"\n", "");
    let notes = check::<Instrument>(&text).expect("an erhu").notes;
    assert_eq!(notes.len(), 1);
    assert_eq!(notes[0].field, "origin");
    assert_eq!(notes[0].sentence, "no origin is given for bow.pp_s");
}

#[test]
fn an_origin_of_a_table_counts_for_its_fields() {
    let text = SHIPPED[0].text.replace("\"bow.pp_s\" = \"M: players' guides\"\n", "");
    let text = text.replace("\"bow.ff_s\" = ", "bow = ");
    assert_eq!(check::<Instrument>(&text).expect("an erhu").notes, []);
}

/// Setting `path` changes `old` to `new` in the text and nothing else.
fn check_set(text: &str, path: &str, value: impl Into<toml_edit::Value>, old: &str, new: &str) {
    let mut document = Document::parse(text).expect("TOML");
    assert!(document.set(path, value), "{path}");
    assert_eq!(text.matches(old).count(), 1, "{old}");
    assert_eq!(document.text(), text.replace(old, new));
}

#[test]
fn setting_a_field_leaves_all_else_as_it_was() {
    let erhu = SHIPPED[0].text;
    check_set(erhu, "bow.pp_s", 9.5, "pp_s = 11  #", "pp_s = 9.5  #");
    check_set(erhu, "strings.open_policy", "auto", "= \"stopped\"     #", "= \"auto\"     #");
    check_set(erhu, "vibrato.pressed.rate_hz", 5.0, "rate_hz = 4.8", "rate_hz = 5.0");
    check_set("a = { b = 1, c = 2 } # x\n", "a.c", 3, "c = 2", "c = 3");
}

#[test]
fn setting_what_is_not_there_does_nothing() {
    let mut document = load::<Hand>("wheel").expect("a hand").document;
    let before = document.text().to_owned();
    assert!(!document.set("controller.colour", "red"));
    assert!(!document.set("controller", 1));
    assert!(!document.set("controller.source.deep", 1));
    assert_eq!(document.text(), before);
}

#[test]
fn a_file_says_itself_what_it_is() {
    for each in SHIPPED {
        let any = Any::check(each.text.as_bytes()).expect("a shipped file");
        assert_eq!(any.kind(), each.kind);
    }
}

#[test]
fn a_file_full_of_unknown_fields_is_still_read_in_a_moment() {
    let many: String = (0..60_000).map(|number| format!("colour{number} = 1\n")).collect();
    let begun = std::time::Instant::now();
    let notes = check::<Instrument>(&(many + SHIPPED[0].text)).expect("an erhu").notes;
    assert_eq!(notes.len(), 60_000);
    assert_eq!(notes[59_999].line, Some(60_000));
    // Without care each of them would look through the whole file: minutes.
    assert!(begun.elapsed().as_secs() < 20, "{:?}", begun.elapsed());
}
