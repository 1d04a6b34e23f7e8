//! The host's song stops, jumps, loops and starts elsewhere: the engine hears it at that frame.

use polso::engine::Section;
use polso::engine::{Input, Message, Timed};
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use polso::profile::shipped::SHIPPED;
use serde_json::json;

use super::clap::{Clap, NOTE_EFFECT};
use super::project::{project, stored};
use super::room::{Heard, Host, RATE_HZ, Said, Song, Tape, check_equal, without_numbers};
use super::take::{frame, off, on, wheel};
use super::vst3::Vst3;

const TEMPO_BPM: f64 = 120.0;

/// A stretch of time without a jump: where the song is at its first frame, and what is played.
#[derive(Clone)]
pub struct Stretch {
    song: Song,
    frames: u64,
    /// With frames of this stretch.
    events: Vec<(u64, Said)>,
    /// What the engine must hear of the song at the first frame.
    hears: Option<Input>,
}

/// A stretch of some seconds.
pub fn stretch(is_running: bool, beat: f64, seconds: f64, hears: Hears) -> Stretch {
    let hears = match hears {
        Hears::Nothing => None,
        Hears::Song => Some(Input::Song { beat, tempo_bpm: TEMPO_BPM, running: is_running }),
        Hears::Jump => Some(Input::Locate { beat, tempo_bpm: TEMPO_BPM, running: is_running }),
    };
    let song = Song { is_running, ..Song::running(beat, TEMPO_BPM) };
    Stretch { song, frames: frame(seconds), events: Vec::new(), hears }
}

pub enum Hears {
    Nothing,
    Song,
    Jump,
}

impl Stretch {
    /// The same in a host that says the time of its song.
    fn timed(&self) -> Stretch {
        let at_s = Some(self.song.beat * 60.0 / self.song.tempo_bpm);
        Stretch { song: Song { at_s, ..self.song }, ..self.clone() }
    }

    pub fn with(mut self, events: impl IntoIterator<Item = (u64, Said)>) -> Stretch {
        self.events.extend(events);
        self.events.sort_by_key(|(at, _)| *at);
        self
    }
}

/// Plays the stretches; blocks end where a stretch does.
fn play(host: &mut impl Host, block: u64, stretches: &[Stretch]) -> Vec<Heard> {
    let (mut heard, mut begin) = (Vec::new(), 0);
    for Stretch { song, frames, events, .. } in stretches {
        let mut start = 0;
        while start < *frames {
            let end = (start + block).min(*frames);
            let within = events.iter().filter(|(at, _)| (start..end).contains(at));
            let said: Vec<_> = within.map(|(at, said)| ((at - start) as u32, *said)).collect();
            let song = Some(song.after(start, RATE_HZ));
            for (at, said) in host.block((end - start) as u32, &said, song) {
                heard.push(Heard { frame: begin + start + u64::from(at), said });
            }
            start = end;
        }
        begin += frames;
    }
    heard
}

/// The same by the engine, which is told what it must hear.
fn engine(state: &State, stretches: &[Stretch]) -> Vec<Heard> {
    let patches = SlotPatches::of(state).expect("patches");
    let mut engine = Section::prepare(RATE_HZ, patches.first().expect("one"));
    let mut tape = Tape { start: 0, heard: Vec::new() };
    for Stretch { frames, events, hears, .. } in stretches {
        let told = hears.map(|input| Timed { frame: 0, tag: u32::MAX, input });
        let played = events.iter().map(|(at, said)| match said {
            Said::Message(message, number) => {
                let input = Input::Midi(*message);
                Timed { frame: *at as u32, tag: *number as u32, input }
            }
            other => panic!("the song does not say {other:?}"),
        });
        let input: Vec<Timed> = told.into_iter().chain(played).collect();
        engine.process(*frames as u32, &input, &mut tape);
        tape.start += frames;
    }
    tape.heard
}

/// The vibrato goes out as bends, so that chance is heard.
pub fn state() -> State {
    let text = |id: &str| SHIPPED.iter().find(|it| it.id == id).expect("a shipped file").text;
    State::new(text("erhu"), text("perform"), text("wheel"), 1)
}

/// In both formats, for blocks of several lengths, what comes out is what the engine says: whether
/// the host says the time of its song or not.
#[track_caller]
fn check(name: &str, stretches: &[Stretch]) -> Vec<Heard> {
    let timed: Vec<Stretch> = stretches.iter().map(Stretch::timed).collect();
    check_said(&format!("{name}, with its time"), &timed);
    check_said(name, stretches)
}

/// The same, with the time only if the stretches have it.
#[track_caller]
fn check_said(name: &str, stretches: &[Stretch]) -> Vec<Heard> {
    check_project(name, &state(), stretches)
}

/// The same with a project of one's own.
#[track_caller]
pub fn check_project(name: &str, state: &State, stretches: &[Stretch]) -> Vec<Heard> {
    let expected = engine(state, stretches);
    for block in [64, 441, 1024] {
        let mut clap = Clap::load(NOTE_EFFECT);
        assert!(clap.restore(&project(&state.to_text(), &json!({}))));
        clap.activate(RATE_HZ);
        let heard = play(&mut clap, block, stretches);
        check_equal(&format!("{name}, CLAP, blocks of {block}"), &heard, &expected);
        let mut vst3 = Vst3::open("Polso");
        assert!(vst3.restore(&stored(&state.to_text(), &json!({}))));
        let heard = without_numbers(&play(&mut vst3, block, stretches));
        let expected = without_numbers(&expected);
        check_equal(&format!("{name}, VST3, blocks of {block}"), &heard, &expected);
    }
    expected
}

/// A swell, a slur and a note that is still held when two seconds are over.
fn phrase() -> Vec<(u64, Said)> {
    let notes = [on(0.2, 69, 1), on(0.9, 74, 2), off(0.95, 69, 1), off(1.3, 74, 2), on(1.5, 67, 3)];
    let swell = (0..60_u8).map(|step| wheel(0.05 + 0.02 * f64::from(step), 40 + step));
    notes.into_iter().chain(swell).collect()
}

fn note(message: Message) -> bool {
    matches!(message, Message::NoteOn { .. } | Message::NoteOff { .. })
}

/// Notes of what was heard from a frame on: key and whether it begins, with frames since then.
fn notes(heard: &[Heard], from: u64) -> Vec<(u64, Message)> {
    let read = |it: &Heard| match it.said {
        Said::Message(message, _) if note(message) && it.frame >= from => {
            Some((it.frame - from, message))
        }
        _ => None,
    };
    heard.iter().filter_map(read).collect()
}

/// How many outputs are told at one frame.
fn told(heard: &[Heard], at: u64) -> usize {
    let is_told = |it: &&Heard| match it.said {
        Said::Message(message, _) => it.frame == at && !note(message),
        _ => false,
    };
    heard.iter().filter(is_told).count()
}

#[test]
fn a_jump_ends_what_sounds_and_tells_every_output_at_its_first_frame() {
    let jumps = [stretch(true, 0.0, 2.0, Hears::Song).with(phrase()), {
        let events = [wheel(0.1, 90), on(0.5, 72, 4), off(1.0, 72, 4)];
        stretch(true, 16.0, 2.0, Hears::Jump).with(events)
    }];
    let heard = check("a jump", &jumps);
    assert_eq!(
        notes(&heard, frame(2.0))[0],
        (0, Message::NoteOff { channel: 0, key: 67, velocity: 64 })
    );
    assert!(told(&heard, frame(2.0)) >= 2, "outputs are told");
    // A jump back by a sixteenth is one, too.
    let jumps = [
        stretch(true, 8.0, 2.0, Hears::Song).with(phrase()),
        stretch(true, 11.75, 1.0, Hears::Jump),
    ];
    check("a short jump", &jumps);
}

#[test]
fn the_second_and_the_third_pass_of_a_loop_are_identical() {
    let pass = |hears| stretch(true, 8.0, 2.0, hears).with(phrase());
    let lead = stretch(true, 4.0, 2.0, Hears::Song).with([
        wheel(0.1, 100),
        on(0.4, 70, 9),
        off(1.0, 70, 9),
    ]);
    let passes =
        [lead, pass(Hears::Nothing), pass(Hears::Jump), pass(Hears::Jump), pass(Hears::Jump)];
    let heard = check("a loop", &passes);
    let pass = |number: u64| {
        let span = frame(2.0) * number..frame(2.0) * (number + 1);
        let own = heard.iter().filter(|it| span.contains(&it.frame));
        own.map(|it| Heard { frame: it.frame - span.start, ..*it }).collect::<Vec<_>>()
    };
    check_equal("the third pass", &pass(3), &pass(2));
    check_equal("the fourth pass", &pass(4), &pass(2));
    assert!(pass(2).len() > 200, "{} events", pass(2).len());
}

#[test]
fn a_stop_ends_the_songs_notes_and_keeps_keys_struck_while_it_stood() {
    let stretches = [
        stretch(false, 0.0, 0.5, Hears::Song).with([wheel(0.0, 90), on(0.2, 81, 7)]),
        stretch(true, 0.0, 2.0, Hears::Song).with(phrase()),
        // The host takes its song back to the start as it stops.
        stretch(false, 0.0, 1.0, Hears::Song),
        stretch(false, 0.0, 1.0, Hears::Nothing).with([off(0.5, 81, 7)]),
    ];
    let heard = check("a stop", &stretches);
    let ends = notes(&heard, frame(2.5));
    assert_eq!(ends[0], (0, Message::NoteOff { channel: 0, key: 67, velocity: 64 }));
    let (at, last) = ends[1];
    assert!(at >= frame(1.5), "the hand's key ends with the hand: {at}");
    assert_eq!((last, ends.len()), (Message::NoteOff { channel: 0, key: 81, velocity: 64 }, 2));
}

/// What a hand plays while the song runs cannot be told from the song. The stop ends it, and the
/// hand's own off ends nothing more.
#[test]
fn a_key_struck_while_the_song_ran_ends_with_the_stop_and_only_once() {
    let stretches = [
        stretch(true, 0.0, 1.0, Hears::Song).with([wheel(0.0, 90), on(0.2, 81, 7)]),
        stretch(false, 2.0, 1.0, Hears::Song).with([off(0.5, 81, 7)]),
    ];
    let heard = check("a stop", &stretches);
    let ended = (0, Message::NoteOff { channel: 0, key: 81, velocity: 64 });
    assert_eq!(notes(&heard, frame(1.0)), [ended]);
}

#[test]
fn while_the_song_stands_its_place_cuts_no_note() {
    let stretches = [
        stretch(false, 4.0, 0.5, Hears::Song).with([wheel(0.0, 90), on(0.2, 69, 1)]),
        stretch(false, 12.0, 0.5, Hears::Nothing),
        stretch(false, 2.5, 0.5, Hears::Nothing).with([on(0.2, 71, 2), off(0.21, 69, 1)]),
    ];
    let heard = check("standing", &stretches);
    assert_eq!(notes(&heard, 0).len(), 3);
}

#[test]
fn a_start_elsewhere_is_a_jump_and_one_where_it_stopped_is_none() {
    let again = |beat, hears| stretch(true, beat, 2.0, hears).with(phrase());
    let stretches = [
        stretch(true, 0.0, 2.0, Hears::Song).with(phrase()),
        stretch(false, 4.0, 1.0, Hears::Song),
        again(4.0, Hears::Song),
        stretch(false, 8.0, 1.0, Hears::Song),
        stretch(false, 1.0, 1.0, Hears::Nothing),
        again(1.0, Hears::Jump),
    ];
    let heard = check("starts", &stretches);
    assert!(told(&heard, frame(7.0)) >= 2, "outputs are told before the first note");
}

/// A tempo of a host that rounds, and one that is drawn as a curve, are no jumps.
#[test]
fn a_song_that_drifts_is_told_its_place_and_never_jumps() {
    let mut clap = Clap::load(NOTE_EFFECT);
    clap.activate(RATE_HZ);
    let (mut beat, mut offs) = (0.0, 0);
    let start = [wheel(0.0, 90), on(0.0, 69, 1)].map(|(_, said)| (0, said));
    for block in 0..2000_u32 {
        let tempo_bpm = 120.0 + 60.0 * f64::from(block % 400) / 400.0;
        let said = if block == 0 { &start[..] } else { &[] };
        // It says three digits and goes on with all of them.
        let said_bpm = (tempo_bpm * 10.0).round() / 10.0;
        let heard = clap.block(512, said, Some(Song::running(beat, said_bpm)));
        let is_off = |it: &&(u32, Said)| matches!(it.1, Said::Message(Message::NoteOff { .. }, _));
        offs += heard.iter().filter(is_off).count();
        beat = Song::running(beat, tempo_bpm).after(512, RATE_HZ).beat;
    }
    assert_eq!(offs, 0, "the note is held all the time");
}

/// A host may move its song in the midst of a block. The framework then counts from the block's
/// start, and the place that it says is set right by the next block.
#[test]
fn a_jump_in_the_midst_of_a_block_is_one_jump() {
    let mut clap = Clap::load(NOTE_EFFECT);
    clap.activate(RATE_HZ);
    let first = [wheel(0.0, 90), on(0.0, 69, 1)].map(|(_, said)| (0, said));
    clap.block(4096, &first, Some(Song::running(0.0, TEMPO_BPM)));
    let song = Song::running(0.0, TEMPO_BPM).after(4096, RATE_HZ);
    let jump = (3000, Said::Song(Song::running(64.0, TEMPO_BPM)));
    let heard = clap.block(4096, &[jump, (3000, on(0.0, 72, 2).1)], Some(song));
    let notes = |heard: &[(u32, Said)]| {
        let only = |it: &&(u32, Said)| matches!(it.1, Said::Message(message, _) if note(message));
        heard.iter().filter(only).map(|it| (it.0, it.1)).collect::<Vec<_>>()
    };
    let heard = notes(&heard);
    assert_eq!(heard.len(), 2, "{heard:?}");
    assert!(matches!(heard[0], (3000, Said::Message(Message::NoteOff { key: 69, .. }, 1))));
    let song = Song::running(64.0, TEMPO_BPM).after(1096, RATE_HZ);
    let heard = clap.block(4096, &[], Some(song));
    assert_eq!(notes(&heard), [], "the note of the new place sounds on");
}

/// A stretch in a host that reckons the beat as the time that has gone by at the present tempo.
fn reckoned(from_s: f64, tempo_bpm: f64, seconds: f64, hears: fn(f64, f64) -> Input) -> Stretch {
    let beat = from_s * tempo_bpm / 60.0;
    let song = Song { at_s: Some(from_s), ..Song::running(beat, tempo_bpm) };
    Stretch {
        song,
        hears: Some(hears(beat, tempo_bpm)),
        ..stretch(true, beat, seconds, Hears::Nothing)
    }
}

fn told_anew(beat: f64, tempo_bpm: f64) -> Input {
    Input::Song { beat, tempo_bpm, running: true }
}

fn jumped(beat: f64, tempo_bpm: f64) -> Input {
    Input::Locate { beat, tempo_bpm, running: true }
}

/// Each change of its tempo throws the beat, while the samples run on evenly. It was taken for a
/// jump, and cut the note.
#[test]
fn a_host_whose_beat_is_thrown_by_its_tempo_cuts_no_note() {
    let held = [wheel(0.1, 70), on(0.4, 69, 1)];
    let stretches = [
        reckoned(8.0, 120.0, 2.0, told_anew).with(held),
        reckoned(10.0, 90.0, 1.5, told_anew).with([on(0.5, 72, 2), off(0.6, 69, 1)]),
        reckoned(11.5, 180.0, 1.0, told_anew),
        reckoned(12.5, 179.5, 0.5, told_anew).with([off(0.3, 72, 2)]),
        // At the end of its loop it has jumped, whatever the tempo says.
        reckoned(8.0, 120.0, 1.0, jumped).with([on(0.2, 74, 3)]),
        reckoned(9.0, 60.0, 1.0, told_anew).with([off(0.5, 74, 3)]),
    ];
    let heard = check_said("a thrown beat", &stretches);
    let ends: Vec<u64> = notes(&heard, 0)
        .iter()
        .filter(|(_, message)| matches!(message, Message::NoteOff { .. }))
        .map(|(at, _)| *at)
        .collect();
    let expected_s = [2.6, 4.8, 6.5];
    for (at, expected_s) in ends.iter().zip(expected_s) {
        assert!(*at >= frame(expected_s), "{ends:?}");
    }
    assert_eq!(ends.len(), 3);
}

/// It stops, its tempo is changed, and it goes on where it was.
#[test]
fn a_start_at_the_same_time_is_no_jump_however_the_beat_is_reckoned() {
    let standing = |at_s: f64, beat: f64, hears| {
        let pause = stretch(false, beat, 0.5, hears);
        Stretch { song: Song { at_s: Some(at_s), ..pause.song }, ..pause }
    };
    let stretches = [
        reckoned(4.0, 120.0, 2.0, told_anew).with(phrase()),
        standing(6.0, 12.0, Hears::Song),
        reckoned(6.0, 90.0, 2.0, told_anew).with(phrase()),
        standing(8.0, 12.0, Hears::Song),
        reckoned(2.0, 90.0, 2.0, jumped).with(phrase()),
    ];
    check_said("starts", &stretches);
}
