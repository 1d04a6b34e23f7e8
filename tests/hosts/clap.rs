//! A small CLAP host: it loads the built library and plays one of its plugins.
#![allow(unsafe_code, reason = "a host loads a library and talks to it")]

use std::ffi::{CStr, CString};
use std::path::Path;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use clack_extensions::params::{ParamInfoBuffer, PluginParams};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
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
use polso::engine::event::Message;

use super::room::{Bytes, Host, RATE_HZ, Said, Shade, Song, library};

/// The id of the pure note effect.
pub const NOTE_EFFECT: &CStr = c"polso.note-effect";
/// The id of the variant with audio.
pub const THROUGH: &CStr = c"polso.through";
/// The most frames of a block.
pub const FRAMES_MAX: u32 = 8192;

/// Asks for nothing.
struct Silent;

impl SharedHandler<'_> for Silent {
    fn request_restart(&self) {}
    fn request_process(&self) {}
    fn request_callback(&self) {}
}

impl HostHandlers for Silent {
    type Shared<'a> = Silent;
    type MainThread<'a> = ();
    type AudioProcessor<'a> = ();
}

/// What the plugin says, read at once: its bytes may be gone a moment later. There is room for all
/// that a test makes it say, since the plugin's thread allocates nothing.
struct Answers(Vec<(u32, Said)>);

impl OutputEventBuffer for Answers {
    fn try_push(&mut self, event: &UnknownEvent) -> Result<(), TryPushError> {
        if self.0.len() == self.0.capacity() {
            return Err(TryPushError::new());
        }
        self.0.extend(heard(event));
        Ok(())
    }
}

/// A control as the plugin describes it.
#[derive(Clone, Debug)]
pub struct Control {
    pub name: String,
    pub id: ClapId,
    pub min: f64,
    pub max: f64,
    pub default: f64,
}

/// One plugin in its host.
pub struct Clap {
    plugin: PluginInstance<Silent>,
    running: Option<StartedPluginAudioProcessor<Silent>>,
    controls: Vec<Control>,
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

impl Clap {
    /// Loads a plugin and does not activate it yet.
    pub fn load(id: &CStr) -> Clap {
        // Loaded once: as in a studio, it stays while any of its plugins may come back.
        static ENTRY: OnceLock<PluginEntry> = OnceLock::new();
        Clap::of(ENTRY.get_or_init(|| Clap::entry(&library())), id)
    }

    /// The door of a library.
    pub fn entry(library: &Path) -> PluginEntry {
        // SAFETY: the library is our own build of a CLAP plugin.
        unsafe { PluginEntry::load(library) }.expect("a CLAP library")
    }

    /// Makes a plugin of a library and does not activate it yet.
    pub fn of(entry: &PluginEntry, id: &CStr) -> Clap {
        let info = HostInfo::new("Room", "Polso", "", "1").expect("host info");
        let mut plugin =
            PluginInstance::<Silent>::new(|()| Silent, |_| (), entry, id, &info).expect("a plugin");
        let controls = controls(&mut plugin);
        Clap {
            plugin,
            running: None,
            controls,
            channel_count: if id == THROUGH { 2 } else { 0 },
            audio: Default::default(),
            events: EventBuffer::new(),
            answers: Answers(Vec::with_capacity(8192)),
            status: None,
            spent: Vec::new(),
        }
    }

    /// Loads the pure note effect and activates it.
    pub fn open() -> Clap {
        let mut clap = Clap::load(NOTE_EFFECT);
        clap.activate(RATE_HZ);
        clap
    }

    /// Activates it and starts.
    pub fn activate(&mut self, sample_rate: f64) {
        let config = PluginAudioConfiguration {
            sample_rate,
            min_frames_count: 1,
            max_frames_count: FRAMES_MAX,
        };
        let stopped = self.plugin.activate(|_, ()| (), config).expect("it activates");
        self.running = Some(stopped.start_processing().expect("it starts"));
    }

    /// Stops and deactivates it.
    pub fn deactivate(&mut self) {
        let running = self.running.take().expect("it runs");
        self.plugin.deactivate(running.stop_processing());
    }

    /// Resets it while it runs.
    pub fn reset(&mut self) {
        self.running.as_mut().expect("it runs").reset();
    }

    /// Tells it that nobody listens: the project is bounced.
    pub fn bounce(&mut self) {
        let handle = self.plugin.plugin_handle();
        let render = handle.get_extension::<PluginRender>().expect("render modes");
        render.set(&handle, RenderMode::Offline).expect("it bounces");
    }

    /// Every control.
    pub fn controls(&self) -> &[Control] {
        &self.controls
    }

    /// A control by name.
    pub fn control(&self, name: &str) -> &Control {
        self.controls.iter().find(|it| it.name == name).expect("a control of that name")
    }

    /// The present value of a control, in the host's terms.
    pub fn value(&mut self, name: &str) -> f64 {
        let id = self.control(name).id;
        let handle = self.plugin.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        params.get_value(&handle, id).expect("a value")
    }

    /// What a control says at a value.
    pub fn text(&mut self, name: &str, value: f64) -> String {
        let id = self.control(name).id;
        let handle = self.plugin.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        let mut buffer = [0; 128];
        let text = params.value_to_text(&handle, id, value, &mut buffer).expect("a text");
        String::from_utf8(text.to_vec()).expect("UTF-8")
    }

    /// The value that a control reads from a text.
    pub fn read_text(&mut self, name: &str, text: &str) -> Option<f64> {
        let id = self.control(name).id;
        let handle = self.plugin.plugin_handle();
        let params = handle.get_extension::<PluginParams>().expect("parameters");
        params.text_to_value(&handle, id, &CString::new(text).expect("a text"))
    }

    /// What the project would keep.
    pub fn save(&mut self) -> Vec<u8> {
        let handle = self.plugin.plugin_handle();
        let state = handle.get_extension::<PluginState>().expect("state");
        let mut bytes = Vec::new();
        state.save(&handle, &mut bytes).expect("it saves");
        bytes
    }

    /// Gives it what a project kept. False if it refuses.
    pub fn restore(&mut self, mut bytes: &[u8]) -> bool {
        let handle = self.plugin.plugin_handle();
        let state = handle.get_extension::<PluginState>().expect("state");
        state.load(&handle, &mut bytes).is_ok()
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
            Said::Control(name, share) => {
                let Control { id, min, max, .. } = *self.control(name);
                let value = min + share * (max - min);
                let event = ParamValueEvent::new(frame, id, Pckn::match_all(), value);
                self.events.push(&event);
            }
        }
    }
}

impl Drop for Clap {
    fn drop(&mut self) {
        if self.running.is_some() {
            self.deactivate();
        }
    }
}

impl Host for Clap {
    fn block(&mut self, frames: u32, said: &[(u32, Said)], song: Option<Song>) -> Vec<(u32, Said)> {
        self.events.clear();
        self.answers.0.clear();
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
        let Clap { running, audio: (ins, outs), channel_count, events, answers, .. } = self;
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
        self.answers.0.clone()
    }
}

fn controls(plugin: &mut PluginInstance<Silent>) -> Vec<Control> {
    let handle = plugin.plugin_handle();
    let params = handle.get_extension::<PluginParams>().expect("parameters");
    let mut buffer = ParamInfoBuffer::new();
    let mut controls = Vec::new();
    for index in 0..params.count(&handle) {
        let info = params.get_info(&handle, index, &mut buffer).expect("a description");
        controls.push(Control {
            name: String::from_utf8(info.name.to_vec()).expect("UTF-8"),
            id: info.id,
            min: info.min_value,
            max: info.max_value,
            default: info.default_value,
        });
    }
    controls
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
    let known = TransportFlags::HAS_TEMPO | TransportFlags::HAS_BEATS_TIMELINE;
    TransportEvent {
        header: EventHeader::new_core(frame, EventFlags::empty()),
        flags: if song.is_running { known | TransportFlags::IS_PLAYING } else { known },
        song_pos_beats: BeatTime::from_float(song.beat),
        song_pos_seconds: SecondsTime::from_int(0),
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
