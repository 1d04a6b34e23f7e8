//! A small VST3 host: it loads the built library and plays one of its plugins.
#![allow(unsafe_code, reason = "a host loads a library and talks to it")]
#![allow(clippy::unnecessary_cast, reason = "the type of VST3's numbers differs between systems")]

use std::collections::HashMap;
use std::ffi::c_void;
use std::path::Path;
use std::sync::OnceLock;

use libloading::Library;
use polso::engine::Message;
use vst3::Steinberg::Vst::{
    AudioBusBuffers, AudioBusBuffers__type0, IAudioProcessor, IAudioProcessorTrait, IComponent,
    IComponentTrait, IEditController, IEditControllerTrait, IMidiMapping, IMidiMappingTrait,
    ParameterInfo, ProcessContext, ProcessContext_::StatesAndFlags_, ProcessData, ProcessSetup,
};
use vst3::Steinberg::{
    IBStream, IPluginBaseTrait, IPluginFactory, IPluginFactoryTrait, PClassInfo, kResultOk,
};
use vst3::{ComPtr, ComWrapper, Interface};

use super::lists::{Changes, Events, Stream};
use super::room::{Host, RATE_HZ, Said, Song, library};
use super::vst3_events::{BEND, PRESSURE, data, event, heard};

/// One plugin in its host.
pub struct Vst3 {
    pub component: ComPtr<IComponent>,
    processor: ComPtr<IAudioProcessor>,
    mapping: ComPtr<IMidiMapping>,
    pub controls: HashMap<String, u32>,
    /// Audio in and out of the last block.
    pub audio: (Vec<Vec<f32>>, Vec<Vec<f32>>),
}

/// A library, from which plugins are made while it stays.
pub struct Shelf {
    factory: ComPtr<IPluginFactory>,
    library: Library,
}

impl Shelf {
    /// Loads a library as VST3 asks for.
    pub fn open(path: &Path) -> Shelf {
        // SAFETY: the library is our own build; its doors have these forms in VST3.
        unsafe {
            let library = Library::new(path).expect("a library");
            if let Ok(enter) = library.get::<Enter>(b"ModuleEntry") {
                assert!(enter(std::ptr::null_mut()));
            }
            let door = library.get::<Door>(b"GetPluginFactory").expect("a VST3 library");
            let factory = ComPtr::from_raw(door()).expect("a factory");
            Shelf { factory, library }
        }
    }

    /// Leaves it. Whatever came from it must be gone.
    pub fn close(self) {
        let Shelf { factory, library } = self;
        drop(factory);
        // SAFETY: as VST3 asks for, before the library goes.
        unsafe {
            if let Ok(exit) = library.get::<Exit>(b"ModuleExit") {
                assert!(exit());
            }
        }
        library.close().expect("it is unloaded");
    }

    /// What the factory offers, by name.
    pub fn classes(&self) -> Vec<(String, [i8; 16])> {
        // SAFETY: the factory lives, and writes whole descriptions.
        unsafe {
            let read = |index| {
                let mut info: PClassInfo = std::mem::zeroed();
                assert_eq!(self.factory.getClassInfo(index, &mut info), kResultOk);
                let name: Vec<u8> =
                    info.name.iter().take_while(|it| **it != 0).map(|it| *it as u8).collect();
                (String::from_utf8(name).expect("a name"), info.cid)
            };
            (0..self.factory.countClasses()).map(read).collect()
        }
    }
}

type Door = unsafe extern "system" fn() -> *mut IPluginFactory;
type Enter = unsafe extern "system" fn(*mut c_void) -> bool;
type Exit = unsafe extern "system" fn() -> bool;

/// The library that most tests share; as in a studio, it stays.
pub fn shelf() -> &'static Shelf {
    static SHELF: OnceLock<Shelf> = OnceLock::new();
    SHELF.get_or_init(|| Shelf::open(&library()))
}

// SAFETY: the factory of the framework holds nothing that changes.
unsafe impl Sync for Shelf {}
// SAFETY: likewise.
unsafe impl Send for Shelf {}

impl Vst3 {
    /// Makes a plugin by name and starts it.
    pub fn open(name: &str) -> Vst3 {
        Vst3::of(shelf(), name)
    }

    /// Makes a plugin of a library and starts it.
    pub fn of(shelf: &Shelf, name: &str) -> Vst3 {
        let found = shelf.classes().into_iter().find(|(it, _)| it == name);
        let (_, class) = found.expect("that plugin");
        // SAFETY: the calls follow the order that VST3 asks for.
        unsafe {
            let mut object = std::ptr::null_mut();
            let wanted = IComponent::IID;
            let made = shelf.factory.createInstance(
                class.as_ptr().cast(),
                wanted.as_ptr().cast(),
                &mut object,
            );
            assert_eq!(made, kResultOk, "it is made");
            let component = ComPtr::from_raw(object.cast::<IComponent>()).expect("a component");
            assert_eq!(component.initialize(std::ptr::null_mut()), kResultOk);
            let processor = component.cast::<IAudioProcessor>().expect("a processor");
            let mapping = component.cast::<IMidiMapping>().expect("a mapping");
            let controller = component.cast::<IEditController>().expect("a controller");
            let channels = if name == "Polso" { 0 } else { 2 };
            let audio = (vec![Vec::new(); channels], vec![Vec::new(); channels]);
            let controls = controls(&controller);
            let mut host = Vst3 { component, processor, mapping, controls, audio };
            host.activate(RATE_HZ);
            host
        }
    }

    /// Activates it at a sample rate and starts.
    pub fn activate(&mut self, rate_hz: f64) {
        assert!(self.try_activate(rate_hz), "it activates at {rate_hz} Hz");
    }

    /// The same, if it says yes.
    pub fn try_activate(&mut self, rate_hz: f64) -> bool {
        let mut setup = ProcessSetup {
            processMode: 0,
            symbolicSampleSize: 0,
            maxSamplesPerBlock: 8192,
            sampleRate: rate_hz,
        };
        // SAFETY: the plugin is initialised and not active.
        unsafe {
            assert_eq!(self.processor.setupProcessing(&mut setup), kResultOk);
            let is_active = self.component.setActive(1) == kResultOk;
            if is_active {
                assert_eq!(self.processor.setProcessing(1), kResultOk);
            }
            is_active
        }
    }

    /// Stops and deactivates it.
    pub fn deactivate(&mut self) {
        // SAFETY: it is active, and nobody plays it.
        unsafe {
            self.processor.setProcessing(0);
            self.component.setActive(0);
        }
    }

    /// What the project would keep.
    pub fn save(&mut self) -> Vec<u8> {
        let stream = ComWrapper::new(Stream::default());
        let pointer = stream.to_com_ptr::<IBStream>().expect("a stream");
        // SAFETY: the stream outlives the call.
        assert_eq!(unsafe { self.component.getState(pointer.as_ptr()) }, kResultOk);
        stream.bytes.borrow().clone()
    }

    /// Gives it what a project kept. False if it refuses.
    pub fn restore(&mut self, bytes: &[u8]) -> bool {
        let stream = Stream { bytes: bytes.to_vec().into(), place: 0.into() };
        let pointer = ComWrapper::new(stream).to_com_ptr::<IBStream>().expect("a stream");
        // SAFETY: the stream outlives the call.
        unsafe { self.component.setState(pointer.as_ptr()) == kResultOk }
    }

    /// The control that stands for a controller, as the plugin maps it.
    fn mapped(&self, channel: u8, number: u8) -> u32 {
        let mut id = 0;
        // SAFETY: the plugin writes one number.
        let found = unsafe {
            self.mapping.getMidiControllerAssignment(0, channel.into(), number.into(), &mut id)
        };
        assert_eq!(found, kResultOk, "controller {number} is mapped");
        id
    }
}

impl Drop for Vst3 {
    fn drop(&mut self) {
        self.deactivate();
        // SAFETY: it is not active.
        unsafe { self.component.terminate() };
    }
}

impl Host for Vst3 {
    fn block(&mut self, frames: u32, said: &[(u32, Said)], song: Option<Song>) -> Vec<(u32, Said)> {
        let mut points = Vec::new();
        let mut events = Vec::new();
        for &(frame, said) in said {
            let mut point = |id, value| points.push((id, frame as i32, value));
            match said {
                Said::Control(name, share) => point(self.controls[name], share),
                Said::Message(Message::Controller { channel, number, value }, _) => {
                    point(self.mapped(channel, number), f64::from(value) / 127.0);
                }
                Said::Message(Message::ChannelPressure { channel, value }, _) => {
                    point(self.mapped(channel, PRESSURE), f64::from(value) / 127.0);
                }
                Said::Message(Message::PitchBend { channel, value }, _) => {
                    point(self.mapped(channel, BEND), f64::from(value) / 16_383.0);
                }
                Said::Exclusive(bytes) => events.push((data(frame), Some(bytes))),
                other => events.push((event(frame, other), None)),
            }
        }
        let list = ComWrapper::new(Events(events.into()));
        let answers = ComWrapper::new(Events::default());
        let changes = ComWrapper::new(Changes::new(&points));
        let mut context = context(song);
        let (mut ins, mut outs) =
            (pointers(&mut self.audio.0, frames), pointers(&mut self.audio.1, frames));
        let (mut in_bus, mut out_bus) = (bus(&mut ins), bus(&mut outs));
        let bus_count = i32::from(!ins.is_empty());
        let mut data = ProcessData {
            processMode: 0,
            symbolicSampleSize: 0,
            numSamples: frames as i32,
            numInputs: bus_count,
            numOutputs: bus_count,
            inputs: &mut in_bus,
            outputs: &mut out_bus,
            inputParameterChanges: changes.as_com_ref().expect("changes").as_ptr(),
            outputParameterChanges: std::ptr::null_mut(),
            inputEvents: list.as_com_ref().expect("events").as_ptr(),
            outputEvents: answers.as_com_ref().expect("events").as_ptr(),
            processContext: &mut context,
        };
        // SAFETY: everything that `data` points at outlives the call.
        assert_eq!(unsafe { self.processor.process(&mut data) }, kResultOk);
        let heard: Vec<(u32, Said)> = answers.0.borrow().iter().filter_map(heard).collect();
        heard
    }
}

/// Ids of all controls but those that stand for controllers.
unsafe fn controls(controller: &ComPtr<IEditController>) -> HashMap<String, u32> {
    let mut controls = HashMap::new();
    // SAFETY: the controller lives, and writes whole descriptions.
    unsafe {
        for index in 0..controller.getParameterCount().min(32) {
            let mut info: ParameterInfo = std::mem::zeroed();
            assert_eq!(controller.getParameterInfo(index, &mut info), kResultOk);
            let title: Vec<u16> = info.title.iter().copied().take_while(|it| *it != 0).collect();
            controls.insert(String::from_utf16(&title).expect("a title"), info.id);
        }
    }
    controls
}

fn pointers(channels: &mut [Vec<f32>], frames: u32) -> Vec<*mut f32> {
    let pointer = |channel: &mut Vec<f32>| {
        channel.resize(frames as usize, 0.0);
        channel.as_mut_ptr()
    };
    channels.iter_mut().map(pointer).collect()
}

fn bus(channels: &mut [*mut f32]) -> AudioBusBuffers {
    AudioBusBuffers {
        numChannels: channels.len() as i32,
        silenceFlags: 0,
        __field0: AudioBusBuffers__type0 { channelBuffers32: channels.as_mut_ptr() },
    }
}

fn context(song: Option<Song>) -> ProcessContext {
    // SAFETY: plain numbers, for which zero is a value.
    let mut context: ProcessContext = unsafe { std::mem::zeroed() };
    context.sampleRate = RATE_HZ;
    if let Some(Song { beat, tempo_bpm, is_running, is_recording, at_s }) = song {
        let known = StatesAndFlags_::kTempoValid | StatesAndFlags_::kProjectTimeMusicValid;
        let playing = if is_running { StatesAndFlags_::kPlaying } else { 0 };
        let recording = if is_recording { StatesAndFlags_::kRecording } else { 0 };
        context.state = (known | playing | recording) as u32;
        context.projectTimeMusic = beat;
        context.tempo = tempo_bpm;
        // VST3 has no word for a time that nobody knows.
        context.projectTimeSamples = (at_s.unwrap_or(0.0) * RATE_HZ).round() as i64;
    }
    context
}
