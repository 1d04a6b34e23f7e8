//! Instruments and targets are chosen and searched by family.

use egui_kittest::kittest::Queryable;
use polso::editor::feed::Order;
use polso::profile::FileKind;

use crate::room::{Room, texts};

fn id(room: &Room, kind: FileKind) -> String {
    room.model().sheet(kind).meaning().about().id.clone()
}

#[test]
fn an_instrument_and_a_target_are_chosen_and_play_at_once() {
    let mut room = Room::erhu();
    room.press("Page Choose");
    room.press("Choose dizi-d");
    room.press("Choose perform");
    assert_eq!(id(&room, FileKind::Instrument), "dizi-d");
    assert_eq!(id(&room, FileKind::Target), "perform");
    let orders = room.tap.orders();
    let Some(Order::Play(setup)) = orders.last() else { panic!("{orders:?}") };
    assert!(setup.slots[0].instrument.contains("id = \"dizi-d\""));
    assert!(setup.slots[1].instrument.contains("id = \"erhu\""), "the other slot stays");
    assert_eq!(setup.patch.target.output_count, 2, "dynamics and the bend");
}

#[test]
fn a_search_leaves_what_has_its_words_in_any_script() {
    let mut room = Room::erhu();
    room.press("Page Choose");
    for (words, found, gone) in [
        ("wind", "Choose oboe", "Choose violin"),
        ("二胡", "Choose erhu", "Choose oboe"),
        ("эрху", "Choose erhu", "Choose dizi-d"),
    ] {
        room.type_into("Search instruments and targets", words);
        assert!(room.harness.query_by_label(found).is_some(), "{words} finds {found}");
        assert!(room.harness.query_by_label(gone).is_none(), "{words} does not find {gone}");
        room.press("Clear the search");
        assert!(room.harness.query_by_label(gone).is_some());
    }
}

#[test]
fn what_the_project_holds_is_kept_compared_or_replaced_by_the_librarys() {
    let mut own = texts("erhu", "generic", "wheel");
    own.instrument = own.instrument.replace("onset_ms = 220", "onset_ms = 300");
    let mut room = Room::with(&own);
    room.press("Page Choose");
    room.press("Compare the instrument with the library's");
    assert!(room.harness.query_by_label("300 ms").is_some());
    assert!(room.harness.query_by_label("220 ms").is_some());
    room.press("Page Choose");
    room.press("Keep the project's instrument");
    assert!(room.harness.query_by_label("Adopt the library's instrument").is_none());
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 300.0);

    let mut room = Room::with(&own);
    room.press("Page Choose");
    room.press("Adopt the library's instrument");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 220.0);
    room.press("Undo: the library's copy");
    assert_eq!(room.number(FileKind::Instrument, "vibrato.onset_ms"), 300.0);
}

#[test]
fn a_search_answers_with_every_letter() {
    let mut room = Room::erhu();
    room.press("Page Choose");
    room.named("Search instruments and targets").focus();
    room.harness.run();
    for (letter, is_left) in [("o", true), ("b", true), ("o", true), ("e", true), ("x", false)] {
        room.named("Search instruments and targets").type_text(letter);
        room.harness.run();
        let oboe = room.harness.query_by_label("Choose oboe");
        assert_eq!(oboe.is_some(), is_left, "after {letter}");
        assert!(room.harness.query_by_label("Choose erhu").is_none() || letter == "o");
    }
}
