//! Why the line sounds as it does: one plain sentence for every decision a player could ask about.

/// Why something happened, or did not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Reason {
    /// No note sounds.
    Rest,
    /// The vibrato sounds.
    VibratoSounds,
    /// The vibrato has not started yet.
    NoteTooYoung,
    /// Notes come too fast for vibrato.
    FastRun,
    /// Two notes alternate.
    Trill,
    /// The note can only be played on an open string.
    ForcedOpen,
    /// The note is played on an open string by the instrument's policy.
    OpenString,
    /// The gesture stands in the zone without vibrato.
    StyleIsPlain,
    /// Two notes share one bend and one of them cannot be vibrated.
    DoubleStopOnOpenString,
    /// No other key was held.
    NotJoined,
    /// The note belongs to a chord.
    Chord,
    /// The gesture chose the mode.
    Zone,
    /// The notes of a run come too fast for any other join.
    TooFast,
    /// The same key again.
    SameKey,
    /// The interval is wider than a slide of this instrument.
    TooWide,
    /// No string carries both notes.
    NoCommonString,
    /// One of the notes is on an open string.
    OpenEnd,
    /// The hand would have to move faster than 2 m/s.
    HandTooFast,
    /// The last note was long, so its end is drawn out.
    LongLastNote,
    /// The last note was too short to be drawn out.
    ShortLastNote,
    /// The pedal holds the note.
    PedalHolds,
    /// The controller has not moved yet.
    GestureUnknown,
    /// The output's own messages came back to the input.
    OutputFrozen,
    /// A wish asks for no vibrato.
    WishStill,
    /// A wish asks for the open string.
    WishOpen,
    /// A wish asks for an open string that is not there.
    WishNoOpenString,
    /// A wish asks for the slide.
    WishSlide,
    /// A wish asks for no slide.
    WishNoSlide,
    /// A wish asks for this legato mode.
    WishMode,
    /// A stretch shall be louder, and nothing is louder.
    LoudestAlready,
    /// A stretch shall be softer, and nothing is softer.
    SoftestAlready,
    /// The gesture stands at nothing, and the sound with it.
    Niente,
    /// The key before it was a grace.
    Grace,
    /// The note is plucked or struck, and joins nothing.
    Plucked,
    /// A plucked or struck note rings by itself, so its end is not drawn out.
    PluckedEnd,
    /// Another key lies under the line on its channel, so the end is not drawn out.
    DroneUnderEnd,
    /// The key lay under the line, so its end is not drawn out.
    DroneEnd,
    /// Only keys that lie under the line sound.
    DroneAlone,
    /// The bend takes the pitch from the old note to the new one.
    ByBend,
    /// The receiver's portamento does.
    ByPortamento,
    /// The receiver joins the notes by its own modes.
    ReceiverJoins,
    /// The target has no way from pitch to pitch.
    NoTransition,
    /// A join as quick as the fingers go: no string carries both notes.
    QuickOverStrings,
    /// A join as quick as the fingers go: wider than a slide of the wind instrument.
    QuickBeyondSlide,
    /// A quick join needs no portamento.
    QuickJump,
    /// The interval is wider than the bend range.
    WiderThanBend,
    /// A slide over an interval wider than the bend range.
    Scoop,
    /// Another key, or the pedal, sounds on the channel and shares its bend.
    OthersSound,
    /// The old key has no string in common with the new one and may be a drone.
    MayBeDrone,
    /// Another note began beside the one that the pitch was on its way to.
    JoinEnded,
    /// A key that a join had cut was still down when the note over it ended.
    StruckAgain,
    /// Other voices sound on the channel and share its bend.
    VoicesShareBend,
    /// Another voice has gone on from the key.
    WentOn,
}

/// How many there are.
const REASON_COUNT: usize = 53;

/// Every reason with its stable name for machines and its sentence for people, in their own order.
const REASONS: [(Reason, &str, &str); REASON_COUNT] = [
    (Reason::Rest, "rest", "No note sounds."),
    (Reason::VibratoSounds, "vibrato-sounds", "The vibrato sounds."),
    (Reason::NoteTooYoung, "note-too-young", "No vibrato yet: the note has only just begun."),
    (Reason::FastRun, "fast-run", "No vibrato: the notes come too fast."),
    (Reason::Trill, "trill", "No vibrato and no change of legato: it is a trill."),
    (
        Reason::ForcedOpen,
        "forced-open",
        "No vibrato: this note can only be played on an open string.",
    ),
    (Reason::OpenString, "open-string", "No vibrato: the open string is used here."),
    (
        Reason::StyleIsPlain,
        "style-is-plain",
        "No vibrato: the gesture is in the zone of the plain style.",
    ),
    (
        Reason::DoubleStopOnOpenString,
        "double-stop-on-open-string",
        "No vibrato: one of the two notes is on an open string and both share one bend.",
    ),
    (Reason::NotJoined, "not-joined", "A fresh note: no other key was held."),
    (Reason::Chord, "chord", "No join: the note belongs to a chord."),
    (Reason::Zone, "zone", "The gesture chose this legato mode."),
    (Reason::TooFast, "too-fast", "Quick legato: it is a run, faster than 0.16 s a note."),
    (Reason::SameKey, "same-key", "A fresh note: the same key again."),
    (Reason::TooWide, "too-wide", "Slow legato instead of a slide: the interval is too wide."),
    (
        Reason::NoCommonString,
        "no-common-string",
        "Slow legato instead of a slide: no string carries both notes.",
    ),
    (Reason::OpenEnd, "open-end", "Slow legato instead of a slide: one note is on an open string."),
    (
        Reason::HandTooFast,
        "hand-too-fast",
        "Slow legato instead of a slide: the hand would have to move faster than 2 m/s.",
    ),
    (Reason::LongLastNote, "long-last-note", "The note-off waits: a long last note is drawn out."),
    (
        Reason::ShortLastNote,
        "short-last-note",
        "The note-off passes at once: the last note was short.",
    ),
    (Reason::PedalHolds, "pedal-holds", "The note-off passes at once: the pedal holds the note."),
    (
        Reason::GestureUnknown,
        "gesture-unknown",
        "The gesture is at rest: the controller has not moved yet.",
    ),
    (
        Reason::OutputFrozen,
        "output-frozen",
        "The output stands still: what it sends comes back as input. Look where the cable leads.",
    ),
    (Reason::WishStill, "wish-no-vibrato", "No vibrato: a wish asks for none."),
    (Reason::WishOpen, "wish-open", "No vibrato: a wish asks for the open string."),
    (
        Reason::WishNoOpenString,
        "wish-no-open-string",
        "No open string: none of the strings has this note.",
    ),
    (Reason::WishSlide, "wish-slide", "A slide: a wish asks for it."),
    (Reason::WishNoSlide, "wish-no-slide", "Slow legato instead of a slide: a wish asks for none."),
    (Reason::WishMode, "wish-mode", "This legato mode: a wish asks for it."),
    (
        Reason::LoudestAlready,
        "loudest-already",
        "The level is at its top, and no louder note can be asked for.",
    ),
    (
        Reason::SoftestAlready,
        "softest-already",
        "The level is at its bottom, and no softer note can be asked for.",
    ),
    (
        Reason::Niente,
        "niente",
        "Nothing is heard: the gesture stands at nothing, and the sound with it.",
    ),
    (Reason::Grace, "grace", "Quick legato: the key before it was a grace note."),
    (Reason::Plucked, "plucked", "A fresh note: plucked and struck notes do not join."),
    (
        Reason::PluckedEnd,
        "plucked-end",
        "The note-off passes at once: a plucked or struck note rings by itself.",
    ),
    (
        Reason::DroneUnderEnd,
        "drone-under-end",
        "The note-off passes at once: a drone sounds on, on the same channel.",
    ),
    (Reason::DroneEnd, "drone-end", "The note-off passes at once: the key was a drone."),
    (Reason::DroneAlone, "drone-alone", "No vibrato: only a drone sounds."),
    (Reason::ByBend, "by-bend", "The bend goes from the old note to the new one."),
    (
        Reason::ByPortamento,
        "by-portamento",
        "The receiver's portamento takes the pitch to the new note.",
    ),
    (Reason::ReceiverJoins, "receiver-joins", "The receiver joins the notes in its own way."),
    (Reason::NoTransition, "no-transition", "The pitch jumps: the target names no way to join it."),
    (
        Reason::QuickOverStrings,
        "quick-over-strings",
        "A quick join in any mode: no string carries both notes.",
    ),
    (
        Reason::QuickBeyondSlide,
        "quick-beyond-slide",
        "A quick join in any mode: the interval is wider than a slide.",
    ),
    (Reason::QuickJump, "quick-jump", "The pitch jumps: a quick join has no portamento."),
    (
        Reason::WiderThanBend,
        "wider-than-bend",
        "The pitch jumps: the interval is wider than the bend range.",
    ),
    (Reason::Scoop, "scoop", "The slide begins a bend range away: the interval is wider."),
    (Reason::OthersSound, "others-sound", "The pitch jumps: other notes sound and share the bend."),
    (
        Reason::MayBeDrone,
        "may-be-drone",
        "The pitch jumps and the old note stays: it may be a drone.",
    ),
    (Reason::JoinEnded, "join-ended", "The way to the note ended early: another note began."),
    (Reason::StruckAgain, "struck-again", "Struck again with a join back: the key was still down."),
    (
        Reason::VoicesShareBend,
        "voices-share-bend",
        "No vibrato by the bend: other voices share it.",
    ),
    (Reason::WentOn, "went-on", "The note-off passes at once: another note has joined it."),
];

const _: () = {
    let mut place = 0;
    while place < REASON_COUNT {
        assert!(REASONS[place].0 as usize == place);
        place += 1;
    }
};

impl Reason {
    /// Every reason.
    pub const ALL: [Reason; REASON_COUNT] = {
        let mut all = [Reason::Rest; REASON_COUNT];
        let mut place = 0;
        while place < REASON_COUNT {
            all[place] = REASONS[place].0;
            place += 1;
        }
        all
    };

    /// A stable name for machines.
    pub const fn code(self) -> &'static str {
        REASONS[self as usize].1
    }

    /// One plain sentence for people.
    pub const fn sentence(self) -> &'static str {
        REASONS[self as usize].2
    }
}
