//! How loud a sound is as a whole (ITU-R BS.1770) and how high its peaks go.

use ebur128::{EbuR128, Mode};

/// The loudness that is aimed at, LUFS: that of broadcasts (EBU R 128).
pub const LOUDNESS_LUFS: f64 = -23.0;
/// No true peak goes above this, decibels of full scale.
pub const PEAK_DBTP_MAX: f64 = -3.0;
/// Peaks are kept so much further down, decibels: the files' whole numbers are a little off.
const PEAK_MARGIN_DB: f64 = 0.1;
/// What is too short or soft to have a loudness has its peak here.
const PEAK_ALONE_DBTP: f64 = -12.0;
/// Nothing sounds.
const NOTHING_DB: f64 = -150.0;

/// Loudness and peak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loudness {
    /// Integrated loudness, LUFS; `None` of what is shorter than 0.4 s or softer than −70.
    pub lufs: Option<f64>,
    /// True peak, decibels of full scale, −150 or above.
    pub peak_dbtp: f64,
}

impl Loudness {
    /// The gains, decibels, at which all of these are equally loud, as near [`LOUDNESS_LUFS`] as their
    /// peaks let them.
    pub fn matched<const N: usize>(all: &[Loudness; N]) -> [f64; N] {
        let room = |one: &Loudness| PEAK_DBTP_MAX - PEAK_MARGIN_DB - one.peak_dbtp;
        let reach = all.iter().filter_map(|one| Some(one.lufs? + room(one)));
        let common = reach.fold(LOUDNESS_LUFS, f64::min);
        all.map(|one| match one.lufs {
            Some(lufs) => common - lufs,
            None => (PEAK_ALONE_DBTP - one.peak_dbtp).min(0.0),
        })
    }
}

/// Listens to a sound from its beginning.
pub struct LoudnessMeter {
    meter: EbuR128,
    samples: Vec<f32>,
}

impl LoudnessMeter {
    /// A meter for two channels; the rate is one that files have.
    pub fn new(rate_hz: u32) -> Result<LoudnessMeter, ebur128::Error> {
        let meter = EbuR128::new(2, rate_hz, Mode::I | Mode::TRUE_PEAK | Mode::HISTOGRAM)?;
        Ok(LoudnessMeter { meter, samples: Vec::new() })
    }

    /// Hears what comes next.
    pub fn hear(&mut self, frames: &[[f32; 2]]) -> Result<(), ebur128::Error> {
        self.samples.clear();
        self.samples.extend(frames.iter().flatten());
        self.meter.add_frames_f32(&self.samples)
    }

    /// What it has heard so far.
    pub fn loudness(&self) -> Result<Loudness, ebur128::Error> {
        let lufs = self.meter.loudness_global()?;
        let peak = self.meter.true_peak(0)?.max(self.meter.true_peak(1)?);
        let peak_dbtp = if peak > 0.0 { 20.0 * libm::log10(peak) } else { NOTHING_DB };
        let peak_dbtp = peak_dbtp.max(NOTHING_DB);
        Ok(Loudness { lufs: lufs.is_finite().then_some(lufs), peak_dbtp })
    }
}
