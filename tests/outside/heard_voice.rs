//! The voice of our own, measured by Praat beside what the trace says, and its colour beside real notes.

use polso::offline::hear::{HearSettings, LEAD_S, Programme, Rendering, TARGET, read_soundfont};
use polso::profile::{self, Instrument};

use super::data::instrument_ids;
use super::heard_joins::{JOIN_MS, KEYS, MODES, ideal, question, tenths_ms};
use super::heard_vibrato::{WHOLE_S, middle_key};
use super::receiver::{Row, Sound, hz, mean, rows_in, settings, traced, voices};
use super::sample::figure;
use super::written::take;

/// Samples a second.
pub const RATE_HZ: u32 = 44_100;
/// The wheel of the first note, in a narrow, a middling and a wide swing; the second is at full.
const WHEELS: [u8; 3] = [56, 84, 112];
const ON_MS: u64 = 700;
const OFF_MS: u64 = 5_000;
/// From the first note's beginning to the second's.
const NEXT_MS: u64 = 6_000;

const RATE_OFF_HZ_MAX: f64 = 0.05;
const WIDTH_OFF_CENTS_MAX: f64 = 2.0;
const LEVEL_OFF_DB_MAX: f64 = 0.3;
const JOIN_OFF_MS_MAX: f64 = 10.0;

/// A take through the voice, dry and without hair or air, one channel of it from the take's own
/// beginning on.
pub fn rendered(take: &[u8], id: &str, adjust: impl Fn(&mut HearSettings)) -> Vec<f32> {
    let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
    let mut hear = HearSettings::new(settings(id, TARGET, 0.0), &instrument);
    (hear.rate_hz, hear.has_room, hear.has_noise) = (RATE_HZ, false, false);
    adjust(&mut hear);
    let programme = Programme::prepare(take, &hear).expect("the take can be heard");
    let mut pass = programme.pass(Rendering::After).expect("it plays");
    let mut samples = Vec::new();
    while let Some(frames) = pass.next(&mut [[0.0; 2]; polso_voice::TICK_SAMPLES_MAX]) {
        samples.extend(frames.iter().map(|[left, _]| *left));
    }
    samples.split_off((LEAD_S * f64::from(RATE_HZ)) as usize)
}

/// Renderings one after the other, each in a span of its own.
pub fn reel(parts: &[Vec<f32>], part_s: f64) -> Sound {
    let length = (part_s * f64::from(RATE_HZ)) as usize;
    let sample = |place: usize| {
        let part: Option<&f32> = parts.get(place / length).and_then(|it| it.get(place % length));
        f64::from(part.copied().unwrap_or(0.0))
    };
    let at = |seconds: f64| sample((seconds * f64::from(RATE_HZ)).round() as usize);
    Sound::made(part_s * parts.len() as f64, at)
}

/// Decibels of the mean power of rows.
fn level_db(rows: &[Row]) -> f64 {
    10.0 * libm::log10(mean(rows, |row| libm::exp10(row.level_db / 10.0)))
}

/// One instrument under one wheel.
struct Case {
    name: String,
    key: u8,
    rows: Vec<Row>,
    samples: Vec<f32>,
}

fn case(id: &str, wheel: u8, adjust: impl Fn(&mut HearSettings)) -> Case {
    let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
    let key = middle_key(&instrument);
    let notes = [(key, ON_MS, OFF_MS), (key, ON_MS + NEXT_MS, OFF_MS + NEXT_MS)];
    let take = take(&notes, &[(0, wheel), (NEXT_MS, 127)]);
    let rows = traced(&take, &settings(id, TARGET, 0.0));
    Case { name: format!("{id}, wheel {wheel}"), key, rows, samples: rendered(&take, id, adjust) }
}

/// The span of a note in which its swing is whole and has settled, of whole cycles.
fn span(rows: &[Row], on_s: f64) -> (f64, f64) {
    let note = rows_in(rows, (on_s, on_s + 1.5));
    let begun = note.iter().find(|row| row.pitch_cents.abs() >= 1.0);
    let begin_s = begun.map_or(on_s + 0.5, |row| row.time_s) + WHOLE_S;
    let rate_hz = mean(rows_in(rows, (begin_s, begin_s + 1.0)), |row| row.rate_hz);
    let end_s = on_s + (OFF_MS - ON_MS) as f64 / 1000.0 - 0.05;
    let cycles = ((end_s - begin_s) * rate_hz).floor();
    (begin_s, begin_s + cycles / rate_hz)
}

/// How far what is heard of a case lies from its trace: rate, width and level beside full.
fn compare(cases: &[Case]) -> Vec<[f64; 3]> {
    let part_s = (2 * NEXT_MS + 1_000) as f64 / 1000.0;
    let parts: Vec<Vec<f32>> = cases.iter().map(|case| case.samples.clone()).collect();
    let sound = reel(&parts, part_s);
    let second_s = (ON_MS + NEXT_MS) as f64 / 1000.0;
    let spans = |case: &Case| [ON_MS as f64 / 1000.0, second_s].map(|on_s| span(&case.rows, on_s));
    let mut questions = Vec::new();
    for (place, case) in cases.iter().enumerate() {
        let [first, full] = spans(case).map(|(begin_s, end_s)| {
            let start_s = part_s * place as f64;
            format!("{} {}", start_s + begin_s, start_s + end_s)
        });
        questions.push(format!("swing {first} {}", hz(case.key)));
        questions.push(format!("level {first}"));
        questions.push(format!("level {full}"));
    }
    let answers = sound.ask(&questions);
    let off = |(case, answer): (&Case, &[Vec<f64>])| {
        let [first, full] = spans(case).map(|span| rows_in(&case.rows, span));
        [
            answer[0][0] - mean(first, |row| row.rate_hz),
            answer[0][1] - mean(first, |row| row.width_cents),
            (answer[1][0] - answer[2][0]) - (level_db(first) - level_db(full)),
        ]
    };
    cases.iter().zip(answers.chunks(3)).map(off).collect()
}

#[test]
fn the_voice_sounds_what_the_trace_says() {
    let all = instrument_ids().into_iter().flat_map(|id| WHEELS.map(|wheel| (id, wheel)));
    let cases: Vec<Case> = all.map(|(id, wheel)| case(id, wheel, |_| ())).collect();
    let offs = compare(&cases);
    let is_fine = |off: &[f64; 3]| {
        off[0].abs() <= RATE_OFF_HZ_MAX
            && off[1].abs() <= WIDTH_OFF_CENTS_MAX
            && off[2].abs() <= LEVEL_OFF_DB_MAX
    };
    let mut wrong = Vec::new();
    for (case, off) in cases.iter().zip(&offs) {
        println!("{}: {off:.3?}", case.name);
        if !is_fine(off) {
            wrong.push(format!("{}: {off:.3?}", case.name));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let worst = |place: usize| offs.iter().map(|off| off[place].abs()).fold(0.0, f64::max);
    figure(
        "voice",
        &format!(
            "{} held notes of {} instruments through our own voice, measured by Praat: rate within \
             {:.3} Hz, width within {:.2} cents, level beside full within {:.2} dB of the trace",
            cases.len(),
            instrument_ids().len(),
            worst(0),
            worst(1),
            worst(2)
        ),
    );
}

/// A comparison that could not fail would show nothing.
#[test]
fn a_voice_that_is_a_little_off_is_noticed() {
    let vibrato = |hear: &mut HearSettings| {
        hear.settings.patch.vibrato.width_scale = 1.05;
        hear.settings.patch.vibrato.rate_scale = 1.02;
    };
    let span = |hear: &mut HearSettings| hear.settings.patch.dynamics.span_db *= 1.08;
    let offs = compare(&[case("violin", 112, vibrato), case("violin", 84, span)]);
    assert!(offs[0][0].abs() > RATE_OFF_HZ_MAX, "{:?}", offs[0]);
    assert!(offs[0][1].abs() > WIDTH_OFF_CENTS_MAX, "{:?}", offs[0]);
    assert!(offs[1][2].abs() > LEVEL_OFF_DB_MAX, "{:?}", offs[1]);
}

#[test]
fn the_voice_joins_in_the_stated_times() {
    let part_s = 2.0;
    let (mut parts, mut stated) = (Vec::new(), Vec::new());
    for (_, wheel, _, times) in MODES {
        for keys in KEYS {
            let notes = [(keys.0, 0, JOIN_MS + 5), (keys.1, JOIN_MS, 2000)];
            let take = take(&notes, &[(0, wheel)]);
            let still = |hear: &mut HearSettings| hear.settings.patch.vibrato.width_scale = 0.0;
            let mut samples = rendered(&take, "violin", still);
            samples.truncate((part_s * f64::from(RATE_HZ)) as usize);
            parts.push(samples);
            stated.push((keys, times[usize::from(keys.0.abs_diff(keys.1) > 2)]));
        }
    }
    let sound = reel(&parts, part_s);
    let ask =
        |(place, (keys, _)): (usize, &((u8, u8), f64))| question(*keys, part_s * place as f64);
    let answers = sound.ask(&stated.iter().enumerate().map(ask).collect::<Vec<_>>());
    let ideal = ideal(&stated);
    let mut worst_ms = 0.0_f64;
    for (place, answer) in answers.iter().enumerate() {
        let ms = tenths_ms(answer, part_s * place as f64);
        let (keys, stated_ms) = stated[place];
        println!("{keys:?}: {ms:.1} ms, a tone of {stated_ms} is heard as {:.1}", ideal[place]);
        worst_ms = worst_ms.max((ms - ideal[place]).abs());
    }
    assert!(worst_ms <= JOIN_OFF_MS_MAX, "{worst_ms} ms");
    let count = stated.len();
    figure("voice-joins", &format!("{count} joins within {worst_ms:.1} ms of ideal tones"));
}

/// A SoundFont hears the same line by pitch bend and CC 11: rate and width as the trace says, the level
/// by GM2's law as far as its own tone is steady.
#[test]
fn a_soundfont_sounds_the_same_line() {
    let font = read_soundfont(&voices()).expect("voices");
    let told = |hear: &mut HearSettings| {
        hear.soundfont = Some(font.clone());
        // A harmonica: the steadiest voice.
        hear.program = 22;
    };
    let case = case("violin", 112, told);
    let off = compare(std::slice::from_ref(&case))[0];
    println!("{off:.3?}");
    assert!(off[0].abs() <= RATE_OFF_HZ_MAX, "{off:?}");
    assert!(off[1].abs() <= 2.0 * WIDTH_OFF_CENTS_MAX, "{off:?}");
    assert!(off[2].abs() <= 1.5, "{off:?}");
}
