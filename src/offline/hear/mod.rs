//! Makes a take audible: shaped or as it was played, through a voice of our own or a SoundFont.
//!
//! The performance is the one that [`super::shape_bytes`] writes down, ticks and chance alike; only the
//! receiver is another: it hears every layer in its own unit. A take is rendered as often as it takes
//! to know how loud it is, never kept as a whole, so an hour needs no more memory than a minute.

mod receiver;

mod line_player;

mod own_band;
mod soundfont_band;

mod loudness;
mod programme;

mod recorded;

mod wav;

pub use loudness::{LOUDNESS_LUFS, Loudness, PEAK_DBTP_MAX};
pub use programme::{
    FADE_S, HearError, HearSettings, LEAD_S, MINUTES_MAX, Pass, Programme, RATES_HZ, Rendering,
};
pub use receiver::TARGET;
pub use recorded::{RecordedTake, recorded};
pub use soundfont_band::{SoundFontError, read as read_soundfont};
pub use wav::{Bits, WavError, Written, write_wav};
