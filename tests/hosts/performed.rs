//! What a host heard since its song started is what is printed, at the places where it heard it.

use midly::{MetaMessage, MidiMessage, Smf, TrackEventKind};
use nice_plug::midi::{Channel, Key, NoteEvent, VoiceID};
use nice_plug::prelude::{PluginApi, Transport};
use polso::editor::printing::file::file;
use polso::editor::printing::song::PrintedSong;
use polso::engine::Message;
use polso::host::gatherer::Gatherer;
use polso::host::kept_performance::KeptPerformance;
use polso::offline::midi::{Bars, read};
use polso::offline::peel::shaped_mark;
use polso::offline::record::Marker;

use super::clap::Clap;
use super::in_process::{Exclusive, InProcess};
use super::room::{Host, RATE_HZ, Said, Song};
use super::take::{END, take};

const BLOCK: u32 = 256;
const APIS: [PluginApi; 2] = [PluginApi::Clap, PluginApi::Vst3];
const QUARTER_TICKS: f64 = 960.0;

/// A message and the beat at which the host got it.
type Got = (f64, Message);

/// A host whose song is somewhere.
struct Studio {
    host: InProcess,
    tempo_bpm: f64,
    metre: (i32, i32),
}

impl Studio {
    fn open(api: PluginApi) -> Studio {
        Studio { host: InProcess::open(api), tempo_bpm: 90.0, metre: (3, 4) }
    }

    /// Plays from a beat on; events have frames from there.
    fn play(&mut self, from_beat: f64, frames: u64, events: &[(u64, Message)]) -> Vec<Got> {
        let mut got = Vec::new();
        for start in (0..frames).step_by(BLOCK as usize) {
            let beat = from_beat + start as f64 / RATE_HZ * self.tempo_bpm / 60.0;
            let end = start + u64::from(BLOCK);
            let within = events.iter().filter(|(at, _)| (start..end).contains(at));
            let said: Vec<_> = within.map(|(at, it)| said((at - start) as u32, *it)).collect();
            got.extend(self.block(beat, true, &said));
        }
        got
    }

    /// A block in which the song runs from this beat, or stands.
    fn block(&mut self, beat: f64, runs: bool, said: &[NoteEvent<Exclusive>]) -> Vec<Got> {
        let mut transport = Transport::new(RATE_HZ as f32);
        transport.playing = runs;
        transport.tempo = Some(self.tempo_bpm);
        transport.time_sig_numerator = Some(self.metre.0);
        transport.time_sig_denominator = Some(self.metre.1);
        transport.pos_beats = Some(beat);
        let heard = self.host.block_in(BLOCK, said, transport);
        let beats = |frame: u32| f64::from(frame) / RATE_HZ * self.tempo_bpm / 60.0;
        heard.iter().map(|it| (beat + beats(it.timing()), message(it))).collect()
    }

    /// The song stops; what ends then comes back.
    fn stop(&mut self, beat: f64) -> Vec<Got> {
        self.block(beat, false, &[]).into_iter().map(|(_, message)| (beat, message)).collect()
    }

    fn song(&self) -> PrintedSong {
        self.host.plugin.window_access().with_performance(KeptPerformance::song)
    }
}

fn said(timing: u32, message: Message) -> NoteEvent<Exclusive> {
    let key = |key| Key::Number(key);
    match message {
        Message::NoteOn { channel, key: number, velocity } => NoteEvent::NoteOn {
            timing,
            voice_id: VoiceID::Wildcard,
            channel: Channel::Number(channel),
            key: key(number),
            velocity: f32::from(velocity) / 127.0,
        },
        Message::NoteOff { channel, key: number, velocity } => NoteEvent::NoteOff {
            timing,
            voice_id: VoiceID::Wildcard,
            channel: Channel::Number(channel),
            key: key(number),
            velocity: f32::from(velocity) / 127.0,
        },
        Message::Controller { channel, number, value } => {
            NoteEvent::MidiCC { timing, channel, cc: number, value: f32::from(value) / 127.0 }
        }
        other => panic!("nobody plays {other:?}"),
    }
}

fn message(event: &NoteEvent<Exclusive>) -> Message {
    let seven = |value: f32| (value * 127.0).round() as u8;
    let number = |channel: &Channel| match channel {
        Channel::Number(number) => *number,
        other => panic!("{other:?}"),
    };
    let key_of = |key: &Key| match key {
        Key::Number(number) => *number,
        other => panic!("{other:?}"),
    };
    match event {
        NoteEvent::NoteOn { channel, key, velocity, .. } => Message::NoteOn {
            channel: number(channel),
            key: key_of(key),
            velocity: seven(*velocity),
        },
        NoteEvent::NoteOff { channel, key, velocity, .. } => Message::NoteOff {
            channel: number(channel),
            key: key_of(key),
            velocity: seven(*velocity),
        },
        NoteEvent::MidiCC { channel, cc, value, .. } => {
            Message::Controller { channel: *channel, number: *cc, value: seven(*value) }
        }
        NoteEvent::MidiPitchBend { channel, value, .. } => {
            Message::PitchBend { channel: *channel, value: (value * 16_383.0).round() as u16 }
        }
        NoteEvent::MidiChannelPressure { channel, pressure, .. } => {
            Message::ChannelPressure { channel: *channel, value: seven(*pressure) }
        }
        other => panic!("the line says {other:?}"),
    }
}

fn marker() -> Marker {
    Marker {
        engine: 2,
        instrument: "erhu 0123456789abcdef".to_owned(),
        target: "generic 0123456789abcdef".to_owned(),
        hand: "wheel 0123456789abcdef".to_owned(),
        wishes: None,
        source: "CC1".to_owned(),
        seed: 0,
        imperfection: 1.0,
        lanes: None,
        voices: None,
        bars: None,
        take: "none".to_owned(),
        factor: 1,
    }
}

/// The bytes of a message and its tick, as another reader finds them.
type Placed = (u64, Vec<u8>);
/// All of them, and the first track's meta events.
type Read = (Vec<Placed>, Vec<(u64, String)>);

fn read_back(bytes: &[u8]) -> Read {
    let smf = Smf::parse(bytes).expect("a MIDI file");
    assert_eq!(smf.tracks.len(), 2);
    let (mut messages, mut metas) = (Vec::new(), Vec::new());
    for (number, track) in smf.tracks.iter().enumerate() {
        let mut tick = 0;
        for event in track {
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message } => {
                    messages.push((tick, raw(channel.as_int(), message)));
                }
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => {}
                TrackEventKind::Meta(meta) if number == 0 => {
                    metas.push((tick, format!("{meta:?}")));
                }
                _ => {}
            }
        }
    }
    (messages, metas)
}

fn raw(channel: u8, message: MidiMessage) -> Vec<u8> {
    let mut bytes = Vec::new();
    let event = midly::live::LiveEvent::Midi { channel: channel.into(), message };
    event.write(&mut bytes).expect("bytes");
    bytes
}

/// Every message of the file stands where the host got it, a tick more or less.
#[track_caller]
fn check(name: &str, file: &[Placed], got: &[Got]) {
    assert!(!got.is_empty(), "{name}: the host got nothing");
    for (place, ((tick, bytes), (beat, message))) in file.iter().zip(got).enumerate() {
        let (expected, length) = message.bytes();
        assert_eq!(bytes, &expected[..length], "{name}: message {place} at {tick}, beat {beat}");
        let off = *tick as f64 - beat * QUARTER_TICKS;
        assert!(off.abs() <= 1.0, "{name}: message {place} stands at {tick}, not at beat {beat}");
    }
    assert_eq!(file.len(), got.len(), "{name}");
}

fn takes() -> Vec<(u64, Message)> {
    let message = |(frame, said)| match said {
        Said::Message(message, _) => (frame, message),
        other => panic!("{other:?}"),
    };
    take().into_iter().map(message).collect()
}

fn note(at: u64, key: u8, length: u64) -> [(u64, Message); 2] {
    [
        (at, Message::NoteOn { channel: 0, key, velocity: 90 }),
        (at + length, Message::NoteOff { channel: 0, key, velocity: 64 }),
    ]
}

/// Beats of so many frames of a studio.
fn beats(frames: u64) -> f64 {
    frames as f64 / RATE_HZ * 1.5
}

#[test]
fn what_a_host_got_is_printed_tick_for_tick() {
    for api in APIS {
        let name = format!("{api:?}");
        let mut studio = Studio::open(api);
        let mut got = studio.play(9.0, END, &takes());
        got.extend(studio.stop(9.0 + beats(END)));
        let bytes = file(&studio.song(), None, &marker()).expect("a file");
        let (messages, metas) = read_back(&bytes);
        check(&name, &messages, &got);
        assert_eq!(metas[0], (0, "TimeSignature(3, 2, 24, 8)".to_owned()));
        assert_eq!(metas[1], (0, "Tempo(u24(666667))".to_owned()));
        // The program knows that it is shaped.
        let mark = shaped_mark(&read::read(&bytes).expect("a file")).expect("a marker");
        assert!(mark.contains("instrument erhu"), "{mark}");
    }
}

#[test]
fn a_new_start_forgets_and_tells_what_still_holds() {
    for api in APIS {
        let mut studio = Studio::open(api);
        studio.play(9.0, END, &takes());
        studio.stop(9.0 + beats(END));
        let first = studio.song();
        let start = 30.0;
        let got = studio.play(start, 96_000, &note(12_000, 62, 48_000));
        let (messages, _) = read_back(&file(&studio.song(), None, &marker()).expect("a file"));
        let ticks = (start * QUARTER_TICKS) as u64;
        assert!(messages.iter().all(|(tick, _)| *tick >= ticks), "{api:?}: an old message");
        // What holds from before stands before what was performed.
        let told = messages.len() - got.len();
        assert!(told > 0 && told < 40, "{api:?}: {told} of {}", first.events.len());
        assert!(messages[..told].iter().all(|(tick, _)| *tick == ticks));
        check(&format!("{api:?}"), &messages[told..], &got);
    }
}

/// Keys that are struck in a file, with their beats, and that none is left sounding.
fn struck(file: &[Placed]) -> Vec<(f64, u8)> {
    let mut sounding = Vec::new();
    let mut struck = Vec::new();
    for (tick, bytes) in file {
        match bytes[0] & 0xF0 {
            0x90 if bytes[2] > 0 => {
                sounding.push(bytes[1]);
                struck.push((*tick as f64 / QUARTER_TICKS, bytes[1]));
            }
            0x80 | 0x90 => {
                let place = sounding.iter().position(|key| *key == bytes[1]);
                sounding.swap_remove(place.expect("an on before each off"));
            }
            _ => {}
        }
    }
    assert!(sounding.is_empty(), "{sounding:?} are left sounding");
    struck
}

#[test]
fn a_loops_second_pass_takes_the_place_of_the_first_over_its_bars() {
    for api in APIS {
        let mut studio = Studio::open(api);
        // A note a beat, an eighth long, sixteen beats; the fifth lasts over the loop's beginning.
        let beat = 32_000_u64;
        let notes = |key: u8, count: u64| -> Vec<(u64, Message)> {
            (0..count).flat_map(|place| note(place * beat, key, beat / 2)).collect()
        };
        let mut first = notes(69, 16);
        first.retain(|(at, _)| *at != 5 * beat + beat / 2 && *at != 5 * beat);
        first.extend(note(5 * beat, 71, 2 * beat));
        first.sort_by_key(|(at, _)| *at);
        studio.play(0.0, 16 * beat, &first);
        // Back to beat 6, where the long note sounded, and on for four beats.
        studio.play(6.0, 4 * beat, &notes(64, 4));
        studio.stop(10.0);
        let (messages, _) = read_back(&file(&studio.song(), None, &marker()).expect("a file"));
        for (at, key) in struck(&messages) {
            let expected = match at {
                at if (5.99..9.99).contains(&at) => 64,
                at if (4.99..5.99).contains(&at) => 71,
                _ => 69,
            };
            assert_eq!(key, expected, "{api:?}: at beat {at}");
        }
        assert_eq!(struck(&messages).len(), 16, "{api:?}");
    }
}

#[test]
fn chosen_bars_stand_alone_at_their_place() {
    let mut studio = Studio::open(PluginApi::Clap);
    let beat = 32_000_u64;
    // Over the line from bar 2 to bar 3, and from bar 3 to bar 4.
    let notes = [note(5 * beat, 69, 2 * beat), note(8 * beat, 71, 2 * beat)].concat();
    studio.play(0.0, 12 * beat, &notes);
    studio.stop(12.0);
    let bars: Bars = "3..3".parse().expect("bars");
    let (messages, _) = read_back(&file(&studio.song(), Some(bars), &marker()).expect("a file"));
    let keys = struck(&messages);
    assert_eq!(keys.iter().map(|(_, key)| *key).collect::<Vec<_>>(), [71]);
    let ticks = |bar: u64| bar * 3 * 960;
    let range = ticks(2)..=ticks(3);
    assert!(messages.iter().all(|(tick, _)| range.contains(tick)), "outside of bar 3");
    let nothing = file(&studio.song(), Some("9..9".parse().expect("bars")), &marker());
    assert_eq!(nothing, Err("nothing was performed in the bars 9..9".to_owned()));
}

/// Nobody gathers here: what the ring cannot hold is counted, and the song's places stay.
#[test]
fn what_found_no_room_is_counted_and_said() {
    let mut studio = Studio::open(PluginApi::Clap);
    let passing = |at: u64| Message::Controller { channel: 0, number: 20, value: (at % 128) as u8 };
    let many: Vec<(u64, Message)> = (0..30_000).map(|at| (8 * at, passing(at))).collect();
    let got = studio.play(0.0, 8 * 30_000, &many);
    let song = studio.song();
    assert!(song.lost > 10_000, "{}", song.lost);
    let is_message = |it: &&polso::editor::printing::song::PrintedEvent| {
        matches!(it.what, polso::editor::printing::song::Printed::Message(_))
    };
    let kept = song.events.iter().filter(is_message).count();
    assert_eq!(kept + song.lost as usize, got.len());
    let access = studio.host.plugin.window_access();
    let state = access.with_performance(|performance| performance.state(false));
    assert_eq!(state.lost, song.lost);
}

/// More than the ring holds, without a window: a thread of the plugin's own gathers it.
#[test]
fn what_is_performed_without_a_window_is_gathered_as_it_comes() {
    const PART: u64 = 6_000;
    let mut studio = Studio::open(PluginApi::Clap);
    let gatherer = Gatherer::begin(studio.host.plugin.window_access());
    let passing = |at: u64| Message::Controller { channel: 0, number: 20, value: (at % 128) as u8 };
    let part: Vec<(u64, Message)> = (0..PART).map(|at| (8 * at, passing(at))).collect();
    for number in 0..4 {
        let beat = number as f64 * (8 * PART) as f64 / 32_000.0;
        studio.play(beat, 8 * PART, &part);
        std::thread::sleep(std::time::Duration::from_millis(700));
    }
    drop(gatherer);
    let song = studio.song();
    assert_eq!(song.lost, 0);
    assert!(song.events.len() >= 4 * PART as usize, "{}", song.events.len());
}

/// While something passes as printed, nothing is performed, and what was is kept.
#[test]
fn a_printed_track_takes_nothing_away() {
    let mut studio = Studio::open(PluginApi::Clap);
    studio.play(0.0, 64_000, &note(1_000, 69, 32_000));
    studio.stop(2.0);
    let before = studio.song();
    studio.host.set_printed(true);
    studio.play(0.0, 64_000, &note(1_000, 60, 32_000));
    studio.stop(2.0);
    assert_eq!(studio.song().events, before.events);
}

/// An allocation or a wait in `process` would end the built plugin.
#[test]
fn a_closed_window_costs_the_audio_thread_nothing_that_could_wait() {
    let mut clap = Clap::open();
    let passing = |at: u32| Message::Controller { channel: 0, number: 20, value: (at % 128) as u8 };
    let song = Song::running(0.0, 120.0);
    for block in 0..200_u64 {
        let said: Vec<(u32, Said)> =
            (0..256).map(|at| (at, Said::Message(passing(at), -1))).collect();
        let heard = clap.block(BLOCK, &said, Some(song.after(block * u64::from(BLOCK), RATE_HZ)));
        assert!(heard.len() >= 256, "block {block}");
    }
}
