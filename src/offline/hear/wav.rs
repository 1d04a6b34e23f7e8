//! Writes what is heard as a WAV file, whole or not at all.

use std::io::{BufWriter, Read, Seek};
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};
use polso_voice::TICK_SAMPLES_MAX;
use thiserror::Error;

use super::loudness::{Loudness, LoudnessMeter};
use super::programme::{HearError, Programme, Rendering};
use crate::offline::save::{SafeWriter, SaveError};

/// How a sample is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bits {
    /// Whole numbers of 16 bits, with a noise of one step so that soft tones do not grow rough.
    Sixteen,
    /// Whole numbers of 24 bits.
    TwentyFour,
    /// Floating point of 32 bits.
    Float,
}

/// Why there is no file.
#[derive(Debug, Error)]
pub enum WavError {
    /// What is heard.
    #[error(transparent)]
    Hear(#[from] HearError),
    /// The place.
    #[error(transparent)]
    Save(#[from] SaveError),
    /// Writing.
    #[error("the sound cannot be written: {0}")]
    Wav(#[from] hound::Error),
    /// Writing.
    #[error("the sound cannot be written: {0}")]
    System(#[from] std::io::Error),
}

/// What was written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Written {
    /// How long it is, seconds.
    pub duration_s: f64,
    /// How loud it is.
    pub loudness: Loudness,
}

/// Writes a rendering to a file, or to standard output for `-`.
///
/// # Errors
/// Any [`WavError`]; then the place is as it was.
pub fn write_wav(
    programme: &Programme,
    rendering: Rendering,
    bits: Bits,
    (path, is_forced): (&Path, bool),
) -> Result<Written, WavError> {
    let rate_hz = programme.rate_hz();
    let mut meter = LoudnessMeter::new(rate_hz).map_err(HearError::Meter)?;
    // The head of a WAV file says how long it is, so it is written last, and beside.
    let mut beside = tempfile::tempfile()?;
    let mut writer = WavWriter::new(BufWriter::new(&mut beside), spec(rate_hz, bits))?;
    let (mut pass, mut count) = (programme.pass(rendering)?, 0_u64);
    let mut room = [[0.0; 2]; TICK_SAMPLES_MAX];
    while let Some(frames) = pass.next(&mut room) {
        meter.hear(frames).map_err(HearError::Meter)?;
        for sample in frames.iter().flatten() {
            write_sample(&mut writer, bits, *sample, count)?;
            count += 1;
        }
    }
    writer.finalize()?;
    beside.rewind()?;
    let mut out = SafeWriter::create(path, is_forced)?;
    let mut bytes = vec![0; 1 << 16];
    loop {
        let read = beside.read(&mut bytes)?;
        if read == 0 {
            break;
        }
        out.write(&bytes[..read])?;
    }
    out.finish()?;
    let duration_s = count as f64 / 2.0 / f64::from(rate_hz);
    Ok(Written { duration_s, loudness: meter.loudness().map_err(HearError::Meter)? })
}

fn spec(rate_hz: u32, bits: Bits) -> WavSpec {
    let (bits_per_sample, sample_format) = match bits {
        Bits::Sixteen => (16, SampleFormat::Int),
        Bits::TwentyFour => (24, SampleFormat::Int),
        Bits::Float => (32, SampleFormat::Float),
    };
    WavSpec { channels: 2, sample_rate: rate_hz, bits_per_sample, sample_format }
}

fn write_sample<W: std::io::Write + Seek>(
    writer: &mut WavWriter<W>,
    bits: Bits,
    sample: f32,
    place: u64,
) -> hound::Result<()> {
    let steps = |count: f64, noise: f64| {
        let value = f64::from(sample) * count + noise;
        libm::round(value).clamp(-count, count - 1.0) as i32
    };
    match bits {
        Bits::Sixteen => {
            // Silence stays silent.
            let noise = if sample == 0.0 { 0.0 } else { drawn(2 * place) + drawn(2 * place + 1) };
            writer.write_sample(steps(32_768.0, noise) as i16)
        }
        Bits::TwentyFour => writer.write_sample(steps(8_388_608.0, 0.0)),
        Bits::Float => writer.write_sample(sample),
    }
}

/// Evenly drawn, −0.5..0.5 of a step: the finaliser of SplitMix64 by the place in the file.
fn drawn(place: u64) -> f64 {
    let mut hash = place.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    hash = (hash ^ (hash >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    hash = (hash ^ (hash >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((hash ^ (hash >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0 - 0.5
}
