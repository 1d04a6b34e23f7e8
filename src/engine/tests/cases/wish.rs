//! What is asked of one note: no vibrato, an open string, a style, a slide or none, and of no other.

use polso_engine::patch::{Address, Patch, StyleLaw};
use polso_engine::{Input, Layer, LegatoWish, Mode, NoteWish, Reason, View, Wish};

use crate::music::{at, bare, only, said};
use crate::rehearsal::{Score, output, watch};

fn violin() -> Patch {
    bare("violin", "perform")
}

/// The whole gesture, and a wish for the note of a key at a second.
fn wished(at_s: f64, key: u8, wish: impl Fn(NoteWish) -> NoteWish) -> Score {
    Score::new().gesture(0.0, 1.0).at(at_s, Input::Wish(on(0, key, wish)))
}

fn on(channel: u8, key: u8, wish: impl Fn(NoteWish) -> NoteWish) -> Wish {
    Wish { channel, key, asked: wish(NoteWish::NONE) }
}

/// The view in the middle of a note's life, a second after it began at 1 s.
fn view(patch: &Patch, score: &Score) -> View {
    *at(&watch(patch, score, 2.1).0, 2.0)
}

#[track_caller]
fn check(score: &Score, key: u8, reason: Reason, refused: Option<Reason>) {
    let view = view(&violin(), &score.clone().on(1.0, key));
    assert_eq!((view.vibrato_reason, view.refused_wish), (reason, refused));
    assert_eq!(view.width_cents == 0.0, reason != Reason::VibratoSounds);
}

fn still(wish: NoteWish) -> NoteWish {
    NoteWish { is_still: true, ..wish }
}

fn open(wish: NoteWish) -> NoteWish {
    NoteWish { is_open: true, ..wish }
}

#[test]
fn a_note_is_still_or_open_as_it_is_asked() {
    check(&wished(1.0, 70, |wish| wish), 70, Reason::VibratoSounds, None);
    check(&wished(1.0, 70, still), 70, Reason::WishStill, None);
    check(&wished(1.0, 69, open), 69, Reason::WishOpen, None);
    // No string of a violin is tuned to B flat.
    let no_string = Some(Reason::WishNoOpenString);
    check(&wished(1.0, 70, open), 70, Reason::VibratoSounds, no_string);
    check(&wished(1.0, 70, |wish| still(open(wish))), 70, Reason::WishStill, no_string);
    check(&wished(1.0, 69, |wish| still(open(wish))), 69, Reason::WishStill, None);
}

#[test]
fn a_wish_is_for_the_note_of_its_key_channel_and_moment() {
    check(&wished(1.0, 71, still), 70, Reason::VibratoSounds, None);
    check(&wished(0.9, 70, still), 70, Reason::VibratoSounds, None);
    let other = Score::new().gesture(0.0, 1.0).at(1.0, Input::Wish(on(1, 70, still)));
    check(&other, 70, Reason::VibratoSounds, None);
    // An older wish of another moment does not stand in the way.
    let older = wished(0.5, 70, open).at(1.0, Input::Wish(on(0, 70, still)));
    check(&older, 70, Reason::WishStill, None);
    // The next note of the same key has none.
    let again = wished(0.2, 70, still).on(0.2, 70).off(0.7, 70);
    check(&again, 70, Reason::VibratoSounds, None);
}

#[test]
fn eight_wishes_wait_at_once_and_a_ninth_takes_the_place_of_the_first() {
    let wishes = |count: u8| {
        (1..count).fold(wished(1.0, 70, still), |score, place| {
            score.at(1.0, Input::Wish(on(0, 70 + place, still)))
        })
    };
    check(&wishes(8), 70, Reason::WishStill, None);
    check(&wishes(9), 70, Reason::VibratoSounds, None);
    check(&wishes(9), 71, Reason::WishStill, None);
    check(&wishes(9), 78, Reason::WishStill, None);
}

#[test]
fn a_style_is_the_notes_until_the_next() {
    let style = |place| move |wish| NoteWish { style: Some(place), ..wish };
    let erhu = bare("erhu", "perform");
    let weights = |place| view(&erhu, &wished(1.0, 70, style(place)).on(1.0, 70)).weights;
    assert_eq!(weights(0), [1.0, 0.0, 0.0, 0.0]);
    assert_eq!(weights(1), [0.0, 1.0, 0.0, 0.0]);
    assert_eq!(weights(2), [0.0, 0.0, 1.0, 0.0]);
    // An erhu has three; the gesture decides.
    assert_eq!([weights(3), weights(4)], [[0.0, 0.0, 1.0, 0.0]; 2]);
    let next = wished(0.1, 70, style(0)).note(0.1, 1.0, 70).on(1.0, 72);
    assert_eq!(view(&erhu, &next).weights, [0.0, 0.0, 1.0, 0.0]);
}

/// A receiver that latches styles hears the wish with its note, and the gesture's with the next.
#[test]
fn a_latched_style_is_the_wished_one() {
    let mut patch = bare("erhu", "generic");
    patch.vibrato.style_law = StyleLaw::Latched;
    let weight = output(Layer::StyleWeight(0), Address::Controller(20), 0.0, 1.0);
    let score = wished(1.0, 70, |wish| NoteWish { style: Some(0), ..wish });
    let (_, sent) = watch(&only(patch, weight), &score.note(1.0, 1.5, 70).on(2.0, 72), 3.0);
    // The start is at rest, in the plain style.
    let found: Vec<(u32, u8)> =
        said(&sent, 20).iter().map(|it| ((it.0 * 1000.0).round() as u32, it.1)).collect();
    assert!(found.contains(&(1000, 127)) || found.first() == Some(&(0, 127)), "{found:?}");
    assert_eq!(found.last(), Some(&(2000, 0)), "{found:?}");
}

const SLIDE: Option<LegatoWish> = Some(LegatoWish::Mode(Mode::Slide));
const NO_SLIDE: Option<LegatoWish> = Some(LegatoWish::NoSlide);

/// The mode and the reason of a slur from C5 to D5 at 1 s under a gesture.
#[track_caller]
fn check_join(gesture: f64, legato: Option<LegatoWish>, mode: Mode, reason: Reason) {
    let score = wished(1.0, 74, |wish| NoteWish { legato, ..wish }).gesture(0.0, gesture);
    let view = view(&violin(), &score.on(0.2, 72).on(1.0, 74));
    assert_eq!((view.mode, view.legato_reason), (mode, reason), "{gesture} {legato:?}");
}

#[test]
fn a_slide_comes_or_stays_away_as_it_is_asked() {
    check_join(1.0, None, Mode::Slide, Reason::Zone);
    check_join(1.0, SLIDE, Mode::Slide, Reason::WishSlide);
    check_join(1.0, NO_SLIDE, Mode::Slow, Reason::WishNoSlide);
    check_join(0.1, None, Mode::Quick, Reason::Zone);
    check_join(0.1, SLIDE, Mode::Slide, Reason::WishSlide);
    check_join(0.1, NO_SLIDE, Mode::Quick, Reason::Zone);
    check_join(0.5, NO_SLIDE, Mode::Joined, Reason::Zone);
    for mode in [Mode::Quick, Mode::Joined, Mode::Slow] {
        check_join(1.0, Some(LegatoWish::Mode(mode)), mode, Reason::WishMode);
        check_join(0.1, Some(LegatoWish::Mode(mode)), mode, Reason::WishMode);
    }
    // A note that joins cannot be asked to be fresh.
    check_join(0.5, Some(LegatoWish::Mode(Mode::Fresh)), Mode::Joined, Reason::Zone);
    // What no hand can do is not done for a wish either.
    let score = wished(1.0, 55, |wish| NoteWish { legato: SLIDE, ..wish });
    let view = view(&violin(), &score.on(0.2, 60).on(1.0, 55));
    assert_eq!((view.mode, view.legato_reason), (Mode::Slow, Reason::OpenEnd));
}

/// The gesture stands 0.02 below the edge of the slide, where the last mode stands.
#[test]
fn a_wish_for_a_slide_does_not_leak_into_the_next_join() {
    let play = |legato| {
        let score = wished(1.0, 74, |wish| NoteWish { legato, ..wish }).gesture(0.0, 0.88);
        let score = score.on(0.2, 72).on(1.0, 74).on(1.8, 72);
        view(&violin(), &score).mode
    };
    assert_eq!(play(None), Mode::Slow);
    assert_eq!(play(SLIDE), Mode::Slow);
    // Nor does a wish for none, just above it.
    let score = wished(1.0, 74, |wish| NoteWish { legato: NO_SLIDE, ..wish }).gesture(0.0, 0.92);
    let score = score.on(0.2, 72).on(1.0, 74).on(1.8, 72);
    assert_eq!(view(&violin(), &score).mode, Mode::Slide);
}
