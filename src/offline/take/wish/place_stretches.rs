//! Finds the stretches that are meant: from bars and beats to ticks and to the song's quarter notes.

use super::place::{NO_BARS, place_of};
use super::request::{Length, Place, Span, Stretch, StretchRequest};
use crate::engine::patch::{RETOUCHES_MAX, Retouch};
use crate::offline::error::Error;
use crate::offline::midi::{MetreMap, TempoMap};
use crate::offline::take::line::TakeLine;
use crate::profile::wish::StretchWish;

/// The stretches of each line. `bars` are those of the take with its last tick.
///
/// # Errors
/// [`Error::Words`] for a place that is not there, and for more than the engine keeps.
pub fn of_lines(
    requests: &[StretchRequest],
    bars: Option<(&MetreMap, u64)>,
    clock: &TempoMap,
    lines: &[TakeLine],
) -> Result<Vec<Vec<Stretch>>, Error> {
    let mut all = vec![Vec::new(); lines.len()];
    for request in requests {
        let fault = |what: String| Error::Words { place: request.place.clone(), what };
        let ends = ends_of(request.span, bars).map_err(fault)?;
        let stretches = stretches_of(request, ends, clock);
        for (line, own) in lines.iter().zip(&mut all) {
            let is_meant = match request.span {
                Span::Text { track: Some(track), .. } => track == line.track,
                _ => true,
            };
            if is_meant {
                own.extend(stretches.iter().cloned());
            }
            if own.len() > RETOUCHES_MAX {
                return Err(fault(format!(
                    "there are more wishes for stretches of one line; allowed is {RETOUCHES_MAX}"
                )));
            }
        }
    }
    Ok(all)
}

/// One for each thing that is asked. `ends` are its first tick, the first behind it, and the ticks of
/// a beat.
fn stretches_of(request: &StretchRequest, ends: (f64, f64, f64), clock: &TempoMap) -> Vec<Stretch> {
    let (from, to, beat_ticks) = ends;
    let quarters = |ticks: f64| ticks / clock.ticks_per_quarter();
    let one = |asked: &StretchWish| Stretch {
        from_tick: from.round() as u64,
        to_tick: to.round() as u64,
        retouch: Retouch {
            from_beat: quarters(from),
            to_beat: quarters(to),
            fade_beats: quarters(asked.fade_beats * beat_ticks),
            change: asked.change,
        },
        words: format!("{}: {}", request.beats, asked.words),
    };
    request.asked.iter().map(one).collect()
}

pub(super) fn ends_of(
    span: Span,
    bars: Option<(&MetreMap, u64)>,
) -> Result<(f64, f64, f64), String> {
    let Some((metre, end_tick)) = bars else { return Err(NO_BARS.to_owned()) };
    match span {
        Span::Places(from, to) => {
            let (start, _, beat_ticks) = ticks_of(metre, end_tick, from)?;
            let (_, end, _) = ticks_of(metre, end_tick, to)?;
            Ok((start, end, beat_ticks))
        }
        Span::Text { tick, length, .. } => {
            let (start, beat_ticks) = (tick as f64, metre.beat_ticks(tick));
            let end = match length {
                Length::Beats(beats) => start + beats * beat_ticks,
                Length::Bars(bars) => {
                    let bar = metre.position(tick).0;
                    let bar_ticks = metre.bar_start(bar + 1) - metre.bar_start(bar);
                    start + bars * bar_ticks as f64
                }
            };
            Ok((start, end, beat_ticks))
        }
    }
}

/// Where a place begins and ends, and the ticks of a beat there.
fn ticks_of(metre: &MetreMap, end_tick: u64, place: Place) -> Result<(f64, f64, f64), String> {
    let (beat, length) = place.beat.unwrap_or((1.0, f64::INFINITY));
    let (start, beat_ticks) = place_of(metre, end_tick, place.bar, beat)?;
    let bar_end = metre.bar_start(place.bar + 1) as f64;
    Ok((start, (start + length * beat_ticks).min(bar_end), beat_ticks))
}
