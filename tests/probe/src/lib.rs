//! Holds the engine where there is no std and no heap, and plays one block on it.
#![no_std]

#[path = "../../../src/engine/mod.rs"]
pub mod engine;

use engine::Engine;
use engine::event::{Message, Origin, Sink, Timed};
use engine::patch::Patch;

/// If std came in, there would be two panic handlers and the build would stop.
#[panic_handler]
fn rest_forever(_: &core::panic::PanicInfo) -> ! {
    loop {
        core::hint::spin_loop();
    }
}

/// Counts what comes out.
struct Count(u32);

impl Sink for Count {
    fn send(&mut self, _: u32, _: Message, _: Origin) -> bool {
        self.0 += 1;
        true
    }
}

/// Uses every public method, so that all of the engine's code is built.
pub fn play(patch: &Patch, input: &[Timed]) -> u32 {
    let mut count = Count(0);
    let mut engine = Engine::prepare(48_000.0, patch);
    engine.load(patch);
    engine.process(64, input, &mut count);
    engine.reset();
    let _ = (engine.view(), engine.losses());
    count.0
}
