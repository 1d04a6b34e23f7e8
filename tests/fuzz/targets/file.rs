//! MIDI files into the shaper.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Err(sentence) = polso_fuzz::file::check(bytes) {
        panic!("{sentence}");
    }
});
