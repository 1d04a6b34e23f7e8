//! A host of the tests: it plays a take, stops, jumps and loops, and listens to what comes out.

use polso_engine::Section;
use polso_engine::patch::Patch;
use polso_engine::{Input, Message, Origin, Sink, Timed};

use crate::rehearsal::{Sent, Tape};

pub use crate::die::Die;
pub use crate::rehearsal::RATE_HZ;

/// Quarter notes a minute.
pub const TEMPO_BPM: f64 = 120.0;

/// A recorded take: messages at their seconds, in order.
pub type Take = Vec<(f64, Message)>;

/// Phrases of slurred and detached notes under a swelling wheel; bends and a pedal if asked for.
pub fn take(die: &mut Die, length_s: f64, is_wild: bool) -> Take {
    let mut take = Take::new();
    let mut now_s = die.between(0.0, 0.3);
    while now_s < length_s {
        for _ in 0..=die.below(4) {
            // Now and then another player's, far below.
            let lowest = if die.below(16) == 0 { 36 } else { 62 };
            let key = lowest + die.below(20) as u8;
            let step_s = [0.1, 0.2, 0.3, 0.6, 1.1][die.below(5) as usize];
            let hold_s = step_s * die.between(0.6, 1.2);
            let velocity = 30 + die.below(98) as u8;
            take.push((now_s, Message::NoteOn { channel: 0, key, velocity }));
            take.push((now_s + hold_s, Message::NoteOff { channel: 0, key, velocity: 64 }));
            now_s += step_s;
        }
        now_s += if is_wild { die.between(0.0, 0.6) } else { die.between(0.8, 1.2) };
    }
    let (speed, phase) = (die.between(0.5, 2.5), die.between(0.0, 6.0));
    let mut last = None;
    for poll in 0..(length_s / 0.008) as u32 {
        let seconds = f64::from(poll) * 0.008;
        let value = (63.5 + 63.5 * libm::sin(seconds * speed + phase)).round() as u8;
        if last != Some(value) {
            last = Some(value);
            take.push((seconds, Message::Controller { channel: 0, number: 1, value }));
        }
    }
    if is_wild {
        for _ in 0..(length_s as u32) {
            let seconds = die.between(0.0, length_s);
            let value = die.below(128) as u8;
            take.push((
                seconds,
                match die.below(5) {
                    0 => Message::PitchBend { channel: 0, value: u16::from(value) << 7 },
                    1 => Message::Program { channel: 0, program: value },
                    2 => Message::Controller { channel: 0, number: 121, value: 0 },
                    _ => Message::Controller { channel: 0, number: 64, value },
                },
            ));
        }
    }
    take.sort_by(|a, b| a.0.total_cmp(&b.0));
    take
}

/// What goes wrong on purpose.
#[derive(Clone, Copy, PartialEq)]
pub enum Fault {
    None,
    /// The host never says that it stops.
    SilentStop,
    /// The receiver loses this note-off, counted from 0.
    LostOff(u32),
}

/// The receiver: keeps what it hears and doubts every note.
pub struct Receiver {
    pub tape: Tape,
    sounding: [[bool; 128]; 16],
    offs: u32,
    fault: Fault,
    /// The first breach.
    pub breach: Option<String>,
}

impl Receiver {
    pub fn new(fault: Fault) -> Receiver {
        let sounding = [[false; 128]; 16];
        Receiver { tape: Tape::default(), sounding, offs: 0, fault, breach: None }
    }

    /// The keys that sound.
    pub fn keys(&self) -> Vec<u8> {
        let on = |key: &u8| self.sounding.iter().any(|keys| keys[usize::from(*key)]);
        (0..128).filter(on).collect()
    }

    /// The last of a kind of message.
    pub fn last<T>(&self, read: impl Fn(Message) -> Option<T>) -> Option<T> {
        self.tape.sent.iter().rev().find_map(|sent| read(sent.message))
    }
}

impl Sink for Receiver {
    fn send(&mut self, frame: u32, message: Message, origin: Origin) -> bool {
        match message {
            Message::NoteOn { channel, key, .. } => {
                let sounds = &mut self.sounding[usize::from(channel)][usize::from(key)];
                if *sounds {
                    self.breach.get_or_insert(format!("key {key} struck twice"));
                }
                *sounds = true;
            }
            Message::NoteOff { channel, key, .. } => {
                self.offs += 1;
                if self.fault == Fault::LostOff(self.offs) {
                    return true;
                }
                let sounds = &mut self.sounding[usize::from(channel)][usize::from(key)];
                if !*sounds {
                    self.breach.get_or_insert(format!("key {key} released twice"));
                }
                *sounds = false;
            }
            _ => {}
        }
        self.tape.send(frame, message, origin)
    }
}

/// Whoever plays: the engine, or the plugin in a host.
pub trait Plays {
    /// What another sound is loaded from.
    type Files;
    /// It hears of every jump, even of one while the song stands, and ends a hand's keys there.
    const HEARS_EVERY_JUMP: bool;
    /// Plays a block. Events are in order of frames.
    fn process(&mut self, length: u32, input: &[Timed], receiver: &mut Receiver);
    /// Another sound.
    fn load(&mut self, files: &Self::Files);
    /// Another sample rate.
    fn retime(&mut self, rate_hz: f64);
}

impl Plays for Section {
    type Files = Patch;
    const HEARS_EVERY_JUMP: bool = true;

    fn process(&mut self, length: u32, input: &[Timed], receiver: &mut Receiver) {
        Section::process(self, length, input, receiver);
    }

    fn load(&mut self, patch: &Patch) {
        Section::load(self, patch);
    }

    fn retime(&mut self, rate_hz: f64) {
        Section::retime(self, rate_hz);
    }
}

/// The host.
pub struct TestHost<'a, P = Section> {
    pub player: P,
    pub receiver: Receiver,
    pub rate_hz: f64,
    pub is_running: bool,
    take: &'a Take,
    /// Where the song stands, frames; and from where to where it loops.
    pub place: u64,
    pub cycle: Option<(u64, u64)>,
    /// Told with the first frame of the next block.
    pending: Vec<Input>,
    /// Frames since the start at which a loop began again.
    pub turns: Vec<u64>,
}

impl<'a, P: Plays> TestHost<'a, P> {
    pub fn new(player: P, take: &'a Take, fault: Fault) -> TestHost<'a, P> {
        TestHost {
            player,
            receiver: Receiver::new(fault),
            rate_hz: RATE_HZ,
            is_running: false,
            take,
            place: 0,
            cycle: None,
            pending: Vec::new(),
            turns: Vec::new(),
        }
    }

    /// Anything, at the first frame of the next block.
    pub fn tell(&mut self, input: Input) {
        self.pending.push(input);
    }

    /// Starts or stops at the present place.
    pub fn run(&mut self, is_running: bool) {
        self.is_running = is_running;
        if is_running || self.receiver.fault != Fault::SilentStop {
            let (beat, tempo_bpm) = (self.beat(self.place), TEMPO_BPM);
            self.tell(Input::Song { beat, tempo_bpm, running: is_running });
        }
    }

    /// Goes to another place, and chases the wheel there, as hosts do.
    pub fn locate(&mut self, place: u64) {
        self.place = place;
        let jump = self.jump(place);
        self.tell(jump);
        let at_s = place as f64 / self.rate_hz;
        let before = self.take.iter().take_while(|(seconds, _)| *seconds < at_s);
        let is_wheel = |m: &Message| matches!(m, Message::Controller { number: 1, .. });
        if let Some(wheel) = before.map(|(_, m)| *m).filter(is_wheel).last() {
            self.tell(Input::Midi(wheel));
        }
    }

    fn jump(&self, place: u64) -> Input {
        let (beat, tempo_bpm) = (self.beat(place), TEMPO_BPM);
        Input::Locate { beat, tempo_bpm, running: self.is_running }
    }

    fn beat(&self, place: u64) -> f64 {
        place as f64 / self.rate_hz * TEMPO_BPM / 60.0
    }

    /// Plays one block.
    pub fn block(&mut self, length: u32) {
        let told = self.pending.drain(..).map(|input| Timed { frame: 0, tag: 9, input });
        let mut input: Vec<Timed> = told.collect();
        let mut done = 0;
        while self.is_running && done < length {
            let left = u64::from(length - done);
            let end = self.cycle.map_or(u64::MAX, |cycle| cycle.1.max(self.place));
            let span = left.min(end - self.place);
            let frame_of = |seconds: f64| (seconds * self.rate_hz).round() as u64;
            let within = |at: u64| (self.place..self.place + span).contains(&at);
            let heard = self.take.iter().map(|(seconds, message)| (frame_of(*seconds), *message));
            input.extend(heard.filter(|(at, _)| within(*at)).map(|(at, message)| Timed {
                frame: done + (at - self.place) as u32,
                tag: 1,
                input: Input::Midi(message),
            }));
            done += span as u32;
            self.place += span;
            if let Some((start, _)) = self.cycle.filter(|_| done < length && self.place == end) {
                self.place = start;
                let input_jump = self.jump(start);
                input.push(Timed { frame: done, tag: 1, input: input_jump });
                self.turns.push(self.receiver.tape.block_frame + u64::from(done));
            }
        }
        self.player.process(length, &input, &mut self.receiver);
        self.receiver.tape.block_frame += u64::from(length);
    }

    /// Plays for a while in blocks of random lengths.
    pub fn play(&mut self, die: &mut Die, seconds: f64) {
        let mut left = (seconds * self.rate_hz).ceil() as u64;
        while left > 0 {
            let length = (1 + die.below(1024)).min(left);
            self.block(length as u32);
            left -= length;
        }
    }

    /// What came out.
    pub fn sent(&self) -> &[Sent] {
        &self.receiver.tape.sent
    }
}
