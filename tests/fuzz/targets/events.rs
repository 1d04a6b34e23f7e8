//! Streams of events into the engine.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Err(sentence) = polso_fuzz::events::check(bytes) {
        panic!("{sentence}");
    }
});
