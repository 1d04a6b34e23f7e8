//! The printed performance as a MIDI file: tempo and metre in the first track, the line in the second.

use super::excerpt::excerpt;
use super::song::{Metres, Printed, PrintedEvent, PrintedSong, QUARTER_TICKS, tick_of};
use crate::offline::midi::event::meta_bytes;
use crate::offline::midi::tempo_map::TEMPO;
use crate::offline::midi::{
    Bars, Bytes, Division, File, MetreMap, Track, TrackEvent, metre_map, write,
};
use crate::offline::record::{self, Marker};

/// The name of a track (SMF 1.0).
const TRACK_NAME: u8 = 0x03;
/// The longest quarter note that the format can say, microseconds.
const QUARTER_US_MAX: f64 = 16_777_215.0;
/// MIDI clocks of a metronome's click, and 32nds of a quarter note (SMF 1.0).
const CLICK: [u8; 2] = [24, 8];
/// The bytes of a file with these bars of a performance, or all of it, and `marker` before it. Bar 1
/// is the song's, so it lands where it was performed if it is put at the song's beginning.
///
/// # Errors
/// One sentence: nothing was performed in these bars, or more than a file can hold.
pub fn file(song: &PrintedSong, bars: Option<Bars>, marker: &Marker) -> Result<Vec<u8>, String> {
    let conductor = conductor(song);
    let (from, to) = match (bars, MetreMap::of(&conductor)) {
        (Some(Bars { first, last }), Some(metres)) => {
            let beat = |bar| metres.bar_start(bar) as f64 / f64::from(QUARTER_TICKS);
            (beat(first), last.map_or(f64::INFINITY, |last| beat(last + 1)))
        }
        _ => (0.0, f64::INFINITY),
    };
    let events = excerpt(&song.events, (from, to), song.end_beat);
    let is_message = |event: &&PrintedEvent| matches!(event.what, Printed::Message(_));
    if events.iter().find(is_message).is_none() {
        return Err(nothing(bars));
    }
    let mut file = conductor;
    file.tracks.push(line(&events, marker));
    write::write(&file).map_err(|error| error.to_string())
}

/// The bar in which a performance of these metres ends, from 1.
pub fn last_bar(metres: &Metres, end_beat: f64) -> u64 {
    metre_map(metres).position(tick_of(end_beat).saturating_sub(1)).0
}

/// The bars of a song with these metres, in ticks of [`QUARTER_TICKS`]. What is known first holds from
/// the beginning on.
pub fn metre_map(metres: &Metres) -> MetreMap {
    let song = PrintedSong { metres: metres.clone(), ..PrintedSong::default() };
    let Some(map) = MetreMap::of(&conductor(&song)) else { unreachable!("ticks of quarter notes") };
    map
}

fn nothing(bars: Option<Bars>) -> String {
    match bars {
        Some(bars) => format!("nothing was performed in the bars {bars}"),
        None => "nothing was performed since the song last started".to_owned(),
    }
}

fn whole(tracks: Vec<Track>) -> File {
    File {
        format: 1,
        division: Division::Quarter(QUARTER_TICKS),
        header_rest: Vec::new(),
        tracks,
        foreign: Vec::new(),
        tail: Vec::new(),
    }
}

/// Tempo and metre of the whole song. What is known first holds from the beginning on.
fn conductor(song: &PrintedSong) -> File {
    let mut events: Vec<TrackEvent> = Vec::new();
    for (&tick, &(beats, power)) in &song.metres {
        let tick = if events.is_empty() { 0 } else { tick };
        let [clocks, parts] = CLICK;
        let bytes = meta_bytes(metre_map::TIME_SIGNATURE, &[beats, power, clocks, parts]);
        events.push(TrackEvent { tick, bytes });
    }
    let tempos = song.events.iter().filter_map(|event| match event.what {
        Printed::Tempo(bpm) => Some((tick_of(event.beat), bpm)),
        Printed::Message(_) => None,
    });
    for (place, (tick, bpm)) in tempos.enumerate() {
        let quarter_us = (60_000_000.0 / bpm).round().clamp(1.0, QUARTER_US_MAX) as u32;
        let bytes = meta_bytes(TEMPO, &quarter_us.to_be_bytes()[1..]);
        events.push(TrackEvent { tick: if place == 0 { 0 } else { tick }, bytes });
    }
    events.sort_by_key(|event| event.tick);
    let end_tick = tick_of(song.end_beat);
    whole(vec![Track { events, end_tick }])
}

/// The line, behind its name and the marker.
fn line(events: &[PrintedEvent], marker: &Marker) -> Track {
    let name = marker.instrument.split(' ').next().unwrap_or_default();
    let words = [(TRACK_NAME, name.to_owned()), (record::MARKER, marker.to_string())];
    let words = words.iter().map(|(kind, text)| (0, meta_bytes(*kind, text.as_bytes())));
    let messages = events.iter().filter_map(|event| match event.what {
        Printed::Message(message) => Some((tick_of(event.beat), Bytes::from(message))),
        Printed::Tempo(_) => None,
    });
    let all = words.chain(messages).map(|(tick, bytes)| TrackEvent { tick, bytes });
    let mut events: Vec<TrackEvent> = all.collect();
    // Stable: what was sent at one place stays in its order.
    events.sort_by_key(|event| event.tick);
    let end_tick = events.last().map_or(0, |event| event.tick);
    Track { events, end_tick }
}
