//! Instruments, targets and hands into the reader.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Err(sentence) = polso_fuzz::profile::check(bytes) {
        panic!("{sentence}");
    }
});
