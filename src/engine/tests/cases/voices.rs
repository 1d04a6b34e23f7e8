//! Several voices on one channel: each key a line of its own, and one way out for all.

use polso_engine::patch::{LeadingVoice, Patch, VoiceKind};
use polso_engine::reason::Reason;
use polso_engine::{Input, Message, Mode, Phrase, Section, View};

use crate::music::{bare, bends, jumping, words};
use crate::rehearsal::{RATE_HZ, Score, Sent, in_voices, perform_on};

/// A violin whose outputs say next to nothing of the notes.
pub fn violin(kind: VoiceKind, count: usize) -> Patch {
    in_voices(bare("violin", "perform"), kind, count)
}

/// Plays to a moment: what came out, and each voice that sounds then, the first first.
pub fn heard(patch: &Patch, score: &Score, until_s: f64) -> (Vec<Sent>, Vec<View>) {
    let mut section = Section::prepare(RATE_HZ, patch);
    let sent = perform_on(&mut section, RATE_HZ, &[441], score, until_s);
    let all = (0..section.line_count()).map(|line| section.view_of(line));
    let mut views: Vec<View> = all.filter(|view| view.phrase != Phrase::Rest).collect();
    views.sort_by_key(|view| view.voice);
    (sent, views)
}

/// Voice, key and mode of each voice that sounds at a moment.
#[track_caller]
fn check(patch: &Patch, score: &Score, until_s: f64, expected: &[(u8, u8, Mode)]) {
    let (_, views) = heard(patch, score, until_s);
    let voice = |view: &View| (view.voice, view.key.unwrap_or(0), view.mode);
    assert_eq!(views.iter().map(voice).collect::<Vec<_>>(), expected);
}

/// Three keys held from 0.1 s on, the upper one slurred into another at 1 s.
fn moving_top() -> Score {
    let chord = Score::new().gesture(0.0, 0.5).on(0.1, 60).on(0.1, 64).on(0.1, 67);
    chord.on(1.0, 69).off(1.02, 67)
}

#[test]
fn one_voice_of_a_chord_goes_on_legato_and_the_others_stay() {
    for kind in [VoiceKind::Chords, VoiceKind::Divisi] {
        let patch = violin(kind, 4);
        let fresh = |voice, key| (voice, key, Mode::Fresh);
        check(&patch, &moving_top(), 0.9, &[fresh(0, 67), fresh(1, 64), fresh(2, 60)]);
        let (_, views) = heard(&patch, &moving_top(), 1.2);
        assert_eq!(
            views.iter().map(|it| it.key).collect::<Vec<_>>(),
            [Some(69), Some(64), Some(60)]
        );
        assert!(views[0].mode != Mode::Fresh && views[0].mode != Mode::Quick, "{:?}", views[0]);
        assert_eq!([views[1].mode, views[2].mode], [Mode::Fresh; 2]);
    }
}

#[test]
fn voices_sound_as_they_are_played() {
    // The wheel stands, so nothing but notes is heard of the violin without a level.
    let mut patch = jumping(violin(VoiceKind::Chords, 8));
    patch.target.output_count = 0;
    patch.legato.join_gap_s = 0.0;
    let score = moving_top().off(1.3, 60).off(1.3, 64).off(1.3, 69);
    let (sent, _) = heard(&patch, &score, 3.0);
    let all = words(&sent);
    let ons: Vec<_> = all.iter().filter(|it| it.starts_with("on")).map(|it| &it[..5]).collect();
    assert_eq!(ons, ["on 60", "on 64", "on 67", "on 69"]);
    let at = |start: &str| {
        let word = all.iter().find(|it| it.starts_with(start)).expect("it is there");
        word.rsplit(' ').next().expect("a time").parse::<f64>().expect("a number")
    };
    // What was left has no tail; the long last notes have.
    assert_eq!([at("on 60"), at("on 64"), at("on 67"), at("on 69")], [100.0, 100.0, 100.0, 1000.0]);
    assert_eq!(at("off 67"), 1020.0);
    assert!(at("off 60") > 1500.0 && at("off 64") > 1500.0, "{all:?}");
}

#[test]
fn a_key_that_is_left_and_stays_down_is_a_voice_of_its_own() {
    let patch = violin(VoiceKind::Chords, 4);
    let score = Score::new().gesture(0.0, 0.5).on(0.1, 60).on(1.0, 64).on(2.0, 67);
    let (_, views) = heard(&patch, &score, 2.5);
    let mut keys: Vec<_> = views.iter().map(|view| view.key).collect();
    keys.sort_unstable();
    assert_eq!(keys, [Some(60), Some(64), Some(67)]);
    // The voice that began has gone up, and each key it left has a number of its own.
    assert_eq!(views[0].key, Some(67));
}

#[test]
fn a_divisi_is_counted_from_above_in_whatever_order_its_keys_come() {
    for keys in [[48, 55, 64, 72], [72, 64, 55, 48], [55, 72, 48, 64]] {
        let on = |score: Score, key: &u8| score.on(0.1, *key);
        let chord = keys.iter().fold(Score::new().gesture(0.0, 0.5), on);
        let fresh = |voice, key| (voice, key, Mode::Fresh);
        let expected = [fresh(0, 72), fresh(1, 64), fresh(2, 55), fresh(3, 48)];
        let patch = in_voices(bare("erhu", "perform"), VoiceKind::Divisi, 4);
        let patch = Patch { notes: violin(VoiceKind::Line, 1).notes, ..patch };
        let wide = polso_engine::patch::NotesPatch { lowest_key: 30, ..patch.notes };
        check(&Patch { notes: wide, ..patch }, &chord, 0.5, &expected);
    }
}

#[test]
fn all_parts_move_at_once_as_they_lie() {
    let mut score = Score::new().gesture(0.0, 0.5);
    // Each goes where another was.
    let chords: [[u8; 3]; 3] = [[72, 67, 60], [67, 60, 57], [72, 67, 60]];
    for (place, chord) in chords.iter().enumerate() {
        let on_s = 0.1 + 0.5 * place as f64;
        for key in chord {
            score = score.note(on_s, on_s + 0.5, *key);
        }
    }
    for (until_s, chord) in [(0.5, chords[0]), (1.0, chords[1]), (1.5, chords[2])] {
        let mut patch = violin(VoiceKind::Divisi, 4);
        patch.legato.join_gap_s = 0.02;
        let (_, views) = heard(&patch, &score, until_s);
        let keys: Vec<_> = views.iter().map(|it| (it.voice, it.key)).collect();
        let expected = [0, 1, 2].map(|voice| (voice as u8, Some(chord[voice])));
        assert_eq!(keys, expected, "{until_s}");
        assert!(until_s < 0.6 || views.iter().all(|it| it.mode != Mode::Fresh), "{until_s}");
    }
}

#[test]
fn keys_beyond_the_number_sound_along() {
    let mut patch = violin(VoiceKind::Chords, 2);
    patch.target.output_count = 0;
    let keys = [60, 64, 67, 71];
    let on = |score: Score, key: &u8| score.note(0.1, 1.0, *key);
    let (sent, _) = heard(&patch, &keys.iter().fold(Score::new(), on), 3.0);
    let all = words(&sent);
    for key in keys {
        let on = all.iter().find(|it| it.starts_with(&format!("on {key}"))).expect("its on");
        // With no voice of its own a key keeps its velocity.
        assert_eq!(on.contains(" 64 @ 100"), key < 66, "{all:?}");
        assert!(all.iter().any(|it| it.starts_with(&format!("off {key}"))), "{key}: {all:?}");
    }
    assert_eq!(all.len(), 8);
}

/// Where no voice is free a join cuts what it leaves, if the receiver wants it so.
#[test]
fn a_key_is_cut_only_where_no_voice_is_free() {
    for (count, off) in [(2, 1000.0), (3, 1300.0)] {
        let mut patch = jumping(violin(VoiceKind::Chords, count));
        patch.target.output_count = 0;
        patch.target.transition.cuts_jumps = true;
        patch.legato.join_gap_s = 0.0;
        let score = Score::new().note(0.1, 2.0, 60).note(0.1, 1.3, 67).note(1.0, 2.0, 69);
        let (sent, _) = heard(&patch, &score, 3.0);
        let all = words(&sent);
        assert!(all.contains(&format!("off 67 @ {off}")), "{count}: {all:?}");
    }
}

/// The bend, from its centre, at a time.
fn bend_at(sent: &[Sent], seconds: f64) -> i32 {
    let at = bends(sent).into_iter().rev().find(|(at_s, _)| *at_s <= seconds);
    at.map_or(0, |(_, value)| i32::from(value) - 8192)
}

#[test]
fn no_bend_moves_another_voice() {
    let patch = violin(VoiceKind::Chords, 4);
    // Alone it vibrates; with another it stands 30 ms later; alone again it vibrates again.
    let score = Score::new().gesture(0.0, 0.9).note(0.1, 6.0, 67).note(1.95, 4.0, 74);
    let (sent, _) = heard(&patch, &score, 7.0);
    let widest = |from_s: f64, to_s: f64| {
        let all = bends(&sent).into_iter().filter(|(at_s, _)| (from_s..to_s).contains(at_s));
        all.map(|(_, value)| i32::from(value).abs_diff(8192)).max().unwrap_or(0)
    };
    assert!(widest(1.0, 1.95) > 1500, "alone it vibrates: {}", widest(1.0, 1.95));
    assert_eq!(bend_at(&sent, 1.985), 0);
    // What was swinging goes home with the new note, and does not leap there.
    let near: Vec<_> =
        bends(&sent).into_iter().filter(|(at_s, _)| (1.9..2.0).contains(at_s)).collect();
    let step = |pair: &[(f64, u16)]| pair[1].1.abs_diff(pair[0].1);
    let widest_step = near.windows(2).map(step).max().unwrap_or(0);
    assert!(widest_step < 600, "{widest_step}: {near:?}");
    assert_eq!(widest(1.985, 4.0), 0, "it stands while both sound");
    assert!(widest(4.6, 6.0) > 200, "alone again");
    let (_, views) = heard(&patch, &score, 3.0);
    assert!(views.iter().all(|it| it.vibrato_reason == Reason::VoicesShareBend), "{views:?}");
    // Nor does a way from note to note.
    let (sent, views) = heard(&patch, &moving_top(), 1.2);
    assert_eq!(bends(&sent).iter().filter(|(at_s, _)| *at_s > 0.2).count(), 0);
    assert_eq!(views[0].transition_reason, Reason::OthersSound);
}

#[test]
fn a_way_under_another_key_ends_soon() {
    let patch = violin(VoiceKind::Chords, 4);
    let line = Score::new().gesture(0.0, 0.75).on(0.1, 67).on(1.0, 69).off(1.0, 67);
    let (_, views) = heard(&patch, &line, 1.01);
    assert!(views.iter().any(|it| it.transition_cents.abs() > 20.0), "{views:?}");
    let (sent, _) = heard(&patch, &line.on(1.01, 76), 1.2);
    assert!(bend_at(&sent, 1.009).abs() > 500);
    assert_eq!(bend_at(&sent, 1.045), 0);
}

/// The level of a key struck hard decays; whose level goes out?
#[test]
fn shared_outputs_follow_the_highest_voice_or_the_newest() {
    for (leading, expected) in [(LeadingVoice::Highest, 74), (LeadingVoice::Newest, 62)] {
        let mut patch = violin(VoiceKind::Chords, 4);
        patch.voices.leading = leading;
        let score = Score::new().gesture(0.0, 0.5).on(0.1, 74).on(0.6, 50).on(1.2, 62);
        let mut section = Section::prepare(RATE_HZ, &patch);
        perform_on(&mut section, RATE_HZ, &[441], &score, 1.5);
        assert_eq!(section.view().key, Some(expected), "{leading:?}");
    }
}

#[test]
fn a_new_note_ends_the_ends_that_are_drawn_out() {
    let patch = violin(VoiceKind::Chords, 4);
    let chord = Score::new().gesture(0.0, 0.5).note(0.1, 1.5, 60).note(0.1, 1.5, 64);
    let (sent, _) = heard(&patch, &chord.clone().note(1.6, 2.0, 76), 1.7);
    let all = words(&sent);
    let mut offs: Vec<_> = all.iter().filter(|it| it.starts_with("off")).collect();
    offs.sort();
    assert_eq!(offs, ["off 60 @ 1600", "off 64 @ 1600"]);
    // A voice that is held keeps the expression full, and an end is only longer.
    let held = chord.note(0.1, 3.0, 76);
    let (sent, _) = heard(&patch, &held, 2.5);
    let all = words(&sent);
    let off = all.iter().find(|it| it.starts_with("off 60")).expect("its end");
    assert!(off.as_str() > "off 60 @ 1600", "{all:?}");
}

#[test]
fn a_jump_gives_each_voice_the_number_of_its_place() {
    let patch = violin(VoiceKind::Divisi, 4);
    let jump = Input::Locate { beat: 0.0, tempo_bpm: 120.0, running: true };
    let score = Score::new().gesture(0.0, 0.5).on(0.1, 60).on(1.0, 62).at(2.0, jump);
    let score = score.on(2.1, 60).on(2.1, 67);
    let fresh = |voice, key| (voice, key, Mode::Fresh);
    check(&patch, &score, 2.5, &[fresh(0, 67), fresh(1, 60)]);
}

#[test]
fn a_pedal_a_bend_and_a_panic_are_for_all_voices() {
    let patch = violin(VoiceKind::Chords, 4);
    let chord = Score::new().gesture(0.0, 0.5).note(0.1, 1.0, 60).note(0.1, 1.0, 67);
    let pedal = chord.clone().controller(0.5, 64, 127);
    assert_eq!(heard(&patch, &pedal, 2.0).1.len(), 2);
    assert_eq!(heard(&patch, &pedal.clone().controller(1.5, 64, 0), 2.0).1.len(), 0);
    let bent = chord.clone().message(0.4, Message::PitchBend { channel: 0, value: 16_383 });
    assert_eq!(bend_at(&heard(&patch, &bent, 0.9).0, 0.9), 8191);
    for end in [Input::Panic, Input::Midi(crate::music::controller(123, 0))] {
        let (sent, views) = heard(&patch, &chord.clone().at(0.5, end), 0.9);
        assert_eq!(views.len(), 0, "{end:?}");
        let mut offs = words(&sent);
        offs.retain(|it| it.starts_with("off"));
        offs.sort();
        assert_eq!(offs, ["off 60 @ 500", "off 67 @ 500"], "{end:?}");
    }
}

#[test]
fn other_settings_may_bring_other_voices() {
    let mut section = Section::prepare(RATE_HZ, &violin(VoiceKind::Line, 1));
    assert_eq!(section.line_count(), 1);
    let chord = Score::new().gesture(0.0, 0.5).on(0.1, 60).on(0.1, 67);
    perform_on(&mut section, RATE_HZ, &[441], &chord, 0.5);
    section.load(&violin(VoiceKind::Chords, 3));
    assert_eq!(section.line_count(), 3);
    let sent = perform_on(&mut section, RATE_HZ, &[441], &Score::new(), 0.1);
    let offs = words(&sent).into_iter().filter(|it| it.starts_with("off"));
    assert!(offs.eq(["off 60 @ 0", "off 67 @ 0"]));
    // Several channels have a line each, whatever the patch says of voices.
    let several = Section::with_lines(RATE_HZ, &violin(VoiceKind::Chords, 3), 2);
    assert_eq!(several.line_count(), 2);
}
