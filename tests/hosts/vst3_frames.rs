//! In a VST3 host it plays as the engine does, within what VST3 can say.

use polso::engine::Message;
use polso::host::slot_patches::SlotPatches;
use polso::host::state::State;
use polso::profile::shipped::SHIPPED;

use super::clap_frames::{check_exclusives, check_flood_at_one_frame, shipped};
use super::room::{Heard, Host, Said, Shade, check_equal, engine, play, without_numbers};
use super::take::{END, frame, off, on, take};
use super::vst3::{Vst3, shelf};

#[test]
fn the_library_offers_both_plugins() {
    let names: Vec<String> = shelf().classes().into_iter().map(|(name, _)| name).collect();
    assert_eq!(names, ["Polso", "Polso Through"]);
}

#[test]
fn it_plays_as_the_engine_in_blocks_of_any_length() {
    let expected = without_numbers(&engine(&shipped(), &take(), END, None));
    for blocks in [&[32][..], &[100], &[1024], &[441, 7, 64, 1000, 33, 5]] {
        let heard = play(&mut Vst3::open("Polso"), blocks, &take(), END, None);
        check_equal(&format!("blocks of {blocks:?}"), &without_numbers(&heard), &expected);
    }
}

#[test]
fn controls_and_bends_arrive_at_their_own_frames() {
    let bend = |seconds: f64, value| {
        (frame(seconds), Said::Message(Message::PitchBend { channel: 0, value }, -1))
    };
    let mut events = vec![on(0.1, 69, 1)];
    for step in 1..=100_u16 {
        let at = 0.5 + 0.011 * f64::from(step);
        let share = f64::from(step as u8) / 100.0;
        events.push((frame(at), Said::Control("Gesture", f64::from(share as f32))));
        events.push(bend(at, 8192 + 37 * step));
        events.push((frame(at + 0.003), Said::Control("Vibrato width", 0.5)));
    }
    events.push(off(2.5, 69, 1));
    let end = frame(3.5);
    let expected = without_numbers(&engine(&shipped(), &events, end, None));
    for blocks in [&[64][..], &[1000]] {
        let heard = play(&mut Vst3::open("Polso"), blocks, &events, end, None);
        check_equal(&format!("blocks of {blocks:?}"), &without_numbers(&heard), &expected);
    }
}

/// The framework reads VST3's expression as brightness and its brightness as expression.
#[test]
fn expression_stays_expression_and_brightness_stays_brightness() {
    let said = [
        Said::Expression(Shade::Expression, 0, 5, 0.75),
        Said::Expression(Shade::Brightness, 0, 5, 0.25),
        Said::Expression(Shade::Vibrato, 0, 5, 0.5),
        Said::Expression(Shade::Tuning, 0, 5, 0.5),
    ];
    let mut events = vec![on(0.1, 69, 5)];
    events.extend(said.map(|said| (frame(0.2), said)));
    events.push(off(0.3, 69, 5));
    let heard = play(&mut Vst3::open("Polso"), &[333], &events, frame(0.5), None);
    let passed = heard.iter().filter(|it| matches!(it.said, Said::Expression(..)));
    let passed: Vec<Heard> = passed.copied().collect();
    // A note number of its own does not survive in this format: the key stands in for it.
    let keyed = |said| match said {
        Said::Expression(kind, _, _, value) => Said::Expression(kind, 0, 69, value),
        other => other,
    };
    assert_eq!(passed, said.map(|said| Heard { frame: frame(0.2), said: keyed(said) }));
}

#[test]
fn system_exclusive_messages_pass_whole_and_before_the_notes_of_their_frame() {
    check_exclusives(&mut Vst3::open("Polso"));
}

#[test]
fn a_flood_at_one_frame_leaves_at_that_frame() {
    check_flood_at_one_frame(&mut Vst3::open("Polso"));
}

#[test]
fn a_project_is_kept_and_opened_again() {
    let text = |id: &str| SHIPPED.iter().find(|it| it.id == id).expect("a shipped file").text;
    let state = State::new(text("violin"), text("perform"), text("wheel"), 42);
    let field = serde_json::Value::String(state.to_text()).to_string();
    let whole = serde_json::json!({ "version": "", "params": {}, "fields": { "state": field } });
    let patches = SlotPatches::of(&state).expect("patches");
    let expected = engine(patches.first().expect("a patch"), &take(), END, None);
    let mut first = Vst3::open("Polso");
    assert!(first.restore(whole.to_string().as_bytes()));
    let kept = first.save();
    let mut second = Vst3::open("Polso");
    assert!(second.restore(&kept));
    assert_eq!(second.save(), kept);
    for mut host in [first, second] {
        let heard = play(&mut host, &[256], &take(), END, None);
        check_equal("reopened", &without_numbers(&heard), &without_numbers(&expected));
    }
}

#[test]
fn the_variant_with_audio_plays_the_same_and_passes_the_sound() {
    let mut host = Vst3::open("Polso Through");
    let heard = play(&mut host, &[256], &take(), END, None);
    let expected = engine(&shipped(), &take(), END, None);
    check_equal("through", &without_numbers(&heard), &without_numbers(&expected));
    for (place, sample) in host.audio.0.concat().iter().enumerate() {
        assert_eq!(*sample, 0.0, "sample {place}");
    }
    let frames = host.audio.0[0].len();
    host.audio.0[0] = (0..frames).map(|place| 0.01 * place as f32).collect();
    host.audio.0[1] = (0..frames).map(|place| -0.02 * place as f32).collect();
    host.block(frames as u32, &[], None);
    assert_eq!(host.audio.1, host.audio.0);
}
