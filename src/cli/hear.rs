//! Makes a take audible, as it will be performed or as it was played.

use std::path::{Path, PathBuf};

use super::answer::{self, Answer, stored};
use super::performer::TakenAs;
use polso::offline::hear::{
    Bits, HearError, HearSettings, LEAD_S, Programme, RATES_HZ, RecordedTake, Rendering, TARGET,
    WavError, read_soundfont, recorded, write_wav,
};
use polso::offline::{Request, save};
use polso::profile::{Instrument, load};
#[cfg(feature = "sound")]
use polso::sound::{
    CEILING_DBFS, Device, FADER_DB, FADER_DB_MAX, FADER_DB_MIN, Played, Speaker, play,
};
#[cfg(feature = "sound")]
use polso_voice::TICK_SAMPLES_MAX;
use serde_json::json;
#[cfg(feature = "sound")]
use std::sync::atomic::{AtomicBool, Ordering};

/// Samples a second of a file, unless asked otherwise.
const RATE_HZ: u32 = 48_000;

/// Hear a take as it will be performed
#[derive(clap::Args)]
pub struct HearOptions {
    /// The recorded take, or a shaped file; - is standard input
    #[arg(value_name = "IN.mid")]
    input: PathBuf,
    /// Where the sound goes, a WAV file; - is standard output. Without it the take is played at once
    #[arg(short, long, value_name = "OUT.wav")]
    output: Option<PathBuf>,
    /// The instrument: a shipped name (see list) or a file [default: the one that a shaped file was
    /// shaped with]
    #[arg(short, long, value_name = "NAME")]
    instrument: Option<String>,
    #[command(flatten)]
    taken: TakenAs,
    /// The notes as they were played instead, plain and steady, to compare
    #[arg(long)]
    before: bool,
    /// Without the room
    #[arg(long)]
    dry: bool,
    /// Through this SoundFont instead of our own voice
    #[arg(long, value_name = "F.sf2")]
    soundfont: Option<PathBuf>,
    /// Samples a second: 44100 to 96000 [default: 48000; played at once, what the output likes]
    #[arg(long, value_name = "HZ")]
    rate: Option<u32>,
    /// Bits of a sample: 16, 24 or float
    #[arg(long, value_name = "BITS", default_value = "24")]
    bits: String,
    /// Played at once: how far up the fader goes, -60 to 0 decibels
    #[cfg(feature = "sound")]
    #[arg(long, value_name = "DB", default_value_t = FADER_DB, allow_hyphen_values = true)]
    fader: f64,
    /// Overwrite the output
    #[arg(long)]
    force: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &HearOptions) -> Answer {
    hear(options).unwrap_or_else(|answer| answer)
}

fn hear(options: &HearOptions) -> Result<Answer, Answer> {
    let HearOptions { input, output, rate, bits, force, .. } = options;
    if let Some(rate) = rate.filter(|rate| !RATES_HZ.contains(rate)) {
        let (least, most) = (RATES_HZ.start(), RATES_HZ.end());
        return Err(Answer::bad_input(format!("--rate is {rate}; allowed is {least} to {most}")));
    }
    let bits = sample_bits(bits).map_err(Answer::bad_input)?;
    let Some(output) = output else { return at_once(options) };
    save::check_output(input, output, *force).map_err(stored)?;
    let Prepared { programme, rendering, notices } = prepare(options, rate.unwrap_or(RATE_HZ))?;
    let written = write_wav(&programme, rendering, bits, (output, *force));
    let written = written.map_err(|error| match error {
        WavError::Save(error) => stored(error),
        error => Answer::bad_input(error),
    })?;
    let loudness = written.loudness;
    let sound = Sound {
        output: Some(output),
        duration_s: Some(written.duration_s),
        peak_dbtp: Some(loudness.peak_dbtp),
        loudness_lufs: loudness.lufs,
    };
    let text = sound.told(options, &programme, &notices);
    Ok(if save::is_standard(output) { Answer::aside(text) } else { Answer::fine(text) })
}

/// A programme, which part of it is heard, and what the user should know.
struct Prepared {
    programme: Programme,
    rendering: Rendering,
    notices: Vec<String>,
}

fn prepare(options: &HearOptions, rate_hz: u32) -> Result<Prepared, Answer> {
    let bytes = answer::take(&options.input)?;
    let about = |error: &dyn std::fmt::Display| answer::about(&options.input, error.to_string());
    let wishes = options.taken.wishes().map_err(Answer::bad_input)?;
    let shaped = recorded(&bytes, wishes.as_deref()).map_err(|error| about(&error))?;
    let (bytes, request, mut notices) = match shaped {
        Some(RecordedTake { take, request, notices }) => {
            let request = match &options.instrument {
                Some(instrument) => options.taken.request(instrument, TARGET),
                None => request
                    .map_err(|what| {
                        format!("the file is shaped, but {what}; or choose anew with -i")
                    })
                    .and_then(|request| options.taken.beside(request)),
            };
            (take, request.map_err(|error| about(&error))?, notices)
        }
        None => (bytes, chosen(options).map_err(Answer::bad_input)?, Vec::new()),
    };
    let mut settings = settings(options, &request).map_err(Answer::bad_input)?;
    settings.rate_hz = rate_hz;
    let programme = Programme::prepare(&bytes, &settings).map_err(|error| match error {
        HearError::Take(_) => about(&error),
        error => Answer::bad_input(error),
    })?;
    notices.extend(programme.notices().iter().cloned());
    let rendering = if options.before { Rendering::Before } else { Rendering::After };
    Ok(Prepared { programme, rendering, notices })
}

/// Of a take that is not shaped nobody but the user knows the instrument.
fn chosen(options: &HearOptions) -> Result<Request, String> {
    let instrument = options.instrument.as_deref();
    let instrument = instrument.ok_or("the take says no instrument; choose one with -i")?;
    options.taken.request(instrument, TARGET)
}

fn settings(options: &HearOptions, request: &Request) -> Result<HearSettings, String> {
    let instrument = load::<Instrument>(&request.instrument).map_err(|error| error.to_string())?;
    let mut hear = HearSettings::new(options.taken.settings(request)?, &instrument.profile);
    hear.has_room = !options.dry;
    let font = options.soundfont.as_deref().map(read_soundfont).transpose();
    hear.soundfont = font.map_err(|error| error.to_string())?;
    Ok(hear)
}

fn sample_bits(text: &str) -> Result<Bits, String> {
    match text {
        "16" => Ok(Bits::Sixteen),
        "24" => Ok(Bits::TwentyFour),
        "float" => Ok(Bits::Float),
        text => Err(format!("--bits is {text}; allowed is 16, 24 or float")),
    }
}

/// What was made.
struct Sound<'a> {
    output: Option<&'a Path>,
    duration_s: Option<f64>,
    peak_dbtp: Option<f64>,
    loudness_lufs: Option<f64>,
}

impl Sound<'_> {
    fn told(&self, options: &HearOptions, programme: &Programme, notices: &[String]) -> String {
        let lines = programme.lines().iter();
        if options.json {
            let line = |track: usize, channel: u8, notes: usize| json!({ "track": track + 1, "channel": channel + 1, "notes": notes });
            let lines = lines.map(|it| line(it.track, it.channel, it.note_count));
            let object = json!({
                "output": self.output.map(|output| output.to_string_lossy()),
                "before": options.before,
                "duration_s": self.duration_s,
                "lead_s": LEAD_S,
                "peak_dbtp": self.peak_dbtp,
                "loudness_lufs": self.loudness_lufs,
                "rate_hz": programme.rate_hz(),
                "lines": lines.collect::<Vec<_>>(),
                "notices": notices,
            });
            return format!("{object}\n");
        }
        let mut text = String::new();
        for it in lines {
            let (track, channel, notes) = (it.track + 1, it.channel + 1, it.note_count);
            text += &format!("line       track {track}, channel {channel}: {notes} notes\n");
        }
        if let (Some(length), Some(peak)) = (self.duration_s, self.peak_dbtp) {
            let (minutes, seconds) = ((length / 60.0) as u64, length % 60.0);
            let loudness = match self.loudness_lufs {
                Some(lufs) => format!("{lufs:.1} LUFS"),
                None => "too short for a loudness".to_owned(),
            };
            text +=
                &format!("sound      {minutes}:{seconds:04.1}, {loudness}, peak {peak:.1} dBTP\n");
        }
        for notice in notices {
            text += &format!("note       {notice}\n");
        }
        text
    }
}

#[cfg(not(feature = "sound"))]
fn at_once(_: &HearOptions) -> Result<Answer, Answer> {
    let build = "cargo build --release --features sound";
    Err(Answer::bad_input(format!(
        "this build makes files only: give one with -o OUT.wav, or build with sound: {build} (on \
         Debian it needs libasound2-dev)"
    )))
}

/// Plays the take through the system's output, until it ends or Ctrl-C fades it out.
#[cfg(feature = "sound")]
fn at_once(options: &HearOptions) -> Result<Answer, Answer> {
    let fader = options.fader;
    if !(FADER_DB_MIN..=FADER_DB_MAX).contains(&fader) {
        let allowed = format!("allowed is {FADER_DB_MIN} to {FADER_DB_MAX}");
        return Err(Answer::bad_input(format!("--fader is {fader}; {allowed}")));
    }
    let speaker = Speaker::find().map_err(Answer::bad_input)?;
    let likes = speaker.rate_hz().clamp(*RATES_HZ.start(), *RATES_HZ.end());
    let rate_hz = options.rate.unwrap_or(likes);
    let Prepared { programme, rendering, notices } = prepare(options, rate_hz)?;
    let mut pass = programme.pass(rendering).map_err(Answer::bad_input)?;
    static STOPS: AtomicBool = AtomicBool::new(false);
    ctrlc::set_handler(|| STOPS.store(true, Ordering::Release)).map_err(Answer::bad_input)?;
    eprintln!(
        "Mind your ears: monitors down and headphones off at first. The fader is at {fader} dB \
         (--fader), peaks stay below {CEILING_DBFS} dBFS, Ctrl-C fades out."
    );
    let played = play(&speaker, rate_hz, fader, &STOPS, |frames| {
        // A hundredth of a second at a time.
        for _ in 0..10 {
            let mut room = [[0.0; 2]; TICK_SAMPLES_MAX];
            frames.extend(pass.next(&mut room).unwrap_or_default());
        }
    });
    let Played { made_s, missed_frames, .. } = played.map_err(Answer::bad_input)?;
    let sound =
        Sound { output: None, duration_s: Some(made_s), peak_dbtp: None, loudness_lufs: None };
    let mut notices = notices;
    if missed_frames > 0 {
        notices.push(format!("{missed_frames} frames came too late: the machine was busy"));
    }
    Ok(Answer::fine(sound.told(options, &programme, &notices)))
}
