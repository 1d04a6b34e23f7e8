//! Strings under a bow: a saw-toothed string, a body with few strong low modes, a bridge's hill.
//!
//! Sources. The string's motion has partials of 1/n, −6 dB an octave (Helmholtz 1863). Violin: A0 near
//! 275 Hz, CBR near 405, B1− near 470 and B1+ near 540 (Bissinger 2008, JASA 124; rounded), the bridge
//! hill near 2.5 kHz (Woodhouse 2005, Acta Acustica 91). Formants of violin (400, 1000 Hz), viola (220
//! and 350, 600 and 1600), cello (250 and 400, 600 and 900) and double bass (70 to 250, 400): the table
//! of Sengpiel, "Formanten prägen die Klangfarbe". The erhu's spectrum is ruled by pairs of
//! membrane and cavity resonances that resemble a voice's formants (Waltham 2018, Proc. Mtgs. Acoust.
//! 35, 035002); their places here are judgement, as are all gains, widths and noises, the low cuts
//! (from the recorded notes: the cello's lowest partials lie 30 dB down), and the rows of gaohu, zhonghu
//! and morin khuur, which are the erhu's and the cello's moved by size.

use super::{NoiseTimbre, Resonance, Span, Timbre, peak};

const HAIR: NoiseTimbre = NoiseTimbre {
    level_db: Span { soft: -30.0, loud: -38.0 },
    hz: 3_200.0,
    q: 0.6,
    pulse: 0.7,
    onset_db: 10.0,
    onset_s: 0.045,
};

const VIOLIN: Timbre = Timbre {
    ids: &["violin"],
    lowest_key: 55,
    resonances: &[
        peak(275.0, 6.0, 9.0),
        peak(405.0, 3.0, 12.0),
        peak(470.0, 6.0, 14.0),
        peak(540.0, 7.0, 14.0),
        peak(1_000.0, 4.0, 1.4),
        peak(2_500.0, 12.0, 1.0),
    ],
    low_cut_hz: 225.0,
    low_cut_db: 36.0,
    dense_hz: 650.0,
    dense_db: 4.5,
    slope_db: 4.5,
    knee_hz: Span { soft: 2_300.0, loud: 6_500.0 },
    knee_db: 20.0,
    even_db: 0.0,
    even_hz: 1_000.0,
    noise: HAIR,
    attack_s: 0.045,
    release_s: 0.045,
    join_dip: 0.22,
};

const ERHU_PEAKS: [Resonance; 6] = [
    peak(460.0, 5.0, 6.0),
    peak(780.0, 7.0, 5.0),
    peak(1_250.0, 6.0, 4.0),
    peak(2_100.0, 4.0, 3.5),
    peak(3_100.0, 7.0, 2.2),
    peak(4_700.0, 4.0, 2.5),
];

/// The same peaks for a larger or smaller body.
const fn moved<const N: usize>(peaks: [Resonance; N], factor: f64) -> [Resonance; N] {
    let mut moved = peaks;
    let mut place = 0;
    while place < N {
        moved[place].hz = peaks[place].hz * factor;
        place += 1;
    }
    moved
}

const ERHU: Timbre = Timbre {
    ids: &["erhu"],
    lowest_key: 62,
    resonances: &ERHU_PEAKS,
    low_cut_hz: 300.0,
    low_cut_db: 24.0,
    dense_hz: 900.0,
    dense_db: 3.0,
    slope_db: 6.0,
    knee_hz: Span { soft: 1_800.0, loud: 5_400.0 },
    knee_db: 17.0,
    even_db: 0.0,
    even_hz: 1_000.0,
    noise: NoiseTimbre { level_db: Span { soft: -30.0, loud: -37.0 }, hz: 3_000.0, ..HAIR },
    attack_s: 0.045,
    release_s: 0.04,
    join_dip: 0.18,
};

const CELLO_PEAKS: [Resonance; 8] = [
    peak(102.0, 6.0, 8.0),
    peak(176.0, 5.0, 10.0),
    peak(200.0, 7.0, 10.0),
    peak(250.0, 3.0, 5.0),
    peak(400.0, 3.0, 3.0),
    peak(600.0, 3.0, 3.0),
    peak(900.0, 6.0, 1.2),
    peak(1_900.0, 8.0, 1.0),
];

const CELLO: Timbre = Timbre {
    ids: &["cello"],
    lowest_key: 36,
    resonances: &CELLO_PEAKS,
    low_cut_hz: 98.0,
    low_cut_db: 46.0,
    dense_hz: 450.0,
    dense_db: 4.5,
    slope_db: 7.0,
    knee_hz: Span { soft: 1_400.0, loud: 4_600.0 },
    knee_db: 18.0,
    noise: NoiseTimbre { hz: 2_200.0, ..HAIR },
    attack_s: 0.06,
    release_s: 0.06,
    ..VIOLIN
};

/// In the order in which an unknown instrument is compared with them.
pub(super) const ALL: &[Timbre] = &[
    VIOLIN,
    Timbre {
        ids: &["viola"],
        lowest_key: 48,
        resonances: &[
            peak(220.0, 6.0, 9.0),
            peak(350.0, 6.0, 10.0),
            peak(420.0, 5.0, 12.0),
            peak(600.0, 4.0, 3.0),
            peak(1_600.0, 5.0, 2.0),
            peak(2_200.0, 7.0, 1.3),
        ],
        low_cut_hz: 175.0,
        dense_hz: 550.0,
        slope_db: 5.0,
        knee_hz: Span { soft: 1_900.0, loud: 5_600.0 },
        noise: NoiseTimbre { hz: 2_800.0, ..HAIR },
        attack_s: 0.05,
        ..VIOLIN
    },
    CELLO,
    Timbre {
        ids: &["double-bass"],
        lowest_key: 28,
        resonances: &[
            peak(62.0, 6.0, 8.0),
            peak(105.0, 6.0, 9.0),
            peak(150.0, 4.0, 4.0),
            peak(230.0, 3.0, 4.0),
            peak(400.0, 4.0, 3.0),
            peak(1_200.0, 4.0, 1.5),
        ],
        low_cut_hz: 55.0,
        low_cut_db: 36.0,
        dense_hz: 300.0,
        knee_hz: Span { soft: 900.0, loud: 3_000.0 },
        noise: NoiseTimbre { hz: 1_600.0, ..HAIR },
        attack_s: 0.08,
        release_s: 0.09,
        ..CELLO
    },
    ERHU,
    Timbre {
        ids: &["gaohu"],
        lowest_key: 67,
        resonances: &moved(ERHU_PEAKS, 1.25),
        low_cut_hz: 380.0,
        knee_hz: Span { soft: 2_400.0, loud: 6_000.0 },
        ..ERHU
    },
    Timbre {
        ids: &["zhonghu"],
        lowest_key: 55,
        resonances: &moved(ERHU_PEAKS, 0.72),
        low_cut_hz: 210.0,
        knee_hz: Span { soft: 1_400.0, loud: 3_800.0 },
        ..ERHU
    },
    Timbre {
        ids: &["morin-khuur", "morin-khuur-high"],
        lowest_key: 41,
        resonances: &moved(CELLO_PEAKS, 1.3),
        low_cut_hz: 105.0,
        low_cut_db: 30.0,
        // Horsehair strings: a rougher bow than on metal.
        noise: NoiseTimbre { level_db: Span { soft: -25.0, loud: -33.0 }, hz: 2_400.0, ..HAIR },
        ..CELLO
    },
];
