//! Articulations of a take: named by its texts or chosen by the hand's keys, told, traced, peeled.

use polso::engine::Message;
use polso::offline::midi::{TrackEvent, read::read};
use polso::offline::peel::peel;
use polso::offline::{Settings, shape_bytes};
use polso::profile::{Hand, Instrument, Target, load, patch};

use super::room::{QUARTER, promises, settings, take, traced};

/// Four quarter notes, detached: Eb4, E4, A4, D6.
const LINE: &str = "0 B00150, 0 903F50, 400 803F40, 480 904050, 880 804040, 960 904550, \
    1360 804540, 1440 905650, 1840 805640";

/// An instrument on the example's receiver and under the example's hand.
fn switched(instrument: &str) -> Settings {
    let own = load::<Instrument>(instrument).unwrap().profile;
    let target = load::<Target>("examples/switched.target.toml").unwrap().profile;
    let hand = load::<Hand>("examples/wheel-and-keys.hand.toml").unwrap().profile;
    let patch = patch(&own, &target, &hand, 7, 1.0).unwrap();
    Settings { patch, ..settings(instrument, "generic") }
}

fn text(tick: u64, kind: u8, words: &str) -> String {
    let digits: String = words.bytes().map(|byte| format!("{byte:02X}")).collect();
    format!("{tick} FF{kind:02X}{:02X}{digits}", words.len())
}

/// A note of a key of the hand, 24 to be pizzicato.
fn key(tick: u64, key: u8) -> String {
    format!("{tick} 90{key:02X}50, {} 80{key:02X}40", tick + 30)
}

/// `LINE` with more events, put where they belong.
fn with(more: &[&str]) -> String {
    let all = format!("{LINE}, {}", more.join(", "));
    let mut events: Vec<&str> = all.split(',').map(str::trim).filter(|it| !it.is_empty()).collect();
    let tick = |event: &&str| event.split(' ').next().unwrap().parse::<u64>().unwrap();
    events.sort_by_key(tick);
    events.join(", ")
}

/// A tick, a keyswitch and the note after it.
type Switch = (u64, u8, Option<u8>);

/// Keyswitches of the receiver that go on, each with the take's tick and the note that follows.
fn switches(bytes: &[u8]) -> Vec<Switch> {
    let file = read(bytes).unwrap();
    let ons: Vec<(u64, u8)> = file
        .tracks
        .iter()
        .flat_map(|track| &track.events)
        .filter_map(|event: &TrackEvent| match event.message()? {
            Message::NoteOn { key, .. } => Some((event.tick / 2, key)),
            _ => None,
        })
        .collect();
    let after = |place: usize| ons[place..].iter().map(|on| on.1).find(|key| *key > 7);
    let own = ons.iter().enumerate().filter(|(_, on)| on.1 <= 7);
    own.map(|(place, (tick, key))| (*tick, *key, after(place))).collect()
}

/// What the line says of its articulations, and the keyswitches that go out. Peeling gives the
/// take back.
fn shaped(tracks: &[&str], settings: &Settings) -> (Vec<String>, Vec<Switch>) {
    let bytes = take(QUARTER, tracks);
    let shaped = shape_bytes(&bytes, settings).unwrap();
    let peeled = peel(read(&shaped.bytes).unwrap()).unwrap();
    assert_eq!(peeled.leftovers, [""; 0]);
    assert!(peeled.file == read(&bytes).unwrap(), "peeling gives another take");
    (shaped.report.lines[0].articulations.clone(), switches(&shaped.bytes))
}

#[test]
fn a_text_chooses_from_where_it_stands_until_the_next() {
    let erhu = switched("erhu");
    let check = |tracks: &[&str], said: &[&str], out: &[Switch]| {
        assert_eq!(
            shaped(tracks, &erhu),
            (said.iter().map(|it| it.to_string()).collect(), out.into())
        );
    };
    check(&[LINE], &[], &[(0, 0, Some(63))]);
    let pizzicato = with(&[&text(480, 1, "articulation: pizzicato")]);
    let out = [(0, 0, Some(63)), (480, 5, Some(64))];
    check(&[&pizzicato], &["1.2 pizzicato"], &out);
    // A marker and a cue point too, in any case, and in a track without notes.
    let cue = text(480, 7, "Articulation: Pizzicato");
    let marker = text(1440, 6, "articulation: sul ponticello");
    let said = ["1.2 pizzicato", "1.4 sul ponticello"];
    let out = [(0, 0, Some(63)), (480, 5, Some(64)), (1440, 6, Some(86))];
    check(&[&format!("{cue}, {marker}"), LINE], &said, &out);
    // A hand is not on the grid: the E4 begins a little before its text.
    let late = with(&[&text(500, 1, "articulation: pizzicato")]);
    check(&[&late], &["1.2 pizzicato"], &[(0, 0, Some(63)), (480, 5, Some(64))]);
    let early = LINE.replace("480 9040", "470 9040");
    let cue = text(480, 7, "articulation: pizzicato");
    check(&[&cue, &early], &["1.2 pizzicato"], &[(0, 0, Some(63)), (470, 5, Some(64))]);
    // Lyrics and other words choose nothing.
    let words = [text(480, 5, "articulation: pizzicato"), text(480, 1, "articulations to come")];
    check(&[&with(&[&words[0], &words[1]])], &[], &[(0, 0, Some(63))]);
}

#[test]
fn a_key_of_the_hand_chooses_and_never_sounds() {
    let erhu = switched("erhu");
    let keys = with(&[&key(450, 24), &key(1440, 21)]);
    let said = ["1.1 pizzicato", "1.4 legato"].map(str::to_owned).to_vec();
    let out = vec![(0, 0, Some(63)), (480, 5, Some(64)), (1440, 0, Some(86))];
    assert_eq!(shaped(&[&keys], &erhu), (said, out));
    let bytes = shape_bytes(&take(QUARTER, &[&keys]), &erhu).unwrap();
    let sounds = |key: u8| {
        let file = read(&bytes.bytes).unwrap();
        file.tracks[0].events.iter().any(|event| event.bytes[..2] == [0x90, key])
    };
    assert!(sounds(64) && !sounds(24) && !sounds(21));
    assert_eq!(bytes.report.lines[0].notes, 4);
    // Under a hand without keys they are notes like any.
    let plain = Settings { patch: settings("erhu", "generic").patch, ..erhu };
    let bytes = take(QUARTER, &[&keys]);
    promises(&bytes, &shape_bytes(&bytes, &plain).unwrap().bytes, &plain).unwrap();
}

#[test]
fn what_the_receiver_lacks_is_said() {
    let spiccato = with(&[&text(480, 1, "articulation: spiccato")]);
    let said = |settings: &Settings| shaped(&[&spiccato], settings).0;
    let lacks = "1.2 spiccato: the receiver has none, legato sounds instead";
    assert_eq!(said(&switched("erhu")), [lacks]);
    let silent = "1.2 spiccato: the target tells the receiver none, here and later";
    assert_eq!(said(&settings("erhu", "generic")), [silent]);
    let (_, notices) = traced(&take(QUARTER, &[&spiccato]), &switched("erhu"), 100);
    assert_eq!(notices, [lacks]);
    let wrong = with(&[&text(480, 1, "articulation: pizz")]);
    let error = shape_bytes(&take(QUARTER, &[&wrong]), &switched("erhu")).unwrap_err().to_string();
    let expected = "track 1, tick 480: articulation is `pizz`; allowed is legato, detached, ";
    assert!(error.starts_with(expected), "{error}");
}

#[test]
fn a_trace_has_a_column_where_the_receiver_is_told() {
    let pizzicato = take(QUARTER, &[&with(&[&text(960, 1, "articulation: pizzicato")])]);
    let column = |settings: &Settings, at: usize| {
        let (csv, _) = traced(&pizzicato, settings, 100);
        let mut rows = csv.lines();
        let names: Vec<String> = rows.next().unwrap().split(',').map(str::to_owned).collect();
        let place = names.iter().position(|name| name == "articulation")?;
        rows.nth(at)?.split(',').nth(place).map(str::to_owned)
    };
    let erhu = switched("erhu");
    assert_eq!(column(&erhu, 2).as_deref(), Some("legato"));
    assert_eq!(column(&erhu, 11).as_deref(), Some("pizzicato"));
    assert_eq!(column(&settings("erhu", "generic"), 2), None);
}

#[test]
fn bars_begin_with_the_articulation_that_holds_there_and_end_with_the_usual_one() {
    // Pizzicato in bar 1, bars 2 and 3 without a word.
    let bar = |number: u64| {
        let tick = 1920 * number;
        format!(
            "{tick} 904550, {} 804540, {} 904750, {} 804740",
            tick + 400,
            tick + 480,
            tick + 900
        )
    };
    let line = format!(
        "0 B00150, {}, {}, {}, {}",
        text(0, 1, "articulation: pizzicato"),
        bar(0),
        bar(1),
        bar(2)
    );
    let settings = Settings { bars: Some("2..2".parse().unwrap()), ..switched("erhu") };
    let (said, out) = shaped(&[&line], &settings);
    assert_eq!(said, ["1.1 pizzicato"]);
    assert_eq!(out, [(1920, 5, Some(69)), (3839, 0, Some(69))]);
}
