//! Flutes: a strong first partial, others that come with the breath, and the breath itself.
//!
//! Sources. Louder playing strengthens the upper partials while the first hardly grows (Fletcher 1975,
//! JASA 57). The flute's formant lies near 810 Hz (the table of Sengpiel, "Formanten prägen die
//! Klangfarbe"); recorded notes are even up to 1.3 kHz and fall by some 20 dB an octave above. The
//! dizi's membrane gives a first formant at 4 to 6 kHz and a predominance of odd partials (Tsai 2003,
//! "The Chinese Membrane Flute (dizi)"). All gains, widths and noises, and the xiao, are judgement.

use super::{NoiseTimbre, Span, Timbre, peak};

const AIR: NoiseTimbre = NoiseTimbre {
    level_db: Span { soft: -26.0, loud: -33.0 },
    hz: 1_800.0,
    q: 0.5,
    pulse: 0.2,
    onset_db: 9.0,
    onset_s: 0.05,
};

const FLUTE: Timbre = Timbre {
    ids: &["flute"],
    lowest_key: 60,
    resonances: &[peak(810.0, 3.0, 1.2)],
    low_cut_hz: 200.0,
    low_cut_db: 12.0,
    dense_hz: 1_500.0,
    dense_db: 2.0,
    slope_db: 1.0,
    knee_hz: Span { soft: 850.0, loud: 2_300.0 },
    knee_db: 24.0,
    even_db: 0.0,
    even_hz: 1_000.0,
    noise: AIR,
    attack_s: 0.05,
    release_s: 0.035,
    join_dip: 0.15,
};

const DIZI: Timbre = Timbre {
    ids: &["dizi-d", "dizi-g", "dizi-c"],
    lowest_key: 69,
    resonances: &[peak(900.0, 3.0, 1.2), peak(4_900.0, 13.0, 1.5), peak(11_500.0, 5.0, 2.0)],
    low_cut_hz: 300.0,
    slope_db: 4.0,
    knee_hz: Span { soft: 1_300.0, loud: 4_200.0 },
    knee_db: 13.0,
    even_db: 3.0,
    even_hz: 9_000.0,
    noise: NoiseTimbre { level_db: Span { soft: -27.0, loud: -35.0 }, hz: 3_500.0, ..AIR },
    attack_s: 0.035,
    ..FLUTE
};

/// In the order in which an unknown instrument is compared with them.
pub(super) const ALL: &[Timbre] = &[
    FLUTE,
    DIZI,
    Timbre {
        ids: &["xiao"],
        lowest_key: 62,
        resonances: &[peak(600.0, 3.0, 1.0)],
        knee_hz: Span { soft: 650.0, loud: 1_700.0 },
        noise: NoiseTimbre { level_db: Span { soft: -22.0, loud: -29.0 }, hz: 1_500.0, ..AIR },
        attack_s: 0.06,
        ..FLUTE
    },
];
