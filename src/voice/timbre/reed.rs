//! Reeds and lips: double reed, free reed, single reed, brass.
//!
//! Sources. Formants of oboe (1400 and 2950 Hz), clarinet (1180 and 2700) and trumpet (1200 and 2200):
//! the table of Sengpiel, "Formanten prägen die Klangfarbe". The clarinet's even partials grow with
//! frequency until they meet the odd ones near the cutoff of its tone holes, some 1.5 kHz (Petersen,
//! Guillemain & others 2020, Acta Acustica 4, 18). Brass grows brighter with loudness far more than
//! reeds do (Beauchamp 1975; Hirschberg & others 1996, JASA 99). All gains, widths and noises, and the
//! rows of hulusi and suona, are judgement.

use super::{NoiseTimbre, Span, Timbre, peak};

const BREATH: NoiseTimbre = NoiseTimbre {
    level_db: Span { soft: -36.0, loud: -44.0 },
    hz: 2_500.0,
    q: 0.5,
    pulse: 0.5,
    onset_db: 8.0,
    onset_s: 0.025,
};

const OBOE: Timbre = Timbre {
    ids: &["oboe"],
    lowest_key: 58,
    resonances: &[peak(1_400.0, 9.0, 1.6), peak(2_950.0, 8.0, 2.2)],
    low_cut_hz: 350.0,
    low_cut_db: 10.0,
    dense_hz: 1_500.0,
    dense_db: 1.5,
    slope_db: 2.0,
    knee_hz: Span { soft: 1_700.0, loud: 3_600.0 },
    knee_db: 20.0,
    even_db: 0.0,
    even_hz: 1_000.0,
    noise: BREATH,
    attack_s: 0.025,
    release_s: 0.025,
    join_dip: 0.12,
};

/// In the order in which an unknown instrument is compared with them.
pub(super) const ALL: &[Timbre] = &[
    OBOE,
    Timbre {
        ids: &["suona-d"],
        lowest_key: 69,
        resonances: &[peak(1_500.0, 5.0, 1.5), peak(3_300.0, 10.0, 1.8), peak(6_000.0, 5.0, 2.0)],
        low_cut_hz: 600.0,
        low_cut_db: 12.0,
        slope_db: 1.5,
        knee_hz: Span { soft: 2_600.0, loud: 5_500.0 },
        knee_db: 15.0,
        noise: NoiseTimbre { level_db: Span { soft: -34.0, loud: -42.0 }, hz: 3_500.0, ..BREATH },
        ..OBOE
    },
    Timbre {
        ids: &["hulusi"],
        lowest_key: 67,
        resonances: &[peak(700.0, 4.0, 1.5), peak(1_900.0, 4.0, 1.5)],
        low_cut_hz: 250.0,
        slope_db: 4.0,
        knee_hz: Span { soft: 1_500.0, loud: 3_000.0 },
        knee_db: 16.0,
        even_db: 12.0,
        even_hz: 2_200.0,
        attack_s: 0.03,
        ..OBOE
    },
    Timbre {
        ids: &["clarinet"],
        lowest_key: 50,
        resonances: &[peak(1_180.0, 4.0, 1.5), peak(2_700.0, 4.0, 2.0)],
        low_cut_hz: 120.0,
        low_cut_db: 6.0,
        slope_db: 5.0,
        knee_hz: Span { soft: 1_100.0, loud: 2_800.0 },
        knee_db: 16.0,
        even_db: 24.0,
        even_hz: 1_500.0,
        attack_s: 0.03,
        ..OBOE
    },
    Timbre {
        ids: &["trumpet"],
        lowest_key: 52,
        resonances: &[peak(1_200.0, 7.0, 1.2), peak(2_200.0, 5.0, 1.5)],
        low_cut_hz: 250.0,
        low_cut_db: 6.0,
        slope_db: 2.0,
        knee_hz: Span { soft: 800.0, loud: 4_500.0 },
        knee_db: 16.0,
        noise: NoiseTimbre { level_db: Span { soft: -38.0, loud: -46.0 }, ..BREATH },
        attack_s: 0.035,
        ..OBOE
    },
];
