//! The performed vibrato, played by a receiver that no one here wrote and measured by Praat.

use approx::assert_abs_diff_eq;
use std::f64::consts::TAU;

use polso::offline::Settings;
use polso::profile::{self, Instrument};

use super::data::instrument_ids;
use super::receiver::{Reel, Row, Sound, hz, mean, rows_in, settings, shaped, traced};
use super::sample::figure;
use super::written::take;

/// Programs with a tone of their own that is nearly steady (General MIDI, from 0): clarinet and
/// square lead.
const PROGRAMS: [u8; 2] = [71, 80];
/// The wheel in a narrow, a middling and a wide swing.
const WHEELS: [u8; 3] = [56, 84, 122];
const ON_S: f64 = 0.1;
const OFF_S: f64 = 3.6;
/// From the first movement until the swing is whole: the longest growth and a little.
pub const WHOLE_S: f64 = 0.7;
/// A swing has begun where the trace has left the note by this much.
const BEGUN_CENTS: f64 = 1.0;
/// How far the heard curve is moved in time to find where it lies best on the trace's.
const SHIFT_S_MAX: f64 = 0.25;

const RATE_OFF_HZ_MAX: f64 = 0.05;
const WIDTH_OFF_CENTS_MAX: f64 = 2.0;
const WRONG_SIDE_CENTS_MAX: f64 = 2.0;
const ONSET_OFF_S_MAX: f64 = 0.030;

/// One held note of one instrument under a still wheel.
struct Case {
    pub name: String,
    key: u8,
    rows: Vec<Row>,
    /// Seconds at which its piece begins in the reel.
    start_s: f64,
}

/// How far what was heard of a case is from what the trace says.
#[derive(Debug)]
struct Off {
    name: String,
    rate_hz: f64,
    width_cents: f64,
    /// The furthest on the side that a one-sided style never reaches; 0 if it has two sides.
    wrong_side_cents: f64,
    onset_s: f64,
}

impl Off {
    fn is_fine(&self) -> bool {
        self.rate_hz.abs() <= RATE_OFF_HZ_MAX
            && self.width_cents.abs() <= WIDTH_OFF_CENTS_MAX
            && self.wrong_side_cents <= WRONG_SIDE_CENTS_MAX
            && self.onset_s.abs() <= ONSET_OFF_S_MAX
    }
}

/// The key of an instrument that lies nearest to 66 and is stopped.
pub fn middle_key(instrument: &Instrument) -> u8 {
    let (low, high) = instrument.range.comfortable_keys;
    let open = instrument.strings.iter().flat_map(|strings| strings.open_keys.iter());
    let open: Vec<u8> = open.copied().collect();
    let stopped = (low..=high).filter(|key| !open.contains(key));
    stopped.min_by_key(|key| key.abs_diff(66)).expect("a stopped key")
}

fn held(key: u8, wheel: u8) -> Vec<u8> {
    let ms = |seconds: f64| (seconds * 1000.0).round() as u64;
    take(&[(key, ms(ON_S), ms(OFF_S))], &[(0, wheel)])
}

/// An instrument under a wheel, put into the reel. `adjust` changes what is played, and the trace
/// does not know of it.
fn case(reel: &mut Reel, id: &str, wheel: u8, adjust: impl Fn(&mut Settings)) -> Case {
    let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
    let key = middle_key(&instrument);
    let take = held(key, wheel);
    let mut told = settings(id, "perform", 0.0);
    // Only a swing that nobody brings into tune stays on its own side.
    told.patch.vibrato.styles.iter_mut().for_each(|style| style.centre = 0.0);
    let mut played = told.clone();
    adjust(&mut played);
    let start_s = reel.add(&shaped(&take, &played));
    Case { name: format!("{id}, wheel {wheel}"), key, rows: traced(&take, &told), start_s }
}

/// The receiver's own pitch and its own unsteadiness (width of what swings in it) of some keys:
/// notes that nothing bends.
fn own_tones(program: u8, keys: &[u8]) -> Vec<(f64, f64)> {
    let mut reel = Reel::new(program);
    let starts: Vec<f64> = keys.iter().map(|key| reel.note(*key, OFF_S - ON_S)).collect();
    let sound = reel.render(&[]);
    let span = |start_s: &f64| format!("{} {}", start_s + 0.3, start_s + OFF_S - ON_S - 0.05);
    let spans: Vec<String> = starts.iter().map(span).collect();
    let ask = |(key, span): (&u8, &String)| format!("tone {span} {}", hz(*key));
    let tones = sound.ask(&keys.iter().zip(&spans).map(ask).collect::<Vec<_>>());
    let tones: Vec<f64> = tones.into_iter().map(|answer| answer[0]).collect();
    let ask = |(hz, span): (&f64, &String)| format!("swing {span} {hz}");
    let swings = sound.ask(&tones.iter().zip(&spans).map(ask).collect::<Vec<_>>());
    tones.into_iter().zip(swings).map(|(hz, swing)| (hz, swing[1])).collect()
}

/// When the trace's swing has begun, and the span in which it is whole.
fn begins(case: &Case) -> (f64, (f64, f64)) {
    let begun = case.rows.iter().find(|row| row.pitch_cents.abs() >= BEGUN_CENTS);
    let begun_s = begun.unwrap_or_else(|| panic!("{}: no swing", case.name)).time_s;
    (begun_s, (begun_s + WHOLE_S, OFF_S - 0.05))
}

/// How much later than the trace's the heard curve is: the shift at which the two lie best on one
/// another, from before the vibrato until it is whole.
fn lateness(rows: &[Row], heard: &[(f64, f64)]) -> f64 {
    let trace = |seconds: f64| {
        let place = (seconds * 1000.0).round().max(0.0) as usize;
        rows.get(place).map_or(0.0, |row| row.pitch_cents)
    };
    let apart = |shift_s: f64| {
        let square = |(at_s, cents): &(f64, f64)| libm::pow(cents - trace(at_s - shift_s), 2.0);
        heard.iter().map(square).sum::<f64>()
    };
    let shifts = (-250..=250).map(|ms| f64::from(ms) / 1000.0);
    let shifts = shifts.filter(|shift_s| shift_s.abs() <= SHIFT_S_MAX);
    shifts.min_by(|one, other| apart(*one).total_cmp(&apart(*other))).expect("a shift")
}

/// Holds every case in a sound against its trace.
fn compare(program: u8, sound: &Sound, cases: &[Case]) -> Vec<Off> {
    let keys: Vec<u8> = cases.iter().map(|case| case.key).collect();
    let mut known = keys.clone();
    known.sort_unstable();
    known.dedup();
    let tones = own_tones(program, &known);
    let mut questions = Vec::new();
    for case in cases {
        let (own_hz, _) = tones[known.binary_search(&case.key).expect("its key")];
        let (_, (begin_s, end_s)) = begins(case);
        let [on, begin, end] = [ON_S + 0.08, begin_s, end_s].map(|at_s| case.start_s + at_s);
        questions.push(format!("swing {begin} {end} {own_hz}"));
        questions.push(format!("line {on} {begin} {own_hz}"));
    }
    let answers = sound.ask(&questions);
    let off = |(case, answer): (&Case, &[Vec<f64>])| {
        let (_, span) = begins(case);
        let rows = rows_in(&case.rows, span);
        let edge = |best: fn(f64, f64) -> f64| {
            rows.iter().map(|row| row.pitch_cents).reduce(best).expect("rows")
        };
        let (lowest, highest) = (edge(f64::min), edge(f64::max));
        let wrong_side_cents = match () {
            () if lowest >= -0.01 => -answer[0][2],
            () if highest <= 0.01 => answer[0][3],
            () => 0.0,
        };
        let line: Vec<(f64, f64)> =
            answer[1].chunks(2).map(|pair| (pair[0] - case.start_s, pair[1])).collect();
        Off {
            name: case.name.clone(),
            rate_hz: answer[0][0] - mean(rows, |row| row.rate_hz),
            width_cents: answer[0][1] - mean(rows, |row| row.width_cents),
            wrong_side_cents,
            onset_s: lateness(&case.rows, &line),
        }
    };
    cases.iter().zip(answers.chunks(2)).map(off).collect()
}

/// The largest of a figure over all cases.
fn worst(offs: &[Off], value: impl Fn(&Off) -> f64) -> f64 {
    offs.iter().map(|off| value(off).abs()).fold(0.0, f64::max)
}

#[test]
fn the_performed_vibrato_is_heard_as_the_trace_says() {
    let ids = instrument_ids();
    let play = |program: u8| {
        let mut reel = Reel::new(program);
        let all = ids.iter().flat_map(|id| WHEELS.map(|wheel| (*id, wheel)));
        let cases: Vec<Case> = all.map(|(id, wheel)| case(&mut reel, id, wheel, |_| ())).collect();
        compare(program, &reel.render(&[]), &cases)
    };
    let offs: Vec<Off> = std::thread::scope(|scope| {
        let threads = PROGRAMS.map(|program| scope.spawn(move || play(program)));
        threads.into_iter().flat_map(|thread| thread.join().expect("no panic")).collect()
    });
    for off in &offs {
        println!("{}: {off:?}", off.name);
    }
    let wrong = offs.iter().filter(|off| !off.is_fine());
    let wrong: Vec<String> = wrong.map(|off| format!("{}: {off:?}", off.name)).collect();
    let one_sided = offs.iter().filter(|off| off.wrong_side_cents != 0.0).count();
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(one_sided >= 20, "{one_sided} one-sided");
    figure(
        "performed-vibrato",
        &format!(
            "{} held notes of {} instruments through FluidSynth (Debian), measured by Praat: rate \
             within {:.3} Hz, width within {:.1} cents, onset within {:.0} ms of the trace, \
             {one_sided} one-sided ones within {:.1} cents of the right side",
            offs.len(),
            ids.len(),
            worst(&offs, |off| off.rate_hz),
            worst(&offs, |off| off.width_cents),
            1000.0 * worst(&offs, |off| off.onset_s),
            offs.iter().map(|off| off.wrong_side_cents).fold(0.0, f64::max),
        ),
    );
}

/// What Praat reads of a tone whose vibrato is known by arithmetic: its own error.
#[test]
fn the_measure_reads_a_known_vibrato() {
    // Rate, width, share above the pitch, sharpness and the tone's own hertz.
    let tones = [
        (5.6, 60.0, 0.5, 1.0, 440.0),
        (7.0, 100.0, 0.5, 1.0, 261.6),
        (4.8, 105.0, 1.0, 1.3, 370.0),
        (6.5, 59.0, 0.0, 1.0, 370.0),
        (5.0, 15.0, 0.5, 1.0, 330.0),
    ];
    let (mut rate_off_hz, mut width_off_cents) = (0.0_f64, 0.0_f64);
    for (rate_hz, width_cents, above, sharpness, tone_hz) in tones {
        let mut turns = 0.0;
        let sound = Sound::made(4.0, |seconds| {
            let a = 0.5 + 0.5 * libm::sin(TAU * rate_hz * seconds);
            let below = libm::pow(1.0 - a, sharpness);
            let swing = above * libm::pow(a, sharpness) - (1.0 - above) * below;
            turns += tone_hz * libm::exp2(width_cents * swing / 1200.0) / 44_100.0;
            // Odd harmonics, as a square and a clarinet have them.
            let harmonic = |n: f64| 0.2 * libm::sin(TAU * n * turns) / n;
            [1.0, 3.0, 5.0, 7.0].map(harmonic).iter().sum()
        });
        let answer = &sound.ask(&[format!("swing 0.5 3.5 {tone_hz}")])[0];
        rate_off_hz = rate_off_hz.max((answer[0] - rate_hz).abs());
        width_off_cents = width_off_cents.max((answer[1] - width_cents).abs());
        let (low, high) = (width_cents * (above - 1.0), width_cents * above);
        assert_abs_diff_eq!(answer[2], low, epsilon = 0.7);
        assert_abs_diff_eq!(answer[3], high, epsilon = 0.7);
    }
    assert!(rate_off_hz < 0.005 && width_off_cents < 0.5, "{rate_off_hz} {width_off_cents}");
    figure(
        "vibrato-measure",
        &format!(
            "Praat on tones of known vibrato: rate within {rate_off_hz:.4} Hz, width within \
             {width_off_cents:.2} cents"
        ),
    );
}

/// A comparison that could not fail would show nothing.
#[test]
fn a_vibrato_that_is_a_little_wrong_is_noticed() {
    let mut reel = Reel::new(80);
    let mut play = |adjust: fn(&mut Settings)| case(&mut reel, "erhu", 122, adjust);
    let cases = [
        play(|settings| settings.patch.vibrato.width_scale = 1.05),
        play(|settings| settings.patch.vibrato.rate_scale = 1.02),
        play(|settings| settings.patch.vibrato.styles[2].share_above = 0.9),
        play(|settings| settings.patch.vibrato.onset_s += 0.05),
    ];
    let offs = compare(80, &reel.render(&[]), &cases);
    assert!(offs[0].width_cents > WIDTH_OFF_CENTS_MAX, "{:?}", offs[0]);
    assert!(offs[1].rate_hz > RATE_OFF_HZ_MAX, "{:?}", offs[1]);
    assert!(offs[2].wrong_side_cents > WRONG_SIDE_CENTS_MAX, "{:?}", offs[2]);
    assert!(offs[3].onset_s > ONSET_OFF_S_MAX, "{:?}", offs[3]);
}

/// A forced open string is heard as steady as the receiver plays it by itself.
#[test]
fn no_vibrato_is_heard_on_a_forced_open_string() {
    let (mut count, mut worst_cents) = (0, 0.0_f64);
    for program in PROGRAMS {
        let mut reel = Reel::new(program);
        let mut notes: Vec<(&str, u8, f64)> = Vec::new();
        for id in instrument_ids() {
            let instrument = profile::load::<Instrument>(id).expect("an instrument").profile;
            for key in instrument.strings.iter().flat_map(|strings| &strings.forced_open_keys) {
                for wheel in WHEELS {
                    let take = shaped(&held(*key, wheel), &settings(id, "perform", 0.0));
                    notes.push((id, *key, reel.add(&take)));
                }
            }
        }
        let keys: Vec<u8> = notes.iter().map(|(_, key, _)| *key).collect();
        let mut known = keys.clone();
        known.sort_unstable();
        known.dedup();
        let own = own_tones(program, &known);
        let tones = keys.iter().map(|key| own[known.binary_search(key).expect("its key")]);
        let tones: Vec<(f64, f64)> = tones.collect();
        let ask = |((_, _, start_s), (own_hz, _)): (&(&str, u8, f64), &(f64, f64))| {
            format!("swing {} {} {own_hz}", start_s + ON_S + 0.3, start_s + OFF_S - 0.05)
        };
        let questions: Vec<String> = notes.iter().zip(&tones).map(ask).collect();
        let answers = reel.render(&[]).ask(&questions);
        for (((id, key, _), (_, own_cents)), answer) in notes.iter().zip(&tones).zip(&answers) {
            let more_cents = answer[1] - own_cents;
            println!("{program} {id} {key}: {:.2} cents, by itself {own_cents:.2}", answer[1]);
            assert!(more_cents < WIDTH_OFF_CENTS_MAX, "{program} {id} {key}: {answer:?}");
            worst_cents = worst_cents.max(more_cents);
            count += 1;
        }
    }
    assert!(count >= 2 * 3 * 9, "{count} notes");
    figure(
        "forced-open",
        &format!("{count} notes on forced open strings: at most {worst_cents:.2} cents of swing"),
    );
}
