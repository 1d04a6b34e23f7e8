//! What a shaped file remembers of the take, so that the way back is exact.
//!
//! A shaped track carries sequencer-specific meta events (`FF 7F`) that begin with `7D`, the
//! identity that MIDI 1.0 leaves to everyone, and the letters `ps`. A letter follows:
//!
//! | letter | then | meaning |
//! | --- | --- | --- |
//! | `k` | the bytes of an event | kept: this event of the take stood exactly here |
//! | `a` | a channel 0..=15, then two bytes for each of 1..=60 messages | added: of the channel messages on that channel which follow in this track, these did not stand in the take |
//! | `e` | nothing | end: the take's track ended here |
//!
//! A kept event is a message of the gesture, a note-on whose velocity changed, a note-off that
//! moved, or any note that another event overtook within its tick. The two bytes of an added
//! message are a check sum of its bytes, so that what was added is still known after somebody
//! edited the file. A run of added messages ends with the next message of the take on that
//! channel; messages of other channels, meta events and SysEx may stand between.
//!
//! A marker (`FF 06`) at the start of the first shaped track says in words what the file was
//! shaped with. [`Marker`] has its form. Hashes are the first 16 hexadecimal digits of SHA-256.

use std::fmt;

use super::midi::event::{Bytes, TrackEvent, meta_start};

/// A meta event for the sequencer's own use (SMF 1.0).
const SEQUENCER_SPECIFIC: u8 = 0x7F;
/// A marker text (SMF 1.0).
pub const MARKER: u8 = 0x06;
/// The identity for non-commercial use (MIDI 1.0), and two letters of ours.
const HEAD: [u8; 3] = [0x7D, b'p', b's'];
/// The most messages of one record, so that its length takes one byte.
pub const RUN_MAX: usize = 60;
const _: () = assert!(HEAD.len() + 2 + 2 * RUN_MAX <= 0x7F);

/// One record.
#[derive(Clone, Debug, PartialEq)]
pub enum ShapeRecord {
    /// An event of the take stood here.
    Kept(Bytes),
    /// Messages that follow were added.
    Added {
        /** 0..=15 */
        channel: u8,
        /// One of each message, in order.
        checks: Vec<u16>,
    },
    /// The take's track ended here.
    End,
}

impl ShapeRecord {
    /// The meta event of [`ShapeRecord::Kept`].
    pub fn kept(event: &[u8]) -> Bytes {
        let mut bytes = start(b'k', event.len());
        bytes.extend_from_slice(event);
        Bytes::Long(bytes.into())
    }

    /// The meta event of [`ShapeRecord::Added`]; at most [`RUN_MAX`] check sums.
    pub fn added(channel: u8, checks: &[u16]) -> Bytes {
        let mut bytes = start(b'a', 1 + 2 * checks.len());
        bytes.push(channel);
        bytes.extend(checks.iter().flat_map(|check| check.to_be_bytes()));
        Bytes::Long(bytes.into())
    }

    /// The meta event of [`ShapeRecord::End`].
    pub fn end() -> Bytes {
        Bytes::Long(start(b'e', 0).into())
    }

    /// Reads a record; `None` for any other event, and for a record that makes no sense.
    pub fn of(event: &TrackEvent) -> Option<ShapeRecord> {
        let contents = event.meta(SEQUENCER_SPECIFIC)?.strip_prefix(&HEAD)?;
        let (letter, rest) = contents.split_first()?;
        match letter {
            b'k' => is_message(rest).then(|| ShapeRecord::Kept(rest.into())),
            b'a' => {
                let (&channel, checks) = rest.split_first()?;
                let checks: Vec<u16> = checks
                    .chunks_exact(2)
                    .map(|two| u16::from_be_bytes([two[0], two[1]]))
                    .collect();
                (channel < 16 && !checks.is_empty())
                    .then_some(ShapeRecord::Added { channel, checks })
            }
            b'e' if rest.is_empty() => Some(ShapeRecord::End),
            _ => None,
        }
    }
}

/// The start of a record with room for `length` bytes after its letter: a long take has hundreds
/// of thousands of records, so each is built in its one buffer.
fn start(letter: u8, length: usize) -> Vec<u8> {
    let mut bytes = meta_start(SEQUENCER_SPECIFIC, HEAD.len() + 1 + length);
    bytes.extend_from_slice(&HEAD);
    bytes.push(letter);
    bytes
}

/// Whether these are the bytes of one whole channel message.
fn is_message(bytes: &[u8]) -> bool {
    let size = match bytes.first() {
        Some(0xC0..=0xDF) => 2,
        Some(0x80..=0xEF) => 3,
        _ => return false,
    };
    bytes.len() == size && bytes[1..].iter().all(|byte| *byte < 0x80)
}

/// The check sum of a message: FNV-1a of 32 bits, folded to 16.
pub fn check(bytes: &[u8]) -> u16 {
    let hash = bytes
        .iter()
        .fold(0x811C_9DC5_u32, |hash, byte| (hash ^ u32::from(*byte)).wrapping_mul(0x0100_0193));
    (hash >> 16) as u16 ^ hash as u16
}

/// The words of the marker: what the file was shaped with.
#[derive(Clone, Debug, PartialEq)]
pub struct Marker {
    /// The engine's revision.
    pub engine: u32,
    /// Name and hash of the instrument.
    pub instrument: String,
    /// Name and hash of the target.
    pub target: String,
    /// Name and hash of the hand.
    pub hand: String,
    /// Hash of the table of wishes, if there was one.
    pub wishes: Option<String>,
    /// The source of the gesture.
    pub source: String,
    /// The seed.
    pub seed: u64,
    /// The scale of the imperfection.
    pub imperfection: f64,
    /// The voices, if not one line.
    pub voices: Option<String>,
    /// What became of the take's own lanes, if there were any.
    pub lanes: Option<&'static str>,
    /// The bars, if not all.
    pub bars: Option<String>,
    /// Digest of the take itself.
    pub take: String,
    /// How much finer the ticks became.
    pub factor: u64,
}

/// How every marker begins.
const MARKER_HEAD: &str = "Shaped by Polso";

impl fmt::Display for Marker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Marker { engine, instrument, target, hand, source, seed, imperfection, .. } = self;
        let Marker { voices, wishes, lanes, bars, take, factor, .. } = self;
        write!(f, "{MARKER_HEAD}: engine {engine}; instrument {instrument}; target {target}; ")?;
        write!(f, "hand {hand}; source {source}; seed {seed}; imperfection {imperfection}; ")?;
        if let Some(voices) = voices {
            write!(f, "voices {voices}; ")?;
        }
        if let Some(wishes) = wishes {
            write!(f, "wishes {wishes}; ")?;
        }
        if let Some(lanes) = lanes {
            write!(f, "lanes {lanes}; ")?;
        }
        let bars = bars.as_deref().unwrap_or("all");
        write!(f, "bars {bars}; take {take}; ticks x{factor}")
    }
}

/// The text of a marker of ours.
pub fn marker_text(event: &TrackEvent) -> Option<&str> {
    let text = std::str::from_utf8(event.meta(MARKER)?).ok()?;
    text.starts_with(MARKER_HEAD).then_some(text)
}

/// The engine's revision, as the marker says.
pub fn marker_engine(text: &str) -> Option<u32> {
    text.strip_prefix(MARKER_HEAD)?.strip_prefix(": engine ")?.split(';').next()?.parse().ok()
}

/// How much finer the ticks became, as the marker says.
pub fn marker_factor(text: &str) -> Option<u64> {
    text.rsplit_once("; ticks x")?.1.parse().ok()
}

/// The digest of the take, as the marker says.
pub fn marker_take(text: &str) -> Option<&str> {
    text.rsplit_once("; take ")?.1.split(';').next()
}

/// What the marker says of one of its fields: `instrument`, `target`, `hand`, `source`, `seed`,
/// `imperfection`, `wishes`, `lanes`, `voices` or `bars`.
pub fn marker_field<'a>(text: &'a str, name: &str) -> Option<&'a str> {
    let fields = text.strip_prefix(MARKER_HEAD)?.strip_prefix(": ")?.split("; ");
    fields.filter_map(|field| field.split_once(' ')).find(|(own, _)| *own == name).map(|it| it.1)
}
