//! MIDI files down to their bytes: running status, odd lengths, foreign chunks, our own records.

use std::sync::OnceLock;

use polso::offline::midi::TempoMap;
use polso::offline::midi::read::read;
use polso::offline::midi::write::write;
use polso::offline::peel::peel;
use polso::offline::trace::trace_bytes;
use polso::offline::{Settings, shape_bytes};

use crate::draw::Draw;
use crate::room::{promises, settings};

/// Longer takes are left out.
const LENGTH_S_MAX: f64 = 300.0;

fn all_settings() -> &'static [Settings] {
    static SETTINGS: OnceLock<Vec<Settings>> = OnceLock::new();
    SETTINGS.get_or_init(|| {
        let mut forced = settings("violin", "perform");
        forced.tracks = vec![1];
        forced.is_forced = true;
        vec![settings("erhu", "generic"), forced, settings("dizi-d", "perform")]
    })
}

/// Grows a file out of bytes: which settings it is for, and its own bytes.
pub fn grow(bytes: &[u8]) -> (usize, Vec<u8>) {
    let mut draw = Draw::new(bytes);
    let choice = draw.below(all_settings().len());
    let track_count = 1 + draw.below(3);
    let format = draw.pick(&[1_u16, 1, 1, 0, 1, 1, 2, 0xFFFF]);
    let announced = if draw.one_in(24) { u16::from(draw.byte()) } else { track_count as u16 };
    let division =
        draw.pick(&[480_u16, 96, 480, 960, 96, 24, 1, 32_767, 0xE728, 0xE250, 0xE34A, 0]);
    let extra = if draw.one_in(12) { draw.byte() % 5 } else { 0 };
    let mut file = b"MThd".to_vec();
    file.extend((6 + u32::from(extra)).to_be_bytes());
    for number in [format, announced, division] {
        file.extend(number.to_be_bytes());
    }
    file.extend(vec![0xA5; usize::from(extra)]);
    for place in 0..track_count {
        if draw.one_in(24) {
            chunk(&mut file, b"XFIH", draw.take(5), 0);
        }
        let body = track(&mut draw, place + 1 == track_count);
        let wrong = if draw.one_in(24) { i64::from(draw.byte()) - 128 } else { 0 };
        chunk(&mut file, b"MTrk", &body, wrong);
    }
    if draw.one_in(32) {
        file.extend(draw.rest());
    }
    (choice, file)
}

fn chunk(file: &mut Vec<u8>, kind: &[u8; 4], body: &[u8], wrong: i64) {
    file.extend(kind);
    file.extend(((body.len() as i64 + wrong).max(0) as u32).to_be_bytes());
    file.extend(body);
}

/// A track; the last one takes all that is left.
fn track(draw: &mut Draw, is_last: bool) -> Vec<u8> {
    let mut body = Vec::new();
    let mut running = 0;
    let most = if is_last { usize::MAX } else { draw.below(40) };
    let mut count = 0;
    while !draw.is_empty() && count < most {
        count += 1;
        delta(draw, &mut body);
        event(draw, &mut body, &mut running);
    }
    if !draw.one_in(24) {
        body.extend([0, 0xFF, 0x2F, 0]);
    }
    body
}

/// A wait: none, short, or up to the longest there is; now and then with needless bytes.
fn delta(draw: &mut Draw, body: &mut Vec<u8>) {
    match draw.below(64) {
        0..=31 => body.push(0),
        32..=55 => body.push(draw.byte() & 0x7F),
        56..=60 => body.extend([0x80 | (draw.byte() % 8), draw.byte() & 0x7F]),
        61..=62 => body.extend([0x80, 0x80, draw.byte() & 0x7F]),
        _ => match draw.below(8) {
            0 => body.extend([0xFF, 0xFF, 0xFF, 0x7F]),
            1 => body.extend([0xFF, 0xFF, 0xFF, 0xFF, 0x7F]),
            _ => body.extend([0x81, 0x80 | draw.byte(), 0]),
        },
    }
}

fn event(draw: &mut Draw, body: &mut Vec<u8>, running: &mut u8) {
    let channel = draw.pick(&[0, 0, 0, 1, 9]);
    let key = 58 + draw.byte() % 12;
    let message = match draw.below(64) {
        21..=46 => [0xB0 | channel, 1, draw.byte() & 0x7F],
        47..=56 => [draw.pick(&[0x90, 0x80]) | channel, key, 64],
        0..=6 => [0x90 | channel, key, draw.byte() & 0x7F],
        7..=10 => [0x80 | channel, key, 64],
        11..=15 => [0xB0 | channel, 1, draw.byte() & 0x7F],
        16 => [0xB0 | channel, draw.byte() & 0x7F, draw.byte() & 0x7F],
        17 => [0xE0 | channel, draw.byte() & 0x7F, draw.byte() & 0x7F],
        18 => [draw.pick(&[0xC0, 0xD0]) | channel, draw.byte() & 0x7F, 0xFF],
        19 => return system(draw, body, running),
        20 => {
            body.extend(draw.take(3));
            return;
        }
        _ => return meta(draw, body, running),
    };
    let count = if matches!(message[0] & 0xF0, 0xC0 | 0xD0) { 2 } else { 3 };
    let from = usize::from(*running == message[0] && !draw.one_in(3));
    body.extend(&message[from..count]);
    *running = message[0];
}

fn system(draw: &mut Draw, body: &mut Vec<u8>, running: &mut u8) {
    let status = draw.pick(&[0xF0, 0xF7, 0xF1, 0xFE]);
    let count = draw.byte() % 6;
    body.extend([status, count]);
    let data = draw.take(usize::from(count));
    body.extend(data);
    *running = 0;
}

/// A meta event: tempo, metre, key, a wish, a record or a marker of ours, a text.
fn meta(draw: &mut Draw, body: &mut Vec<u8>, running: &mut u8) {
    const WORDS: [&str; 8] = [
        "wish: no vibrato",
        "wish A4: open",
        "wish C4: pressed, slide",
        "wish: \u{6eda}",
        "wish",
        "Shaped by Polso",
        "Shaped by Polso: engine 1; instrument erhu a; target generic b; hand wheel c; source cc 1; \
         seed 7; imperfection 1; bars all; ticks x2",
        "\u{0}\u{7f}",
    ];
    let record = |letter: u8, rest: &[u8]| [&[0x7D, b'p', b's', letter], rest].concat();
    let (kind, data) = match draw.below(12) {
        0 => (0x51, vec![draw.byte() % 16, draw.byte(), draw.byte()]),
        1 => (0x51, vec![0, 0, draw.byte() % 2]),
        2 => (0x58, vec![draw.byte() % 12, draw.byte() % 8, 24, 8]),
        3 => (0x59, vec![draw.byte(), draw.byte()]),
        4 => (draw.pick(&[0x01, 0x06, 0x07]), draw.pick(&WORDS).as_bytes().to_vec()),
        5 => (0x7F, record(b'k', draw.take(3))),
        6 => (0x7F, record(b'a', draw.take(5))),
        7 => (0x7F, record(b'e', draw.take(0))),
        8 if draw.one_in(8) => (0x2F, Vec::new()),
        9 => (draw.byte(), draw.take(4).to_vec()),
        _ => (0x01, draw.take(6).to_vec()),
    };
    body.extend([0xFF, kind & 0x7F, data.len() as u8]);
    body.extend(data);
    *running = 0;
}

/// Reads, shapes, traces and peels a file, and says which promise is broken, if one is.
pub fn check(bytes: &[u8]) -> Result<(), String> {
    let (choice, file) = grow(bytes);
    check_file(&file, &all_settings()[choice])
}

/// A file that is not refused by the settings it is for.
pub fn is_shaped(choice: usize, file: &[u8]) -> bool {
    shape_bytes(file, &all_settings()[choice]).is_ok()
}

fn check_file(bytes: &[u8], settings: &Settings) -> Result<(), String> {
    let Ok(file) = read(bytes) else { return Ok(()) };
    // A line of hours is only long; one beyond the longest is refused at once.
    let end = file.tracks.iter().map(|track| track.end_tick).max().unwrap_or(0);
    if (LENGTH_S_MAX..100_000.0).contains(&TempoMap::of(&file).seconds_at(end)) {
        return Ok(());
    }
    // What was read, written and read again is the same.
    if let Ok(again) = write(&file) {
        let again = read(&again).map_err(|error| format!("our own file: {error}"))?;
        if again != file {
            return Err("a file that was written reads otherwise".to_owned());
        }
    }
    // It is a shaped file, or somebody's who says so: peeling it never ends in a crash.
    // What stands too far apart without the events that were taken out is refused in words.
    if let Ok(peeled) = peel(file)
        && let Err(error) = write(&peeled.file)
        && !error.to_string().contains("; allowed is ")
    {
        return Err(format!("what was peeled: {error}"));
    }
    match shape_bytes(bytes, settings) {
        Err(error) if error.to_string().is_empty() => Err("an error without words".to_owned()),
        Err(_) => Ok(()),
        Ok(shaped) => {
            trace_bytes(bytes, settings, 50, |_| Ok::<(), ()>(()))
                .map_err(|error| format!("its trace: {error:?}"))?;
            // A forced file was peeled first: its promises are those of what was peeled.
            let is_fresh = read(bytes).is_ok_and(|file| !has_our_records(&file));
            if is_fresh { promises(bytes, &shaped.bytes, settings) } else { Ok(()) }
        }
    }
}

fn has_our_records(file: &polso::offline::midi::File) -> bool {
    file.tracks.iter().flat_map(|track| &track.events).any(crate::room::is_ours)
}
