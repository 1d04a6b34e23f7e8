//! Writes MIDI files byte by byte, up to a size, so that a test input is as dense as the format allows.

/// Ticks of a quarter note: at 120 beats a minute a second has 960.
pub const TICKS_PER_QUARTER: u16 = 480;
/// Ticks of a second before any tempo is set.
pub const TICKS_PER_S: u64 = 960;

/// One track that grows.
#[derive(Default)]
pub struct TrackWriter {
    bytes: Vec<u8>,
    status: u8,
    last_tick: u64,
}

impl TrackWriter {
    /// How long the track is so far, bytes.
    pub fn size(&self) -> usize {
        self.bytes.len()
    }

    /// Puts an event at its tick, at or after the last one.
    pub fn put(&mut self, tick: u64, event: &[u8]) {
        quantity(tick - self.last_tick, &mut self.bytes);
        self.last_tick = tick;
        if event[0] < 0xF0 && event[0] == self.status {
            self.bytes.extend_from_slice(&event[1..]);
            return;
        }
        self.status = if event[0] < 0xF0 { event[0] } else { 0 };
        self.bytes.extend_from_slice(event);
    }

    /// A meta event: text, tempo and the like.
    pub fn put_meta(&mut self, tick: u64, kind: u8, contents: &[u8]) {
        let mut event = vec![0xFF, kind];
        quantity(contents.len() as u64, &mut event);
        event.extend_from_slice(contents);
        self.put(tick, &event);
    }

    fn chunk(mut self, end_tick: u64) -> Vec<u8> {
        self.put_meta(end_tick.max(self.last_tick), 0x2F, &[]);
        chunk(b"MTrk", &self.bytes)
    }
}

/// A chunk of a file.
pub fn chunk(name: &[u8; 4], contents: &[u8]) -> Vec<u8> {
    let mut bytes = name.to_vec();
    bytes.extend_from_slice(&(contents.len() as u32).to_be_bytes());
    bytes.extend_from_slice(contents);
    bytes
}

/// A file of these tracks, which all end at or after `end_tick`.
pub fn file(tracks: Vec<TrackWriter>, end_tick: u64) -> Vec<u8> {
    let count = u16::try_from(tracks.len()).unwrap_or(u16::MAX);
    let words = [1, count, TICKS_PER_QUARTER].map(u16::to_be_bytes);
    let mut bytes = chunk(b"MThd", &words.concat());
    tracks.into_iter().for_each(|track| bytes.extend(track.chunk(end_tick)));
    bytes
}

fn quantity(value: u64, to: &mut Vec<u8>) {
    for shift in [21, 14, 7] {
        if value >> shift != 0 {
            to.push(0x80 | (value >> shift) as u8 & 0x7F);
        }
    }
    to.push(value as u8 & 0x7F);
}
