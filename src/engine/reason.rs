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

impl Reason {
    /// Every reason.
    pub const ALL: [Reason; 53] = [
        Reason::Rest,
        Reason::VibratoSounds,
        Reason::NoteTooYoung,
        Reason::FastRun,
        Reason::Trill,
        Reason::ForcedOpen,
        Reason::OpenString,
        Reason::StyleIsPlain,
        Reason::DoubleStopOnOpenString,
        Reason::NotJoined,
        Reason::Chord,
        Reason::Zone,
        Reason::TooFast,
        Reason::SameKey,
        Reason::TooWide,
        Reason::NoCommonString,
        Reason::OpenEnd,
        Reason::HandTooFast,
        Reason::LongLastNote,
        Reason::ShortLastNote,
        Reason::PedalHolds,
        Reason::GestureUnknown,
        Reason::OutputFrozen,
        Reason::WishStill,
        Reason::WishOpen,
        Reason::WishNoOpenString,
        Reason::WishSlide,
        Reason::WishNoSlide,
        Reason::WishMode,
        Reason::LoudestAlready,
        Reason::SoftestAlready,
        Reason::Niente,
        Reason::Grace,
        Reason::Plucked,
        Reason::PluckedEnd,
        Reason::DroneUnderEnd,
        Reason::DroneEnd,
        Reason::DroneAlone,
        Reason::ByBend,
        Reason::ByPortamento,
        Reason::ReceiverJoins,
        Reason::NoTransition,
        Reason::QuickOverStrings,
        Reason::QuickBeyondSlide,
        Reason::QuickJump,
        Reason::WiderThanBend,
        Reason::Scoop,
        Reason::OthersSound,
        Reason::MayBeDrone,
        Reason::JoinEnded,
        Reason::StruckAgain,
        Reason::VoicesShareBend,
        Reason::WentOn,
    ];

    /// A stable name for machines.
    pub const fn code(self) -> &'static str {
        match self {
            Reason::Rest => "rest",
            Reason::VibratoSounds => "vibrato-sounds",
            Reason::NoteTooYoung => "note-too-young",
            Reason::FastRun => "fast-run",
            Reason::Trill => "trill",
            Reason::ForcedOpen => "forced-open",
            Reason::OpenString => "open-string",
            Reason::StyleIsPlain => "style-is-plain",
            Reason::DoubleStopOnOpenString => "double-stop-on-open-string",
            Reason::NotJoined => "not-joined",
            Reason::Chord => "chord",
            Reason::Zone => "zone",
            Reason::TooFast => "too-fast",
            Reason::SameKey => "same-key",
            Reason::TooWide => "too-wide",
            Reason::NoCommonString => "no-common-string",
            Reason::OpenEnd => "open-end",
            Reason::HandTooFast => "hand-too-fast",
            Reason::LongLastNote => "long-last-note",
            Reason::ShortLastNote => "short-last-note",
            Reason::PedalHolds => "pedal-holds",
            Reason::GestureUnknown => "gesture-unknown",
            Reason::OutputFrozen => "output-frozen",
            Reason::WishStill => "wish-no-vibrato",
            Reason::WishOpen => "wish-open",
            Reason::WishNoOpenString => "wish-no-open-string",
            Reason::WishSlide => "wish-slide",
            Reason::WishNoSlide => "wish-no-slide",
            Reason::WishMode => "wish-mode",
            Reason::LoudestAlready => "loudest-already",
            Reason::SoftestAlready => "softest-already",
            Reason::Niente => "niente",
            Reason::Grace => "grace",
            Reason::Plucked => "plucked",
            Reason::PluckedEnd => "plucked-end",
            Reason::DroneUnderEnd => "drone-under-end",
            Reason::DroneEnd => "drone-end",
            Reason::DroneAlone => "drone-alone",
            Reason::ByBend => "by-bend",
            Reason::ByPortamento => "by-portamento",
            Reason::ReceiverJoins => "receiver-joins",
            Reason::NoTransition => "no-transition",
            Reason::QuickOverStrings => "quick-over-strings",
            Reason::QuickBeyondSlide => "quick-beyond-slide",
            Reason::QuickJump => "quick-jump",
            Reason::WiderThanBend => "wider-than-bend",
            Reason::Scoop => "scoop",
            Reason::OthersSound => "others-sound",
            Reason::MayBeDrone => "may-be-drone",
            Reason::JoinEnded => "join-ended",
            Reason::StruckAgain => "struck-again",
            Reason::VoicesShareBend => "voices-share-bend",
            Reason::WentOn => "went-on",
        }
    }

    /// One plain sentence for people.
    pub const fn sentence(self) -> &'static str {
        match self {
            Reason::Rest => "No note sounds.",
            Reason::VibratoSounds => "The vibrato sounds.",
            Reason::NoteTooYoung => "No vibrato yet: the note has only just begun.",
            Reason::FastRun => "No vibrato: the notes come too fast.",
            Reason::Trill => "No vibrato and no change of legato: it is a trill.",
            Reason::ForcedOpen => "No vibrato: this note can only be played on an open string.",
            Reason::OpenString => "No vibrato: the open string is used here.",
            Reason::StyleIsPlain => "No vibrato: the gesture is in the zone of the plain style.",
            Reason::DoubleStopOnOpenString => {
                "No vibrato: one of the two notes is on an open string and both share one bend."
            }
            Reason::NotJoined => "A fresh note: no other key was held.",
            Reason::Chord => "No join: the note belongs to a chord.",
            Reason::Zone => "The gesture chose this legato mode.",
            Reason::TooFast => "Quick legato: it is a run, faster than 0.16 s a note.",
            Reason::SameKey => "A fresh note: the same key again.",
            Reason::TooWide => "Slow legato instead of a slide: the interval is too wide.",
            Reason::NoCommonString => {
                "Slow legato instead of a slide: no string carries both notes."
            }
            Reason::OpenEnd => "Slow legato instead of a slide: one note is on an open string.",
            Reason::HandTooFast => {
                "Slow legato instead of a slide: the hand would have to move faster than 2 m/s."
            }
            Reason::LongLastNote => "The note-off waits: a long last note is drawn out.",
            Reason::ShortLastNote => "The note-off passes at once: the last note was short.",
            Reason::PedalHolds => "The note-off passes at once: the pedal holds the note.",
            Reason::GestureUnknown => "The gesture is at rest: the controller has not moved yet.",
            Reason::OutputFrozen => {
                "The output stands still: what it sends comes back as input. Look where the cable leads."
            }
            Reason::WishStill => "No vibrato: a wish asks for none.",
            Reason::WishOpen => "No vibrato: a wish asks for the open string.",
            Reason::WishNoOpenString => "No open string: none of the strings has this note.",
            Reason::WishSlide => "A slide: a wish asks for it.",
            Reason::WishNoSlide => "Slow legato instead of a slide: a wish asks for none.",
            Reason::WishMode => "This legato mode: a wish asks for it.",
            Reason::LoudestAlready => {
                "The level is at its top, and no louder note can be asked for."
            }
            Reason::SoftestAlready => {
                "The level is at its bottom, and no softer note can be asked for."
            }
            Reason::Niente => {
                "Nothing is heard: the gesture stands at nothing, and the sound with it."
            }
            Reason::Grace => "Quick legato: the key before it was a grace note.",
            Reason::Plucked => "A fresh note: plucked and struck notes do not join.",
            Reason::PluckedEnd => {
                "The note-off passes at once: a plucked or struck note rings by itself."
            }
            Reason::DroneUnderEnd => {
                "The note-off passes at once: a drone sounds on, on the same channel."
            }
            Reason::DroneEnd => "The note-off passes at once: the key was a drone.",
            Reason::DroneAlone => "No vibrato: only a drone sounds.",
            Reason::ByBend => "The bend goes from the old note to the new one.",
            Reason::ByPortamento => "The receiver's portamento takes the pitch to the new note.",
            Reason::ReceiverJoins => "The receiver joins the notes in its own way.",
            Reason::NoTransition => "The pitch jumps: the target names no way to join it.",
            Reason::QuickOverStrings => "A quick join in any mode: no string carries both notes.",
            Reason::QuickBeyondSlide => {
                "A quick join in any mode: the interval is wider than a slide."
            }
            Reason::QuickJump => "The pitch jumps: a quick join has no portamento.",
            Reason::WiderThanBend => "The pitch jumps: the interval is wider than the bend range.",
            Reason::Scoop => "The slide begins a bend range away: the interval is wider.",
            Reason::OthersSound => "The pitch jumps: other notes sound and share the bend.",
            Reason::MayBeDrone => "The pitch jumps and the old note stays: it may be a drone.",
            Reason::JoinEnded => "The way to the note ended early: another note began.",
            Reason::StruckAgain => "Struck again with a join back: the key was still down.",
            Reason::VoicesShareBend => "No vibrato by the bend: other voices share it.",
            Reason::WentOn => "The note-off passes at once: another note has joined it.",
        }
    }
}
