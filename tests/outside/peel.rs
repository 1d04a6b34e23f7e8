//! The way back from real music: folk melodies, shaped for every instrument, are peeled to the
//! very takes, also among foreign tracks, SysEx and odd resolutions.

use std::thread;

use polso::offline::midi::{File as Take, read::read};
use polso::offline::peel::peel;

use super::corpus::folk_take;
use super::data::{MELODY_COUNT, some_melodies};
use super::performing::{Player, TARGETS, players};
use super::sample::{figure, said};
use super::smf::{Event, File};

/// As many at once as the smallest machine has cores.
const THREAD_COUNT: usize = 2;
/// Breaches that a failing test prints.
const SHOWN_MAX: usize = 10;
/// Resolutions that few programs write.
const ODD_PPQ: [u16; 4] = [1, 7, 99, 32_767];

/// What is wrong with the way there and back; `None` if the take is the same event for event.
fn lost(player: &Player, take: &File, track: usize) -> Option<String> {
    let bytes = take.write();
    let shaped = player.shape(&bytes, track, 1);
    let take: Take = read(&bytes).expect("a take");
    if shaped == bytes {
        return Some("shaping changed nothing".to_owned());
    }
    let peeled = peel(read(&shaped).expect("a shaped file")).expect("a shaped file");
    if !peeled.leftovers.is_empty() {
        return Some(format!("peeling leaves {:?}", peeled.leftovers));
    }
    let number = peeled.file.tracks.iter().zip(&take.tracks).position(|(own, other)| own != other);
    match peeled.file == take {
        true => None,
        false => Some(format!("not as it was, from track {number:?} on (counted from 0)")),
    }
}

/// The take among a foreign track before and after it, with SysEx, texts, wishes, articulations
/// and another channel in its own track, at another resolution.
fn among_others(take: &File, number: usize) -> File {
    let ppq = ODD_PPQ[number % ODD_PPQ.len()];
    let mut mixed = take.clone();
    for event in mixed.tracks.iter_mut().flatten() {
        event.tick = event.tick * u64::from(ppq) / u64::from(take.ppq);
    }
    let own = &mut mixed.tracks[0];
    let place = |events: &[Event]| events.len() * (number % 7) / 8;
    for bytes in [
        &[0xF0, 0x43, 0x10, 0xF7][..],
        &[0xF7, 0xF8],
        &[0xFF, 0x01, b'h', b'i'],
        &[0xB5, 1, 99],
        &[0x95, 60, 80],
        &[0xFF, 0x7F, 0x7D, b'p', b'q'],
    ] {
        let at = place(own).min(own.len() - 1);
        own.insert(at, Event::new(own[at].tick, bytes));
    }
    ask(own, number, "wish: no vibrato");
    ask(own, number + 3, ["articulation: pizzicato", "articulation: muted"][number % 2]);
    ask(own, number + 5, "articulation: staccato");
    let foreign = |channel: u8| {
        let bytes = [vec![0xFF, 3, b'x'], vec![0x90 | channel, 50, 1], vec![0xB0 | channel, 1, 3]];
        let mut events: Vec<Event> =
            bytes.iter().zip([0, 5, 5]).map(|(bytes, tick)| Event::new(tick, bytes)).collect();
        events.push(Event::new(9, &[0xFF, 0x2F]));
        events
    };
    mixed.tracks.insert(0, foreign(3));
    mixed.tracks.push(foreign(0));
    File { format: 1, ppq, tracks: mixed.tracks }
}

/// Puts a text where one of the notes begins, before or after it.
fn ask(own: &mut Vec<Event>, number: usize, words: &str) {
    let is_on = |event: &Event| event.bytes[0] == 0x90 && event.bytes[2] > 0;
    let ons: Vec<usize> = (0..own.len()).filter(|at| is_on(&own[*at])).collect();
    let at = ons[number * 7 % ons.len()];
    let bytes = [&[0xFF, 0x06, words.len() as u8], words.as_bytes()].concat();
    own.insert(at + number % 2, Event::new(own[at].tick, &bytes));
}

/// Goes there and back with every take, spread over the threads; `players` chooses by number.
fn check(name: &str, what: &str, makes: impl Fn(&File, usize) -> (File, usize) + Sync) {
    let (tunes, players) = (some_melodies(), players(&[1]));
    let instrument_count = players.len() / TARGETS.len();
    let part = &|thread: usize| {
        let mut breaches = Vec::new();
        let mut count = 0;
        for (number, (name, tune)) in tunes.iter().enumerate().skip(thread).step_by(THREAD_COUNT) {
            let (_, take, _) = folk_take(name, tune);
            let (take, track) = makes(&take, number);
            // Every instrument; the receivers take turns.
            for instrument in 0..instrument_count {
                let turn = (number + instrument) % TARGETS.len();
                let player = &players[instrument * TARGETS.len() + turn];
                let lost = lost(player, &take, track);
                breaches
                    .extend(lost.map(|sentence| format!("{name}, {}: {sentence}", player.name)));
                count += 1;
            }
        }
        (count, breaches)
    };
    let parts: Vec<(usize, Vec<String>)> = thread::scope(|scope| {
        let threads: Vec<_> =
            (0..THREAD_COUNT).map(|thread| scope.spawn(move || part(thread))).collect();
        threads.into_iter().map(|thread| thread.join().expect("no panic")).collect()
    });
    let count: usize = parts.iter().map(|(count, _)| count).sum();
    let breaches: Vec<String> = parts.into_iter().flat_map(|(_, breaches)| breaches).collect();
    let shown = &breaches[..breaches.len().min(SHOWN_MAX)];
    assert!(breaches.is_empty(), "{} breaches:\n{}", breaches.len(), shown.join("\n"));
    assert_eq!(count, tunes.len() * instrument_count);
    let tunes = said(MELODY_COUNT);
    figure(
        name,
        &format!(
            "{tunes} folk melodies {what}: {count} shaped files peeled, every one the very take"
        ),
    );
}

#[test]
fn every_melody_comes_back_from_every_instrument() {
    check("peeled", "by every instrument", |take, _| (take.clone(), 0));
}

#[test]
fn every_melody_comes_back_from_among_foreign_tracks() {
    let what = "among foreign tracks, SysEx, wishes, articulations and odd resolutions";
    check("peeled-among-others", what, |take, number| (among_others(take, number), 1));
}
