//! On the audio thread the engine asks nobody for memory, and stays in a small stack.

mod counting;
mod die;
#[path = "promise/improvised.rs"]
mod improvised;
#[path = "promise/receivers.rs"]
mod receivers;
mod rehearsal;
mod room;
mod shipped;

use polso_engine::Section;
use polso_engine::patch::Patch;
use polso_engine::{Message, Origin, Sink, Timed};

use counting::heap_calls;
use rehearsal::RATE_HZ;

/// Counts what it hears, and once in a while has no room.
#[derive(Default)]
struct Counter {
    heard: u64,
}

impl Sink for Counter {
    fn send(&mut self, _: u32, _: Message, _: Origin) -> bool {
        self.heard += 1;
        !self.heard.is_multiple_of(50)
    }
}

/// One take's events in blocks of 256 frames, made beforehand.
fn blocks(patch: &Patch, seed: u64) -> Vec<Vec<Timed>> {
    let score = improvised::improvise(seed, &receivers::manner(patch, 5.0, 0.0));
    let mut blocks = vec![Vec::new(); (6.0 * RATE_HZ / 256.0) as usize];
    for (frame, timed) in score.timed(RATE_HZ) {
        if let Some(block) = blocks.get_mut((frame / 256) as usize) {
            block.push(Timed { frame: (frame % 256) as u32, ..timed });
        }
    }
    blocks
}

/// A whole life on the audio thread.
fn live(engine: &mut Section, patches: &[(&str, Patch)], blocks: &[Vec<Timed>]) -> u64 {
    let mut sink = Counter::default();
    for (place, input) in blocks.iter().enumerate() {
        engine.process(256, input, &mut sink);
        std::hint::black_box((engine.view(), engine.losses(), engine.is_settled()));
        match place % 97 {
            40 => engine.reset(),
            70 => engine.load(&patches[place % patches.len()].1),
            90 => engine.retime(44_100.0),
            91 => engine.retime(RATE_HZ),
            96 => engine.finish(&mut sink),
            _ => {}
        }
    }
    sink.heard
}

#[test]
fn the_engine_never_calls_the_heap() {
    let patches = receivers::all();
    for (name, patch) in &patches {
        for seed in 0..3 {
            let blocks = blocks(patch, seed);
            let mut engine = Section::prepare(RATE_HZ, patch);
            let mut heard = 0;
            let calls = heap_calls(|| heard = live(&mut engine, &patches, &blocks));
            assert_eq!(calls, 0, "{name}");
            assert!(heard > 50, "{name} plays something");
        }
        let prepared = heap_calls(|| {
            std::hint::black_box(Section::prepare(RATE_HZ, patch));
        });
        assert_eq!(prepared, 0, "{name}");
    }
}

/// Half of what threads get by default on one system (512 KiB, from memory).
#[test]
fn the_engine_lives_in_a_stack_of_a_quarter_of_a_megabyte() {
    println!("patch {} bytes, engine {} bytes", size_of::<Patch>(), size_of::<Section>());
    let patches = receivers::all();
    let blocks = blocks(&patches[0].1, 1);
    let thread = std::thread::Builder::new().stack_size(256 * 1024);
    let heard = thread.spawn(move || {
        let mut engine = Section::prepare(RATE_HZ, &patches[0].1);
        live(&mut engine, &patches, &blocks) + live(&mut engine.clone(), &patches, &blocks)
    });
    assert!(heard.expect("a thread").join().expect("no overflow") > 50);
}
