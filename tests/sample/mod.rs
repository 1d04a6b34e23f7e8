//! How much of a corpus a test plays, a sample or all of it, and where it says what came out.
#![allow(dead_code, reason = "each test file needs its own part")]

use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::die::Die;

/// The pieces of a sample.
pub const SAMPLE_COUNT: usize = 60;

/// All of every corpus is played: `cargo xtask prove` sets POLSO_PROVE.
pub fn is_whole() -> bool {
    std::env::var("POLSO_PROVE").is_ok_and(|value| value == "1")
}

/// All of a corpus, or [`SAMPLE_COUNT`] of it in its order. The seed is printed, so that a test
/// that fails shows it, and POLSO_SEED brings the same sample again.
pub fn sample<T>(corpus: Vec<T>) -> Vec<T> {
    if is_whole() || corpus.len() <= SAMPLE_COUNT {
        return corpus;
    }
    println!("a sample of {SAMPLE_COUNT} of {}: POLSO_SEED={}", corpus.len(), seed());
    chosen(corpus, seed())
}

/// How much of a corpus of so many was played, in words.
pub fn said(whole: usize) -> String {
    match is_whole() || whole <= SAMPLE_COUNT {
        true => format!("all {whole}"),
        false => format!("{SAMPLE_COUNT} of {whole} (POLSO_SEED={})", seed()),
    }
}

/// Writes down what a test measured: for the end of `cargo xtask test`, or for the guide if all of
/// a corpus was played.
pub fn figure(name: &str, sentence: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/outside");
    let folder = folder.join(if is_whole() { "proven" } else { "figures" });
    fs::create_dir_all(&folder).expect("a folder for figures");
    fs::write(folder.join(name).with_extension("txt"), sentence).expect("a figure is written");
}

/// One for all samples of a run: POLSO_SEED, or else the time.
fn seed() -> u64 {
    static SEED: OnceLock<u64> = OnceLock::new();
    *SEED.get_or_init(|| match std::env::var("POLSO_SEED") {
        Ok(seed) => seed.parse().expect("POLSO_SEED is a whole number"),
        Err(_) => SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |time| time.as_secs()),
    })
}

fn chosen<T>(corpus: Vec<T>, seed: u64) -> Vec<T> {
    let mut die = Die(seed);
    let (mut needed, mut left) = (SAMPLE_COUNT as u64, corpus.len() as u64);
    // Each piece has the chance of what is still needed among what is left (Knuth, algorithm S).
    let is_chosen = |_: &T| {
        let is_chosen = die.below(left) < needed;
        needed -= u64::from(is_chosen);
        left -= 1;
        is_chosen
    };
    corpus.into_iter().filter(is_chosen).collect()
}

#[test]
fn a_sample_has_its_number_and_its_seed_brings_it_again() {
    let corpus = || (0..1222).collect::<Vec<usize>>();
    for seed in 0..100 {
        let sample = chosen(corpus(), seed);
        assert_eq!(sample.len(), SAMPLE_COUNT);
        assert!(sample.is_sorted_by(|one, other| one < other), "{sample:?}");
        assert_eq!(sample, chosen(corpus(), seed));
        assert_ne!(sample, chosen(corpus(), seed + 1));
    }
    // Every piece gets its turn.
    let all: std::collections::BTreeSet<usize> =
        (0..500).flat_map(|seed| chosen(corpus(), seed)).collect();
    assert_eq!(all.len(), 1222);
}
