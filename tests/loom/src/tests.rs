//! What holds in every order of the threads' steps.

use loom::alloc::Track;
use loom::cell::UnsafeCell;
use loom::sync::{Arc, Mutex};
use loom::thread;

use crate::hand_off::{HandOff, HandedOver, Playing};

loom::thread_local! {
    /// Nothing may be freed on this thread.
    static IS_AUDIO: std::cell::Cell<bool> = std::cell::Cell::new(false);
}

/// Settings of the model. The model sees whoever reads them before they are whole.
struct Numbered {
    number: UnsafeCell<u64>,
    /// The project that the host opened with them.
    opening: Option<u64>,
    /// The model sees whether they are freed, and freed once.
    _freed: Track<()>,
}

impl Numbered {
    fn new(number: u64, opening: Option<u64>) -> Numbered {
        Numbered { number: UnsafeCell::new(number), opening, _freed: Track::new(()) }
    }

    fn number(&self) -> u64 {
        // SAFETY: the model ends if another thread writes meanwhile.
        self.number.with(|number| unsafe { *number })
    }

    /// As a patch is written where it was allocated.
    fn touch(&mut self) {
        // SAFETY: the model ends if another thread reads or writes meanwhile.
        self.number.with_mut(|number| unsafe { *number += 0 });
    }
}

impl Drop for Numbered {
    fn drop(&mut self) {
        self.touch();
        IS_AUDIO.with(|is_audio| assert!(!is_audio.get(), "freed on the audio thread"));
    }
}

impl HandedOver for Numbered {
    fn in_place_of(mut self, untaken: &Numbered) -> Numbered {
        self.opening = self.opening.or(untaken.opening);
        self
    }
}

type Shared = Arc<HandOff<Numbered>>;

/// The audio thread: some blocks, in each of which it looks for settings. What it has heard of
/// comes back, with its side of the hand-off, since nothing may be freed here.
fn play(
    mut playing: Playing<Numbered>,
    hand_off: &Shared,
    blocks: u32,
) -> (Playing<Numbered>, Vec<u64>) {
    IS_AUDIO.with(|is_audio| is_audio.set(true));
    let mut opened = Vec::new();
    for _ in 0..blocks {
        if playing.take_newest(hand_off) {
            opened.extend(playing.settings.opening);
        }
        playing.settings.number();
    }
    IS_AUDIO.with(|is_audio| is_audio.set(false));
    (playing, opened)
}

/// A hand-off, and a player of the first settings, number 0.
fn prepared() -> (Shared, Playing<Numbered>) {
    let hand_off = Shared::default();
    hand_off.post(Numbered::new(0, None));
    let playing = Playing::new(hand_off.take().expect("the first settings"));
    (hand_off, playing)
}

/// Three changes while four blocks are played. The last of them was not played before the next
/// change, if the player had filled both its places while it was laid down.
#[test]
fn whatever_is_posted_last_is_played_and_nothing_is_freed_on_the_audio_thread() {
    loom::model(|| {
        let (hand_off, playing) = prepared();
        let player = Arc::clone(&hand_off);
        let player = thread::spawn(move || play(playing, &player, 4));
        for number in 1..=3 {
            hand_off.post(Numbered::new(number, None));
        }
        let (mut playing, _) = player.join().expect("it plays");
        // What still lies there is taken in the next block.
        playing.take_newest(&hand_off);
        assert_eq!(playing.settings.number(), 3, "what was posted last");
    });
}

/// The player hears of every project that is the last, though a change in the window may take the
/// place of its settings.
#[test]
fn the_player_hears_of_a_project_though_a_change_follows_at_once() {
    loom::model(|| {
        let (hand_off, playing) = prepared();
        let player = Arc::clone(&hand_off);
        let player = thread::spawn(move || play(playing, &player, 4));
        hand_off.post(Numbered::new(1, Some(1)));
        hand_off.post(Numbered::new(2, None));
        let (mut playing, mut opened) = player.join().expect("it plays");
        if playing.take_newest(&hand_off) {
            opened.extend(playing.settings.opening);
        }
        assert_eq!((playing.settings.number(), opened), (2, vec![1]));
    });
}

/// The host opens a project while the window changes the one before, each under the project's lock.
#[test]
fn what_is_kept_under_the_lock_is_what_plays() {
    loom::model(|| {
        let (hand_off, playing) = prepared();
        let kept = Arc::new(Mutex::new((0, 0)));
        let (window, project) = (Arc::clone(&hand_off), Arc::clone(&kept));
        let window = thread::spawn(move || {
            let mut kept = project.lock().expect("a lock");
            // The window shows the project of before.
            if kept.1 == 0 {
                kept.0 = 1;
                window.post(Numbered::new(1, None));
            }
        });
        let player = Arc::clone(&hand_off);
        let player = thread::spawn(move || play(playing, &player, 1));
        {
            let mut kept = kept.lock().expect("a lock");
            *kept = (2, 1);
            hand_off.post(Numbered::new(2, Some(1)));
        }
        window.join().expect("it changes");
        let (mut playing, _) = player.join().expect("it plays");
        playing.take_newest(&hand_off);
        assert_eq!(playing.settings.number(), kept.lock().expect("a lock").0);
    });
}

/// An articulation that was chosen in one project is never taken for one of the next.
#[test]
fn what_was_chosen_belongs_to_its_project() {
    loom::model(|| {
        let hand_off = Shared::default();
        let player = Arc::clone(&hand_off);
        let player = thread::spawn(move || {
            player.choose(0, Some(4));
            player.choose(1, Some(7));
        });
        let found = hand_off.chosen(1);
        assert!(matches!(found, None | Some(Some(7))), "{found:?}");
        player.join().expect("it chooses");
        assert_eq!(hand_off.chosen(1), Some(Some(7)));
        assert_eq!(hand_off.chosen(0), None);
    });
}
