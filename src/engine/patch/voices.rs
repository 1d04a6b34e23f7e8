//! To how many voices the notes of one channel are shared out, and where each of them is heard.

use crate::input::Channel;

/// The most voices of one section.
pub const VOICES_MAX: usize = 8;

/// How keys that sound together are understood (DESIGN 4.8).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VoiceKind {
    /// One line, in which keys struck together are a chord.
    Line,
    /// Each key is a line of its own.
    Chords,
    /// Several players, each with one line, as they lie above each other.
    Divisi,
}

/// Which voice the outputs follow where all share one channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeadingVoice {
    /// The one with the highest key.
    Highest,
    /// The one whose note began last.
    Newest,
}

/// The voices that one channel's notes are shared out to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VoicesPatch {
    /// How keys that sound together are understood.
    pub kind: VoiceKind,
    /// How many voices at most, 1..=8; of a line 1.
    pub count: usize,
    /// Whom the outputs follow on a shared channel.
    pub leading: LeadingVoice,
    /// The channel of each voice, 0..=15, all different; the first `count` of them count.
    pub channels: [u8; VOICES_MAX],
    /// Each voice has a channel of its own; else all play on the one on which they are played.
    pub has_channels: bool,
    /// How far the players of a divisi differ from each other, 0..=2; 1 is as usual.
    pub spread: f64,
}

impl VoicesPatch {
    /// One line.
    pub const LINE: VoicesPatch = VoicesPatch {
        kind: VoiceKind::Line,
        count: 1,
        leading: LeadingVoice::Highest,
        channels: [0; VOICES_MAX],
        has_channels: false,
        spread: 1.0,
    };

    /// The voice's own channel.
    pub fn channel(&self, place: usize) -> Option<Channel> {
        let own = self.channels.get(place).copied()?;
        Channel::new(own).filter(|_| self.has_channels && self.kind != VoiceKind::Line)
    }

    /// All voices play on one channel.
    pub fn share_channel(&self) -> bool {
        self.kind != VoiceKind::Line && !self.has_channels
    }
}
