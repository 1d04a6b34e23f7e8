//! A host asks for a sample rate at which nothing can be played, and is told no.

use super::clap::{Clap, NOTE_EFFECT, THROUGH};
use super::clap_frames::shipped;
use super::room::{Host, RATE_HZ, check_equal, engine, play, without_numbers};
use super::take::{END, take};
use super::vst3::Vst3;

/// At rate 0 the first block never came to an end.
const REFUSED_HZ: [f64; 10] = [
    0.0,
    -48_000.0,
    1.0,
    7_999.0,
    768_100.0,
    1e9,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
    f64::MIN_POSITIVE,
];
const ALLOWED_HZ: [f64; 4] = [8_000.0, 44_100.0, 192_000.0, 768_000.0];

#[test]
fn a_clap_host_is_refused_what_lies_outside_8_to_768_khz() {
    let expected = engine(&shipped(), &take(), END, None);
    for id in [NOTE_EFFECT, THROUGH] {
        let mut clap = Clap::load(id);
        for rate_hz in REFUSED_HZ {
            assert!(!clap.try_activate(rate_hz), "{rate_hz} Hz");
        }
        for rate_hz in ALLOWED_HZ {
            assert!(clap.try_activate(rate_hz), "{rate_hz} Hz");
            clap.block(64, &[], None);
            clap.deactivate();
        }
        assert!(!clap.try_activate(0.0));
        clap.activate(RATE_HZ);
        check_equal("after all that", &play(&mut clap, &[512], &take(), END, None), &expected);
    }
}

#[test]
fn a_vst3_host_is_refused_what_lies_outside_8_to_768_khz() {
    let expected = without_numbers(&engine(&shipped(), &take(), END, None));
    for name in ["Polso", "Polso Through"] {
        let mut vst3 = Vst3::open(name);
        for rate_hz in REFUSED_HZ {
            vst3.deactivate();
            assert!(!vst3.try_activate(rate_hz), "{rate_hz} Hz");
            // A host that plays all the same comes back.
            vst3.block(64, &[], None);
        }
        for rate_hz in ALLOWED_HZ {
            vst3.deactivate();
            assert!(vst3.try_activate(rate_hz), "{rate_hz} Hz");
            vst3.block(64, &[], None);
        }
        vst3.deactivate();
        vst3.activate(RATE_HZ);
        let heard = without_numbers(&play(&mut vst3, &[512], &take(), END, None));
        check_equal("after all that", &heard, &expected);
    }
}
