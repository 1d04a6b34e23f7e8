//! A table of wishes for a song that a host plays: bars and beats on one side, the song's own position on
//! the other.

use super::place_stretches::ends_of;
use super::request::StretchRequest;
use super::words::read_table;
use crate::offline::midi::MetreMap;
use crate::profile::wish::{SONG_BEAT_MAX, SongStretch};

/// What a table asks of the stretches of a song with these bars.
///
/// # Errors
/// A sentence with line, value and what is allowed; also for a wish for a single note.
pub fn read_song_table(
    table: &str,
    styles: &[String],
    metre: &MetreMap,
    ticks_per_quarter: f64,
) -> Result<Vec<SongStretch>, String> {
    let wishes = read_table(table, styles)?;
    if let Some(request) = wishes.notes.first() {
        return Err(format!(
            "{}: this asks something of a note; allowed in a song are stretches, as \
             12.1..14.4: softer 3 dB",
            request.place
        ));
    }
    let end_tick = (SONG_BEAT_MAX * ticks_per_quarter) as u64;
    let one = |request: &StretchRequest| {
        let ends = ends_of(request.span, Some((metre, end_tick)));
        let (from, to, beat) = ends.map_err(|what| format!("{}: {what}", request.place))?;
        let words: Vec<&str> = request.asked.iter().map(|wish| wish.words.as_str()).collect();
        Ok(SongStretch {
            from_beat: from / ticks_per_quarter,
            to_beat: to / ticks_per_quarter,
            metre_beat: beat / ticks_per_quarter,
            wishes: words.join(", "),
        })
    };
    wishes.stretches.iter().map(one).collect()
}

/// The table that asks this of a song with these bars, a line each.
pub fn song_table(stretches: &[SongStretch], metre: &MetreMap, ticks_per_quarter: f64) -> String {
    let tick = |beat: f64| (beat * ticks_per_quarter).round() as u64;
    let line = |it: &SongStretch| {
        let (from, to) =
            (first_words(metre, tick(it.from_beat)), last_words(metre, tick(it.to_beat)));
        format!("{from}..{to}: {}\n", it.wishes)
    };
    stretches.iter().map(line).collect()
}

/// A place by its bar, its beat and a part of it.
fn first_words(metre: &MetreMap, tick: u64) -> String {
    let (bar, beat) = metre.position(tick);
    match part_of_beat(metre, tick) {
        None => format!("{bar}.{beat}"),
        Some((above, below)) => format!("{bar}.{beat}+{above}/{below}"),
    }
}

/// The last place that counts where a stretch ends at a tick.
fn last_words(metre: &MetreMap, end_tick: u64) -> String {
    let (bar, beat) = metre.position(end_tick.saturating_sub(1));
    match part_of_beat(metre, end_tick) {
        None => format!("{bar}.{beat}"),
        Some((above, below)) => format!("{bar}.{beat}+{}/{below}", above - 1),
    }
}

/// How far into its beat a tick lies, as a fraction in lowest terms; none where the beat begins.
fn part_of_beat(metre: &MetreMap, tick: u64) -> Option<(u64, u64)> {
    let (bar, beat) = metre.position(tick);
    let beat_ticks = metre.beat_ticks(tick) as u64;
    let part = tick - metre.bar_start(bar) - (beat - 1) * beat_ticks;
    let mut divisors = (part, beat_ticks);
    while divisors.0 > 0 {
        divisors = (divisors.1 % divisors.0, divisors.0);
    }
    (part > 0).then(|| (part / divisors.1, beat_ticks / divisors.1))
}
