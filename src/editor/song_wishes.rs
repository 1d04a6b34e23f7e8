//! What is asked of the song that a host plays, in the words and bars of a table.

use super::printing::file::metre_map;
use super::printing::song::{Metres, QUARTER_TICKS};
use crate::offline::take::wish::{read_song_table, song_table};
use crate::profile::wish::SongStretch;

/// What is asked, and the metres by which its bars are counted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SongWishes {
    /// What is asked.
    pub stretches: Vec<SongStretch>,
    /// The song's metres, as far as it has run; before it is 4/4.
    pub metres: Metres,
}

impl SongWishes {
    /// The same as a table.
    pub fn table(&self) -> String {
        let metre = metre_map(&self.metres);
        song_table(&self.stretches, &metre, f64::from(QUARTER_TICKS))
    }

    /// What another table asks of the song.
    ///
    /// # Errors
    /// A sentence with line, value and what is allowed.
    pub fn read(&self, table: &str, styles: &[String]) -> Result<Vec<SongStretch>, String> {
        read_song_table(table, styles, &metre_map(&self.metres), f64::from(QUARTER_TICKS))
    }
}
