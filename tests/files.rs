//! Takes on disk: what a MIDI file holds is kept to the byte, and what cannot be is refused in words.

use polso::offline::midi::{
    Bars, Division, MetreMap, TempoMap, quantity, read::read, write::write,
};

/// Bytes from hexadecimal digits; letters after `"` up to the next `"` stand for themselves.
fn bytes(text: &str) -> Vec<u8> {
    let mut bytes = Vec::new();
    for (place, part) in text.split('"').enumerate() {
        if place % 2 == 1 {
            bytes.extend_from_slice(part.as_bytes());
            continue;
        }
        let digits: Vec<u8> = part.bytes().filter(|byte| !byte.is_ascii_whitespace()).collect();
        bytes.extend(digits.chunks(2).map(|two| {
            u8::from_str_radix(std::str::from_utf8(two).unwrap(), 16).expect("two digits")
        }));
    }
    bytes
}

/// A file of `format` with these tracks, each given without its end.
fn file(format: u16, division: u16, tracks: &[&str]) -> Vec<u8> {
    let mut file = bytes(r#""MThd" 00000006"#);
    for word in [format, tracks.len() as u16, division] {
        file.extend_from_slice(&word.to_be_bytes());
    }
    for track in tracks {
        let mut contents = bytes(track);
        contents.extend_from_slice(&[0, 0xFF, 0x2F, 0]);
        file.extend_from_slice(b"MTrk");
        file.extend_from_slice(&(contents.len() as u32).to_be_bytes());
        file.extend_from_slice(&contents);
    }
    file
}

#[test]
fn numbers_of_variable_length_are_those_of_the_standard() {
    // SMF 1.0, the table of variable-length quantities.
    let check = |value: u64, expected: &str| {
        let mut written = Vec::new();
        quantity::write(value, &mut written);
        assert_eq!(written, bytes(expected), "{value:X}");
        assert_eq!(quantity::read(&written), Some((value, written.len())), "{value:X}");
    };
    check(0x00, "00");
    check(0x40, "40");
    check(0x7F, "7F");
    check(0x80, "81 00");
    check(0x2000, "C0 00");
    check(0x3FFF, "FF 7F");
    check(0x4000, "81 80 00");
    check(0x10_0000, "C0 80 00");
    check(0x1F_FFFF, "FF FF 7F");
    check(0x20_0000, "81 80 80 00");
    check(0x0FFF_FFFF, "FF FF FF 7F");
    assert_eq!(quantity::read(&bytes("81 80 80 80 00")), None, "five bytes");
    assert_eq!(quantity::read(&bytes("81")), None, "cut off");
}

#[test]
fn whatever_a_file_holds_comes_back_to_the_byte() {
    let check = |what: &str, file: Vec<u8>| {
        let read = read(&file).unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!(write(&read).unwrap(), file, "{what}");
    };
    check("an empty track", file(0, 96, &[""]));
    check("running status", file(0, 96, &["00 903C40 10 3E40 10 3C00 00 3E00"]));
    check("a key signature of mode 255", file(1, 96, &["00 FF5902 00FF", "00 903C40 10 803C40"]));
    check("SysEx in packets", file(0, 96, &["00 F003 430001 10 F702 0102 10 F702 03F7"]));
    check("an escape", file(0, 96, &["00 F701 F8"]));
    check("a text of 200 bytes", file(0, 96, &[&format!("00 FF01 8148 {}", "41".repeat(200))]));
    check("a length written long", file(0, 96, &["00 FF01 8001 41"]));
    check("an unknown meta event", file(0, 96, &["00 FF7A 03 010203"]));
    check("a tempo of two bytes", file(0, 96, &["00 FF51 02 0102"]));
    check("29.97 frames a second", file(1, 0xE3_50, &["00 903C40 10 803C40"]));
    check("32767 ticks", file(0, 32767, &["FFFFFF7F 903C40"]));

    let mut foreign = file(1, 96, &["00 903C40"]);
    let at = foreign.len();
    foreign.splice(14..14, bytes(r#""XFIH" 00000002 0102"#));
    foreign.extend(bytes(r#""abcd" 00000000"#));
    check("chunks of other kinds", foreign.clone());
    foreign.extend(bytes(r#"0000 "left""#));
    check("bytes after the last chunk", foreign);
    let mut longer = file(1, 96, &["00 903C40"]);
    longer[7] = 8;
    longer.splice(14..14, [7, 7]);
    check("a longer header", longer);
    assert!(at > 14);
}

#[test]
fn a_status_is_repeated_only_where_it_must_be() {
    let full = file(0, 96, &["00 903C40 00 903E40 00 FF0100 00 903C00"]);
    let short = file(0, 96, &["00 903C40 00 3E40 00 FF0100 00 903C00"]);
    assert_eq!(write(&read(&full).unwrap()).unwrap(), short);
}

#[test]
fn a_track_without_an_end_ends_with_its_last_event() {
    let mut cut = file(0, 96, &["00 903C40 10 803C40"]);
    cut.truncate(cut.len() - 4);
    cut[21] -= 4;
    let read = read(&cut).unwrap();
    assert_eq!(read.tracks[0].end_tick, 16);
    assert_eq!(write(&read).unwrap(), file(0, 96, &["00 903C40 10 803C40"]));
}

#[test]
fn what_cannot_be_kept_is_refused_with_its_place() {
    let check = |file: Vec<u8>, expected: &str| {
        assert_eq!(read(&file).unwrap_err().to_string(), expected);
    };
    let good = file(1, 96, &["00 903C40", "00 903C40 10 803C40"]);
    let at = |place: usize, byte: u8| {
        let mut file = good.clone();
        file[place] = byte;
        file
    };
    check(Vec::new(), "byte 0: this is not a MIDI file: it does not begin with `MThd`");
    check(b"RIFF....".to_vec(), "byte 0: this is not a MIDI file: it does not begin with `MThd`");
    check(good[..12].to_vec(), "byte 4: the header is cut off");
    check(at(7, 5), "byte 4: the header is cut off");
    check(at(9, 2), "byte 8: format 2 holds separate songs; allowed is 0 or 1");
    check(at(9, 3), "byte 8: format is 3; allowed is 0 or 1");
    check(at(9, 0), "byte 10: a file of format 0 has one track; this one holds 2");
    check(at(11, 3), "byte 10: the header promises 3 tracks; the file holds 2");
    check(at(13, 0), "byte 12: a quarter note has 0 ticks; allowed is 1 to 32767");
    check(
        at(12, 0xE6),
        "byte 12: 26 frames a second of 96 ticks; allowed is 24, 25, 29 or 30 frames of 1 to 255 \
         ticks",
    );
    check(good[..good.len() - 1].to_vec(), "byte 30: the file ends before this track does");
    let second_header = [good.clone(), good[..14].to_vec()].concat();
    check(second_header, &format!("byte {}: a second header stands here", good.len()));
    check(bytes(r#""MThd" 00000006 0001 0000 0060"#), "byte 10: the file has no tracks");

    let event = |track: &str| file(1, 96, &["", track]);
    let place = "track 2, byte 34";
    check(event("00 3C40"), &format!("{place}: what stands here is not an event"));
    check(event("00 F1 00"), &format!("{place}: what stands here is not an event"));
    check(event("00 90 3C C0"), &format!("{place}: what stands here is not an event"));
    check(event("00 FF01 10 41"), &format!("{place}: the track ends before this event does"));
    check(event("00 F0 7F 41"), &format!("{place}: the track ends before this event does"));
    check(event("8080808000"), &format!("{place}: the time of an event is malformed"));
    check(event("00 FF01 8080808000"), &format!("{place}: the length of an event is malformed"));
    check(event("00 FF2F00 00 903C40"), &format!("{place}: 8 bytes follow the end of the track"));
}

#[test]
fn a_file_beyond_64_mebibytes_is_refused() {
    let file = vec![0; 64 * 1024 * 1024 + 1];
    let error = read(&file).unwrap_err().to_string();
    assert_eq!(error, "the file has 67108865 bytes; allowed is at most 67108864");
}

#[test]
fn ticks_and_seconds_follow_the_tempo() {
    // 120 a minute until told otherwise (SMF 1.0); then 60 a minute from the second quarter on.
    let file = read(&file(1, 480, &["8360 FF5103 0F4240", "8700 903C40"])).unwrap();
    let clock = TempoMap::of(&file);
    let check = |tick: u64, seconds: f64, beat: f64, tempo_bpm: f64| {
        assert_eq!(clock.seconds_at(tick), seconds, "seconds at {tick}");
        assert_eq!(clock.tick_at(seconds), tick as f64, "tick at {seconds} s");
        assert_eq!(clock.frame_at(tick, 48_000), (seconds * 48_000.0) as u64, "frame at {tick}");
        assert_eq!(clock.beat_at(tick), beat, "beat at {tick}");
        assert!((clock.tempo_bpm_at(tick) - tempo_bpm).abs() < 1e-9, "tempo at {tick}");
    };
    check(0, 0.0, 0.0, 120.0);
    check(240, 0.25, 0.5, 120.0);
    check(480, 0.5, 1.0, 60.0);
    check(960, 1.5, 2.0, 60.0);
    check(4800, 9.5, 10.0, 60.0);
}

#[test]
fn half_a_tick_counts_up_in_every_bar() {
    // At 100 a minute a tick of 960 lasts 30 frames of 48 kHz, so 15 frames are half of one.
    let file = read(&file(1, 960, &["00 FF5103 0927C0"])).unwrap();
    let clock = TempoMap::of(&file);
    for bar in 0..10_000 {
        let (tick, frame) = (bar * 3840, bar * 3840 * 30);
        let near = |frames: u64| clock.tick_near(frame + frames, 48_000) - tick;
        assert_eq!([14, 15, 44, 45].map(near), [0, 1, 1, 2], "bar {bar}");
    }
}

#[test]
fn two_tempos_at_one_tick_and_tempos_of_zero() {
    let file = read(&file(0, 480, &["00 FF5103 0F4240 00 FF5103 07A120 8360 FF5103 000000"]));
    let clock = TempoMap::of(&file.unwrap());
    assert_eq!(clock.seconds_at(960), 1.0, "the later of the two holds, the zero is passed over");
    assert_eq!(clock.zero_tempo_count, 1);
}

#[test]
fn film_frames_have_a_fixed_length() {
    // 29.97 frames of 80 ticks: 2400 ticks last 1.001 s.
    let clock = TempoMap::of(&read(&file(0, 0xE3_50, &["00 FF5103 0F4240 10 903C40"])).unwrap());
    assert_eq!(clock.seconds_at(2400), 1.001);
    let clock = TempoMap::of(&read(&file(0, 0xE7_28, &["10 903C40"])).unwrap());
    assert_eq!(clock.seconds_at(1000), 1.0, "25 frames of 40 ticks");
    assert_eq!(clock.beat_at(500), 1.0);
}

#[test]
fn ticks_become_fine_enough_by_a_whole_factor() {
    let check = |division: Division, factor: u64| assert_eq!(division.factor(), factor);
    check(Division::Quarter(1), 960);
    check(Division::Quarter(96), 10);
    check(Division::Quarter(480), 2);
    check(Division::Quarter(959), 2);
    check(Division::Quarter(960), 1);
    check(Division::Quarter(32767), 1);
    check(Division::Frame { frames_per_s: 25, ticks: 40 }, 2);
    check(Division::Frame { frames_per_s: 24, ticks: 200 }, 1);
    check(Division::Frame { frames_per_s: 30, ticks: 1 }, 64);
}

#[test]
fn bars_are_counted_as_players_count() {
    // 3/4, then 6/8 before the second bar is over, which cuts it short.
    let track = "00 FF5804 03022408 9240 FF5804 06032408 8700 903C40";
    let meter = MetreMap::of(&read(&file(0, 480, &[track])).unwrap()).unwrap();
    let check = |tick: u64, bar: u64, beat: u64| assert_eq!(meter.position(tick), (bar, beat));
    check(0, 1, 1);
    check(479, 1, 1);
    check(480, 1, 2);
    check(1440, 2, 1);
    check(2367, 2, 2);
    check(2368, 3, 1);
    let starts: Vec<u64> = (1..=5).map(|bar| meter.bar_start(bar)).collect();
    assert_eq!(starts, [0, 1440, 2368, 3808, 5248]);
}

#[test]
fn a_choice_of_bars_is_read_or_refused() {
    let check = |text: &str, first: u64, last: Option<u64>| {
        assert_eq!(text.parse::<Bars>().unwrap(), Bars { first, last });
    };
    check("5..8", 5, Some(8));
    check("5..5", 5, Some(5));
    check("5..", 5, None);
    check("..8", 1, Some(8));
    for text in ["", "..", "5", "8..5", "0..3", "..0", "a..b", "1...4", "-1..4"] {
        let expected = format!(
            "--bars is `{text}`; allowed is A..B, A.. or ..B with bars from 1 and A not after B"
        );
        assert_eq!(text.parse::<Bars>().unwrap_err().to_string(), expected);
    }
}
