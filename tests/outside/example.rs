//! The committed example is what its generator plays.

#[path = "../../examples/make_take/melody.rs"]
mod melody;
#[path = "../../examples/make_take/take.rs"]
mod take;
#[path = "../../examples/make_take/wheel.rs"]
mod wheel;

use std::path::Path;

use super::data;
use super::line::notes;

const TAKE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/last-ferry.mid");

#[test]
fn the_committed_take_is_what_the_generator_plays() {
    let committed = std::fs::read(TAKE).expect("the example");
    assert!(committed == take::bytes(), "run cargo run --example make_take");
}

/// Range of the erhu: practical 62 to 93, comfortable to 88.
#[test]
fn the_take_lies_well_under_the_hand() {
    let file = data::read(Path::new(TAKE));
    let notes = notes(&file, 1, 0);
    assert_eq!(notes.len(), melody::notes().len());
    assert!(notes.iter().all(|note| (62..=88).contains(&note.key)));
    let slurs = notes.windows(2).filter(|pair| pair[1].on < pair[0].off).count();
    assert_eq!(slurs, melody::notes().iter().filter(|note| note.is_slurred).count());
    let wheel: Vec<u8> =
        file.tracks[1].iter().filter_map(|event| event.controller()).map(|it| it.1).collect();
    // It is moved before it is known, reaches both ends and never jumps by more than a quick hand.
    assert!(wheel.contains(&0) && wheel.contains(&127));
    assert!(wheel.windows(2).all(|pair| pair[0].abs_diff(pair[1]) <= 4), "{wheel:?}");
}
