//! A small reader and writer of MIDI files, made apart from the program so that it can judge it.

/// A standard MIDI file, its tracks as events at ticks since the start.
#[derive(Clone, Debug, PartialEq)]
pub struct File {
    pub format: u16,
    pub ppq: u16,
    pub tracks: Vec<Vec<Event>>,
}

/// One event: status and data without running status; of a meta or SysEx event the status,
/// the kind and the data without its length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    pub tick: u64,
    pub bytes: Vec<u8>,
}

pub const END_OF_TRACK: [u8; 2] = [0xFF, 0x2F];

impl Event {
    pub fn new(tick: u64, bytes: &[u8]) -> Event {
        Event { tick, bytes: bytes.to_vec() }
    }

    /// Kind and channel of a channel message, `None` for meta and SysEx.
    pub fn channel_message(&self) -> Option<(u8, u8)> {
        let status = self.bytes[0];
        (status < 0xF0).then_some((status & 0xF0, status & 0x0F))
    }

    /// Key if it is a struck note: a note-on with a velocity.
    pub fn strike(&self) -> Option<u8> {
        let on = matches!(self.channel_message(), Some((0x90, _)));
        (on && self.bytes[2] > 0).then(|| self.bytes[1])
    }

    /// It chooses another sound: a program, or a bank by controller 0 or 32 (MIDI 1.0).
    pub fn chooses_sound(&self) -> bool {
        match self.channel_message() {
            Some((0xC0, _)) => true,
            Some((0xB0, _)) => matches!(self.bytes[1], 0 | 32),
            _ => false,
        }
    }

    /// Key if it releases a note: a note-off, or a note-on of velocity 0 (MIDI 1.0).
    pub fn release(&self) -> Option<u8> {
        let kind = self.channel_message().map(|(kind, _)| kind);
        (kind == Some(0x80) || (kind == Some(0x90) && self.bytes[2] == 0)).then(|| self.bytes[1])
    }

    /// Number and value if it is a controller.
    pub fn controller(&self) -> Option<(u8, u8)> {
        let is_one = matches!(self.channel_message(), Some((0xB0, _)));
        is_one.then(|| (self.bytes[1], self.bytes[2]))
    }

    /// Value if it is a bend, 8192 in the centre.
    pub fn bend(&self) -> Option<i32> {
        let is_one = matches!(self.channel_message(), Some((0xE0, _)));
        is_one.then(|| i32::from(self.bytes[2]) << 7 | i32::from(self.bytes[1]))
    }
}

impl File {
    /// Reads a file; a sentence if it is not one.
    pub fn read(bytes: &[u8]) -> Result<File, String> {
        let mut at = Reader { bytes, place: 0 };
        if at.take(8)? != b"MThd\0\0\0\x06" {
            return Err("no header".to_string());
        }
        let (format, count, ppq) = (at.number(2)?, at.number(2)?, at.number(2)?);
        let mut tracks = Vec::new();
        while at.place < bytes.len() {
            let kind = at.take(4)?.to_vec();
            let length = at.number(4)? as usize;
            let body = at.take(length)?;
            if kind == b"MTrk" {
                tracks.push(read_track(&mut Reader { bytes: body, place: 0 })?);
            }
        }
        if tracks.len() != count as usize {
            return Err(format!("{} tracks, {count} announced", tracks.len()));
        }
        Ok(File { format: format as u16, ppq: ppq as u16, tracks })
    }

    /// The file's bytes, without running status.
    pub fn write(&self) -> Vec<u8> {
        let mut file = b"MThd\0\0\0\x06".to_vec();
        for number in [self.format, self.tracks.len() as u16, self.ppq] {
            file.extend(number.to_be_bytes());
        }
        for track in &self.tracks {
            let (mut body, mut last) = (Vec::new(), 0);
            for event in track {
                push_length(&mut body, event.tick - last);
                last = event.tick;
                let head = if event.bytes[0] == 0xFF { 2 } else { 1 };
                body.extend(&event.bytes[..head]);
                if event.bytes[0] >= 0xF0 {
                    push_length(&mut body, (event.bytes.len() - head) as u64);
                }
                body.extend(&event.bytes[head..]);
            }
            file.extend(b"MTrk");
            file.extend((body.len() as u32).to_be_bytes());
            file.extend(body);
        }
        file
    }

    /// The tempo map: ticks and seconds at which a tempo begins, and seconds a tick from there.
    pub fn tempo_map(&self) -> TempoMap {
        let mut tempi: Vec<(u64, u64)> = Vec::new();
        for event in self.tracks.iter().flatten().filter(|event| event.bytes[..2] == [0xFF, 0x51]) {
            let micros = event.bytes[2..].iter().fold(0, |sum, byte| sum << 8 | u64::from(*byte));
            tempi.push((event.tick, micros));
        }
        tempi.sort_by_key(|(tick, _)| *tick);
        // 120 quarter notes a minute until the file says otherwise (SMF 1.0).
        let mut map = vec![(0, 0.0, 0.5 / f64::from(self.ppq))];
        for (tick, micros) in tempi {
            let (from, at_s, tick_s) = map[map.len() - 1];
            let at_s = at_s + (tick - from) as f64 * tick_s;
            map.push((tick, at_s, micros as f64 * 1e-6 / f64::from(self.ppq)));
        }
        TempoMap(map)
    }
}

/// Where ticks stand in seconds.
pub struct TempoMap(Vec<(u64, f64, f64)>);

impl TempoMap {
    pub fn seconds(&self, tick: u64) -> f64 {
        let after = self.0.partition_point(|(from, ..)| *from <= tick);
        let (from, at_s, tick_s) = self.0[after - 1];
        at_s + (tick - from) as f64 * tick_s
    }

    pub fn tick(&self, time_s: f64) -> u64 {
        let after = self.0.partition_point(|(_, at_s, _)| *at_s <= time_s).max(1);
        let (from, at_s, tick_s) = self.0[after - 1];
        from + ((time_s - at_s) / tick_s).round() as u64
    }
}

struct Reader<'a> {
    bytes: &'a [u8],
    place: usize,
}

impl<'a> Reader<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], String> {
        let end = self.place + count;
        let taken = self.bytes.get(self.place..end).ok_or("the file ends too early")?;
        self.place = end;
        Ok(taken)
    }

    fn number(&mut self, count: usize) -> Result<u32, String> {
        Ok(self.take(count)?.iter().fold(0, |sum, byte| sum << 8 | u32::from(*byte)))
    }

    /// A length in seven bits a byte (SMF 1.0), four bytes at most.
    fn length(&mut self) -> Result<u64, String> {
        let mut length = 0;
        for _ in 0..4 {
            let byte = self.take(1)?[0];
            length = length << 7 | u64::from(byte & 0x7F);
            if byte < 0x80 {
                return Ok(length);
            }
        }
        Err("a length of more than four bytes".to_string())
    }
}

fn read_track(at: &mut Reader) -> Result<Vec<Event>, String> {
    let (mut events, mut tick, mut running) = (Vec::new(), 0, 0);
    while at.place < at.bytes.len() {
        tick += at.length()?;
        let mut bytes = vec![at.take(1)?[0]];
        if bytes[0] < 0x80 {
            if running == 0 {
                return Err("data without a status".to_string());
            }
            bytes.insert(0, running);
        }
        match bytes[0] {
            0xFF | 0xF0 | 0xF7 => {
                if bytes[0] == 0xFF {
                    bytes.push(at.take(1)?[0]);
                }
                let length = at.length()? as usize;
                bytes.extend(at.take(length)?);
                running = 0;
            }
            status @ 0x80..0xF0 => {
                let size = if (0xC0..0xE0).contains(&status) { 2 } else { 3 };
                bytes.extend(at.take(size - bytes.len())?);
                running = status;
            }
            status => return Err(format!("status {status:02x}")),
        }
        if bytes[0] < 0xF0 && bytes[1..].iter().any(|byte| *byte > 0x7F) {
            return Err(format!("data above 127 in {bytes:02x?}"));
        }
        let is_end = bytes == END_OF_TRACK;
        events.push(Event { tick, bytes });
        if is_end != (at.place == at.bytes.len()) {
            return Err("the end of the track is not at its end".to_string());
        }
    }
    Ok(events)
}

fn push_length(body: &mut Vec<u8>, length: u64) {
    for shift in [21, 14, 7].into_iter().filter(|shift| length >> shift > 0) {
        body.push((length >> shift) as u8 | 0x80);
    }
    body.push(length as u8 & 0x7F);
}
