//! Where a CLAP host plays its plugin: what one thread needs for one block after the other.
#![allow(unsafe_code, reason = "a host talks to its plugin")]

use std::time::{Duration, Instant};

use clack_host::events::event_types::{
    MidiEvent, MidiSysExEvent, NoteExpressionEvent, NoteExpressionType, NoteOffEvent, NoteOnEvent,
    ParamValueEvent, TransportEvent, TransportFlags,
};
use clack_host::events::io::{OutputEventBuffer, TryPushError};
use clack_host::events::spaces::CoreEventSpace;
use clack_host::events::{EventFlags, EventHeader, Pckn};
use clack_host::prelude::*;
use clack_host::process::StartedPluginAudioProcessor;
use clack_host::utils::{BeatTime, ClapId, SecondsTime};
use polso::engine::Message;

use super::clap::{Control, Studio};
use super::room::{Bytes, Edge, Host, Said, Shade, Song};

/// One plugin as its thread has it.
pub struct Booth {
    pub running: Option<StartedPluginAudioProcessor<Studio>>,
    pub controls: Vec<Control>,
    channel_count: usize,
    /// Audio in and out of the last block.
    pub audio: (Vec<Vec<f32>>, Vec<Vec<f32>>),
    events: EventBuffer,
    answers: Answers,
    /// How the plugin wants to go on.
    pub status: Option<ProcessStatus>,
    /// How long `process` took, each block.
    pub spent: Vec<Duration>,
}

/// What the plugin says, read at once: its bytes may be gone a moment later. There is room for all
/// that a test makes it say, since the plugin's thread allocates nothing.
struct Answers {
    said: Vec<(u32, Said)>,
    /// Controls that the plugin turned by itself, since the beginning.
    turned: Vec<(ClapId, f64)>,
}

impl OutputEventBuffer for Answers {
    fn try_push(&mut self, event: &UnknownEvent) -> Result<(), TryPushError> {
        let Answers { said, turned } = self;
        if said.len() == said.capacity() || turned.len() == turned.capacity() {
            return Err(TryPushError::new());
        }
        if let Some(CoreEventSpace::ParamValue(event)) = event.as_core_event() {
            turned.extend(event.param_id().map(|id| (id, event.value())));
        }
        said.extend(heard(event));
        Ok(())
    }
}

impl Booth {
    /// A plugin that nobody plays yet.
    pub fn new(controls: Vec<Control>, channel_count: usize) -> Booth {
        Booth {
            running: None,
            controls,
            channel_count,
            audio: Default::default(),
            events: EventBuffer::new(),
            answers: Answers { said: Vec::with_capacity(8192), turned: Vec::with_capacity(1024) },
            status: None,
            spent: Vec::new(),
        }
    }

    /// The values to which the plugin itself has turned a control.
    pub fn turned(&self, name: &str) -> Vec<f64> {
        let id = self.control(name).id;
        let turned = self.answers.turned.iter().filter(|(it, _)| *it == id);
        turned.map(|(_, value)| *value).collect()
    }

    /// A control by name.
    pub fn control(&self, name: &str) -> &Control {
        self.controls.iter().find(|it| it.name == name).expect("a control of that name")
    }

    fn say(&mut self, frame: u32, said: Said) {
        match said {
            Said::Message(message, number) => say_message(&mut self.events, frame, message, number),
            Said::Expression(kind, key, number, value) => {
                let kind = match kind {
                    Shade::Tuning => NoteExpressionType::Tuning,
                    Shade::Vibrato => NoteExpressionType::Vibrato,
                    Shade::Expression => NoteExpressionType::Expression,
                    Shade::Brightness => NoteExpressionType::Brightness,
                };
                let event = NoteExpressionEvent::new(frame, note(0, key, number), kind, value);
                self.events.push(&event);
            }
            Said::Exclusive(_) => unreachable!("its bytes must stay where they are"),
            Said::Song(song) => self.events.push(&transport(frame, song)),
            Said::Raw(bytes) => self.events.push(&MidiEvent::new(frame, 0, bytes)),
            Said::Note(edge, channel, key, number) => {
                let note = Pckn::from_raw(0, channel, key, number);
                match edge {
                    Edge::Begins => self.events.push(&NoteOnEvent::new(frame, note, 0.7)),
                    Edge::Ends => self.events.push(&NoteOffEvent::new(frame, note, 0.5)),
                }
            }
            Said::Control(name, share) => {
                let Control { id, min, max, .. } = *self.control(name);
                let value = min + share * (max - min);
                let event = ParamValueEvent::new(frame, id, Pckn::match_all(), value);
                self.events.push(&event);
            }
        }
    }
}

impl Host for Booth {
    fn block(&mut self, frames: u32, said: &[(u32, Said)], song: Option<Song>) -> Vec<(u32, Said)> {
        self.events.clear();
        self.answers.said.clear();
        for (frame, said) in said {
            if let Said::Exclusive(bytes) = said {
                // SAFETY: the bytes of `said` outlive the block.
                let event = unsafe { MidiSysExEvent::new(*frame, 0, bytes.get()) };
                self.events.push(&event);
            } else {
                self.say(*frame, *said);
            }
        }
        let transport = song.map(|song| transport(0, song));
        let Booth { running, audio: (ins, outs), channel_count, events, answers, .. } = self;
        ins.resize(*channel_count, Vec::new());
        outs.resize(*channel_count, Vec::new());
        for channel in ins.iter_mut().chain(outs.iter_mut()) {
            channel.resize(frames as usize, 0.0);
        }
        let (mut in_ports, mut out_ports) =
            (AudioPorts::with_capacity(2, 1), AudioPorts::with_capacity(2, 1));
        // SAFETY: without ports there is no buffer that could be too short.
        let bare_in = unsafe { InputAudioBuffers::from_raw_buffers(&[], frames) };
        // SAFETY: likewise.
        let bare_out = unsafe { OutputAudioBuffers::from_raw_buffers(&mut [], frames) };
        let (audio_in, mut audio_out) = if *channel_count == 0 {
            (bare_in, bare_out)
        } else {
            let channels = ins.iter_mut().map(|it| InputChannel::variable(it.as_mut_slice()));
            let channels = AudioPortBufferType::f32_input_only(channels);
            let audio_in = in_ports.with_input_buffers([AudioPortBuffer { latency: 0, channels }]);
            let channels = outs.iter_mut().map(Vec::as_mut_slice);
            let channels = AudioPortBufferType::f32_output_only(channels);
            (audio_in, out_ports.with_output_buffers([AudioPortBuffer { latency: 0, channels }]))
        };
        let (events, mut out) = (events.as_input(), OutputEvents::from_buffer(answers));
        let running = running.as_mut().expect("it runs");
        let start = Instant::now();
        let status =
            running.process(&audio_in, &mut audio_out, &events, &mut out, None, transport.as_ref());
        self.spent.push(start.elapsed());
        self.status = Some(status.expect("it plays"));
        self.answers.said.clone()
    }
}

fn note(channel: u8, key: u8, number: i32) -> Pckn {
    Pckn::from_raw(0, i16::from(channel), i16::from(key), number)
}

fn say_message(events: &mut EventBuffer, frame: u32, message: Message, number: i32) {
    match message {
        Message::NoteOn { channel, key, velocity } => {
            let velocity = f64::from(velocity) / 127.0;
            events.push(&NoteOnEvent::new(frame, note(channel, key, number), velocity));
        }
        Message::NoteOff { channel, key, velocity } => {
            let velocity = f64::from(velocity) / 127.0;
            events.push(&NoteOffEvent::new(frame, note(channel, key, number), velocity));
        }
        other => events.push(&MidiEvent::new(frame, 0, other.bytes().0)),
    }
}

fn heard(event: &UnknownEvent) -> Option<(u32, Said)> {
    let frame = event.header().time();
    let seven_bits = |velocity: f64| (velocity * 127.0).round() as u8;
    let place = |pckn: Pckn| (pckn.raw_channel() as u8, pckn.raw_key() as u8, pckn.raw_note_id());
    let said = match event.as_core_event()? {
        CoreEventSpace::NoteOn(event) => {
            let (channel, key, number) = place(event.pckn());
            let velocity = seven_bits(event.velocity());
            Said::Message(Message::NoteOn { channel, key, velocity }, number)
        }
        CoreEventSpace::NoteOff(event) => {
            let (channel, key, number) = place(event.pckn());
            let velocity = seven_bits(event.velocity());
            Said::Message(Message::NoteOff { channel, key, velocity }, number)
        }
        CoreEventSpace::Midi(event) => {
            Said::Message(Message::from_bytes(&event.data()).expect("a message"), -1)
        }
        CoreEventSpace::MidiSysEx(event) => {
            // SAFETY: the plugin's bytes are there while it says them.
            Said::Exclusive(Bytes::new(unsafe { event.data() }))
        }
        CoreEventSpace::NoteExpression(event) => {
            let (_, key, number) = place(event.pckn());
            let kind = match event.expression_type() {
                Some(NoteExpressionType::Tuning) => Shade::Tuning,
                Some(NoteExpressionType::Vibrato) => Shade::Vibrato,
                // This version of the host's library does not know the name of number 4.
                Some(NoteExpressionType::Expression) | None => Shade::Expression,
                Some(NoteExpressionType::Brightness) => Shade::Brightness,
                Some(_) => return None,
            };
            Said::Expression(kind, key, number, event.value())
        }
        _ => return None,
    };
    Some((frame, said))
}

fn transport(frame: u32, song: Song) -> TransportEvent {
    let zero = BeatTime::from_int(0);
    let mut known = TransportFlags::HAS_TEMPO | TransportFlags::HAS_BEATS_TIMELINE;
    if song.at_s.is_some() {
        known |= TransportFlags::HAS_SECONDS_TIMELINE;
    }
    if song.is_recording {
        known |= TransportFlags::IS_RECORDING;
    }
    TransportEvent {
        header: EventHeader::new_core(frame, EventFlags::empty()),
        flags: if song.is_running { known | TransportFlags::IS_PLAYING } else { known },
        song_pos_beats: BeatTime::from_float(song.beat),
        song_pos_seconds: SecondsTime::from_float(song.at_s.unwrap_or(0.0)),
        tempo: song.tempo_bpm,
        tempo_inc: 0.0,
        loop_start_beats: zero,
        loop_end_beats: zero,
        loop_start_seconds: SecondsTime::from_int(0),
        loop_end_seconds: SecondsTime::from_int(0),
        bar_start: zero,
        bar_number: 0,
        time_signature_numerator: 4,
        time_signature_denominator: 4,
    }
}
