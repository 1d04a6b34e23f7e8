//! A studio scans, opens and leaves the library again and again, from several threads at once.

use std::fs;
use std::path::Path;
use std::thread;

use clack_host::prelude::PluginEntry;

use super::clap::{Clap, NOTE_EFFECT, THROUGH};
use super::room::{Host, RATE_HZ, Song, library};
use super::take::{off, on, wheel};
use super::vst3::{Shelf, Vst3};

/// Loads of the library in each format and each thread.
const CYCLES: u32 = 75;

/// Plays a plugin a little and leaves it with a note sounding.
fn play(host: &mut impl Host, cycle: u32) -> usize {
    let key = 60 + (cycle % 20) as u8;
    let first = [wheel(0.0, 90).1, on(0.0, key, 1).1, on(0.0, key + 7, 2).1].map(|it| (3, it));
    let song = Song::running(4.0, 120.0);
    let heard = host.block(256, &first, Some(song)).len();
    heard + host.block(64, &[(5, off(0.0, key, 1).1)], Some(song.after(256, RATE_HZ))).len()
}

/// Two plugins of a library play, and either goes first.
fn clap_plugins(entry: &PluginEntry, cycle: u32) -> usize {
    let mut first = Clap::of(entry, NOTE_EFFECT);
    first.activate(RATE_HZ);
    let mut second = Clap::of(entry, THROUGH);
    second.activate(96_000.0);
    let project = first.save();
    let heard = play(&mut first, cycle);
    assert!(second.restore(&project));
    let heard = heard + play(&mut second, cycle);
    if cycle.is_multiple_of(2) {
        drop((first, second))
    } else {
        drop((second, first))
    }
    heard
}

fn vst3_plugins(shelf: &Shelf, cycle: u32) -> usize {
    let mut first = Vst3::of(shelf, "Polso");
    let mut second = Vst3::of(shelf, "Polso Through");
    let project = first.save();
    let heard = play(&mut first, cycle);
    assert!(second.restore(&project));
    let heard = heard + play(&mut second, cycle);
    if cycle.is_multiple_of(2) {
        drop((first, second))
    } else {
        drop((second, first))
    }
    heard
}

/// One visit. What a thread of its own plays leaves nothing behind with which this thread would
/// keep the library.
fn clap_visit(path: &Path, cycle: u32, is_apart: bool) -> usize {
    let entry = Clap::entry(path);
    if !is_apart {
        return clap_plugins(&entry, cycle);
    }
    thread::scope(|scope| scope.spawn(|| clap_plugins(&entry, cycle)).join().expect("it lives"))
}

fn vst3_visit(path: &Path, cycle: u32, is_apart: bool) -> usize {
    let shelf = Shelf::open(path);
    let play = || vst3_plugins(&shelf, cycle);
    let heard = match is_apart {
        true => thread::scope(|scope| scope.spawn(play).join().expect("it lives")),
        false => play(),
    };
    shelf.close();
    heard
}

/// Visits from one thread. A copy is a library of its own, which nobody else keeps.
fn visits(path: &Path, is_apart: bool, visit: fn(&Path, u32, bool) -> usize) {
    for cycle in 0..CYCLES {
        let heard = visit(path, cycle, is_apart);
        assert!(heard > 10, "{heard} messages are not many");
        let maps = fs::read_to_string("/proc/self/maps").unwrap_or_default();
        let is_there = maps.contains(&*path.to_string_lossy());
        assert!(!is_apart || !is_there, "visit {cycle}: the library has not gone");
    }
}

fn check(visit: fn(&Path, u32, bool) -> usize) {
    let folder = tempfile::tempdir().expect("a folder");
    let paths = ["apart", "along"].map(|name| folder.path().join(name));
    for path in &paths {
        fs::copy(library(), path).expect("a copy");
    }
    thread::scope(|scope| {
        for (path, is_apart) in paths.iter().zip([true, false]) {
            scope.spawn(move || visits(path, is_apart, visit));
        }
    });
}

#[test]
fn a_clap_library_is_loaded_and_left_again_and_again() {
    check(clap_visit);
}

#[test]
fn a_vst3_library_is_loaded_and_left_again_and_again() {
    check(vst3_visit);
}
