//! The patches that the engine's own tests play are those of the shipped files, to the bit.

#[path = "../src/engine/tests/shipped.rs"]
mod shipped;

use polso::engine::patch::Source;
use polso::profile;
use polso::profile::articulation::{NAMES, place};

#[test]
fn the_engines_tests_play_what_the_files_say() {
    let sources = [
        Source::Controller(1),
        Source::Controller(2),
        Source::Controller(11),
        Source::ControllerPair(1),
        Source::ChannelPressure,
        Source::PolyPressure,
        Source::PitchBend,
        Source::Parameter,
        Source::MpeTimbre,
        Source::MpePressure,
    ];
    for instrument in ["erhu", "violin", "dizi-d"] {
        for target in ["generic", "perform"] {
            for (source, scale) in sources.into_iter().zip([0.0, 1.0, 2.0].into_iter().cycle()) {
                let of = |name| profile::load(name).expect("shipped").profile;
                let receiver = profile::load(target).expect("shipped").profile;
                let hand = profile::hand_for(source).expect("a hand").profile;
                let read = profile::patch(&of(instrument), &receiver, &hand, 7, scale);
                let own = shipped::shipped(instrument, target, source, 7, scale);
                assert!(
                    read.expect("they go together") == own,
                    "{instrument}, {target}, {source:?}"
                );
            }
        }
    }
}

#[test]
fn the_common_list_only_grows_at_its_end() {
    // A project keeps places of this list.
    let known = "legato, detached, tenuto, staccato, marcato, harmonics, muted, spiccato, tremolo, \
                 pizzicato, col legno, sul ponticello, sul tasto, flutter, double tongue, \
                 triple tongue";
    assert_eq!(NAMES.join(", "), known);
    assert_eq!((place("Sul_Ponticello "), place("pizz")), (Some(11), None));
}
