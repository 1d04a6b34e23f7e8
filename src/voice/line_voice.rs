//! One line's voice: which tone leads, which key begins or joins or ends, and the noise beside them.

use polso_engine::math::fast_math::amplitude;
use polso_engine::{Mode, Phrase, View};

use crate::noise::Noise;
use crate::note_events::{NoteEvent, NoteEvents};
use crate::partials::Spectrum;
use crate::timbre::Timbre;
use crate::tone::{FULL, Goal, Tick, Tone};
use crate::{RATE_HZ, TICK_SAMPLES_MAX};

/// The most tones of a line at once, those that die away too.
pub const TONES_MAX: usize = 8;
/// A tick of the engine.
const TICK_S: f64 = 0.001;
/// Keys that went down within this many ticks of one another are one double stop (DESIGN 4.2).
const TOGETHER_TICKS: u64 = 35;
/// How far the player's bend goes, semitones (General MIDI, RPN 0 before anybody sets it).
const BEND_SEMITONES: f64 = 2.0;
/// A velocity that nothing shapes is heard by the law that GM2 3.3.4 has for volume, 40 log10(v/127) dB.
const VELOCITY_DB: f64 = 40.0;
/// So many decibels are all of a plain note's brightness, as of a shaped one's.
const BRIGHTNESS_DB: f64 = 30.0;

/// What a voice is made with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VoiceSetup {
    /// Its sound.
    pub timbre: &'static Timbre,
    /// Samples a second, within [`RATE_HZ`]; what lies outside is taken as the nearest.
    pub rate_hz: f64,
    /// The channel whose notes are its own, 0..=15.
    pub channel: u8,
    /// Hair or air is heard beside the tone.
    pub has_noise: bool,
}

/// The voice of one line.
#[derive(Clone, Debug)]
pub struct LineVoice {
    setup: VoiceSetup,
    spectrum: Spectrum,
    noise: Noise,
    tones: [Tone; TONES_MAX],
    /// The tone that the layers lead.
    owner: Option<usize>,
    tick: u64,
    noise_level: f64,
    /// What is left of the noise of the last fresh note, 0..=1.
    onset: f64,
}

impl LineVoice {
    /// A voice at rest. Any thread.
    pub fn new(setup: &VoiceSetup) -> LineVoice {
        let rate_hz = setup.rate_hz.max(*RATE_HZ.start()).min(*RATE_HZ.end());
        let setup = VoiceSetup { rate_hz, ..*setup };
        LineVoice {
            setup,
            spectrum: Spectrum::of(setup.timbre, rate_hz),
            noise: Noise::of(&setup.timbre.noise, rate_hz, u32::from(setup.channel)),
            tones: [Tone::SILENT; TONES_MAX],
            owner: None,
            tick: 0,
            noise_level: 0.0,
            onset: 0.0,
        }
    }

    /// Adds one millisecond to `out` (1..=[`crate::TICK_SAMPLES_MAX`] samples; more are left as
    /// they are), as the line's layers say. `events` are the keys that moved within it. Audio thread.
    pub fn tick(&mut self, view: &View, events: &NoteEvents, out: &mut [f64]) {
        let own = events.of(self.setup.channel);
        for event in own.clone().filter(|event| event.velocity > 0) {
            self.begin(view, event.key);
        }
        self.end(own);
        if view.phrase != Phrase::Rest {
            self.follow(view);
        }
        let swing = view.pitch_cents;
        let lead = Goal {
            semitones: view.heard_cents() / 100.0 + BEND_SEMITONES * view.player_bend,
            level_db: view.level_db,
            brightness: view.brightness,
        };
        let (owner, begun) = match self.owner {
            Some(owner) => (owner, self.tones[owner].begun),
            None => (TONES_MAX, 0),
        };
        self.render(out, |place, tone| {
            if !tone.envelope.is_open() && place != owner {
                return tone.goal;
            }
            let key = f64::from(tone.key);
            if place == owner {
                return Goal { semitones: key + lead.semitones, ..lead };
            }
            // The other note of a double stop swings with the owner; a drone stands.
            let is_stopped = tone.begun.abs_diff(begun) <= TOGETHER_TICKS;
            let swing = if is_stopped { swing / 100.0 } else { 0.0 };
            Goal { semitones: key + swing + BEND_SEMITONES * view.player_bend, ..lead }
        });
    }

    /// The same of notes that nothing shapes: each as hard as it was struck, steady, by itself.
    /// Audio thread.
    pub fn tick_plain(&mut self, events: &NoteEvents, out: &mut [f64]) {
        let own = events.of(self.setup.channel);
        for NoteEvent { key, velocity, .. } in own.clone().filter(|event| event.velocity > 0) {
            let level_db = VELOCITY_DB * libm::log10(f64::from(velocity.min(127)) / 127.0);
            let brightness = (1.0 + level_db / BRIGHTNESS_DB).max(0.0);
            let tone = self.fresh(key);
            self.tones[tone].goal = Goal { semitones: f64::from(key), level_db, brightness };
        }
        self.end(own);
        self.render(out, |_, tone| tone.goal);
    }

    /// Nothing sounds, and nothing will until a key goes down. Audio thread.
    pub fn is_silent(&self) -> bool {
        self.noise_level == 0.0 && self.tones.iter().all(Tone::is_silent)
    }

    /// A key goes down: it joins the line if the layers say so, else it begins.
    fn begin(&mut self, view: &View, key: u8) {
        let leads = view.key == Some(key);
        let joins = leads && view.mode != Mode::Fresh;
        let sounding = self.owner.filter(|owner| self.tones[*owner].level() > 0.0);
        if let Some(owner) = sounding.filter(|_| joins) {
            let tone = &mut self.tones[owner];
            tone.key = key;
            tone.begun = self.tick;
            tone.envelope.join(view.mode, self.setup.timbre, TICK_S);
            return;
        }
        let tone = self.fresh(key);
        if leads || self.owner.is_none() {
            self.owner = Some(tone);
        }
    }

    /// A tone of its own for a key; if all sound, that of the softest.
    fn fresh(&mut self, key: u8) -> usize {
        let rank = |place: &usize| {
            let tone = &self.tones[*place];
            let held = if tone.envelope.is_open() { 2.0 } else { 0.0 };
            if tone.is_silent() { -1.0 } else { held + tone.level() }
        };
        let ranked = (0..TONES_MAX).min_by(|one, other| rank(one).total_cmp(&rank(other)));
        let place = ranked.unwrap_or(0);
        if self.owner == Some(place) {
            self.owner = None;
        }
        self.tones[place].begin(key, self.tick);
        self.onset = 1.0;
        place
    }

    /// Keys that lift end the tone that has been held by them for longest.
    fn end(&mut self, events: impl Iterator<Item = NoteEvent>) {
        for event in events.filter(|event| event.velocity == 0) {
            let held = self.tones.iter_mut();
            let held = held.filter(|tone| tone.envelope.is_open() && tone.key == event.key);
            if let Some(tone) = held.min_by_key(|tone| tone.begun) {
                tone.envelope.close();
            }
        }
    }

    /// The layers lead the tone of the line's key, also where it came back without being struck.
    fn follow(&mut self, view: &View) {
        let leads = |tone: &Tone| tone.envelope.is_open() && Some(tone.key) == view.key;
        if self.owner.is_none_or(|owner| !leads(&self.tones[owner]))
            && let Some(place) = self.tones.iter().position(leads)
        {
            self.owner = Some(place);
        }
    }

    fn render(&mut self, out: &mut [f64], goal: impl Fn(usize, &Tone) -> Goal) {
        let count = out.len().min(TICK_SAMPLES_MAX);
        let out = &mut out[..count];
        self.tick += 1;
        if self.is_silent() {
            self.noise.rest();
            return;
        }
        let VoiceSetup { timbre, rate_hz, .. } = self.setup;
        let mut loudest = Loudest { level: 0.0, brightness: 0.0, turn: 0.0, step: 0.0 };
        for (place, tone) in self.tones.iter_mut().enumerate() {
            if tone.is_silent() {
                continue;
            }
            let envelope = tone.envelope.tick(timbre, TICK_S);
            let (turn, goal) = (tone.turn(), goal(place, tone));
            tone.render(&Tick { spectrum: &self.spectrum, rate_hz, envelope }, goal, out);
            if tone.level() > loudest.level {
                let (level, step) = (tone.level(), tone.step());
                loudest = Loudest { level, brightness: goal.brightness, turn, step };
            }
        }
        if self.setup.has_noise {
            self.add_noise(&loudest, out);
        }
    }

    fn add_noise(&mut self, loudest: &Loudest, out: &mut [f64]) {
        let timbre = &self.setup.timbre.noise;
        self.onset *= 1.0 - TICK_S / timbre.onset_s;
        let onset = 1.0 + (amplitude(timbre.onset_db) - 1.0) * self.onset;
        let beside_db = timbre.level_db.at(loudest.brightness.clamp(0.0, 1.0));
        let level = FULL * loudest.level * amplitude(beside_db) * onset;
        let each = 1.0 / out.len() as f64;
        let (from, mut turn) = (self.noise_level, loudest.turn);
        for (place, out) in out.iter_mut().enumerate() {
            turn += loudest.step;
            let within = turn - libm::floor(turn);
            // Strongest as the period begins; its mean power stays near 1.
            let pulse = 1.0 + timbre.pulse * (1.0 - 2.0 * within);
            let level = from + (level - from) * ((place + 1) as f64 * each);
            *out += level * pulse * self.noise.next();
        }
        self.noise_level = level;
    }
}

/// The tone that the noise goes with.
struct Loudest {
    level: f64,
    brightness: f64,
    turn: f64,
    step: f64,
}
