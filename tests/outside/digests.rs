//! What is written stays what it was, to the byte: digests of shaped takes, kept in a file.
//!
//! A change that alters the sound on purpose renews the file (`POLSO_DIGESTS=renew`), and the
//! difference is reviewed like any other.

use std::fs;
use std::path::{Path, PathBuf};
use std::thread;

use super::corpus::{Take, folk_take, recorded_takes};
use super::data::melodies;
use super::performing::{Player, main_players};
use super::sample::{figure, said, sample};

/// As many at once as the smallest machine has cores.
const THREAD_COUNT: usize = 2;
/// The shipped receivers.
const TARGETS: [&str; 2] = ["generic", "perform"];

/// The kept digests: a line a take, its name and then a digest for each instrument and receiver.
fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/kept/shaped-digests.txt")
}

/// FNV-1a (Fowler, Noll and Vo), its halves folded into one.
fn digest(bytes: &[u8]) -> u32 {
    let hash = bytes.iter().fold(0xCBF2_9CE4_8422_2325_u64, |sum, byte| {
        (sum ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01B3)
    });
    (hash >> 32) as u32 ^ hash as u32
}

/// The take's line in the file.
fn row((name, take, (track, _, source)): &Take, players: &[Player]) -> String {
    let take = take.write();
    let mut row = name.replace(' ', "_");
    for player in players {
        row += &format!(" {:08x}", digest(&player.shape(&take, *track, *source)));
    }
    row
}

/// A line for every take, worked out side by side.
fn rows(takes: &[Take]) -> Vec<String> {
    let mut players = main_players(&[1, 2]);
    players.retain(|player| TARGETS.contains(&player.target.name));
    assert_eq!(players.len(), 6);
    let part = |number: usize| {
        let own = takes.iter().enumerate().skip(number).step_by(THREAD_COUNT);
        own.map(|(place, take)| (place, row(take, &players))).collect::<Vec<_>>()
    };
    let mut rows: Vec<(usize, String)> = thread::scope(|scope| {
        let part = &part;
        let threads: Vec<_> =
            (0..THREAD_COUNT).map(|number| scope.spawn(move || part(number))).collect();
        threads.into_iter().flat_map(|thread| thread.join().expect("no panic")).collect()
    });
    rows.sort();
    rows.into_iter().map(|(_, row)| row).collect()
}

#[test]
fn what_is_written_is_what_it_was() {
    let renews = std::env::var_os("POLSO_DIGESTS").is_some_and(|word| word == "renew");
    let tunes = melodies();
    let whole = tunes.len();
    let tunes = if renews { tunes } else { sample(tunes) };
    let mut takes: Vec<Take> = tunes.iter().map(|(name, tune)| folk_take(name, tune)).collect();
    let mut recorded = recorded_takes();
    // The recorded lines themselves; the hands lent to melodies differ from sample to sample.
    recorded.retain(|(name, ..)| name.contains(" by controller "));
    takes.extend(recorded);
    let found = rows(&takes);
    if renews {
        fs::write(kept(), found.join("\n") + "\n").expect("the digests are written");
        return;
    }
    let kept = fs::read_to_string(kept()).expect("the kept digests");
    let changed: Vec<&String> =
        found.iter().filter(|row| !kept.lines().any(|line| line == **row)).collect();
    assert!(changed.is_empty(), "{} of {} changed: {changed:#?}", changed.len(), found.len());
    figure(
        "digests",
        &format!(
            "{} melodies and recorded hands, {} takes on 3 instruments and 2 receivers: written \
             as kept",
            said(whole),
            found.len()
        ),
    );
}
