//! How new settings get to the player while it plays, and played ones back to be freed.

use super::exchange::{AtomicU64, Exchange, Ordering};

/// What is handed to the player.
pub trait HandedOver {
    /// The same in place of settings that the player has not taken: what it must hear is not lost.
    fn in_place_of(self, untaken: &Self) -> Self;
}

/// Two places for one thing each: settings on their way to the player, and played ones on their
/// way back. Both sides only ever exchange what lies there, so neither waits, and the player frees
/// nothing.
pub struct HandOff<T> {
    fresh: Exchange<T>,
    spent: Exchange<T>,
    /// See [`packed`].
    chosen: AtomicU64,
    /// See [`packed_place`].
    niente_from: AtomicU64,
    /// One more than the number of the project's opening in which something was recorded, by the
    /// hand that plays just now; 0 is none.
    recorded: AtomicU64,
}

/// No articulation was chosen.
const NONE: u8 = u8::MAX;

/// The articulation that was chosen last, by its place in the common list, with the number of the
/// project's opening before it, so that one that was chosen in another project is known as such.
fn packed(opening: u64, articulation: Option<u8>) -> u64 {
    opening << 8 | u64::from(articulation.unwrap_or(NONE))
}

/// The place of the song from which silences may begin, and half of the number of the project's
/// opening before it, which is enough to tell a project from the one before.
fn packed_place(opening: u64, place: Option<i32>) -> u64 {
    opening << 32 | u64::from(place.unwrap_or(i32::MAX).cast_unsigned())
}

impl<T> Default for HandOff<T> {
    fn default() -> HandOff<T> {
        HandOff {
            fresh: Exchange::default(),
            spent: Exchange::default(),
            chosen: AtomicU64::new(packed(0, None)),
            niente_from: AtomicU64::new(packed_place(0, None)),
            recorded: AtomicU64::new(0),
        }
    }
}

impl<T: HandedOver> HandOff<T> {
    /// One thread at a time, not the audio thread: lays settings down in place of what has not
    /// been taken yet, and frees what has come back.
    pub fn post(&self, settings: T) {
        let settings = match self.fresh.take() {
            Some(untaken) => settings.in_place_of(&untaken),
            None => settings,
        };
        drop(self.fresh.put(Box::new(settings)));
        // Not before: the player might fill both its places meanwhile, and never take these.
        drop(self.spent.take());
    }
}

impl<T> HandOff<T> {
    /// Audio thread, or whoever stands in for it. Takes the newest settings, if any were posted
    /// since the last call. Never waits.
    pub fn take(&self) -> Option<Box<T>> {
        self.fresh.take()
    }

    /// Audio thread. Says which articulation was chosen, in the project that was the host's
    /// `opening`th. Never waits.
    pub fn choose(&self, opening: u64, articulation: Option<u8>) {
        self.chosen.store(packed(opening, articulation), Ordering::Relaxed);
    }

    /// Audio thread. Says from which place of the song on a silence may begin, in the project that was
    /// the host's `opening`th. Never waits.
    pub fn open_niente(&self, opening: u64, place: Option<i32>) {
        self.niente_from.store(packed_place(opening, place), Ordering::Relaxed);
    }

    /// Audio thread. Says that something was recorded by the hand that plays just now, in the project
    /// that was the host's `opening`th. Never waits.
    pub fn record(&self, opening: u64) {
        self.recorded.store(opening + 1, Ordering::Relaxed);
    }

    /// Any thread. Whether the player has said so of that project. Never waits.
    pub fn is_recorded(&self, opening: u64) -> bool {
        self.recorded.load(Ordering::Relaxed) == opening + 1
    }

    /// Off the audio thread. What was said of it is kept elsewhere.
    pub fn forget_recorded(&self) {
        self.recorded.store(0, Ordering::Relaxed);
    }

    /// Any thread. What the player has said of that place in the project of that opening; `None` if
    /// nothing yet. Never waits.
    pub fn niente_from(&self, opening: u64) -> Option<Option<i32>> {
        let packed = self.niente_from.load(Ordering::Relaxed);
        let place = Some((packed as u32).cast_signed()).filter(|place| *place != i32::MAX);
        (packed >> 32 == u64::from(opening as u32)).then_some(place)
    }

    /// Any thread. What the player has said of the project of that opening; `None` if nothing yet.
    /// Never waits.
    pub fn chosen(&self, opening: u64) -> Option<Option<u8>> {
        let packed = self.chosen.load(Ordering::Relaxed);
        let articulation = Some(packed as u8).filter(|place| *place != NONE);
        (packed >> 8 == opening).then_some(articulation)
    }
}

/// The player's side: what plays, and what nobody has taken back yet.
pub struct Playing<T> {
    /// What plays.
    pub settings: Box<T>,
    spent: Option<Box<T>>,
}

impl<T> Playing<T> {
    /// The first settings of a player.
    pub fn new(settings: Box<T>) -> Playing<T> {
        Playing { settings, spent: None }
    }

    /// Audio thread, once a block. Takes the newest settings, if any were posted since the last
    /// block; true if they play now. What was played goes back, and until it is taken from there no
    /// newer settings are taken either. Never waits, and frees nothing.
    pub fn take_newest(&mut self, hand_off: &HandOff<T>) -> bool {
        if let Some(spent) = self.spent.take() {
            self.spent = hand_off.spent.put(spent);
        }
        if self.spent.is_some() {
            return false;
        }
        let Some(fresh) = hand_off.take() else { return false };
        let played = std::mem::replace(&mut self.settings, fresh);
        self.spent = hand_off.spent.put(played);
        true
    }
}
