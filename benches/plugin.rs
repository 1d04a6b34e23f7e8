//! How long the plugin keeps a studio waiting: its blocks, its scan, its projects, its memory.

#[path = "../tests/hosts/booth.rs"]
#[allow(dead_code, reason = "the bench uses a part of the booth")]
mod booth;
#[path = "../tests/hosts/clap.rs"]
#[allow(dead_code, reason = "the bench uses a part of the host")]
mod clap;
#[path = "../tests/hosts/room.rs"]
#[allow(dead_code, reason = "the bench uses a part of the room")]
mod room;

use std::time::{Duration, Instant};

use clap::{Clap, NOTE_EFFECT};
use polso::engine::Message;
use polso::host::state::State;
use polso::profile::shipped::SHIPPED;
use room::{Host, Said, Song};
use serde_json::{Value, json};

const INSTANCES: usize = 64;
const FRAMES: u32 = 64;
const RATE_HZ: f64 = 48_000.0;
const MUSIC_S: f64 = 20.0;
/// The longest that a project may take to open.
const PROJECT_MAX: Duration = Duration::from_millis(50);

fn main() {
    scan();
    projects();
    blocks();
}

/// A scanner loads the library, asks what is in it, makes one of each, and leaves.
fn scan() {
    let start = Instant::now();
    let clap = Clap::load(NOTE_EFFECT);
    let first = start.elapsed();
    drop(clap);
    let start = Instant::now();
    drop(Clap::load(NOTE_EFFECT));
    println!(
        "scan: library and a first plugin {first:.1?}, a further plugin {:.1?}",
        start.elapsed()
    );
}

/// A fresh project, and one with every slot filled and remarks up to the longest that is read.
fn projects() {
    let mut clap = Clap::open();
    let fresh = clap.save();
    let text = |id: &str| SHIPPED.iter().find(|it| it.id == id).expect("a shipped file").text;
    let remarks = "my own remarks ".repeat(3700);
    let own = |id: &str| format!("{}\n# {remarks}\n", text(id));
    let mut state = State::shipped();
    let owns = ["erhu", "violin", "dizi-g", "gaohu"].map(own);
    state.set_instruments(&owns.each_ref().map(String::as_str));
    state.set_targets(&["generic", "perform", "generic", "perform"].map(text));
    assert!(State::parse(&state.to_text()).is_ok(), "it is not too long");
    let field = Value::String(state.to_text()).to_string();
    let whole = json!({ "version": "", "params": {}, "fields": { "state": field } }).to_string();
    let full = [&(whole.len() as u64).to_le_bytes(), whole.as_bytes()].concat();
    for (name, bytes) in [("fresh", fresh), ("full", full)] {
        let spent = (0..20).map(|_| {
            let start = Instant::now();
            assert!(clap.restore(&bytes));
            start.elapsed()
        });
        let longest = spent.max().unwrap_or_default();
        println!("project, {name}: {} bytes, opened in {longest:.1?} at most", bytes.len());
        assert!(longest <= PROJECT_MAX, "opened in {longest:.1?}; allowed are {PROJECT_MAX:?}");
    }
}

/// What one instance is given in a block; each line is a little later than the one before.
fn said(instance: usize, block: u64) -> Vec<(u32, Said)> {
    let message = |message| Said::Message(message, -1);
    let at = block + 41 * instance as u64;
    let mut said = Vec::new();
    if at.is_multiple_of(6) {
        // Up and down once in some two seconds.
        let value = 4 + (at % 1580).abs_diff(790) as u32 * 120 / 790;
        let value = value as u8;
        said.push((7, message(Message::Controller { channel: 0, number: 1, value })));
    }
    let (note, place) = (at / 300, at % 300);
    let key = 62 + (note * 5 % 14) as u8;
    if place == 0 {
        said.push((11, message(Message::NoteOn { channel: 0, key, velocity: 80 })));
    }
    if place == 290 {
        said.push((50, message(Message::NoteOff { channel: 0, key, velocity: 64 })));
    }
    match at % 9973 {
        5000 => said.push((20, Said::Control("Panic", 1.0))),
        5010 => said.push((20, Said::Control("Panic", 0.0))),
        _ => {}
    }
    said
}

fn blocks() {
    let before = resident_bytes();
    let mut studio: Vec<Clap> = (0..INSTANCES).map(|_| Clap::open()).collect();
    let memory = resident_bytes().saturating_sub(before) / INSTANCES;
    let project = studio[0].save();
    let count = (MUSIC_S * RATE_HZ) as u64 / u64::from(FRAMES);
    for clap in &mut studio {
        clap.booth.spent.reserve(count as usize);
    }
    let mut beat_block = 0;
    let mut sent = 0;
    for block in 0..count {
        // A locate every four seconds, and a project opened somewhere every second.
        if block % 3000 == 2999 {
            beat_block = block.wrapping_mul(7) % 5000;
        }
        if block % 750 == 749 {
            assert!(studio[block as usize % INSTANCES].restore(&project));
        }
        let song = Song::running(0.0, 96.0);
        let song = song.after(u64::from(FRAMES) * (block - block.min(beat_block)), RATE_HZ);
        for (instance, clap) in studio.iter_mut().enumerate() {
            sent += clap.block(FRAMES, &said(instance, block), Some(song)).len();
        }
    }
    let mut spent: Vec<Duration> =
        studio.iter().flat_map(|clap| clap.booth.spent.clone()).collect();
    spent.sort_unstable();
    let at = |share: f64| spent[((spent.len() - 1) as f64 * share) as usize];
    println!(
        "{INSTANCES} instances, blocks of {FRAMES}: p50 {:.2?}, p99 {:.2?}, p99.9 {:.2?}, max {:.2?} \
         of {} calls; {sent} messages; {} KiB an instance",
        at(0.5),
        at(0.99),
        at(0.999),
        at(1.0),
        spent.len(),
        memory / 1024,
    );
    assert!(sent > 0);
}

/// Memory in use, from the system's own count; 0 where it keeps none.
fn resident_bytes() -> usize {
    const PAGE_BYTES: usize = 4096;
    let text = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    let pages = text.split_whitespace().nth(1).and_then(|it| it.parse::<usize>().ok());
    pages.unwrap_or(0) * PAGE_BYTES
}
