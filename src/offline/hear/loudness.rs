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

#[cfg(test)]
mod tests {
    use super::{LOUDNESS_LUFS, Loudness, LoudnessMeter, PEAK_DBTP_MAX};
    use approx::assert_abs_diff_eq;

    /// A stereo sine of 20 s.
    fn sine(hz: f64, dbfs: f64, rate_hz: u32) -> Loudness {
        let mut meter = LoudnessMeter::new(rate_hz).expect("a meter");
        let turn = std::f64::consts::TAU * hz / f64::from(rate_hz);
        let level = libm::exp10(dbfs / 20.0);
        let frames: Vec<[f32; 2]> = (0..20 * rate_hz)
            .map(|place| [(level * libm::sin(turn * f64::from(place))) as f32; 2])
            .collect();
        meter.hear(&frames).expect("it hears");
        meter.loudness().expect("a loudness")
    }

    /// EBU Tech 3341, cases 1 and 2: a stereo sine of 1 kHz at −23 dBFS reads −23.0 LUFS, one at −33
    /// reads −33.0, within 0.1.
    #[test]
    fn the_meter_reads_the_published_cases() {
        for rate_hz in [44_100, 48_000, 96_000] {
            for dbfs in [-23.0, -33.0] {
                let read = sine(1_000.0, dbfs, rate_hz);
                assert_abs_diff_eq!(read.lufs.expect("a loudness"), dbfs, epsilon = 0.1);
                assert_abs_diff_eq!(read.peak_dbtp, dbfs, epsilon = 0.2);
            }
        }
    }

    #[test]
    fn gains_match_and_keep_the_peaks() {
        let one = |lufs: f64, peak_dbtp: f64| Loudness { lufs: Some(lufs), peak_dbtp };
        let [before, after] = Loudness::matched(&[one(-30.0, -20.0), one(-20.0, -12.0)]);
        assert_eq!((before, after), (LOUDNESS_LUFS + 30.0, LOUDNESS_LUFS + 20.0));
        // The second's peaks stand 25 dB above its loudness: both come down.
        let [before, after] = Loudness::matched(&[one(-30.0, -20.0), one(-35.0, -10.0)]);
        assert_abs_diff_eq!(before - 30.0, after - 35.0, epsilon = 1e-9);
        assert!(-10.0 + after <= PEAK_DBTP_MAX);
        let short = Loudness { lufs: None, peak_dbtp: -1.0 };
        assert_eq!(Loudness::matched(&[short]), [-11.0]);
    }
}
