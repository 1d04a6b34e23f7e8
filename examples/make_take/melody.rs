//! The melody of "The last ferry", bar by bar, as the composer has it in mind.
//!
//! A river town at night. Someone has run down to the landing and sees the last ferry leave.
//! The erhu calls after it (bars 1 to 7), runs along the bank (8 to 14), calls once more with
//! everything it has (15 to 18), and stays behind (19 to 21).

/// Quarter notes in a bar.
pub const BEATS_PER_BAR: f64 = 4.0;

/// One written note.
pub struct Written {
    /// Quarter notes since the start of the song.
    pub beat: f64,
    /// Length on paper, quarter notes.
    pub beats: f64,
    /// MIDI key; 62 is the erhu's lower open string.
    pub key: u8,
    /// The finger stays down until the next note has begun.
    pub is_slurred: bool,
}

/// Each bar is a row of notes: pitch, length in sixteenths or `t` for a thirty-second, and `~`
/// if a slur leads on. `-` is a rest.
const BARS: [&str; 21] = [
    "- 4   A4 12~",
    "C5 4~ D5 8~ C5 2~ A4 2",
    "G4 4~ A4 12",
    "- 4   D5 2~ E5 2~ G5 8",
    "A5 12~ G5 2~ E5 2~",
    "D5 6~ E5 2~ C5 4~ A4 4",
    "G4 4~ E4 4~ D4 8",
    "- 8   D4 1~ E4 1~ G4 1~ A4 1~ C5 1~ D5 1~ E5 1~ G5 1~",
    "A5 14~ C6 2~",
    "A5 4~ G5 2~ A5 2~ E5 8",
    "D5 t~ E5 t~ D5 t~ E5 t~ D5 t~ E5 t~ D5 t~ E5 t~ D5 4~ C5 4~ A4 4",
    "A4 4~ A5 12",
    "G5 2~ E5 2~ D5 4~ E5 8",
    "A5 1 G5 1 E5 1 D5 1 G5 1~ E5 1~ D5 1~ C5 1~ E5 1~ D5 1~ C5 1~ A4 1~ G4 4",
    "A4 8~ C5 4~ D5 4~",
    "E5 16~",
    "G5 6~ A5 2~ E5 8",
    "D5 4~ C5 2~ D5 2~ A4 8",
    "G4 4~ C5 2~ A4 2~ G4 8~",
    "A4 22",
    "",
];

/// All notes in order.
pub fn notes() -> Vec<Written> {
    let mut notes = Vec::new();
    for (bar, row) in BARS.iter().enumerate() {
        let mut beat = bar as f64 * BEATS_PER_BAR;
        let mut words = row.split_whitespace();
        while let (Some(pitch), Some(length)) = (words.next(), words.next()) {
            let is_slurred = length.ends_with('~');
            let beats = match length.trim_end_matches('~') {
                "t" => 0.125,
                sixteenths => sixteenths.parse::<f64>().expect("a length") * 0.25,
            };
            if pitch != "-" {
                notes.push(Written { beat, beats, key: key(pitch), is_slurred });
            }
            beat += beats;
        }
    }
    notes
}

/// The MIDI key of a pitch name; C4 is 60.
fn key(pitch: &str) -> u8 {
    let (name, octave) = pitch.split_at(1);
    let step = match name {
        "C" => 0,
        "D" => 2,
        "E" => 4,
        "G" => 7,
        _ => 9,
    };
    12 * (octave.parse::<u8>().expect("an octave") + 1) + step
}
