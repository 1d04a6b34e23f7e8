//! The shipped instruments, receivers and hands load and go together.

use polso::profile::{self, Hand, Instrument, Target};

#[test]
fn every_shipped_instrument_plays_through_every_shipped_target() {
    for instrument in ["erhu", "violin", "dizi-d"] {
        for target in ["generic", "perform"] {
            for hand in ["wheel", "breath"] {
                let instrument = profile::load::<Instrument>(instrument).expect("instrument");
                assert_eq!(instrument.notes, []);
                let target = profile::load::<Target>(target).expect("target");
                assert_eq!(target.notes, []);
                let hand = profile::load::<Hand>(hand).expect("hand");
                assert_eq!(hand.notes, []);
                profile::patch(&instrument.profile, &target.profile, &hand.profile, 1, 1.0)
                    .expect("patch");
            }
        }
    }
}
