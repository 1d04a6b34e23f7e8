//! Automation that the take has already where the performance writes: refused, replaced or kept.

use std::fs;
use std::process::Command;

use super::room::{LINE, QUARTER, settings, take, words};
use polso::engine::patch::Source;
use polso::offline::midi::read::read;
use polso::offline::peel::peel;
use polso::offline::{Error, LaneRule, Settings, Shaped, shape_over_lanes};

/// A drawn swell of CC 11 under the line.
const LANE: &str = "300 B00B20, 700 B00B40, 1200 B00B30";

/// The line with more events among its own, in order of their ticks.
fn with(more: &str) -> String {
    let tick = |event: &str| event.trim().split(' ').next().unwrap().parse::<u64>().unwrap();
    let mut events: Vec<String> =
        [LINE, more].iter().flat_map(|text| text.split(',')).map(str::to_owned).collect();
    events.sort_by_key(|event| tick(event));
    events.join(",")
}

fn shaped(tracks: &[&str], settings: &Settings, rule: LaneRule) -> Result<Shaped, Error> {
    shape_over_lanes(&take(QUARTER, tracks), settings, rule)
}

/// The words of the shaped tracks; peeling gives the very take.
#[track_caller]
fn written(tracks: &[&str], settings: &Settings, rule: LaneRule) -> Vec<Vec<String>> {
    let shaped = shaped(tracks, settings, rule).unwrap();
    let file = read(&shaped.bytes).unwrap();
    let found = file.tracks.iter().map(words).collect();
    let peeled = peel(file).unwrap();
    assert_eq!(peeled.leftovers, [""; 0]);
    assert_eq!(peeled.file, read(&take(QUARTER, tracks)).unwrap());
    found
}

fn refusal(tracks: &[&str], settings: &Settings) -> Option<String> {
    shaped(tracks, settings, LaneRule::Refuse).err().map(|error| error.to_string())
}

fn is_dynamics(word: &str) -> bool {
    word.split(' ').nth(1).is_some_and(|bytes| bytes.starts_with("B00B"))
}

#[test]
fn a_lane_is_refused_by_name_and_both_ways_out_are_said() {
    let erhu = settings("erhu", "generic");
    let expected = "the take moves what the performance would write: track 1, channel 1: 3 cc11 \
                    messages, where dynamics goes; --replace takes that out (peel gives it back), \
                    --keep leaves it and writes nothing of ours there";
    assert_eq!(refusal(&[&with(LANE)], &erhu).as_deref(), Some(expected));
    let two = with(&format!("{LANE}, 10 B04D10, 20 B04D11"));
    let text = refusal(&[&two], &erhu).unwrap();
    assert!(text.contains("3 cc11 messages, where dynamics goes; track 1, channel 1: 2 cc77"));
}

#[test]
fn what_sets_up_bends_or_is_the_gesture_is_no_lane() {
    let erhu = settings("erhu", "generic");
    let free = |line: &str, settings: &Settings| {
        assert_eq!(refusal(&[&with(line)], settings), None, "{line}");
    };
    free("0 B00B40", &erhu);
    free("0 B00B40, 600 B00B40", &erhu);
    // No output of this target goes there.
    free("300 B00720, 700 B00740", &erhu);
    // Bank, program, and data entry are no addresses.
    free("0 B00001, 0 C001, 10 B00002, 10 C002, 20 B00601, 30 B00602", &erhu);
    free("300 E00050, 700 E00030", &settings("erhu", "perform"));
    // Another channel's.
    free("300 B10B20, 700 B10B40", &erhu);
    let mut by_expression = settings("erhu", "generic");
    by_expression.patch.hand.source = Source::Controller(11);
    free(LANE, &by_expression);
}

#[test]
fn replaced_lanes_are_not_heard_of_and_come_back_with_the_take() {
    let erhu = settings("erhu", "generic");
    let alone = written(&[LINE], &erhu, LaneRule::Refuse);
    assert_eq!(written(&[&with(LANE)], &erhu, LaneRule::Replace), alone);
    let shaped = shaped(&[&with(LANE)], &erhu, LaneRule::Replace).unwrap();
    let notice = "track 1, channel 1: 3 cc11 messages, where dynamics goes: taken out; peel gives \
                  them back";
    assert_eq!(shaped.report.notices, [notice]);
    assert_eq!(shaped.report.lines[0].consumed, 8, "the wheel's own");
}

#[test]
fn kept_lanes_stay_alone_and_all_else_is_as_it_would_be() {
    let erhu = settings("erhu", "generic");
    let mut expected = written(&[LINE], &erhu, LaneRule::Refuse).remove(0);
    expected.retain(|word| !is_dynamics(word));
    let mut found = written(&[&with(LANE)], &erhu, LaneRule::Keep).remove(0);
    let lane: Vec<String> = found.iter().filter(|word| is_dynamics(word)).cloned().collect();
    assert_eq!(lane, ["600 B00B20", "1400 B00B40", "2400 B00B30"], "480 ticks became 960");
    found.retain(|word| !is_dynamics(word));
    assert_eq!(found, expected);
    let shaped = shaped(&[&with(LANE)], &erhu, LaneRule::Keep).unwrap();
    let outputs = &shaped.report.lines[0].outputs;
    assert!(outputs.len() > 3 && outputs.iter().all(|output| output.address != "cc11"));
    assert!(shaped.report.notices[0].ends_with("they stay, and nothing of ours is written there"));
}

#[test]
fn a_rule_changes_nothing_where_there_is_no_lane() {
    let erhu = settings("erhu", "generic");
    let bytes = |rule| shaped(&[LINE], &erhu, rule).unwrap().bytes;
    assert_eq!(bytes(LaneRule::Replace), bytes(LaneRule::Refuse));
    assert_eq!(bytes(LaneRule::Keep), bytes(LaneRule::Refuse));
}

#[test]
fn a_lane_may_stand_in_a_track_of_its_own() {
    let erhu = settings("erhu", "generic");
    let text = refusal(&[LANE, LINE], &erhu).unwrap();
    assert!(text.contains("track 1, channel 1: 3 cc11 messages"), "{text}");
    let alone = written(&["", LINE], &erhu, LaneRule::Refuse);
    assert_eq!(written(&[LANE, LINE], &erhu, LaneRule::Replace)[1], alone[1]);
    let kept = written(&[LANE, LINE], &erhu, LaneRule::Keep);
    assert_eq!(kept[0], ["600 B00B20", "1400 B00B40", "2400 B00B30"]);
    assert!(kept[1].iter().all(|word| !is_dynamics(word)));
    // Where that track has notes on the channel, it is another player's.
    let other = format!("{LANE}, 1300 903050, 1400 803050");
    assert_eq!(refusal(&[&other, LINE], &Settings { tracks: vec![2], ..erhu }), None);
}

#[test]
fn only_the_bars_that_are_shaped_lose_their_lane() {
    let mut erhu = settings("erhu", "generic");
    erhu.bars = Some("2..2".parse().unwrap());
    let line = "0 B00130, 0 903C50, 100 B00B20, 1000 B00140, 1800 803C40, 2000 903E50,\
        2100 B00B30, 2200 B00150, 2300 B00B38, 3700 803E40, 4000 904050, 4100 B00B50, 4500 804040";
    let lane = |rule| -> Vec<String> {
        let track = written(&[line], &erhu, rule).remove(0);
        track.into_iter().filter(|word| is_dynamics(word)).collect()
    };
    let replaced = lane(LaneRule::Replace);
    assert_eq!(replaced.first().map(String::as_str), Some("200 B00B20"));
    assert_eq!(replaced.last().map(String::as_str), Some("8200 B00B50"));
    // What the take had sent last inside closes them.
    assert_eq!(replaced[replaced.len() - 2], "7679 B00B38");
    assert!(!replaced.contains(&"4200 B00B30".to_owned()) && replaced.len() > 4);
    let all = ["200 B00B20", "4200 B00B30", "4600 B00B38", "8200 B00B50"];
    assert_eq!(lane(LaneRule::Keep), all);
    // The same with the lane in a track of its own.
    let is_lane = |event: &&str| event.contains(" B00B");
    let (drawn, played): (Vec<&str>, Vec<&str>) = line.split(',').partition(is_lane);
    let tracks = written(&[&drawn.join(","), &played.join(",")], &erhu, LaneRule::Replace);
    assert_eq!(tracks[0], ["200 B00B20", "8200 B00B50"]);
    let last = tracks[1].iter().rfind(|word| is_dynamics(word));
    assert_eq!(last.map(String::as_str), Some("7679 B00B38"));
}

#[test]
fn the_program_refuses_a_lane_alone_and_in_a_batch() {
    let room = tempfile::tempdir().unwrap();
    let polso = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        let mut command = Command::new(env!("CARGO_BIN_EXE_polso"));
        let output = command.args(words).current_dir(room.path()).output().unwrap();
        (output.status.code(), String::from_utf8([output.stdout, output.stderr].concat()).unwrap())
    };
    fs::create_dir(room.path().join("takes")).unwrap();
    fs::write(room.path().join("takes/a.mid"), take(QUARTER, &[LINE])).unwrap();
    fs::write(room.path().join("takes/b.mid"), take(QUARTER, &[&with(LANE)])).unwrap();
    let (code, text) = polso("shape takes/b.mid -o b.mid -i erhu");
    assert_eq!(code, Some(2));
    assert!(text.starts_with("takes/b.mid: the take moves what the performance"), "{text}");
    assert!(!room.path().join("b.mid").exists() && !room.path().join("b.take.mid").exists());
    let (code, text) = polso("shape takes -o out -i erhu");
    assert_eq!(code, Some(1));
    assert!(text.starts_with("1 of 2 files shaped") && text.contains("\ntakes/b.mid: "), "{text}");
    assert_eq!(polso("shape takes -o out -i erhu --replace --force").0, Some(0));
    assert_eq!(polso("peel out/b.mid -o back.mid").0, Some(0));
    let read = |name: &str| fs::read(room.path().join(name)).unwrap();
    assert_eq!(read("back.mid"), read("takes/b.mid"));
    assert_eq!(polso("contrast out/b.mid --fresh -i erhu --replace").0, Some(0));
    assert_eq!(polso("contrast out/b.mid --fresh -i erhu").0, Some(2));
    // What only performs writes nothing that could meet.
    assert_eq!(polso("trace takes/b.mid -i erhu --every 1000").0, Some(0));
    assert_eq!(polso("shape takes/b.mid -o b.mid -i erhu --keep --replace").0, Some(2));
}
