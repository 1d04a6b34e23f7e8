//! Real polyphony: chorales and string quartets, four parts on one channel, shared out to voices again.
//!
//! The pieces are those of PyPI's music21. Each note is lengthened by 20 ms, as fingers overlap, but never
//! into the same key's next note. A unison cannot be played on one channel: the part that comes second
//! is left out there and counted, as a second note of a double stop is; the part's next note, which has lost
//! what it would join, is played and not judged.

use polso::engine::patch::{NotesPatch, Patch, Source, VoiceKind, VoicesPatch};
use polso::engine::{Input, Message, Mode, Origin, Phrase, Section, Sink, Timed};

use super::readers::{printed_by, python};
use super::rehearsal::patch_with;
use super::sample::{figure, is_whole};

const FRAMES_PER_MS: u64 = 48;
const RATE_HZ: f64 = 48_000.0;
const OVERLAP_MS: u64 = 20;
const PARTS: usize = 4;
/// What a part strikes within so long of its last note is a double stop of one player.
const CHORD_MS: u64 = 35;
/// A step, semitones.
const STEP: u8 = 2;

/// A note of a part, milliseconds.
#[derive(Clone, Copy, Debug, PartialEq)]
struct PartNote {
    part: usize,
    on: u64,
    off: u64,
    key: u8,
    /// The part's note before it was left out.
    is_bereft: bool,
}

struct Piece {
    name: String,
    notes: Vec<PartNote>,
    left_out: usize,
}

/// Pieces by their kind.
fn pieces(kind: &str, count: usize) -> Vec<Piece> {
    let count = (if is_whole() { 10 * count } else { count }).to_string();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/parts.py");
    let text = printed_by(python().args([script, kind, &count, "1"])).expect("music21 answers");
    let text = String::from_utf8(text).expect("text");
    let each = text.split("piece ").skip(1).map(|piece| {
        let (name, notes) = piece.split_once('\n').expect("a name");
        on_one_channel(name, notes.lines().map(note).collect())
    });
    each.collect()
}

fn note(line: &str) -> PartNote {
    let all: Vec<u64> = line.split(' ').map(|word| word.parse().expect("a number")).collect();
    PartNote { part: all[0] as usize, on: all[1], off: all[2], key: all[3] as u8, is_bereft: false }
}

fn on_one_channel(name: &str, mut all: Vec<PartNote>) -> Piece {
    all.sort_by_key(|note| (note.on, note.part));
    let mut notes: Vec<PartNote> = Vec::new();
    let mut is_bereft = [false; PARTS];
    let mut left_out = 0;
    for note in all {
        let sounds =
            |other: &PartNote| other.key == note.key && other.on <= note.on && other.off > note.on;
        let is_stop = |other: &PartNote| other.part == note.part && other.on + CHORD_MS >= note.on;
        let is_unison = notes.iter().rev().take(64).any(|it| sounds(it) || is_stop(it));
        left_out += usize::from(is_unison);
        let own = std::mem::replace(&mut is_bereft[note.part], is_unison);
        if !is_unison {
            notes.push(PartNote { is_bereft: own, ..note });
        }
    }
    for place in 0..notes.len() {
        let PartNote { off, key, .. } = notes[place];
        let mut later = notes[place + 1..].iter().take(64);
        let next = later.find(|next| next.key == key).map_or(u64::MAX, |next| next.on);
        notes[place].off = (off + OVERLAP_MS).min(next).max(notes[place].on + 1);
    }
    Piece { name: name.to_owned(), notes, left_out }
}

/// Each note's mode as it begins, and when its on and off went out, frames.
#[derive(Clone, Copy, Debug, Default)]
struct Heard {
    mode: Option<Mode>,
    on: Option<u64>,
    off: Option<u64>,
}

struct Notebook {
    start: u64,
    heard: Vec<Heard>,
}

impl Sink for Notebook {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        let frame = self.start + u64::from(frame);
        if let Origin::Note(tag) = origin {
            let own = &mut self.heard[tag as usize];
            match message {
                Message::NoteOn { .. } => own.on = Some(frame),
                _ => own.off = Some(frame),
            }
        }
        true
    }
}

/// Plays notes on one channel.
fn play(patch: &Patch, notes: &[PartNote]) -> Vec<Heard> {
    let mut events: Vec<(u64, bool, usize)> = Vec::new();
    for (place, note) in notes.iter().enumerate() {
        events.extend([(note.on, true, place), (note.off, false, place)]);
    }
    events.sort_unstable();
    let mut section = Section::prepare(RATE_HZ, patch);
    let mut out = Notebook { start: 0, heard: vec![Heard::default(); notes.len()] };
    for together in events.chunk_by(|one, other| one.0 == other.0) {
        let frame = together[0].0 * FRAMES_PER_MS;
        section.process((frame - out.start) as u32, &[], &mut out);
        out.start = frame;
        let timed = |&(_, is_on, place): &(u64, bool, usize)| {
            let key = notes[place].key;
            let message = match is_on {
                true => Message::NoteOn { channel: 0, key, velocity: 80 },
                false => Message::NoteOff { channel: 0, key, velocity: 64 },
            };
            Timed { frame: 0, tag: place as u32, input: Input::Midi(message) }
        };
        let gesture = Timed { frame: 0, tag: u32::MAX, input: Input::Gesture(0.5) };
        let first = (out.start == frame && together[0].0 == events[0].0).then_some(gesture);
        let input: Vec<Timed> = first.into_iter().chain(together.iter().map(timed)).collect();
        section.process(1, &input, &mut out);
        out.start += 1;
        let views = (0..section.line_count()).map(|line| section.view_of(line));
        let views: Vec<_> = views.filter(|view| view.phrase != Phrase::Rest).collect();
        for (_, _, place) in together.iter().filter(|event| event.1) {
            let own = views.iter().find(|view| view.key == Some(notes[*place].key));
            out.heard[*place].mode = own.map(|view| view.mode);
        }
    }
    section.process(RATE_HZ as u32, &[], &mut out);
    out.heard
}

/// A violin that has every key, in so many voices.
fn violin(kind: VoiceKind, count: usize) -> Patch {
    let mut patch = patch_with("violin", "generic", Source::Parameter, 1, 0.0);
    patch.notes = NotesPatch { lowest_key: 0, highest_key: 127, ..patch.notes };
    patch.voices = VoicesPatch { kind, count, ..VoicesPatch::LINE };
    patch
}

/// How many notes of each part begin as when the part is played alone, of how many.
fn alike(piece: &Piece, voices: &Patch) -> (usize, usize) {
    let together = play(voices, &piece.notes);
    let (mut same, mut count) = (0, 0);
    for part in 0..PARTS {
        let places: Vec<usize> =
            (0..piece.notes.len()).filter(|place| piece.notes[*place].part == part).collect();
        let own: Vec<PartNote> = places.iter().map(|place| piece.notes[*place]).collect();
        let alone = play(&violin(VoiceKind::Line, 1), &own);
        for (place, alone) in places.into_iter().zip(alone) {
            if piece.notes[place].is_bereft {
                continue;
            }
            let joins = |heard: &Heard| heard.mode.map(|mode| mode != Mode::Fresh);
            assert!(alone.mode.is_some(), "{}: a line plays every note", piece.name);
            count += 1;
            same += usize::from(joins(&together[place]) == joins(&alone));
        }
    }
    (same, count)
}

fn check_alike(kind: &str, count: usize, least: f64) {
    let pieces = pieces(kind, count);
    let (mut same, mut notes, mut left_out) = (0, 0, 0);
    for piece in &pieces {
        let (own, count) = alike(piece, &violin(VoiceKind::Divisi, 4));
        (same, notes, left_out) = (same + own, notes + count, left_out + piece.left_out);
    }
    assert!(notes > 500 && pieces.len() >= count, "{notes} notes of {} {kind}", pieces.len());
    let share = same as f64 / notes as f64;
    let sentence = format!(
        "{} {kind} of music21's corpus, four parts on one channel: {:.2} % of {notes} notes join or \
         begin afresh as when their part is played alone ({left_out} unisons left out)",
        pieces.len(),
        100.0 * share
    );
    println!("{sentence}");
    assert!(share >= least, "{sentence}");
    figure(&format!("parts-{kind}"), &sentence);
}

#[test]
fn the_parts_of_chorales_join_as_when_they_are_played_alone() {
    check_alike("chorales", 60, 0.98);
}

#[test]
fn the_parts_of_quartets_join_as_when_they_are_played_alone() {
    check_alike("quartets", 8, 0.90);
}

/// In chords no note is late or shortened, and a voice that goes by step joins.
#[test]
fn chords_keep_every_note_and_join_every_step() {
    let (mut steps, mut joined) = (0, 0);
    for piece in pieces("chorales", 60) {
        let heard = play(&violin(VoiceKind::Chords, 8), &piece.notes);
        let mut last = [None::<PartNote>; PARTS];
        for (note, heard) in piece.notes.iter().zip(&heard) {
            assert_eq!(heard.on, Some(note.on * FRAMES_PER_MS), "{}: {note:?}", piece.name);
            let off = heard.off.expect("an off");
            let is_struck_again =
                || piece.notes.iter().any(|it| it.key == note.key && it.on * FRAMES_PER_MS == off);
            let is_whole = off >= note.off * FRAMES_PER_MS || is_struck_again();
            assert!(is_whole, "{}: {note:?} ends at {off}", piece.name);
            let before = last[note.part].replace(*note).filter(|_| !note.is_bereft);
            let is_step = before.is_some_and(|before| {
                let by = before.key.abs_diff(note.key);
                before.off > note.on && before.on + 35 < note.on && (1..=STEP).contains(&by)
            });
            steps += usize::from(is_step);
            joined += usize::from(is_step && heard.mode.is_some_and(|mode| mode != Mode::Fresh));
        }
    }
    println!("{joined} of {steps} steps join");
    // Where a part comes in as near, the two would join one key, and one of them cannot.
    assert!(steps > 500 && joined as f64 >= 0.99 * steps as f64, "{joined} of {steps} steps join");
}
