//! The lines of a take through the voice of our own, in one room.

use polso_voice::{LineVoice, NoteEvents, Stage, TICK_SAMPLES_MAX, Timbre, VoiceSetup};

use super::line_player::LinePlayer;

/// How it sounds.
#[derive(Clone, Copy, Debug)]
pub struct OwnSound {
    /// The instrument's sound.
    pub timbre: &'static Timbre,
    /// Samples a second.
    pub rate_hz: u32,
    /// A short room is heard.
    pub has_room: bool,
    /// Hair or air is heard.
    pub has_noise: bool,
}

/// The lines, their voices and the stage that they stand on.
pub struct OwnBand {
    lines: Vec<(LinePlayer, LineVoice)>,
    stage: Box<Stage>,
    events: NoteEvents,
}

impl OwnBand {
    /// Players with their channels, from left to right.
    pub fn new(players: Vec<(LinePlayer, u8)>, sound: &OwnSound) -> OwnBand {
        let rate_hz = f64::from(sound.rate_hz);
        let stage = Box::new(Stage::new(rate_hz, players.len(), sound.has_room));
        let voice = |(player, channel): (LinePlayer, u8)| {
            let OwnSound { timbre, has_noise, .. } = *sound;
            let setup = VoiceSetup { timbre, rate_hz, channel, has_noise };
            (player, LineVoice::new(&setup))
        };
        let lines = players.into_iter().map(voice).collect();
        OwnBand { lines, stage, events: NoteEvents::NONE }
    }

    /// Plays the next millisecond, as long as `out`, left and right.
    pub fn tick(&mut self, out: &mut [[f32; 2]]) {
        for (place, (player, voice)) in self.lines.iter_mut().enumerate() {
            let mut samples = [0.0; TICK_SAMPLES_MAX];
            let samples = &mut samples[..out.len().min(TICK_SAMPLES_MAX)];
            self.events.clear();
            match player.tick(&mut self.events) {
                Some(view) => voice.tick(&view, &self.events, samples),
                None => voice.tick_plain(&self.events, samples),
            }
            self.stage.hear(place, samples);
        }
        self.stage.take(out);
    }

    /// All has been played and has died away.
    pub fn is_over(&self) -> bool {
        let is_done =
            |(player, voice): &(LinePlayer, LineVoice)| player.is_over() && voice.is_silent();
        self.lines.iter().all(is_done) && self.stage.is_silent()
    }
}
