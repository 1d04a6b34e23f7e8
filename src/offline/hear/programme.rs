//! A take made ready to be heard: who plays, how loud, from where to where.

use std::sync::Arc;

use polso_voice::{STAGE_LINES_MAX, TICK_SAMPLES_MAX, Timbre};
use rustysynth::SoundFont;
use thiserror::Error;

use super::line_player::LinePlayer;
use super::loudness::{Loudness, LoudnessMeter};
use super::own_band::{OwnBand, OwnSound};
use super::receiver::heard_by_voice;
use super::soundfont_band::{self, SoundFontBand, SoundFontError};
use crate::offline::Error;
use crate::offline::perform::RATE_HZ;
use crate::offline::take::line::TakeLine;
use crate::offline::take::{PreparedTake, Region, Settings, prepare};
use crate::profile::Instrument;
use crate::profile::instrument::Family;

/// Sample rates that files are made at.
pub const RATES_HZ: std::ops::RangeInclusive<u32> = 44_100..=96_000;
/// The longest take that is heard, minutes: as floats at 96 kHz it fills most of a WAV file.
pub const MINUTES_MAX: u64 = 60;
/// Silence before the take, seconds.
pub const LEAD_S: f64 = 0.5;
/// From silence to full at the beginning, and back where bars end before the take does, seconds.
pub const FADE_S: f64 = 0.6;
const LEAD_TICKS: u64 = (1000.0 * LEAD_S) as u64;
const FADE_TICKS: f64 = 1000.0 * FADE_S;

/// Why nothing is heard.
#[derive(Debug, Error)]
pub enum HearError {
    /// The take or the settings.
    #[error(transparent)]
    Take(#[from] Error),
    /// The SoundFont.
    #[error(transparent)]
    SoundFont(#[from] SoundFontError),
    /// It would take too long.
    #[error("the take lasts {minutes} minutes; allowed is at most {MINUTES_MAX}, so choose --bars")]
    TooLong {
        /// How long it is, rounded up.
        minutes: u64,
    },
    /// Too many lines.
    #[error(
        "the take has {count} lines; allowed is at most {STAGE_LINES_MAX}, so choose with --track"
    )]
    Lines {
        /// How many.
        count: usize,
    },
    /// Several voices of one channel, which a voice of our own does not tell apart.
    #[error(
        "the voice of our own sounds one line of a channel, and {count} voices are asked for: leave out \
         --voices, or give --soundfont"
    )]
    Voices {
        /// How many.
        count: usize,
    },
    /// The loudness cannot be measured.
    #[error("the loudness cannot be measured: {0}")]
    Meter(#[from] ebur128::Error),
}

/// What a take is heard with.
#[derive(Clone)]
pub struct HearSettings {
    /// Instrument and hand; the target is [`super::receiver::TARGET`].
    pub settings: Settings,
    /// The sound of the voice of our own.
    pub timbre: &'static Timbre,
    /// The General MIDI program in a SoundFont, from 0.
    pub program: u8,
    /// Instead of the voice of our own.
    pub soundfont: Option<Arc<SoundFont>>,
    /// Samples a second, within [`RATES_HZ`].
    pub rate_hz: u32,
    /// A room is heard.
    pub has_room: bool,
    /// Hair or air is heard.
    pub has_noise: bool,
}

impl HearSettings {
    /// An instrument through the voice of our own, in its room, 48,000 samples a second.
    pub fn new(settings: Settings, instrument: &Instrument) -> HearSettings {
        let is_bowed = instrument.family == Family::Bowed;
        let lowest_key = instrument.range.hard_keys.0;
        HearSettings {
            settings,
            timbre: Timbre::of(&instrument.about.id, is_bowed, lowest_key),
            program: soundfont_band::program(instrument),
            soundfont: None,
            rate_hz: 48_000,
            has_room: true,
            has_noise: true,
        }
    }
}

/// Which of the two is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rendering {
    /// The take's notes as they were played, plain, each as hard as it was struck.
    Before,
    /// The performed take.
    After,
}

/// A take, who plays it, and the gains at which before and after are equally loud.
pub struct Programme {
    take: PreparedTake,
    hear: HearSettings,
    /// Decibels of [`Rendering::Before`] and [`Rendering::After`].
    gains_db: [f64; 2],
}

impl Programme {
    /// Reads the take in `bytes`, which is not shaped, and listens to it twice to know how loud it is.
    ///
    /// # Errors
    /// Any [`HearError`].
    pub fn prepare(bytes: &[u8], hear: &HearSettings) -> Result<Programme, HearError> {
        let mut hear = hear.clone();
        if hear.soundfont.is_none() {
            let count = hear.settings.patch.voices.count;
            if count > 1 {
                return Err(HearError::Voices { count });
            }
            hear.settings = heard_by_voice(&hear.settings);
        }
        let take = prepare(bytes, &hear.settings)?;
        let (count, end) = (take.lines.len(), end_s(&take));
        if count > STAGE_LINES_MAX {
            return Err(HearError::Lines { count });
        }
        if end > 60.0 * MINUTES_MAX as f64 {
            return Err(HearError::TooLong { minutes: (end / 60.0).ceil() as u64 });
        }
        let mut programme = Programme { take, hear, gains_db: [0.0; 2] };
        let before = programme.listen(Rendering::Before)?;
        let after = programme.listen(Rendering::After)?;
        programme.gains_db = Loudness::matched(&[before, after]);
        Ok(programme)
    }

    /// What the user should know of the take.
    pub fn notices(&self) -> &[String] {
        &self.take.notices
    }

    /// The lines that are heard.
    pub fn lines(&self) -> &[TakeLine] {
        &self.take.lines
    }

    /// Samples a second.
    pub fn rate_hz(&self) -> u32 {
        self.hear.rate_hz
    }

    /// By how much a rendering is made louder, decibels.
    pub fn gain_db(&self, rendering: Rendering) -> f64 {
        self.gains_db[rendering as usize]
    }

    /// A rendering from its beginning: silence, then the take, faded in, at the common loudness.
    ///
    /// # Errors
    /// [`HearError::SoundFont`].
    pub fn pass(&self, rendering: Rendering) -> Result<Pass, HearError> {
        let gain = libm::exp10(self.gain_db(rendering) / 20.0);
        Ok(Pass { gain, fades: true, ..self.plain_pass(rendering)? })
    }

    /// Without gain or fades, to be measured.
    fn plain_pass(&self, rendering: Rendering) -> Result<Pass, HearError> {
        let region = self.take.region;
        let tick = |at: u64| self.take.clock.frame_at(at, RATE_HZ) / u64::from(RATE_HZ / 1000);
        let begins = if region == Region::ALL { 0 } else { tick(region.start) };
        let mut pass = Pass {
            band: self.band(rendering)?,
            rate_hz: self.hear.rate_hz,
            frames: 0,
            tick: 0,
            end_tick: (region.end != u64::MAX).then(|| tick(region.end) - begins + LEAD_TICKS),
            gain: 1.0,
            fades: false,
            is_over: false,
        };
        // The engine has come as far as if it had been heard from the beginning.
        let mut unheard = [[0.0; 2]; TICK_SAMPLES_MAX];
        for _ in 0..begins {
            let count = pass.next_count();
            pass.band.tick(&mut unheard[..count]);
        }
        pass.frames = 0;
        Ok(pass)
    }

    fn listen(&self, rendering: Rendering) -> Result<Loudness, HearError> {
        let mut meter = LoudnessMeter::new(self.hear.rate_hz)?;
        let mut pass = self.plain_pass(rendering)?;
        while let Some(frames) = pass.next(&mut [[0.0; 2]; TICK_SAMPLES_MAX]) {
            meter.hear(frames)?;
        }
        Ok(meter.loudness()?)
    }

    fn band(&self, rendering: Rendering) -> Result<Band, HearError> {
        let HearSettings { settings, soundfont, rate_hz, has_room, .. } = &self.hear;
        let player = |line: &TakeLine| match rendering {
            Rendering::Before => LinePlayer::plain(&self.take, settings, line),
            Rendering::After => LinePlayer::shaped(&self.take, settings, line),
        };
        let lines = self.take.lines.iter();
        if let Some(font) = soundfont {
            let players = lines.map(player).collect();
            let sound = (*rate_hz, *has_room);
            let band = SoundFontBand::new(players, font, self.hear.program, sound)?;
            return Ok(Band::SoundFont(Box::new(band)));
        }
        let HearSettings { timbre, has_noise, .. } = self.hear;
        let players = lines.map(|line| (player(line), line.channel)).collect();
        let sound = OwnSound { timbre, rate_hz: *rate_hz, has_room: *has_room, has_noise };
        Ok(Band::Own(Box::new(OwnBand::new(players, &sound))))
    }
}

/// Where the part of the take that is heard ends, seconds.
fn end_s(take: &PreparedTake) -> f64 {
    let end_tick = take.file.tracks.iter().map(|track| track.end_tick).max().unwrap_or(0);
    take.clock.seconds_at(take.region.end.min(end_tick))
}

enum Band {
    Own(Box<OwnBand>),
    SoundFont(Box<SoundFontBand>),
}

impl Band {
    fn tick(&mut self, out: &mut [[f32; 2]]) {
        match self {
            Band::Own(band) => band.tick(out),
            Band::SoundFont(band) => band.tick(out),
        }
    }

    fn is_over(&self) -> bool {
        match self {
            Band::Own(band) => band.is_over(),
            Band::SoundFont(band) => band.is_over(),
        }
    }
}

/// A rendering on its way, a millisecond at a time.
pub struct Pass {
    band: Band,
    rate_hz: u32,
    /// Frames so far.
    frames: u64,
    /// Milliseconds so far.
    tick: u64,
    /// Where the bars end, milliseconds from the beginning.
    end_tick: Option<u64>,
    gain: f64,
    fades: bool,
    is_over: bool,
}

impl Pass {
    /// Frames of the next millisecond.
    fn next_count(&mut self) -> usize {
        // Whole milliseconds have whole frames in the mean.
        let rate = u64::from(self.rate_hz);
        let ticks = (self.frames * 1000).div_ceil(rate) + 1;
        let until = ticks * rate / 1000;
        let count = (until - self.frames) as usize;
        self.frames = until;
        count
    }

    /// The next millisecond, in `room`, left and right; `None` when all has been heard.
    pub fn next<'a>(
        &mut self,
        room: &'a mut [[f32; 2]; TICK_SAMPLES_MAX],
    ) -> Option<&'a [[f32; 2]]> {
        if self.is_over {
            return None;
        }
        let count = self.next_count();
        let out = &mut room[..count];
        out.fill([0.0; 2]);
        if self.tick >= LEAD_TICKS {
            self.band.tick(out);
            self.is_over = self.band.is_over();
        }
        let (from, to) = (self.gain_at(self.tick), self.gain_at(self.tick + 1));
        for (place, frame) in out.iter_mut().enumerate() {
            let gain = from + (to - from) * (place as f64 / count as f64);
            *frame = frame.map(|sample| (gain * f64::from(sample)) as f32);
        }
        self.tick += 1;
        self.is_over |= self.fade_out(self.tick) == 0.0;
        Some(out)
    }

    fn gain_at(&self, tick: u64) -> f64 {
        if !self.fades {
            return self.gain;
        }
        self.gain * smooth(tick as f64 / FADE_TICKS) * self.fade_out(tick)
    }

    /// 1 up to where the bars end, then down.
    fn fade_out(&self, tick: u64) -> f64 {
        let past = self.end_tick.map_or(0, |end| tick.saturating_sub(end));
        smooth(1.0 - past as f64 / FADE_TICKS)
    }
}

/// sm(u) = u²(3 − 2u).
fn smooth(share: f64) -> f64 {
    let share = share.clamp(0.0, 1.0);
    share * share * (3.0 - 2.0 * share)
}
