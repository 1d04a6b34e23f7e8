//! How loud a real receiver plays: the level by GM2's law and by a measured table, and the tail.

use approx::abs_diff_eq;
use polso::offline::Settings;

use super::receiver::{Reel, mean, rows_in, settings, shaped, target_file, traced};
use super::sample::figure;
use super::smf::File;
use super::written::take;

/// The clarinet (General MIDI, from 0), which beats with nothing: its level is only its number's.
const CLARINET: u8 = 71;
/// Seconds for which the wheel stays at each step.
const STEP_S: f64 = 0.6;
const KEY: u8 = 69;
/// A period of the key.
const PERIOD_S: f64 = 1.0 / 440.0;
const ON_S: f64 = 0.1;
/// The wheel from full to the softest before the sound goes to nothing with it.
const WHEELS: [u8; 15] = [127, 118, 110, 102, 94, 86, 78, 70, 62, 54, 46, 38, 30, 22, 16];

/// The promise, and the receiver's own error beside its law (OUTSIDE).
const OFF_DB_MAX: f64 = 0.3;
const OWN_DB_MAX: f64 = 0.15;

fn ms(seconds: f64) -> u64 {
    (seconds * 1000.0).round() as u64
}

/// When the step of a number begins, seconds.
fn step_s(place: usize) -> f64 {
    ON_S + 0.3 + STEP_S * place as f64
}

/// A held note under a wheel that goes down a staircase.
fn staircase() -> Vec<u8> {
    let wheel: Vec<(u64, u8)> =
        WHEELS.iter().enumerate().map(|(place, value)| (ms(step_s(place)), *value)).collect();
    let wheel = [&[(0, WHEELS[0])], &wheel[1..]].concat();
    take(&[(KEY, ms(ON_S), ms(step_s(WHEELS.len())))], &wheel)
}

/// Settings without vibrato of pitch or breath.
fn still(instrument: &str, target: &str) -> Settings {
    let mut settings = settings(instrument, target, 0.0);
    settings.patch.vibrato.width_scale = 0.0;
    settings.patch.vibrato.styles.iter_mut().for_each(|style| style.level_swing_db = 0.0);
    settings
}

/// The quiet part of each step, as a question.
fn level_questions(start_s: f64, count: usize) -> Vec<String> {
    let ask = |place: usize| {
        let begin_s = start_s + step_s(place);
        format!("level {} {}", begin_s + 0.25, begin_s + STEP_S - 0.02)
    };
    (0..count).map(ask).collect()
}

/// Half a step of seven bits at a level, decibels: no number can be nearer.
fn half_step_db(level_db: f64) -> f64 {
    let number = 127.0 * libm::exp10(level_db / 40.0);
    40.0 * libm::log10((number + 0.5) / number)
}

/// How far each step is from the level that the trace says, both counted from the first step,
/// and the level itself.
fn offs(settings: &Settings) -> Vec<(f64, f64)> {
    let take = staircase();
    let rows = traced(&take, settings);
    let mut reel = Reel::new(CLARINET);
    let start_s = reel.add(&shaped(&take, settings));
    let heard = reel.render(&[]).ask(&level_questions(start_s, WHEELS.len()));
    let level_db = |place: usize| {
        let rows = rows_in(&rows, (step_s(place) + 0.25, step_s(place) + STEP_S - 0.02));
        mean(rows, |row| row.level_db)
    };
    let off = |(place, answer): (usize, &Vec<f64>)| {
        let (wanted_db, heard_db) = (level_db(place) - level_db(0), answer[0] - heard[0][0]);
        (level_db(place), heard_db - wanted_db)
    };
    heard.iter().enumerate().map(off).collect()
}

/// Within 0.3 dB of the level, or, where seven bits are coarser than that, as near as the nearest
/// number and the receiver's own error allow. Gives the largest of both kinds.
#[track_caller]
fn check(name: &str, offs: &[(f64, f64)]) -> (f64, f64) {
    let (mut fine_db, mut coarse_db) = (0.0_f64, 0.0_f64);
    let lowest_db = offs.iter().map(|(level_db, _)| *level_db).fold(0.0, f64::min);
    for &(level_db, off_db) in offs {
        println!("{name}: at {level_db:.2} dB heard {off_db:+.3} dB off");
        let nearest_db = half_step_db(level_db) + OWN_DB_MAX;
        assert!(off_db.abs() <= nearest_db.max(OFF_DB_MAX), "{name}, {level_db} dB: {off_db} dB");
        let kind = if nearest_db <= OFF_DB_MAX { &mut fine_db } else { &mut coarse_db };
        *kind = kind.max(off_db.abs());
    }
    assert!(lowest_db < -14.0, "{name}: {lowest_db} dB is not the whole range");
    (fine_db, coarse_db)
}

#[test]
fn the_level_by_gm2_is_the_level_of_the_dynamics() {
    let [erhu, dizi] = ["erhu", "dizi-d"].map(|id| still(id, "perform"));
    let one = check("erhu by gm2", &offs(&erhu));
    let other = check("dizi by gm2", &offs(&dizi));
    let (fine_db, coarse_db) = (one.0.max(other.0), one.1.max(other.1));
    figure(
        "level-gm2",
        &format!(
            "level by GM2 on FluidSynth: within {fine_db:.2} dB of the dynamics, {coarse_db:.2} dB \
             where a step of seven bits is wider than that"
        ),
    );
}

/// The receiver is measured first, as one whose law nobody knows, and then told by its table.
#[test]
fn the_level_by_a_measured_table_is_the_level_of_the_dynamics() {
    let numbers = [16, 20, 25, 31, 38, 46, 55, 64, 74, 84, 95, 106, 117, 127];
    let mut reel = Reel::new(CLARINET);
    let start_s = reel.note(KEY, step_s(numbers.len()) + 0.1);
    for (place, number) in numbers.iter().enumerate() {
        reel.send(start_s + step_s(place), &[0xB0, 11, *number]);
    }
    let measured = reel.render(&[]).ask(&level_questions(start_s, numbers.len()));
    let loudest_db = measured[measured.len() - 1][0];
    let points = numbers.iter().zip(&measured);
    let points = points.map(|(number, it)| format!("[{number}, {:.3}]", it[0] - loudest_db));
    let points = points.collect::<Vec<_>>().join(", ");
    let folder = tempfile::tempdir().expect("a folder");
    let hearing = |hears: &str| {
        let text = format!("[outputs.dynamics]\naddress = \"cc 11\"\nhears = {hears}\n");
        offs(&still("erhu", &target_file(folder.path(), &text)))
    };
    let (fine_db, coarse_db) = check("by table", &hearing(&format!("[{points}]")));
    // Numbers that go evenly with the level are decibels off, or the table shows nothing.
    let wrong = hearing("\"position\"");
    let wrong_db = wrong.iter().map(|(_, off_db)| off_db.abs()).fold(0.0, f64::max);
    assert!(wrong_db > 3.0, "{wrong_db} dB");
    figure(
        "level-table",
        &format!(
            "level by a measured table: within {fine_db:.2} dB, {coarse_db:.2} dB where steps are \
             wider; without a law the same voice would be {wrong_db:.1} dB off"
        ),
    );
}

/// The span of each look at a swing: a tenth of its cycle.
const LOOK_S: f64 = 0.015;
const LOOKS: u32 = 100;
/// Whole cycles that are looked at; the slowest fit into the looks.
const CYCLES: f64 = 7.0;

/// How far levels swing at a rate, peak to peak: twice the amplitude of the sine in whole cycles.
fn swing_db(levels: &[f64], rate_hz: f64) -> f64 {
    let count = (CYCLES / rate_hz / LOOK_S).round() as usize;
    let levels = &levels[..count];
    let middle = levels.iter().sum::<f64>() / count as f64;
    let part = |wave: fn(f64) -> f64| {
        let turns = |place: usize| std::f64::consts::TAU * rate_hz * LOOK_S * place as f64;
        let level = |(place, level): (usize, &f64)| (level - middle) * wave(turns(place));
        levels.iter().enumerate().map(level).sum::<f64>() / count as f64
    };
    4.0 * libm::hypot(part(libm::sin), part(libm::cos))
}

#[test]
fn the_level_swings_with_the_vibrato_as_the_trace_says() {
    // Peak to peak, dB: recorded single notes of violin, cello and flute; our judgement for others.
    let wanted = [("violin", 2.3), ("cello", 2.6), ("flute", 3.1), ("erhu", 2.0), ("dizi-d", 3.0)];
    let mut reel = Reel::new(CLARINET);
    let (mut questions, mut told) = (Vec::new(), Vec::new());
    let looks: Vec<f64> = (0..LOOKS).map(|place| 1.5 + LOOK_S * f64::from(place)).collect();
    for (id, stated_db) in wanted {
        let mut settings = settings(id, "perform", 0.0);
        settings.patch.vibrato.register_per_semitone = 0.0;
        let take = take(&[(KEY, ms(ON_S), ms(3.6))], &[(0, 70)]);
        let start_s = reel.add(&shaped(&take, &settings));
        let rows = traced(&take, &settings);
        for begin_s in &looks {
            let [begin, end] = [*begin_s, begin_s + LOOK_S].map(|at_s| start_s + at_s);
            questions.push(format!("level {begin} {end}"));
        }
        let of = |at_s: &f64| mean(rows_in(&rows, (*at_s, at_s + LOOK_S)), |row| row.level_db);
        let rate_hz = mean(rows_in(&rows, (2.0, 2.1)), |row| row.rate_hz);
        told.push((id, stated_db, rate_hz, looks.iter().map(of).collect::<Vec<_>>()));
    }
    let heard = reel.render(&[]).ask(&questions);
    let mut worst_db = 0.0_f64;
    for ((id, stated_db, rate_hz, told), heard) in told.iter().zip(heard.chunks(looks.len())) {
        let heard: Vec<f64> = heard.iter().map(|answer| answer[0]).collect();
        let (told_db, heard_db) = (swing_db(told, *rate_hz), swing_db(&heard, *rate_hz));
        println!("{id}: {heard_db:.2} dB heard, {told_db:.2} told, {stated_db} stated");
        assert!((told_db - stated_db).abs() < 0.1, "{id}: {told_db} dB told");
        assert!((heard_db - told_db).abs() < OFF_DB_MAX, "{id}: {heard_db} dB heard");
        worst_db = worst_db.max((heard_db - told_db).abs());
    }
    figure("level-swing", &format!("the level swings as told, within {worst_db:.2} dB"));
}

/// When the line's last note-off stands in a file, and the last number before it that stands for
/// a few periods, in seconds.
fn end_s(file: &File) -> (f64, f64) {
    let tempo = file.tempo_map();
    let events = || file.tracks.iter().flatten();
    let offs = events().filter(|event| event.release().is_some());
    let off_s = tempo.seconds(offs.map(|event| event.tick).max().expect("an off"));
    let numbers = events().filter(|event| event.controller().is_some_and(|(it, _)| it == 11));
    let numbers = numbers.map(|event| tempo.seconds(event.tick)).filter(|at_s| *at_s < off_s);
    (off_s, numbers.filter(|at_s| off_s - at_s > 5.0 * PERIOD_S).fold(0.0, f64::max))
}

#[test]
fn tails_fall_by_the_stated_decibels() {
    let released_s = 2.0;
    let ids = ["erhu", "violin", "dizi-d", "suona-d", "flute", "cello"];
    let mut reel = Reel::new(CLARINET);
    let (mut questions, mut told) = (Vec::new(), Vec::new());
    for id in ids {
        let settings = still(id, "perform");
        let take = take(&[(KEY, ms(ON_S), ms(released_s))], &[(0, 127)]);
        let file = shaped(&take, &settings);
        let (off_s, number_s) = end_s(&file);
        assert!(number_s > released_s + 0.05, "{id}: no tail");
        let start_s = reel.add(&file);
        for (begin_s, length_s) in [(released_s - 0.5, 0.4), (number_s + 0.004, 3.0 * PERIOD_S)] {
            let begin_s = start_s + begin_s;
            questions.push(format!("level {begin_s} {}", begin_s + length_s));
        }
        let rows = traced(&take, &settings);
        let fallen_db = |at_s: f64| {
            let row = rows.iter().rfind(|row| row.time_s <= at_s + 1e-9).expect("a row");
            -20.0 * libm::log10(row.expression)
        };
        // By the note-off the trace has fallen by what the file states.
        let tail_db = settings.patch.tail.tail_db;
        let fallen_db_at_off = fallen_db(off_s);
        assert!(
            abs_diff_eq!(fallen_db_at_off, tail_db, epsilon = 0.05),
            "{id}: {fallen_db_at_off}"
        );
        told.push((id, tail_db, fallen_db(number_s)));
    }
    let heard = reel.render(&[]).ask(&questions);
    let mut worst_db = 0.0_f64;
    for ((id, tail_db, told_db), heard) in told.iter().zip(heard.chunks(2)) {
        let heard_db = heard[0][0] - heard[1][0];
        println!("{id}: {heard_db:.2} dB heard, {told_db:.2} at the last number, {tail_db} in all");
        let off_db = (heard_db - told_db).abs();
        assert!(off_db < half_step_db(-told_db).max(OWN_DB_MAX) + OWN_DB_MAX, "{id}: {off_db} dB");
        assert!(tail_db - told_db < 1.0, "{id}: the last number comes too early");
        worst_db = worst_db.max(off_db);
    }
    figure("tail", &format!("{} tails fall as stated, within {worst_db:.2} dB", ids.len()));
}
