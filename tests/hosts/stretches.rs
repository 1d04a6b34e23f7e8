//! What a project asks of stretches of its song is played in both formats, through loops and jumps, and
//! is what a table beside a file says.

use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use polso::offline::midi::{Bytes, Division, File, Track, TrackEvent, read::read, write::write};
use polso::offline::{Request, shape_bytes};
use polso::profile::wish::SongStretch;

use super::room::{Heard, Said, without_numbers};
use super::song::{Hears, Stretch, check_project, state, stretch};
use super::take::{frame, off, on, wheel};

const WISHES: &str = "softer 3 dB over 1 beat, vibrato 70 %, slower vibrato 0.5 Hz, legato slow";

fn asking(wishes: &str) -> State {
    let mut state = state();
    state.set_stretches(&[SongStretch {
        from_beat: 8.0,
        to_beat: 16.0,
        metre_beat: 1.0,
        wishes: wishes.to_owned(),
    }]);
    state
}

/// A slur of two long notes from the first frame on.
fn phrase() -> Vec<(u64, Said)> {
    vec![wheel(0.0, 90), on(0.1, 62, 1), on(1.4, 64, 2), off(1.42, 62, 1), off(2.6, 64, 2)]
}

fn song() -> Vec<Stretch> {
    vec![
        stretch(true, 6.0, 3.0, Hears::Song).with(phrase()),
        stretch(true, 6.0, 3.0, Hears::Jump).with(phrase()),
        stretch(true, 6.0, 3.0, Hears::Jump).with(phrase()),
        stretch(true, 30.0, 3.0, Hears::Jump).with(phrase()),
    ]
}

fn within(heard: &[Heard], pass: u64) -> Vec<Heard> {
    let start = frame(3.0) * pass;
    let own = heard.iter().filter(|it| (start..start + frame(3.0)).contains(&it.frame));
    own.map(|it| Heard { frame: it.frame - start, ..*it }).collect()
}

#[test]
fn a_stretch_sounds_in_both_formats_and_in_every_pass_of_a_loop() {
    let plain = check_project("plain", &state(), &song());
    let asked = check_project("stretch", &asking(WISHES), &song());
    assert_ne!(within(&plain, 1), within(&asked, 1));
    let passes = [1, 2].map(|pass| without_numbers(&within(&asked, pass)));
    assert_eq!(passes[0], passes[1]);
    // Far behind it nothing is asked.
    assert_eq!(within(&plain, 3), within(&asked, 3));
}

/// A wheel, and two slurred notes from bar 3 on, where the stretch begins; ticks of a quarter's 960th.
const NOTES: [(u64, [u8; 3]); 5] = [
    (0, [0xB0, 1, 90]),
    (6_720, [0x90, 62, 90]),
    (9_600, [0x90, 64, 90]),
    (9_650, [0x80, 62, 64]),
    (15_000, [0x80, 64, 64]),
];

/// The messages that a table's words make of the notes, in order.
fn in_a_file(table: &str) -> Vec<[u8; 3]> {
    let event = |(tick, bytes): (u64, [u8; 3])| TrackEvent { tick, bytes: Bytes::from(&bytes[..]) };
    let track = Track { events: NOTES.map(event).into(), end_tick: 16_000 };
    let bytes = write(&File {
        format: 0,
        division: Division::Quarter(960),
        header_rest: Vec::new(),
        tracks: vec![track],
        foreign: Vec::new(),
        tail: Vec::new(),
    })
    .expect("a file");
    let wishes = Some(table.to_owned());
    let request = Request { seed: 1, wishes, ..Request::new("erhu", "perform") };
    let shaped =
        shape_bytes(&bytes, &request.settings().expect("settings")).expect("a shaped take");
    let file = read(&shaped.bytes).expect("a file");
    let events = file.tracks.iter().flat_map(|track| &track.events);
    events.filter_map(|event| event.message()).map(|message| message.bytes().0).collect()
}

#[test]
fn a_project_and_a_table_of_the_same_words_ask_the_same() {
    let said = NOTES.map(|(tick, [status, key, value])| {
        let seconds = tick as f64 / 1920.0;
        match status {
            0xB0 => wheel(seconds, value),
            0x90 => on(seconds, key, i32::from(key)),
            _ => off(seconds, key, i32::from(key)),
        }
    });
    let song = [stretch(true, 0.0, 8.4, Hears::Song).with(said)];
    let in_a_host = |wishes: &str| -> Vec<[u8; 3]> {
        let heard = check_project("as a file", &asking(wishes), &song);
        let message = |it: &Heard| match it.said {
            Said::Message(message, _) => Some(message.bytes().0),
            _ => None,
        };
        heard.iter().filter_map(message).collect()
    };
    let [file, host] = [in_a_file(&format!("3..4: {WISHES}")), in_a_host(WISHES)];
    let from = |all: &[[u8; 3]]| {
        let first = all.iter().position(|bytes| bytes[0] == 0x90).expect("a note");
        all[first..].iter().take(850).copied().collect::<Vec<_>>()
    };
    assert_eq!(from(&file).len(), 850);
    assert_eq!(from(&file), from(&host));
    assert_ne!(from(&file), from(&in_a_file("")));
}

#[test]
fn stretches_that_nobody_could_play_are_told_and_what_plays_goes_on() {
    let stretch = |from_beat, to_beat, wishes: &str| {
        let mut state = state();
        state.set_stretches(&[SongStretch {
            from_beat,
            to_beat,
            metre_beat: 1.0,
            wishes: wishes.to_owned(),
        }]);
        state
    };
    let read = |state: &State| {
        let state = State::parse(&state.to_text()).map_err(|error| error.to_string())?;
        SlotPatches::of(&state)?;
        Ok::<_, String>(state.stretches().len())
    };
    assert_eq!(read(&stretch(8.0, 16.0, "softer 3 dB, pressed")), Ok(1));
    assert_eq!(read(&state()), Ok(0));
    let allowed = "it must be a list of at most 128 stretches with from_beat, to_beat (0 to 864000, \
        rising) and wishes";
    for state in [stretch(8.0, 8.0, "open"), stretch(-1.0, 8.0, "open"), stretch(0.0, 1e9, "open")]
    {
        let refused = read(&state).expect_err("no stretch");
        assert!(refused.starts_with("stretches of the state is [{"), "{refused}");
        assert!(refused.ends_with(allowed), "{refused}");
    }
    let loud = read(&stretch(8.0, 16.0, "loud")).expect_err("no wish");
    assert!(loud.starts_with("wish is `loud`; allowed is vibrato N %"), "{loud}");
    let many = vec!["softer 0.1 dB"; 129].join(", ");
    let many = read(&stretch(8.0, 16.0, &many)).expect_err("too many");
    assert_eq!(many, "the song's stretches ask for more; allowed is 128");
    // What no stretch asks any more leaves no trace.
    let mut empty = stretch(8.0, 16.0, "open");
    empty.set_stretches(&[]);
    assert_eq!(empty, state());
}
