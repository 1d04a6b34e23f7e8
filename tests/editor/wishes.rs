//! What the song is asked for is written as a table, is counted in the song's bars, and is there again.

use polso::editor::feed::Order;
use polso::profile::wish::SongStretch;

use crate::room::Room;

const FIELD: &str = "Wishes for stretches of the song, a line each";
const ASK: &str = "Ask this of the song, and keep it with the project";

/// Types a table, and gives what the song is asked then.
fn ask(room: &mut Room, table: &str) -> Option<Vec<SongStretch>> {
    room.type_into(FIELD, table);
    room.tap.orders();
    room.press(ASK);
    room.tap.orders().into_iter().find_map(|order| match order {
        Order::Ask(stretches) => Some(stretches),
        _ => None,
    })
}

fn stretch(from_beat: f64, to_beat: f64, metre_beat: f64, wishes: &str) -> SongStretch {
    SongStretch { from_beat, to_beat, metre_beat, wishes: wishes.to_owned() }
}

#[test]
fn a_table_asks_something_of_the_song_in_its_own_bars() {
    let mut room = Room::erhu();
    room.press("Page Wishes");
    // Three bars of 3/4, then 6/8.
    let check = |room: &mut Room, table: &str, expected: SongStretch| {
        assert_eq!(ask(room, table), Some(vec![expected]), "{table}");
        let words = "The song is asked for something in one stretch.";
        assert_eq!(room.model().sentence(), Some(words), "{table}");
        // The same place in the same words, or the whole bar by its beats.
        let shown = room.named(FIELD).value().expect("a text");
        assert_eq!(shown, table.replace("2..3:", "2.1..3.3:"), "{table}");
    };
    check(&mut room, "2..3: softer 3 dB\n", stretch(3.0, 9.0, 1.0, "softer 3 dB"));
    check(&mut room, "1.2..1.3: no vibrato\n", stretch(1.0, 3.0, 1.0, "no vibrato"));
    check(&mut room, "4.3..4.4: open\n", stretch(10.0, 11.0, 0.5, "open"));
    let half = "1.2+1/2..4.1+0/2: legato slow\n";
    check(&mut room, half, stretch(1.5, 9.25, 1.0, "legato slow"));
    let several = ask(&mut room, "1..1: open, pressed\n2..2: vibrato 70 %\n").expect("asked");
    assert_eq!(several.len(), 2);
    assert_eq!(ask(&mut room, ""), Some(Vec::new()));
    assert_eq!(room.model().sentence(), Some("Nothing is asked of the song."));
}

#[test]
fn a_table_that_cannot_be_read_asks_nothing_and_stays_in_the_field() {
    let mut room = Room::erhu();
    room.press("Page Wishes");
    let mut check = |table: &str, sentence: &str| {
        assert_eq!(ask(&mut room, table), None, "{table}");
        assert_eq!(room.model().sentence(), Some(sentence), "{table}");
        assert!(room.named(FIELD).value().expect("a text").starts_with(table), "{table}");
    };
    check(
        "1..2: softer 99 dB",
        "wishes, line 1: wish is `softer 99 dB`; allowed is softer 0 to 24 dB",
    );
    check(
        "1..2: open\n1.2 A4: open",
        "wishes, line 2: this asks something of a note; allowed in a song are stretches, as \
         12.1..14.4: softer 3 dB",
    );
    check(
        "1.4..2.1: open",
        "wishes, line 1: beat is 4; allowed is 1 to 3, with a fraction, in bar 1",
    );
}
