//! Gives a shaped file its take back, track by track, and says what was edited since.

use super::added::{PeelCount, Peeler, Trust};
use crate::engine::REVISION;
use crate::offline::digest;
use crate::offline::error::Error;
use crate::offline::midi::{File, Track, TrackEvent};
use crate::offline::record::{self, ShapeRecord};

/// The take, and what could not be told apart any more.
#[derive(Clone, Debug, PartialEq)]
pub struct Peeled {
    /// The take.
    pub file: File,
    /// Messages taken out.
    pub removed_count: usize,
    /// Events put back.
    pub restored_count: usize,
    /// The revision of the engine that had shaped it, where its marker says so.
    pub engine: Option<u32>,
    /// What was edited since and how it was dealt with, one sentence each; empty if the take is
    /// exactly as it was.
    pub leftovers: Vec<String>,
}

impl Peeled {
    /// One sentence for a file that another revision of the engine had shaped.
    pub fn other_revision(&self) -> Option<String> {
        let engine = self.engine.filter(|engine| *engine != REVISION)?;
        Some(format!(
            "engine revision {engine} had shaped it; this is revision {REVISION}, so the same take \
             shaped again sounds different"
        ))
    }
}

/// Whether the file was shaped: the text of its marker, or a plain word where only records are
/// left.
pub fn shaped_mark(file: &File) -> Option<String> {
    let events = || file.tracks.iter().flat_map(|track| &track.events);
    let marker = events().find_map(|event| record::marker_text(event).map(str::to_owned));
    marker.or_else(|| {
        events()
            .any(|event| ShapeRecord::of(event).is_some())
            .then(|| "its marker is gone".to_owned())
    })
}

/// The take inside a shaped file.
///
/// # Errors
/// [`Error::NotShaped`].
pub fn peel(file: File) -> Result<Peeled, Error> {
    let marker = shaped_mark(&file).ok_or(Error::NotShaped)?;
    let digest = record::marker_take(&marker);
    let whole = peel_with(&file, &marker, Trust::Whole);
    let is_exact = match digest {
        Some(take) => take == digest::of_take(&whole.file),
        None => whole.leftovers.is_empty(),
    };
    if is_exact {
        return Ok(whole);
    }
    drop(whole);
    let mut file = file;
    let moved_count = bring_home(&mut file.tracks);
    let mut peeled = peel_with(&file, &marker, Trust::Edited);
    if moved_count > 0 {
        let moved = "channels stand in other tracks than when they were shaped; so they stay";
        peeled.leftovers.push(format!("{moved_count} {moved}"));
    }
    if peeled.leftovers.is_empty() {
        let edited = "the file was edited since it was shaped, beside what shaping had added; \
                      those edits stay";
        peeled.leftovers.push(edited.into());
    }
    Ok(peeled)
}

fn peel_with(file: &File, marker: &str, trust: Trust) -> Peeled {
    let File { format, division, header_rest, tracks, foreign, tail } = file;
    let mut peeled = Peeled {
        file: File {
            format: *format,
            division: *division,
            header_rest: header_rest.clone(),
            tracks: Vec::with_capacity(tracks.len()),
            foreign: foreign.clone(),
            tail: tail.clone(),
        },
        removed_count: 0,
        restored_count: 0,
        engine: record::marker_engine(marker),
        leftovers: Vec::new(),
    };
    for (number, track) in tracks.iter().enumerate() {
        let (track, count) = Peeler::peel(track, trust);
        peeled.file.tracks.push(track);
        peeled.removed_count += count.removed;
        peeled.restored_count += count.restored;
        report(number + 1, &count, &mut peeled.leftovers);
    }
    coarsen(&mut peeled, record::marker_factor(marker));
    peeled
}

fn report(number: usize, count: &PeelCount, leftovers: &mut Vec<String>) {
    let mut say = |count: usize, what: &str| {
        if count > 0 {
            leftovers.push(format!("track {number}: {count} {what}"));
        }
    };
    say(count.foreign, "messages stand among the added ones that shaping did not add; they stay");
    say(count.missing, "added messages were gone or changed already");
    say(count.replaced, "events of notes were edited since; the edited ones stay");
}

/// Some programs sort channels into tracks of their own and leave all else where it was: such
/// records follow their channel. Gives the number of channels that were moved.
fn bring_home(tracks: &mut [Track]) -> usize {
    let uses: Vec<ChannelUse> = tracks.iter().map(ChannelUse::of).collect();
    let mut moved_count = 0;
    for channel in 0..16 {
        let bit = 1 << channel;
        let from = uses.iter().position(|it| it.records & bit != 0 && it.messages & bit == 0);
        let to = uses.iter().position(|it| it.messages & bit != 0 && it.records & bit == 0);
        let (Some(from), Some(to)) = (from, to) else { continue };
        let all = std::mem::take(&mut tracks[from].events);
        let (mut records, rest): (Vec<TrackEvent>, Vec<TrackEvent>) =
            all.into_iter().partition(|event| record_channel(event) == Some(channel));
        tracks[from].events = rest;
        // At one tick the records come first; the sort keeps all other order.
        records.append(&mut tracks[to].events);
        records.sort_by_key(|event| event.tick);
        tracks[to].end_tick = tracks[to].end_tick.max(records.last().map_or(0, |it| it.tick));
        tracks[to].events = records;
        moved_count += 1;
    }
    moved_count
}

/// Which channels a track has records of, and which it plays: a bit each.
struct ChannelUse {
    records: u16,
    messages: u16,
}

impl ChannelUse {
    fn of(track: &Track) -> ChannelUse {
        let mut used = ChannelUse { records: 0, messages: 0 };
        for event in &track.events {
            used.records |= record_channel(event).map_or(0, |channel| 1 << channel);
            used.messages |= event.message().map_or(0, |message| 1 << message.channel());
        }
        used
    }
}

/// The channel that a record is about.
fn record_channel(event: &TrackEvent) -> Option<u8> {
    match ShapeRecord::of(event)? {
        ShapeRecord::Added { channel, .. } => Some(channel),
        ShapeRecord::Kept(bytes) => Some(bytes[0] & 0x0F),
        ShapeRecord::End => None,
    }
}

/// Gives the file its own ticks again.
fn coarsen(peeled: &mut Peeled, factor: Option<u64>) {
    let Some(factor) = factor.filter(|factor| *factor > 0) else {
        let lost = "the marker is gone, so the ticks stay as fine as they are";
        peeled.leftovers.push(lost.into());
        return;
    };
    let file = &mut peeled.file;
    let fits = |tick: u64| tick.is_multiple_of(factor);
    let is_even = file
        .tracks
        .iter()
        .all(|track| fits(track.end_tick) && track.events.iter().all(|event| fits(event.tick)));
    match file.division.coarser(factor).filter(|_| is_even) {
        Some(division) => {
            file.division = division;
            for track in &mut file.tracks {
                track.end_tick /= factor;
                track.events.iter_mut().for_each(|event| event.tick /= factor);
            }
        }
        None => {
            let edited = "events were placed between the take's own ticks, so the ticks stay fine";
            peeled.leftovers.push(edited.into());
        }
    }
}
