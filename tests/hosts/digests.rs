//! What both plugin formats send for the example stays what it was: digests, kept in a file.

use std::fs;
use std::path::Path;

use polso::engine::Message;
use polso::host::state::State;
use polso::profile::shipped::SHIPPED;

use super::clap::Clap;
use super::project::project;
use super::room::{Heard, Host, RATE_HZ, Said, play};
use super::smf::File;
use super::vst3::Vst3;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// The example's line as a host would play it.
fn example() -> Vec<(u64, Said)> {
    let bytes = fs::read(Path::new(ROOT).join("examples/last-ferry.mid")).expect("the example");
    let file = File::read(&bytes).expect("a MIDI file");
    let tempo = file.tempo_map();
    let mut events: Vec<(u64, Said)> = Vec::new();
    for (number, event) in (0..).zip(&file.tracks[1]) {
        // VST3 has no word for a program change.
        let message = Message::from_bytes(&event.bytes);
        let message = message.filter(|message| !matches!(message, Message::Program { .. }));
        if let Some(message) = message {
            let frame = (tempo.seconds(event.tick) * RATE_HZ).round() as u64;
            events.push((frame, Said::Message(message, number)));
        }
    }
    assert!(events.len() > 500, "{} events", events.len());
    events
}

/// FNV-1a over frames and bytes.
fn digest(heard: &[Heard]) -> u64 {
    let mut hash = 0xCBF2_9CE4_8422_2325_u64;
    for Heard { frame, said } in heard {
        let Said::Message(message, _) = said else { panic!("not a message: {said:?}") };
        let (bytes, length) = message.bytes();
        for byte in frame.to_le_bytes().iter().chain(&bytes[..length]) {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01B3);
        }
    }
    hash
}

fn row(format: &str, target: &str, host: &mut impl Host) -> String {
    let events = example();
    let end = events.last().map_or(0, |(frame, _)| frame + 4 * 48_000);
    let heard = play(host, &[512], &events, end, None);
    format!("{format} {target} {} {:016x}\n", heard.len(), digest(&heard))
}

#[test]
fn the_example_leaves_both_formats_as_it_did() {
    let text = |id: &str| SHIPPED.iter().find(|it| it.id == id).expect("a shipped file").text;
    let mut found = String::new();
    for target in ["generic", "perform"] {
        let state = State::new(text("erhu"), text(target), text("wheel"), 1);
        let field = serde_json::Value::String(state.to_text()).to_string();
        let whole =
            serde_json::json!({ "version": "", "params": {}, "fields": { "state": field } });
        let whole = whole.to_string();
        let mut clap = Clap::open();
        assert!(clap.restore(&project(&state.to_text(), &serde_json::json!({}))));
        found += &row("clap", target, &mut clap);
        let mut vst3 = Vst3::open("Polso");
        assert!(vst3.restore(whole.as_bytes()));
        found += &row("vst3", target, &mut vst3);
    }
    let kept = Path::new(ROOT).join("tests/kept/plugin-digests.txt");
    if std::env::var_os("POLSO_DIGESTS").is_some_and(|word| word == "renew") {
        fs::write(&kept, &found).expect("the digests are written");
    }
    assert_eq!(found, fs::read_to_string(&kept).expect("the kept digests"));
}
