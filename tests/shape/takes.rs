//! A recorded take and the performed line beside it: what stays, what changes and what is refused.

use super::room::{LINE, QUARTER, is_ours, promises, settings, take, words};
use polso::engine::Message;
use polso::engine::patch::Source;
use polso::offline::midi::{Division, File, Track, read::read};
use polso::offline::{Settings, Shaped, digest, shape_bytes};

fn shape(bytes: &[u8], settings: &Settings) -> (Shaped, File) {
    let shaped = shape_bytes(bytes, settings).expect("a take that can be shaped");
    promises(bytes, &shaped.bytes, settings).expect("the promises of shaping");
    let file = read(&shaped.bytes).unwrap();
    (shaped, file)
}

fn count(track: &Track, is_wanted: impl Fn(Message) -> bool) -> usize {
    let messages = track.events.iter().filter_map(|event| event.message());
    messages.filter(|message| is_wanted(*message)).count()
}

fn is_controller(wanted: u8) -> impl Fn(Message) -> bool {
    move |message| matches!(message, Message::Controller { number, .. } if number == wanted)
}

#[test]
fn one_wheel_becomes_the_outputs_of_its_target() {
    let bytes = take(QUARTER, &[LINE]);
    let (shaped, file) = shape(&bytes, &settings("erhu", "generic"));
    let track = &file.tracks[0];
    assert_eq!(file.division, Division::Quarter(960));
    assert_eq!(count(track, is_controller(1)), 0, "the wheel is consumed");
    assert!(count(track, is_controller(11)) > 10, "dynamics");
    assert!(count(track, is_controller(77)) > 5, "vibrato width");
    assert!(words(track).contains(&"0 C06E".to_owned()), "the program passes");
    let line = &shaped.report.lines[0];
    assert_eq!((line.track, line.channel, line.notes, line.consumed), (1, 1, 3, 8));
    assert_eq!(line.length_s, 3.0);
    assert_eq!(line.modes.values().sum::<usize>(), 3);
    assert_eq!(line.source, "cc 1");
    let told: usize = line.outputs.iter().map(|output| output.messages).sum();
    let numbers = [5, 11, 65, 70, 76, 77, 84, 91];
    let is_output = |message| numbers.iter().any(|it| is_controller(*it)(message));
    assert_eq!(told, count(track, is_output), "the report counts what the file holds");
}

#[test]
fn another_players_keys_pass_untouched_and_are_counted() {
    // C1 twice, far below the violin, in the midst of a note: the rest is as without them.
    let keys = "700 901865, 720 801840, 800 901802, 810 801801, 960 803E40";
    let beside = take(QUARTER, &[&LINE.replace("960 803E40", keys)]);
    for target in ["generic", "perform"] {
        let settings = settings("violin", target);
        let (plain, alone) = shape(&take(QUARTER, &[LINE]), &settings);
        let (shaped, file) = shape(&beside, &settings);
        let (own, rest): (Vec<String>, Vec<String>) = words(&file.tracks[0])
            .into_iter()
            .partition(|word| word.contains(" 9018") || word.contains(" 8018"));
        assert_eq!(own, ["1400 901865", "1440 801840", "1600 901802", "1620 801801"], "{target}");
        assert_eq!(rest, words(&alone.tracks[0]), "{target}");
        let (line, plain) = (&shaped.report.lines[0], &plain.report.lines[0]);
        assert_eq!((line.notes, line.foreign_notes), (3, 2), "{target}");
        assert_eq!((&line.modes, line.offs_moved), (&plain.modes, plain.offs_moved), "{target}");
        assert_eq!(line.velocities_changed, plain.velocities_changed, "{target}");
        let said = "passing    2 notes lie more than 7 semitones outside the range, as another \
                    player's keys do: untouched\n";
        assert!(shaped.report.to_string().contains(said), "{}", shaped.report);
        assert!(!plain.to_string().contains("passing"), "{plain}");
        let json = serde_json::to_value(line).expect("a value");
        assert_eq!(json["foreign_notes"], 2, "{target}");
    }
}

#[test]
fn performed_vibrato_is_a_stream_of_bends_that_ends_in_the_centre() {
    let (_, file) = shape(&take(QUARTER, &[LINE]), &settings("violin", "perform"));
    let bends: Vec<u16> = file.tracks[0]
        .events
        .iter()
        .filter_map(|event| match event.message() {
            Some(Message::PitchBend { value, .. }) => Some(value),
            _ => None,
        })
        .collect();
    assert!(bends.len() > 200, "{} bends", bends.len());
    assert_eq!(bends.last(), Some(&8192));
}

#[test]
fn the_same_take_gives_the_same_bytes_and_another_seed_gives_others() {
    let bytes = take(QUARTER, &[LINE]);
    let one = settings("erhu", "perform");
    let mut other = one.clone();
    other.patch.seed = 8;
    assert_eq!(shape(&bytes, &one).0.bytes, shape(&bytes, &one).0.bytes);
    assert_ne!(shape(&bytes, &one).0.bytes, shape(&bytes, &other).0.bytes);
}

#[test]
fn everything_foreign_stays_with_its_track_order_and_bytes() {
    let conductor = "0 FF5804 03022408, 0 FF5902 00FF, 0 FF5103 07A120, 700 FF5103 0A2C2A";
    let other = "0 FF0302 6F62, 0 F003 4301F7, 0 915050, 100 B10120, 200 815040, 300 F702 01F8";
    let mixed = format!("{LINE}, 2880 B20155, 2880 FF0102 6869");
    let bytes = take(QUARTER, &[conductor, other, &mixed]);
    let mut settings = settings("erhu", "generic");
    settings.tracks = vec![3];
    let (_, file) = shape(&bytes, &settings);
    let original = read(&bytes).unwrap();
    let finer = |words: Vec<String>| -> Vec<String> {
        let finer = |word: String| {
            let (tick, rest) = word.split_once(' ').unwrap();
            format!("{} {rest}", 2 * tick.parse::<u64>().unwrap())
        };
        words.into_iter().map(finer).collect()
    };
    assert_eq!(words(&file.tracks[0]), finer(words(&original.tracks[0])));
    assert_eq!(words(&file.tracks[1]), finer(words(&original.tracks[1])));
    let last = ["5760 B20155", "5760 FF01026869"];
    assert!(words(&file.tracks[2]).windows(2).any(|pair| pair == last));
}

#[test]
fn a_marker_says_what_the_take_was_shaped_with() {
    let bytes = take(QUARTER, &["", LINE]);
    let (shaped, file) = shape(&bytes, &settings("erhu", "generic"));
    let text = "Shaped by Polso: engine 2; instrument erhu 0123456789abcdef; \
        target generic 0123456789abcdef; hand my-hand 0123456789abcdef; source cc 1; seed 7; \
        imperfection 1; bars all; take TAKE; ticks x2";
    let marker = file.tracks[1].events.iter().find(|event| is_ours(event)).unwrap();
    let text = text.replace("TAKE", &digest::of_take(&read(&bytes).unwrap()));
    assert_eq!(marker.meta(6), Some(text.as_bytes()));
    assert_eq!(marker.tick, 0);
    let again = shape_bytes(&shaped.bytes, &settings("erhu", "generic")).unwrap_err().to_string();
    assert_eq!(
        again,
        format!("the file is shaped already ({text}); peel it first, or --force peels it here")
    );
}

#[test]
fn a_shaped_file_is_peeled_before_it_is_forced_into_another_shape() {
    let bytes = take(QUARTER, &[LINE]);
    let (erhu, _) = shape(&bytes, &settings("erhu", "generic"));
    let (violin, _) = shape(&bytes, &settings("violin", "generic"));
    let mut forced = settings("violin", "generic");
    forced.is_forced = true;
    let again = shape_bytes(&erhu.bytes, &forced).unwrap();
    assert_eq!(again.bytes, violin.bytes);
    assert_eq!(again.report.notices, ["the file was shaped before and has been peeled first"]);
    forced.bars = Some("1..1".parse().unwrap());
    let error = shape_bytes(&erhu.bytes, &forced).unwrap_err().to_string();
    assert_eq!(error, "the file is shaped already; peel it before shaping some of its bars");
}

#[test]
fn every_resolution_is_served() {
    for division in [
        Division::Quarter(1),
        Division::Quarter(24),
        Division::Quarter(100),
        Division::Quarter(960),
        Division::Quarter(32767),
        Division::Frame { frames_per_s: 29, ticks: 80 },
        Division::Frame { frames_per_s: 25, ticks: 40 },
    ] {
        let line = "0 B00140, 1 903C50, 40 B00160, 90 803C40, 90 904050, 200 804040";
        shape(&take(division, &[line]), &settings("erhu", "generic"));
    }
}

#[test]
fn overlapping_and_unfinished_notes_come_out_in_order() {
    let check = |line: &str| {
        for target in ["generic", "perform"] {
            shape(&take(QUARTER, &[&format!("0 B00140, {line}")]), &settings("dizi-d", target));
        }
    };
    check("0 904550, 240 904550, 480 804540, 720 804540");
    check("0 904550, 0 904550, 0 804540, 480 804540");
    check("0 904550, 0 804540");
    check("0 904550");
    check("0 904550, 100 904750, 200 904950, 480 FF0100");
    check("0 804540, 0 904550, 480 804540, 480 804540");
    check("0 904550, 240 B07B00, 480 804540, 500 904750, 960 804740");
    check("0 904550, 240 B0407F, 480 804540, 960 B04000");
}

#[test]
fn the_line_is_the_one_that_carries_the_gesture() {
    let check = |tracks: &[&str], chosen: &[usize], lines: &[(usize, u8)], notices: &[&str]| {
        let mut settings = settings("erhu", "generic");
        settings.tracks = chosen.to_vec();
        let (shaped, _) = shape(&take(QUARTER, tracks), &settings);
        let found: Vec<(usize, u8)> =
            shaped.report.lines.iter().map(|line| (line.track, line.channel)).collect();
        assert_eq!(found, lines);
        assert_eq!(shaped.report.notices, notices);
    };
    let plain = "0 913C50, 480 813C40";
    let quiet = "0 903C50, 480 803C40";
    let left = "untouched, without cc 1: track 1 channel 2 (1 note)";
    check(&[plain, LINE], &[], &[(2, 1)], &[left]);
    check(&[LINE, LINE], &[], &[(1, 1), (2, 1)], &[]);
    check(&[LINE, LINE], &[2], &[(2, 1)], &[]);
    let silent = "track 1, channel 2: no cc 1 here, so the gesture never moves";
    check(&[plain, LINE], &[1], &[(1, 2)], &[silent]);
    check(&[plain], &[], &[(1, 2)], &[silent]);
    let lent = "track 1, channel 1: the gesture is taken from track 2";
    check(&[quiet, "0 B00140, 240 B00160"], &[], &[(1, 1)], &[lent]);
    let two = format!("{LINE}, 2880 913C50, 2880 B10130, 2990 813C40");
    check(&[&two], &[], &[(1, 1), (1, 2)], &[]);
}

#[test]
fn a_channel_of_a_track_is_chosen_by_its_number() {
    let two = format!("{LINE}, 2880 913C50, 2990 813C40");
    let check = |tracks: &[usize], channels: &[u8], expected: Result<&[(usize, u8)], &str>| {
        let mut settings = settings("erhu", "generic");
        (settings.tracks, settings.channels) = (tracks.to_vec(), channels.to_vec());
        let lines = shape_bytes(&take(QUARTER, &[&two, LINE]), &settings);
        let lines = lines.map(|shaped| {
            let lines = shaped.report.lines.iter();
            lines.map(|line| (line.track, line.channel)).collect::<Vec<_>>()
        });
        let lines = lines.map_err(|error| error.to_string());
        assert_eq!(lines.as_deref().map_err(String::as_str), expected, "{tracks:?} {channels:?}");
    };
    check(&[1], &[1], Ok(&[(1, 1)]));
    check(&[1], &[2], Ok(&[(1, 2)]));
    check(&[1], &[2, 1], Ok(&[(1, 1), (1, 2)]));
    check(&[], &[1], Ok(&[(1, 1), (2, 1)]));
    check(&[], &[2], Ok(&[(1, 2)]));
    check(&[2], &[2], Err("--channel is 2; channels with notes are 1"));
    check(&[], &[3], Err("--channel is 3; channels with notes are 1, 2"));
}

#[test]
fn a_line_that_cannot_be_chosen_is_refused_in_words() {
    let check = |tracks: &[&str], chosen: &[usize], expected: &str| {
        let mut settings = settings("erhu", "generic");
        settings.tracks = chosen.to_vec();
        let error = shape_bytes(&take(QUARTER, tracks), &settings).unwrap_err();
        assert_eq!(error.to_string(), expected);
    };
    let one = "0 903C50, 0 B00764, 10 B00B10, 20 B00B11, 480 803C40";
    let other = "0 913C50, 10 D105, 480 813C40";
    check(&["0 B00110"], &[], "the file has no notes");
    check(&[one, "", LINE], &[2], "--track is 2; tracks with notes are 1, 3");
    check(&[one, other], &[0], "--track is 0; tracks with notes are 1, 2");
    check(
        &[one, other],
        &[],
        "no track carries cc 1, so choose a line with --track and --channel or another --source: track 1 \
         channel 1 (1 notes, 2 cc11); track 2 channel 2 (1 notes, channel pressure)",
    );
    // 300,000 quarter notes at 120 a minute.
    check(
        &["0 B00140, 0 903C50, 144000000 803C40"],
        &[],
        "track 1: the line lasts 41.7 hours; allowed is at most 24",
    );
}

#[test]
fn pressure_and_bend_can_be_the_gesture() {
    let check = |source: Source, line: &str, consumed: usize| {
        let mut settings = settings("erhu", "generic");
        settings.patch.hand.source = source;
        let (shaped, _) = shape(&take(QUARTER, &[line]), &settings);
        assert_eq!(shaped.report.lines[0].consumed, consumed, "{source:?}");
    };
    check(Source::ChannelPressure, "0 903C50, 10 D010, 20 D030, 900 803C40", 2);
    check(Source::PolyPressure, "0 903C50, 10 A03C10, 20 A03C30, 900 803C40", 2);
    check(Source::PitchBend, "0 903C50, 10 E00050, 20 E00060, 900 803C40", 2);
    check(Source::ControllerPair(1), "0 903C50, 10 B00110, 10 B02120, 900 803C40", 2);
}

#[test]
fn messages_of_the_take_that_meet_an_output_are_reported() {
    // One value is no lane, and still it meets what is sent there.
    let line = format!("{LINE}, 2880 B00B40, 2890 B00B40");
    let (shaped, _) = shape(&take(QUARTER, &[&line]), &settings("erhu", "generic"));
    assert_eq!(
        shaped.report.conflicts,
        ["2 cc11 messages of the take pass and meet the dynamics output on cc11"]
    );
}

/// A long C5 under a tapped D5: what is sent of their notes, and the report.
fn tapped(target: &str) -> (Vec<String>, polso::offline::shape::report::LineReport) {
    let line = "0 B00140, 0 904850, 960 904A60, 1440 804A40, 2400 804840";
    let (shaped, file) = shape(&take(QUARTER, &[line]), &settings("violin", target));
    let is_note = |word: &String| {
        let status = word.split(' ').nth(1).unwrap_or("");
        status.starts_with('9') || status.starts_with('8')
    };
    let notes = words(&file.tracks[0]).into_iter().filter(is_note);
    let notes = notes.map(|word| word[..word.len() - 2].to_owned()).collect();
    (notes, shaped.report.lines[0].clone())
}

#[test]
fn a_report_names_the_way_of_the_joins_and_counts_what_is_struck_again() {
    // 480 ticks became 960. `shape` has peeled the file already.
    let (notes, line) = tapped("perform-12");
    assert_eq!(notes[..5], ["0 9048", "1920 904A", "1920 8048", "2880 9048", "2880 804A"]);
    assert_eq!((line.transition, line.struck_again, line.notes), ("bend", 1, 2));
    let counts: Vec<_> = line.transitions.iter().map(|it| (it.reason, it.count)).collect();
    assert_eq!(counts, [("by-bend", 1)]);
    let text = line.to_string();
    assert!(text.contains("\njoins      by bend, 1 key struck again\n"), "{text}");
    for (target, way) in [("portamento", "portamento"), ("generic", "portamento")] {
        let (notes, line) = tapped(target);
        assert_eq!(notes[..3], ["0 9048", "1920 904A", "2880 804A"], "{target}");
        assert_eq!((line.transition, line.struck_again), (way, 0), "{target}");
    }
}

/// The wheel comes up after half a second and lies at 0 from the third beat on, under a note of two
/// seconds. What is before its rise is no silence.
#[test]
fn a_line_says_where_it_is_silent_by_the_hand_and_how_long() {
    let line = "0 B00100, 0 903C50, 480 B00150, 960 B00100, 1920 803C40";
    let (shaped, _) = shape(&take(QUARTER, &[line]), &settings("violin", "perform"));
    let [silence] = &shaped.report.lines[0].silences[..] else {
        panic!("{:?}", shaped.report.lines[0].silences)
    };
    assert_eq!(silence.beat, "1.3");
    assert!((0.7..0.85).contains(&silence.length_s), "{}", silence.length_s);
    let text = shaped.report.to_string();
    assert!(text.contains("silent     0.8 s. Nothing is heard:"), "{text}");
    assert!(text.contains("           from 1.3 for 0.8 s"), "{text}");
    // A reed cannot, and says nothing.
    let (shaped, _) = shape(&take(QUARTER, &[line]), &settings("oboe", "perform"));
    assert!(shaped.report.lines[0].silences.is_empty());
    assert!(!shaped.report.to_string().contains("silent"));
}

/// A full bend has to be heard before the vibrato can be, where the receiver is told how far it goes.
#[test]
fn a_target_that_tells_its_bend_range_says_what_to_listen_for() {
    let notices = |target: &str| {
        let (shaped, _) = shape(&take(QUARTER, &[LINE]), &settings("violin", target));
        shaped.report.notices.join("\n")
    };
    let told = notices("perform-12");
    assert!(told.contains("its bend goes 12 semitones either way (RPN 0)"), "{told}");
    assert!(told.contains("6.0 times too narrow"), "{told}");
    for target in ["perform", "portamento", "generic"] {
        assert_eq!(notices(target), "", "{target}");
    }
}
