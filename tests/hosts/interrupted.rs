//! The interruptions at random once more, through the door of the built plugin, in both formats.

use polso::engine::{Input, Message, Origin, Sink, Timed};
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use serde_json::{Value, json};

use super::clap::{Clap, NOTE_EFFECT};
use super::interruptions::run;
use super::project::{project, stored, text};
use super::room::{Host, Said, Song};
use super::test_host::{Fault, Plays, RATE_HZ, Receiver};
use super::vst3::Vst3;

/// Each run has its own take, its own seed and a plugin of its own.
const RUNS: u64 = 30;
const OPERATIONS: u32 = 200;

/// What a host can do with its plugin beyond playing it.
trait Rack: Host {
    /// Gives it a project: text and controls.
    fn open(&mut self, text: &str, controls: &Value);
    fn restart(&mut self, rate_hz: f64);
    /// The format can say it.
    fn can_say(message: Message) -> bool;
}

impl Rack for Clap {
    fn open(&mut self, text: &str, controls: &Value) {
        assert!(self.restore(&project(text, controls)));
    }

    fn restart(&mut self, rate_hz: f64) {
        self.deactivate();
        self.activate(rate_hz);
    }

    fn can_say(_: Message) -> bool {
        true
    }
}

impl Rack for Vst3 {
    fn open(&mut self, text: &str, controls: &Value) {
        assert!(self.restore(&stored(text, controls)));
    }

    fn restart(&mut self, rate_hz: f64) {
        self.deactivate();
        self.activate(rate_hz);
    }

    fn can_say(message: Message) -> bool {
        !matches!(message, Message::Program { .. })
    }
}

/// A host that lets its song run through a plugin.
struct Studio<H> {
    host: H,
    song: Song,
    rate_hz: f64,
    is_bypassed: bool,
    /// The panic button has to come up again.
    is_panic_down: bool,
}

impl<H: Rack> Studio<H> {
    fn new(host: H, first: &str) -> Studio<H> {
        let song = Song { is_running: false, ..Song::running(0.0, 120.0) };
        let (is_bypassed, is_panic_down) = (false, false);
        let mut studio = Studio { host, song, rate_hz: RATE_HZ, is_bypassed, is_panic_down };
        studio.host.open(first, &json!({}));
        studio
    }

    /// One block of the host, in which the song goes on.
    fn block(&mut self, start: u32, end: u32, said: &[(u32, Said)], receiver: &mut Receiver) {
        let song = Some(self.song);
        for (frame, said) in self.host.block(end - start, said, song) {
            if let Said::Message(message, _) = said {
                receiver.send(start + frame, message, Origin::Owed);
            }
        }
        self.song = self.song.after(u64::from(end - start), self.rate_hz);
    }

    fn press(&mut self, said: &mut Vec<(u32, Said)>, frame: u32, input: Input) {
        match input {
            Input::Midi(message) | Input::Live(message) => {
                if H::can_say(message) {
                    said.push((frame, Said::Message(message, -1)));
                }
            }
            Input::Panic => {
                said.push((frame, Said::Control("Panic", 1.0)));
                self.is_panic_down = true;
            }
            Input::Bypass(is_bypassed) => {
                said.push((frame, Said::Control("Bypass", f64::from(u8::from(is_bypassed)))));
                self.is_bypassed = is_bypassed;
            }
            other => unreachable!("no host says {other:?}"),
        }
    }
}

impl<H: Rack> Plays for Studio<H> {
    type Files = String;
    // While the song stands its place cuts no note of a hand, nor does a jump of a few frames.
    const HEARS_EVERY_JUMP: bool = false;

    /// The host cuts its block where the song moves.
    fn process(&mut self, length: u32, input: &[Timed], receiver: &mut Receiver) {
        let (mut start, mut said) = (0, Vec::new());
        if std::mem::take(&mut self.is_panic_down) {
            said.push((0, Said::Control("Panic", 0.0)));
        }
        for event in input {
            match event.input {
                Input::Song { beat, tempo_bpm, running }
                | Input::Locate { beat, tempo_bpm, running } => {
                    if event.frame > start {
                        self.block(start, event.frame, &said, receiver);
                        (start, said) = (event.frame, Vec::new());
                    }
                    self.song = Song { is_running: running, ..Song::running(beat, tempo_bpm) };
                }
                input => self.press(&mut said, event.frame - start, input),
            }
        }
        self.block(start, length, &said, receiver);
    }

    /// Another project with the same switch.
    fn load(&mut self, text: &String) {
        self.host.open(text, &json!({ "bypass": { "bool": self.is_bypassed } }));
    }

    fn retime(&mut self, rate_hz: f64) {
        self.rate_hz = rate_hz;
        self.host.restart(rate_hz);
    }
}

/// A receiver with a level, an expression, a bend and keyswitches, held or tapped.
fn receiver(is_held: bool) -> String {
    format!(
        r#"polso = "target"
format = 1

[about]
id = "keys"
names = {{ en = "a receiver with keyswitches" }}
author = "The Polso project"
licence = "MIT OR Apache-2.0"

[bend]
range_semitones = 2

[outputs.dynamics]
address = "cc 7"
hears = "gm2"
rest = 127

[outputs.expression]
address = "cc 11"
hears = "gm2"
rest = 127

[outputs.pitch]
address = "pitch bend"

[legato]
by = "keyswitch"
fresh = 24
quick = 25
joined = 26
slow = 27
slide = 28
held = {is_held}
"#
    )
}

/// The projects that are loaded one over the other.
fn projects() -> Vec<String> {
    let of = |id: &str, is_held| State::new(text(id), &receiver(is_held), text("wheel"), 1);
    let states = ["violin", "erhu"].map(|id| [of(id, false), of(id, true)]).concat();
    for state in &states {
        SlotPatches::of(state).expect("a project that plays");
    }
    states.iter().map(State::to_text).collect()
}

/// One run by a plugin in a host.
fn played<H: Rack>(host: H, seed: u64, fault: Fault) -> Result<u32, String> {
    let projects = projects();
    run(Studio::new(host, &projects[0]), &projects, seed, OPERATIONS, fault)
}

fn clap() -> Clap {
    let mut clap = Clap::load(NOTE_EFFECT);
    clap.activate(RATE_HZ);
    clap
}

fn check<H: Rack>(open: fn() -> H) {
    let mut stops = 0;
    for seed in 0..RUNS {
        match played(open(), seed, Fault::None) {
            Ok(count) => stops += count,
            Err(breach) => panic!("{breach}; `played(…, seed, …)` plays it again"),
        }
    }
    assert!(stops > 400, "{stops} stops are not many");
}

#[test]
fn a_clap_host_that_does_anything_leaves_nothing_sounding() {
    check(clap);
}

#[test]
fn a_vst3_host_that_does_anything_leaves_nothing_sounding() {
    check(|| Vst3::open("Polso"));
}

#[test]
fn a_host_that_loses_an_off_is_caught_and_so_is_one_that_does_not_say_it_stops() {
    for fault in [Fault::LostOff(7), Fault::SilentStop] {
        let found = (0..RUNS).find_map(|seed| Some((seed, played(clap(), seed, fault).err()?)));
        let (seed, breach) = found.expect("the fault is noticed");
        assert!(breach.starts_with(&format!("seed {seed}, ")), "{breach}");
        assert_eq!(played(clap(), seed, fault), Err(breach), "its seed plays it again");
    }
}
