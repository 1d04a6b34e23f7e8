//! What the engine hears of a line, in order: its messages, tempos and words, and from ticks to frames.

use super::performance::{Asked, Fed, RATE_HZ, SentMessage};
use crate::engine::patch::{HandPatch, Source};
use crate::engine::{Input, Message, Origin, Timed};
use crate::offline::destination::Destination;
use crate::offline::midi::{File, TempoMap};
use crate::offline::take::articulation::Chosen;
use crate::offline::take::line::{self, TakeLine};

/// The tag of what stands in no file: the song's position, offs that the take owes.
const NO_TAG: u32 = u32::MAX;

/// The events that the engine hears: those of the line's own channel, and the gesture.
pub fn fed(file: &File, source: Source, line: &TakeLine) -> Vec<Fed> {
    let heard = |track: usize| {
        file.tracks[track].events.iter().enumerate().filter_map(move |(index, event)| {
            let message = event.message().filter(|message| message.channel() == line.channel)?;
            Some(Fed { tick: event.tick, track, index, message })
        })
    };
    let mut fed: Vec<Fed> = heard(line.track).collect();
    if line.gesture_track != line.track {
        let gesture = heard(line.gesture_track);
        fed.extend(gesture.filter(|event| line::carries(source, event.message)));
        fed.sort_by_key(|event| event.tick);
    }
    fed
}

/// The articulation that the key of a note chooses instead of sounding.
pub fn articulation_key(hand: &HandPatch, message: Message) -> Option<u8> {
    match message {
        Message::NoteOn { key, .. } | Message::NoteOff { key, .. } => hand.articulation_of(key),
        _ => None,
    }
}

/// The articulations that keys of the take choose, where they go down.
pub fn chosen_by_keys(hand: &HandPatch, switches: &[Fed]) -> Vec<Chosen> {
    let downs = switches.iter().filter(|event| matches!(event.message, Message::NoteOn { .. }));
    let chosen = |event: &Fed| {
        let (tick, articulation) = (event.tick, articulation_key(hand, event.message)?);
        Some(Chosen { tick, written_tick: tick, articulation })
    };
    downs.filter_map(chosen).collect()
}

/// The keys of the take that choose articulations, and what the engine hears of the rest.
pub fn parted(file: &File, hand: &HandPatch, line: &TakeLine) -> (Vec<Fed>, Vec<Fed>) {
    let chooses = |event: &Fed| articulation_key(hand, event.message).is_some();
    fed(file, hand.source, line).into_iter().partition(chooses)
}

/// What the engine hears of a line as asked, each with its frame since the start of the file, for
/// whoever plays it at leisure.
pub fn heard_as_asked(
    file: &File,
    clock: &TempoMap,
    hand: &HandPatch,
    line: &TakeLine,
    asked: &Asked,
) -> Vec<Placed> {
    let (switches, fed) = parted(file, hand, line);
    inputs(file, clock, line, &fed, asked, &chosen_by_keys(hand, &switches)).0
}

/// What the engine hears of a line, each with its frame since the start of the file, for whoever
/// plays it at leisure. What stands in no file has the tag `u32::MAX`.
pub fn heard(file: &File, clock: &TempoMap, source: Source, line: &TakeLine) -> Vec<Placed> {
    let fed = fed(file, source, line);
    inputs(file, clock, line, &fed, &Asked::default(), &[]).0
}

/// An input and its frame since the start of the file.
pub type Placed = (u64, Timed);

/// Everything the engine hears, with frames, and the table of ticks and their frames. Each
/// tick on which something happens has a frame of its own. `by_key` are articulations that keys
/// of the take choose.
pub fn inputs(
    file: &File,
    clock: &TempoMap,
    line: &TakeLine,
    fed: &[Fed],
    asked: &Asked,
    by_key: &[Chosen],
) -> (Vec<Placed>, Vec<(u64, u64)>) {
    let owed = owed_offs(file, line, fed);
    let ends = [owed.last().map(|(tick, _)| *tick), fed.last().map(|event| event.tick)];
    let last_tick = ends.into_iter().flatten().max().unwrap_or(0);
    let song = clock.tempo_ticks().filter(|tick| *tick <= last_tick).map(|tick| {
        let (beat, tempo_bpm) = (clock.beat_at(tick), clock.tempo_bpm_at(tick));
        (tick, NO_TAG, Input::Song { beat, tempo_bpm, running: true })
    });
    let mut all: Vec<(u64, u32, Input)> = song.collect();
    all.extend(
        asked
            .resync_tick
            .filter(|tick| *tick <= last_tick)
            .map(|tick| (tick, NO_TAG, Input::Resync)),
    );
    let chosen = asked.articulations.iter().chain(by_key);
    let chosen = chosen.filter(|chosen| chosen.tick <= last_tick);
    all.extend(chosen.map(|it| (it.tick, NO_TAG, Input::Articulation(it.articulation))));
    all.extend(asked.wishes.iter().map(|wished| (wished.tick, NO_TAG, Input::Wish(wished.wish))));
    all.extend(
        fed.iter()
            .enumerate()
            .filter(|(_, event)| !asked.left_out.contains(&Destination::of(event.message).0))
            .map(|(tag, event)| (event.tick, tag as u32, Input::Midi(event.message))),
    );
    all.extend(owed.into_iter().map(|(tick, message)| (tick, NO_TAG, Input::Midi(message))));
    all.sort_by_key(|(tick, ..)| *tick); // stable: song, resync, words, events in their order, owed offs
    let mut table: Vec<(u64, u64)> = Vec::new();
    let mut inputs = Vec::with_capacity(all.len());
    for (tick, tag, input) in all {
        let frame = match table.last() {
            Some((last_tick, last_frame)) if *last_tick == tick => *last_frame,
            Some((_, last_frame)) => clock.frame_at(tick, RATE_HZ).max(last_frame + 1),
            None => clock.frame_at(tick, RATE_HZ),
        };
        if table.last().is_none_or(|(last_tick, _)| *last_tick != tick) {
            table.push((tick, frame));
        }
        inputs.push((frame, Timed { frame: 0, tag, input }));
    }
    (inputs, table)
}

/// The offs of keys that the take never lifts, at the end of its track.
fn owed_offs(file: &File, line: &TakeLine, fed: &[Fed]) -> Vec<(u64, Message)> {
    let mut held = [0_u32; 128];
    for event in fed {
        match event.message {
            Message::NoteOn { key, .. } => held[usize::from(key)] += 1,
            Message::NoteOff { key, .. } => {
                let count = &mut held[usize::from(key)];
                *count = count.saturating_sub(1);
            }
            _ => {}
        }
    }
    let (tick, channel) = (file.tracks[line.track].end_tick, line.channel);
    let offs = (0..128_u8).flat_map(|key| {
        let off = Message::NoteOff { channel, key, velocity: 64 };
        std::iter::repeat_n((tick, off), held[usize::from(key)] as usize)
    });
    offs.collect()
}

/// Frames back to ticks: a frame on which something happened goes to its tick exactly, any other
/// to the nearest tick between its neighbours.
pub fn at_ticks(
    sent: Vec<(u64, Message, Origin)>,
    table: &[(u64, u64)],
    clock: &TempoMap,
) -> Vec<SentMessage> {
    let mut place = 0;
    let each = sent.into_iter().map(|(frame, message, origin)| {
        while table.get(place + 1).is_some_and(|(_, next)| *next <= frame) {
            place += 1;
        }
        let after = table.get(place + 1).map_or(u64::MAX, |(tick, _)| *tick);
        let tick = match table.get(place) {
            Some(&(tick, at)) if at == frame => tick,
            Some(&(before, at)) if at < frame => {
                clock.tick_near(frame, RATE_HZ).clamp(before, after)
            }
            _ => clock.tick_near(frame, RATE_HZ).min(after),
        };
        SentMessage { tick, message, origin }
    });
    each.collect()
}
