//! How many voices a hand plays, in words: `line`, `chords`, `divisi:4`; and where each is heard.

use super::table_reader::TableReader;
use crate::engine::patch::{LeadingVoice, VOICES_MAX, VoiceKind, VoicesPatch};

/// What may stand for the voices.
pub const VOICES_RULE: &str = "line, chords or divisi, the last two perhaps with a number of voices, \
                               1 to 8, as in divisi:4";
/// Chords have as many voices as there are, where nothing is said; a divisi has four players.
const CHORDS_USUAL: usize = VOICES_MAX;
const DIVISI_USUAL: usize = 4;
const KINDS: [(&str, VoiceKind); 3] =
    [("line", VoiceKind::Line), ("chords", VoiceKind::Chords), ("divisi", VoiceKind::Divisi)];

/// How keys that sound together are understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VoiceChoice {
    /// As one line, as chords or as several players.
    pub kind: VoiceKind,
    /// How many, 1..=8; `None` is as many as the target has channels for, else as usual.
    pub count: Option<usize>,
}

impl VoiceChoice {
    /// One line.
    pub const LINE: VoiceChoice = VoiceChoice { kind: VoiceKind::Line, count: None };

    /// Reads the words; `None` for others.
    pub fn of(text: &str) -> Option<VoiceChoice> {
        let (word, count) = match text.split_once(':') {
            Some((word, count)) => (word, Some(count)),
            None => (text, None),
        };
        let &(_, kind) = KINDS.iter().find(|(name, _)| *name == word)?;
        let count = match count {
            Some(_) if kind == VoiceKind::Line => return None,
            Some(count) => {
                Some(count.parse().ok().filter(|count| (1..=VOICES_MAX).contains(count))?)
            }
            None => None,
        };
        Some(VoiceChoice { kind, count })
    }

    /// The word of a kind.
    pub fn name(kind: VoiceKind) -> &'static str {
        KINDS.iter().find(|(_, own)| *own == kind).map_or("line", |(name, _)| name)
    }

    /// The voices on a receiver with these channels (none: they share one), whose players differ by
    /// so much; or why not, and what may be.
    ///
    /// # Errors
    /// What was asked for, and what may be, if there are fewer channels than voices.
    pub fn patch(
        self,
        channels: &[u8],
        leading: LeadingVoice,
        spread: f64,
    ) -> Result<VoicesPatch, (String, String)> {
        let usual = match self.kind {
            VoiceKind::Line => return Ok(VoicesPatch::LINE),
            _ if !channels.is_empty() => channels.len(),
            VoiceKind::Chords => CHORDS_USUAL,
            VoiceKind::Divisi => DIVISI_USUAL,
        };
        let count = self.count.unwrap_or(usual).min(VOICES_MAX);
        if !channels.is_empty() && count > channels.len() {
            let allowed =
                format!("at most {}, one for each of the target's channels", channels.len());
            return Err((format!("{}:{count}", VoiceChoice::name(self.kind)), allowed));
        }
        let mut own = [0; VOICES_MAX];
        own.iter_mut().zip(channels).for_each(|(own, channel)| *own = channel - 1);
        let has_channels = !channels.is_empty();
        Ok(VoicesPatch { kind: self.kind, count, leading, channels: own, has_channels, spread })
    }
}

/// The voices as the option has them, `divisi:4`; nothing for one line.
pub fn voices_words(voices: &VoicesPatch) -> Option<String> {
    let several = voices.kind != VoiceKind::Line;
    several.then(|| format!("{}:{}", VoiceChoice::name(voices.kind), voices.count))
}

/// The same, and where each is heard or whom all follow.
pub fn voices_in_full(voices: &VoicesPatch) -> Option<String> {
    let words = voices_words(voices)?;
    let own = voices.channels[..voices.count].iter().map(|channel| (channel + 1).to_string());
    let leading = match voices.leading {
        LeadingVoice::Highest => "highest",
        LeadingVoice::Newest => "newest",
    };
    Some(match voices.has_channels {
        true => format!("{words} on channels {}", own.collect::<Vec<_>>().join(", ")),
        false => format!("{words} on one channel, whose outputs follow the {leading}"),
    })
}

/// The voices of a hand, and whom shared outputs follow.
pub(super) fn read_voices(root: &TableReader<'_>) -> (VoiceChoice, LeadingVoice) {
    let fits = |text: &str| VoiceChoice::of(text).is_some();
    let text = root.text("voices", VOICES_RULE, Some("line"), fits);
    let leading = [("highest", LeadingVoice::Highest), ("newest", LeadingVoice::Newest)];
    let leading = root.choice("leading_voice", &leading, Some(LeadingVoice::Highest));
    (VoiceChoice::of(&text).unwrap_or(VoiceChoice::LINE), leading)
}

/// The channels of a target's voices, from 1, the highest voice first; empty where all share one.
pub(super) fn read_channels(root: &TableReader<'_>) -> Vec<u8> {
    let channels = root.wholes("channels", 0..=VOICES_MAX, 1..=16, Some(Vec::new()));
    let is_twice = |(place, channel): (usize, &u8)| channels[..place].contains(channel);
    if channels.iter().enumerate().any(is_twice) {
        root.refuse("channels", format!("{channels:?}"), "a channel for each voice, none twice");
    }
    channels
}

#[cfg(test)]
mod tests {
    use super::{VoiceChoice, voices_words};
    use crate::engine::patch::{LeadingVoice, VoiceKind};

    #[test]
    fn voices_are_said_in_a_word_and_a_number() {
        let chords = |count| Some(VoiceChoice { kind: VoiceKind::Chords, count });
        for (text, voices) in [
            ("line", Some(VoiceChoice::LINE)),
            ("chords", chords(None)),
            ("chords:8", chords(Some(8))),
            ("divisi:2", Some(VoiceChoice { kind: VoiceKind::Divisi, count: Some(2) })),
            ("chords:9", None),
            ("chords:0", None),
            ("chords:", None),
            ("line:2", None),
            ("Divisi", None),
            ("", None),
        ] {
            assert_eq!(VoiceChoice::of(text), voices, "{text}");
        }
    }

    #[test]
    fn there_are_as_many_voices_as_are_asked_for_or_as_there_are_channels() {
        let text = |words: &str, channels: &[u8]| {
            let voices = VoiceChoice::of(words).expect("voices");
            let patch = voices.patch(channels, LeadingVoice::Highest, 1.0);
            let words = patch.map(|patch| voices_words(&patch).unwrap_or_default());
            words.unwrap_or_else(|(_, allowed)| allowed)
        };
        assert_eq!(text("line", &[1, 2]), "");
        assert_eq!(text("chords", &[]), "chords:8");
        assert_eq!(text("divisi", &[]), "divisi:4");
        assert_eq!(text("divisi", &[5, 6]), "divisi:2");
        assert_eq!(text("chords:3", &[1, 2, 3, 4]), "chords:3");
        let refused = "at most 2, one for each of the target's channels";
        assert_eq!(text("divisi:3", &[1, 2]), refused);
    }
}
