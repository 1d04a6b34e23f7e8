//! The shipped instruments, receivers and hands say what the table of first numbers says.

use approx::assert_abs_diff_eq;
use polso::engine::Layer;
use polso::engine::math::curve::Curve;
use polso::engine::patch::{Address, Patch, Reading, Response, Source};
use polso::profile::shipped::SHIPPED;
use polso::profile::vibrato::VibratoTable;
use polso::profile::{self, Any, FileKind, Hand, Instrument, Target, check, load, origin};
use serde_json::{Value as Json, json};

/// Field, value, confidence: the columns of the table of first numbers that the design gives.
/// Where it gives no letter, the number is a judgement: L.
type Row = (&'static str, Json, char);

/// The shipped instrument has exactly these values, each with this confidence.
fn check_rows(id: &str, rows: &[Row]) {
    let loaded = load::<Instrument>(id).expect("a shipped instrument");
    for (path, value, letter) in rows {
        let field = loaded.fields.iter().find(|field| field.path == *path);
        assert_eq!(field.map(|it| &it.value), Some(value), "{id}: {path}");
        let origin = origin::of(&loaded.profile.origins, path);
        assert_eq!(origin.map(|it| it.confidence.letter()), Some(*letter), "{id}: {path}");
    }
}

#[test]
fn the_erhu_has_its_first_numbers() {
    check_rows(
        "erhu",
        &[
            ("range.hard_keys", json!([62, 93]), 'H'),
            ("range.comfortable_keys", json!([62, 88]), 'H'),
            ("strings.open_keys", json!([62, 69]), 'H'),
            ("strings.forced_open_keys", json!([62]), 'L'),
            ("strings.span_semitones", json!([12, 19]), 'H'),
            ("strings.length_m", json!(0.4), 'M'),
            ("vibrato.style_edges", json!([[0.1, 0.3], [0.72, 0.92]]), 'L'),
            ("vibrato.rolled.width_cents", json!([[0, 0], [0.5, 56], [1, 120]]), 'M'),
            ("vibrato.rolled.rate_hz", json!([[0, 4.5], [0.5, 5.6], [1, 7]]), 'M'),
            ("vibrato.rolled.share_above", json!(0.5), 'L'),
            ("vibrato.rolled.level_swing_db", json!(2), 'L'),
            ("vibrato.pressed.width_cents", json!([[0.72, 84], [1, 110]]), 'M'),
            ("vibrato.pressed.rate_hz", json!(4.8), 'M'),
            ("vibrato.pressed.share_above", json!(1), 'M'),
            ("vibrato.pressed.sharpness", json!(1.3), 'L'),
            ("vibrato.pressed.level_swing_db", json!(2), 'L'),
            ("vibrato.pressed.centre", json!(0.82), 'L'),
            ("vibrato.settle_ms", json!(500), 'L'),
            ("vibrato.arch", json!(0.1), 'M'),
            ("vibrato.register_per_semitone", json!(0.03), 'L'),
            ("vibrato.onset_ms", json!(220), 'M'),
            ("vibrato.growth_ms", json!(350), 'M'),
            ("vibrato.join_keep", json!(0.25), 'L'),
            ("vibrato.join_recover_ms", json!(250), 'L'),
            ("vibrato.imperfection_rate_percent", json!(7), 'M'),
            ("vibrato.imperfection_width_percent", json!(12), 'L'),
            ("legato.edges", json!([0.3, 0.65, 0.85]), 'L'),
            ("legato.slide_max_semitones", json!(12), 'M'),
            ("dynamics.floor", json!(0.12), 'L'),
            ("dynamics.ceiling", json!(1), 'L'),
            ("dynamics.accent", json!(0.12), 'L'),
            ("dynamics.span_db", json!(30), 'L'),
            ("tail.tail_ms", json!(300), 'L'),
            ("tail.tail_db", json!(18), 'L'),
            ("tail.ambience_lift_steps", json!(16), 'L'),
            ("bow.pp_s", json!(11), 'M'),
            ("bow.ff_s", json!(1.6), 'L'),
            ("voices", json!(1), 'H'),
        ],
    );
}

#[test]
fn the_violin_has_its_first_numbers() {
    check_rows(
        "violin",
        &[
            ("range.hard_keys", json!([55, 103]), 'H'),
            ("range.comfortable_keys", json!([55, 96]), 'H'),
            ("strings.open_keys", json!([55, 62, 69, 76]), 'H'),
            ("strings.forced_open_keys", json!([55]), 'L'),
            ("strings.span_semitones", json!([12, 12, 14, 27]), 'M'),
            ("strings.length_m", json!(0.328), 'H'),
            ("vibrato.style_edges", json!([[0.1, 0.3]]), 'L'),
            ("vibrato.rolled.width_cents", json!([[0, 0], [0.5, 40], [1, 90]]), 'H'),
            ("vibrato.rolled.rate_hz", json!([[0, 5], [0.5, 6], [1, 7.2]]), 'H'),
            ("vibrato.rolled.share_above", json!(0.45), 'L'),
            ("vibrato.rolled.level_swing_db", json!(2.3), 'M'),
            ("vibrato.rolled.centre", json!(0.9), 'M'),
            ("vibrato.brightness_swing", json!(0.06), 'L'),
            ("vibrato.register_per_semitone", json!(0.03), 'L'),
            ("vibrato.first_movement", json!("down"), 'M'),
            ("vibrato.onset_ms", json!(180), 'M'),
            ("vibrato.growth_ms", json!(300), 'M'),
            ("vibrato.join_keep", json!(0.15), 'M'),
            ("vibrato.join_recover_ms", json!(220), 'M'),
            ("vibrato.imperfection_rate_percent", json!(8), 'M'),
            ("vibrato.imperfection_width_percent", json!(20), 'L'),
            ("legato.edges", json!([0.3, 0.65, 0.9]), 'L'),
            ("legato.slide_max_semitones", json!(12), 'M'),
            ("dynamics.floor", json!(0.06), 'L'),
            ("dynamics.ceiling", json!(1), 'L'),
            ("dynamics.accent", json!(0.12), 'L'),
            ("dynamics.span_db", json!(30), 'L'),
            ("tail.tail_ms", json!(260), 'L'),
            ("tail.tail_db", json!(18), 'L'),
            ("tail.ambience_lift_steps", json!(12), 'L'),
            ("bow.pp_s", json!(12), 'M'),
            ("bow.ff_s", json!(1.6), 'L'),
            ("voices", json!(2), 'H'),
        ],
    );
}

#[test]
fn the_dizi_in_d_has_its_first_numbers() {
    check_rows(
        "dizi-d",
        &[
            ("range.hard_keys", json!([69, 98]), 'M'),
            ("range.comfortable_keys", json!([69, 95]), 'M'),
            ("vibrato.style_edges", json!([[0.1, 0.3], [0.72, 0.92]]), 'L'),
            ("vibrato.rolled.width_cents", json!([[0, 0], [0.5, 18], [1, 40]]), 'M'),
            ("vibrato.rolled.rate_hz", json!([[0, 4], [0.5, 5.2], [1, 6.5]]), 'M'),
            ("vibrato.rolled.share_above", json!(0.5), 'L'),
            ("vibrato.rolled.level_swing_db", json!(3), 'L'),
            ("vibrato.finger.width_cents", json!([[0.72, 28], [1, 60]]), 'L'),
            ("vibrato.finger.rate_hz", json!(6.5), 'L'),
            ("vibrato.finger.share_above", json!(0), 'L'),
            ("vibrato.finger.sharpness", json!(1.3), 'L'),
            ("vibrato.finger.centre", json!(0.9), 'M'),
            ("vibrato.register_per_semitone", json!(0), 'L'),
            ("vibrato.onset_ms", json!(350), 'M'),
            ("vibrato.growth_ms", json!(500), 'M'),
            ("vibrato.join_keep", json!(0.6), 'L'),
            ("vibrato.join_recover_ms", json!(200), 'L'),
            ("vibrato.imperfection_rate_percent", json!(6), 'L'),
            ("vibrato.imperfection_width_percent", json!(10), 'L'),
            ("legato.edges", json!([0.35, 0.75, 0.92]), 'L'),
            ("legato.slide_max_semitones", json!(3), 'M'),
            ("dynamics.floor", json!(0.25), 'L'),
            ("dynamics.ceiling", json!(1), 'L'),
            ("dynamics.accent", json!(0.15), 'L'),
            ("dynamics.accent_by_breath", json!(0), 'L'),
            ("dynamics.span_db", json!(22), 'L'),
            ("dynamics.niente", json!(false), 'L'),
            ("tail.tail_ms", json!(140), 'L'),
            ("tail.tail_db", json!(12), 'L'),
            ("tail.ambience_lift_steps", json!(14), 'L'),
            ("breath.pp_s", json!(14), 'M'),
            ("breath.ff_s", json!(6), 'M'),
            ("breath.refill_quick_s", json!(0.25), 'L'),
            ("breath.refill_full_s", json!(0.7), 'L'),
            ("voices", json!(1), 'H'),
        ],
    );
}

fn shipped_instruments() -> Vec<profile::Loaded<Instrument>> {
    let ids = SHIPPED.iter().filter(|each| each.kind == FileKind::Instrument);
    ids.map(|each| load(each.id).expect("a shipped instrument")).collect()
}

#[test]
fn every_shipped_file_is_called_by_its_own_id_and_has_nothing_to_note() {
    for each in SHIPPED {
        let any = Any::load(each.id).expect("a shipped file");
        assert_eq!((any.kind(), any.about().id.as_str()), (each.kind, each.id));
        // Among the notes would be unknown fields and numbers without an origin.
        assert_eq!(any.notes(), [], "{}", each.id);
    }
}

#[test]
fn every_number_of_a_shipped_instrument_has_an_origin_of_its_own() {
    for loaded in shipped_instruments() {
        let origins = &loaded.profile.origins;
        let has_origin = |path: &str| origins.iter().any(|origin| origin.path == path);
        let is_number = |value: &Json| !value.to_string().contains(['"', 't', 'f', '{']);
        for field in loaded.fields.iter().filter(|field| field.line.is_some()) {
            let is_bare = field.path != "format" && is_number(&field.value);
            assert!(!is_bare || has_origin(&field.path), "{}", field.path);
        }
        assert!(origins.len() > 30, "the file has that many numbers");
    }
}

/// The width of all styles together, cents (DESIGN 4.3 and 4.4).
fn blended_width_cents(vibrato: &VibratoTable, x: f64) -> f64 {
    let rise = |&(begin, end): &(f64, f64)| {
        let u = ((x - begin) / (end - begin)).clamp(0.0, 1.0);
        u * u * (3.0 - 2.0 * u)
    };
    let risen: Vec<f64> = vibrato.style_edges.iter().map(rise).collect();
    let weight = |place: usize| {
        let entered = if place == 0 { 1.0 } else { risen[place - 1] };
        entered - risen.get(place).copied().unwrap_or(0.0)
    };
    let styles = vibrato.styles.iter().enumerate();
    styles.map(|(place, style)| weight(place) * style.width_cents.at(x)).sum()
}

#[test]
fn the_width_never_shrinks_as_the_gesture_rises() {
    for loaded in shipped_instruments() {
        let vibrato = &loaded.profile.vibrato;
        let widths: Vec<f64> =
            (0..=1000).map(|step| blended_width_cents(vibrato, f64::from(step) / 1000.0)).collect();
        let id = &loaded.profile.about.id;
        assert!(widths.is_sorted_by(|low, high| *high >= low - 1e-9), "{id}");
        assert_eq!(widths[0], 0.0, "{id}");
        // The narrowest, a clarinet's, is still five times what is heard as a difference (about 5 c,
        // from memory).
        assert!(widths[1000] >= 25.0, "{id}");
        assert_eq!(vibrato.styles[0].name, "plain");
        assert_eq!(vibrato.styles[0].width_cents, Curve::constant(0.0));
    }
}

fn patch_of(instrument: &str, target: &str, hand: &Hand, scale: f64) -> Patch {
    let instrument = load::<Instrument>(instrument).expect("instrument").profile;
    let target = load::<Target>(target).expect("target").profile;
    profile::patch(&instrument, &target, hand, 7, scale).expect("a patch")
}

#[test]
fn units_become_those_of_the_engine() {
    let patch = patch_of("erhu", "perform", &Hand::for_source(Source::Controller(1)), 1.0);
    assert_eq!(patch.vibrato.onset_s, 0.22);
    assert_eq!(patch.vibrato.growth_s, 0.35);
    assert_eq!(patch.vibrato.join_recover_s, 0.25);
    assert_eq!((patch.vibrato.rate_spread, patch.vibrato.width_spread), (0.07, 0.12));
    assert_eq!(patch.legato.slide_s, 0.12);
    assert_eq!(patch.tail.tail_s, 0.3);
    assert_eq!(patch.tail.lift, 16.0 / 127.0);
    assert_eq!(patch.strings.count, 2);
    assert_eq!(patch.strings.forced_open_keys, 1 << 62);
    assert_eq!(patch.vibrato.style_count, 3);
    assert_eq!(patch.vibrato.edges[..2], [(0.1, 0.3), (0.72, 0.92)]);
    assert_eq!(patch.seed, 7);
}

#[test]
fn imperfection_scales_up_to_its_ceilings() {
    let hand = Hand::for_source(Source::Controller(1));
    let spreads = |scale| {
        let vibrato = patch_of("dizi-d", "perform", &hand, scale).vibrato;
        (vibrato.rate_spread, vibrato.width_spread)
    };
    assert_eq!(spreads(0.0), (0.0, 0.0));
    assert_eq!(spreads(2.0), (0.12, 0.20));
    let wild = SHIPPED[0].text.replace("rate_percent = 7", "rate_percent = 16");
    let wild = check::<Instrument>(&wild).expect("a wild erhu").profile;
    let target = load::<Target>("perform").expect("target").profile;
    let patch = profile::patch(&wild, &target, &hand, 1, 2.0).expect("a patch");
    assert_eq!(patch.vibrato.rate_spread, 0.16);
    // The arch of long notes goes with it: 0.1, off, and its own ceiling.
    let arch = |scale| patch_of("erhu", "perform", &hand, scale).vibrato.arch;
    assert_eq!((arch(0.0), arch(1.0), arch(2.0)), (0.0, 0.1, 0.15));
}

#[test]
fn accents_come_from_the_keys_or_from_the_breath() {
    let accent =
        |source| patch_of("dizi-d", "generic", &Hand::for_source(source), 1.0).dynamics.accent;
    assert_eq!(accent(Source::Controller(1)), 0.15);
    assert_eq!(accent(Source::Controller(2)), 0.0);
    assert_eq!(accent(Source::ControllerPair(2)), 0.0);
    let blown = "polso = \"hand\"\nformat = 1\n[controller]\nsource = \"cc 11\"\nbreath = true\n";
    let blown = check::<Hand>(blown).expect("a hand").profile;
    assert_eq!(patch_of("dizi-d", "generic", &blown, 1.0).dynamics.accent, 0.0);
}

#[test]
fn generic_drives_the_receivers_own_vibrato_about_the_middle_of_gm2() {
    let patch = patch_of("violin", "generic", &Hand::for_source(Source::Controller(1)), 1.0);
    let outputs = &patch.target.outputs[..patch.target.output_count];
    let place = |layer| outputs.iter().find(|output| output.layer == layer).expect("an output");
    let addresses: Vec<_> = outputs.iter().map(|output| output.address).collect();
    // GM2: 11 expression, 77 vibrato depth, 76 vibrato rate, 70 sound variation, 91 reverb send.
    assert_eq!(addresses, [11, 77, 76, 70, 91].map(Address::Controller));
    assert_eq!(place(Layer::Dynamics).reading, Reading::Gm2);
    // GM2: depth and rate are relative about 64.
    let width = place(Layer::VibratoWidth);
    assert_eq!((width.min, width.max, width.rest, width.low), (64, 127, 64, 0.0));
    let rate = place(Layer::VibratoRate);
    let share = (64.0 - f64::from(rate.min)) / f64::from(rate.max - rate.min);
    assert_abs_diff_eq!(rate.low + share * (rate.high - rate.low), 5.8, epsilon = 1e-9);
    let intervals: Vec<f64> = outputs.iter().map(|output| output.interval_s).collect();
    assert_eq!(intervals, [0.01, 0.02, 0.05, 0.05, 0.02]);
}

#[test]
fn perform_plays_the_vibrato_as_bend() {
    let patch = patch_of("violin", "perform", &Hand::for_source(Source::Controller(1)), 1.0);
    assert_eq!(patch.target.output_count, 2);
    let pitch = patch.target.outputs[1];
    assert_eq!((pitch.layer, pitch.address), (Layer::Pitch, Address::PitchBend));
    // MIDI 1.0: 0 lowest, 8192 centre, 16383 highest, here two semitones either way.
    assert_eq!((pitch.min, pitch.rest, pitch.max), (0, 8192, 16383));
    assert_eq!((pitch.low, pitch.high, pitch.interval_s), (-200.0, 200.0, 0.005));
    assert_eq!(patch.target.bend_range_semitones, 2.0);
    assert!(!patch.target.sends_bend_range);
}

#[test]
fn measured_loudness_is_turned_round() {
    let text = "polso = \"target\"\nformat = 1\n[about]\nid = \"box\"\nnames = { en = \"box\" }\n\
                [outputs.dynamics]\naddress = \"cc 1\"\nmin = 27\nhears = [[27, -50], [77, -14], [127, -6]]\n";
    let target = check::<Target>(text).expect("a target").profile;
    let Reading::Table(table) = target.outputs[0].reading else { panic!("a table") };
    // The loudest counts as 0 dB; 77 stands half way from 27 to 127.
    let points: Vec<_> = table.points().collect();
    assert_eq!(points, [(-44.0, 0.0), (-8.0, 0.5), (0.0, 1.0)]);
    assert_eq!(table.at(-90.0), 0.0);
}

#[test]
fn a_hand_without_a_file_is_the_one_whose_file_names_only_the_source() {
    let sources = [
        (Source::Controller(1), 0.0),
        (Source::Controller(2), -0.5),
        (Source::Controller(4), 1.0),
        (Source::Controller(11), 1.0),
        (Source::ControllerPair(1), 0.0),
        (Source::ChannelPressure, 1.5),
        (Source::PolyPressure, 1.5),
        (Source::PitchBend, 0.0),
        (Source::Parameter, 0.0),
        (Source::MpeTimbre, 0.0),
        (Source::MpePressure, 1.5),
    ];
    for (source, k) in sources {
        let hand = Hand::for_source(source);
        assert_eq!(profile::hand_for(source).expect("a hand").profile, hand);
        assert_eq!(hand.response, Response::Exponential(k), "{source:?}");
    }
    for (id, source) in [("wheel", Source::Controller(1)), ("breath", Source::Controller(2))] {
        let about = load::<Hand>(id).expect("a shipped hand").profile.about;
        let hand = Hand { about, ..Hand::for_source(source) };
        assert_eq!(load::<Hand>(id).expect("a shipped hand").profile, hand);
    }
}
