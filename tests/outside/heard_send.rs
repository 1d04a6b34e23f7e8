//! The ambience send at the end of a phrase is heard: more room, and back again.

use super::receiver::{Reel, Sound, settings, shaped, target_file};
use super::sample::figure;
use super::written::take;
use approx::assert_abs_diff_eq;

/// Applause (General MIDI, from 0): a noise, so no tone of it meets its own echo, and a voice with
/// no room of its own.
const PROGRAM: u8 = 126;
const KEY: u8 = 69;
/// The room at rest, GM2's own (from memory). SoundFont 2.04, 8.4: the send is linear in CC 91.
const REST: u8 = 40;
const OFF_DB_MAX: f64 = 0.3;
/// A small room without a tail of its own follows the send within a moment.
const ROOM: [&str; 8] = [
    "-R",
    "1",
    "-o",
    "synth.reverb.room-size=0.0",
    "-o",
    "synth.reverb.damp=1.0",
    "-o",
    "synth.reverb.level=1.0",
];

/// How much louder the room is than the note itself in each span, decibels.
fn room_db(reel: &Reel, spans: &[(f64, f64)]) -> Vec<f64> {
    let ask = |(begin_s, end_s): &(f64, f64)| format!("level {begin_s} {end_s}");
    let questions: Vec<String> = spans.iter().map(ask).collect();
    let (dry, both): (Sound, Sound) = (reel.render(&[]), reel.render(&ROOM));
    let room = both.ask_without(&dry, &questions);
    let note = dry.ask(&questions);
    room.iter().zip(&note).map(|(room, note)| room[0] - note[0]).collect()
}

#[test]
fn the_send_is_lifted_at_the_end_of_a_phrase() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = format!("[outputs.send]\naddress = \"cc 91\"\nrest = {REST}\ninterval_ms = 20\n");
    let mut settings = settings("erhu", &target_file(folder.path(), &text), 0.0);
    let lifted = REST + (settings.patch.tail.lift * 127.0).round() as u8;
    // The note itself stays as loud, and sounds long enough to be measured.
    settings.patch.tail.tail_db = 0.0;
    settings.patch.tail.tail_s = 1.0;
    let take = take(&[(KEY, 100, 2100), (KEY, 3600, 4600), (KEY, 8000, 9000)], &[(0, 127)]);
    let mut still = settings.clone();
    still.patch.tail.lift = 0.0;
    // Before the tail; in it, at full lift; in a note that begins while it is up; after it is down.
    let spans = [(1.2, 2.0), (2.6, 3.0), (3.9, 4.5), (8.4, 8.9)];
    let [heard, still] = [&settings, &still].map(|settings| {
        let mut reel = Reel::new(PROGRAM);
        let start_s = reel.add(&shaped(&take, settings));
        room_db(&reel, &spans.map(|(begin_s, end_s)| (start_s + begin_s, start_s + end_s)))
    });
    let lifted_db: Vec<f64> =
        heard.iter().zip(&still).map(|(heard, still)| heard - still).collect();
    let wanted_db = 20.0 * libm::log10(f64::from(lifted) / f64::from(REST));
    println!("lifted by {lifted_db:.3?} dB, {wanted_db:.3} wanted");
    assert!(wanted_db > 2.0);
    for (lifted_db, wanted_db) in lifted_db.iter().zip([0.0, wanted_db, 0.0, 0.0]) {
        assert_abs_diff_eq!(*lifted_db, wanted_db, epsilon = OFF_DB_MAX);
    }
    figure(
        "send",
        &format!(
            "send lifted from {REST} to {lifted}: {:.2} dB more room, {wanted_db:.2} by the \
             numbers",
            lifted_db[1]
        ),
    );
}
