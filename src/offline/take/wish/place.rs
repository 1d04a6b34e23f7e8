//! Where in the bars something is asked for: a bar's beat in words and in ticks.

use crate::offline::midi::MetreMap;
use crate::profile::wish::fraction;

/// A place in bars cannot be found in such a file.
pub const NO_BARS: &str = "this file counts film frames and has no bars";

/// Bar and beat, both from 1.
pub fn spot_of(text: &str) -> Option<(u64, f64)> {
    let (bar, beat) = text.split_once('.')?;
    let bar = bar.parse::<u32>().ok()?;
    let beat = fraction(beat).filter(|beat| *beat < f64::from(u8::MAX) + 1.0)?;
    (bar >= 1 && beat >= 1.0).then_some((bar.into(), beat))
}

/// The tick of a bar's beat, with its fraction, and the ticks of a beat there. Refuses a bar behind the
/// end and a beat that its bar does not have.
pub fn place_of(
    metre: &MetreMap,
    end_tick: u64,
    bar: u64,
    beat: f64,
) -> Result<(f64, f64), String> {
    let last_bar = metre.position(end_tick).0;
    if bar > last_bar {
        return Err(format!("bar is {bar}; allowed is 1 to {last_bar}, where the take ends"));
    }
    let (start, end) = (metre.bar_start(bar), metre.bar_start(bar + 1));
    let beat_ticks = metre.beat_ticks(start);
    let beats = (end - start) as f64 / beat_ticks;
    if beat >= beats + 1.0 {
        let whole = beats.ceil();
        return Err(format!(
            "beat is {beat}; allowed is 1 to {whole}, with a fraction, in bar {bar}"
        ));
    }
    Ok((start as f64 + (beat - 1.0) * beat_ticks, beat_ticks))
}
