//! Gives a shaped file its take back, track by track, and says what was edited since.

use super::added::{PeelCount, Peeler, Trust};
use crate::engine::REVISION;
use crate::offline::digest;
use crate::offline::midi::{Division, File, Track, TrackEvent};
use crate::offline::record::{self, ShapeRecord};

/// Ticks of a quarter note that programs count by.
const USUAL_RESOLUTIONS: [u16; 14] =
    [24, 48, 96, 120, 192, 240, 384, 480, 768, 960, 1024, 1920, 3840, 10_080];

/// Said where the ticks cannot be made coarser again.
const BETWEEN: &str = "events were placed between the take's own ticks, so the ticks stay fine";

/// Where a take was kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeepingPlace {
    /// In the record inside the shaped file.
    File,
    /// In a file of its own beside it.
    Beside,
}

/// The take, and what could not be told apart any more.
#[derive(Clone, Debug, PartialEq)]
pub struct Peeled {
    /// The take.
    pub file: File,
    /// Where it was kept.
    pub place: KeepingPlace,
    /// Messages taken out.
    pub removed_count: usize,
    /// Events put back.
    pub restored_count: usize,
    /// The revision of the engine that had shaped it, where its marker says so.
    pub engine: Option<u32>,
    /// What was edited since and how it was dealt with, one sentence each; empty if the take is
    /// exactly as it was.
    pub leftovers: Vec<String>,
    /// What else should be known, one sentence each.
    pub notices: Vec<String>,
}

impl Peeled {
    /// The take beside a shaped file.
    pub(super) fn beside(take: File, engine: Option<u32>) -> Peeled {
        Peeled {
            file: take,
            place: KeepingPlace::Beside,
            removed_count: 0,
            restored_count: 0,
            engine,
            leftovers: Vec::new(),
            notices: Vec::new(),
        }
    }

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

/// What the record inside a shaped file makes of it.
pub enum Recorded {
    /// The very take.
    Exact(Peeled),
    /// The take with the edits that were made since.
    Edited(Peeled),
    /// The record is gone; the file as it was.
    Gone(File),
}

/// Follows the record inside a file whose marker, or the word for it, is `marker`.
pub fn peel_record(file: File, marker: &str) -> Recorded {
    let digest = record::marker_take(marker);
    let mut whole = peel_with(&file, marker, Trust::Whole);
    if is_exact(&mut whole, digest) {
        return Recorded::Exact(whole);
    }
    drop(whole);
    let is_added = |event| matches!(ShapeRecord::of(event), Some(ShapeRecord::Added { .. }));
    if !file.tracks.iter().flat_map(|track| &track.events).any(is_added) {
        return Recorded::Gone(file);
    }
    let mut file = file;
    let moved_count = bring_home(&mut file.tracks);
    let mut peeled = peel_with(&file, marker, Trust::Edited);
    if moved_count > 0 {
        let moved = "channels stand in other tracks than when they were shaped; so they stay";
        peeled.leftovers.push(format!("{moved_count} {moved}"));
    }
    if digest.is_some() && is_exact(&mut peeled, digest) {
        return Recorded::Exact(peeled);
    }
    if peeled.leftovers.is_empty() {
        let edited = "the file was edited since it was shaped, beside what shaping had added; \
                      those edits stay";
        peeled.leftovers.push(edited.into());
    }
    Recorded::Edited(peeled)
}

/// Whether it is the very take, or the take but for its resolution, which another program has
/// changed: then it gets its own one again.
fn is_exact(peeled: &mut Peeled, digest: Option<&str>) -> bool {
    let Some(digest) = digest else { return peeled.leftovers.is_empty() };
    let now = peeled.file.division;
    for own in [now].into_iter().chain(USUAL_RESOLUTIONS.map(Division::Quarter)) {
        if peeled.file.rescale(own) && digest::of_take(&peeled.file) == digest {
            // Its ticks are its own. What of the added messages was gone is still said.
            peeled.leftovers.retain(|sentence| sentence != BETWEEN);
            return true;
        }
    }
    // Even one way, even back.
    peeled.file.rescale(now);
    false
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
        place: KeepingPlace::File,
        removed_count: 0,
        restored_count: 0,
        engine: record::marker_engine(marker),
        leftovers: Vec::new(),
        notices: Vec::new(),
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
    let coarser = peeled.file.division.coarser(factor);
    if !coarser.is_some_and(|division| peeled.file.rescale(division)) {
        peeled.leftovers.push(BETWEEN.into());
    }
}
