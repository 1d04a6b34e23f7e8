//! Projects into the plugin.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Err(sentence) = polso_fuzz::state::check(bytes) {
        panic!("{sentence}");
    }
});
