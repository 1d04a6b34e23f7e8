//! While it sounds the voice asks nobody for memory.

mod band;
#[path = "../../engine/tests/counting.rs"]
mod counting;
#[path = "../../engine/tests/die.rs"]
mod die;
#[path = "../../engine/tests/promise/improvised.rs"]
mod improvised;
#[path = "../../engine/tests/rehearsal.rs"]
mod rehearsal;
#[path = "../../engine/tests/room.rs"]
mod room;
#[path = "../../engine/tests/shipped.rs"]
mod shipped;

use polso_engine::patch::Source;

use band::{Band, INSTRUMENTS, Sound, blocks};
use counting::heap_calls;
use improvised::{Manner, improvise};
use rehearsal::patch_with;

#[test]
fn the_voice_never_calls_the_heap() {
    for (seed, (id, ..)) in INSTRUMENTS.iter().enumerate() {
        let seed = seed as u64;
        let patch = patch_with("erhu", "perform", Source::Controller(1), seed, 1.0);
        let source = patch.hand.source;
        let manner = Manner { source, length_s: 3.0, grid_per_s: 0.0, is_wild: true };
        let blocks = blocks(&improvise(seed, &manner), 3.5);
        let mut band = Band::new(&patch, 2, Sound::whole(id));
        let mut peak = 0.0_f32;
        let calls = heap_calls(|| {
            for input in &blocks {
                let mut out = [[0.0; 2]; 48];
                band.tick(input, &mut out);
                peak = out.iter().flatten().fold(peak, |peak, sample| peak.max(sample.abs()));
            }
        });
        assert_eq!(calls, 0, "{id}");
        assert!(peak > 0.0, "{id} sounds");
    }
}
