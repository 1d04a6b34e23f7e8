//! What is asked of the song that a host plays, in the words and bars of a table.

use super::app::Editor;
use super::feed::Order;
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
}

impl Editor {
    /// Asks of the song what a table says, and nothing else.
    pub(super) fn ask(&mut self, table: &str) {
        let Some(SongWishes { metres, .. }) = self.feed.song_wishes() else { return };
        let styles = self.model.all_styles();
        let read = read_song_table(table, &styles, &metre_map(&metres), f64::from(QUARTER_TICKS));
        self.model.sentence = Some(match read {
            Ok(stretches) => {
                let said = match stretches.len() {
                    0 => "Nothing is asked of the song.".to_owned(),
                    1 => "The song is asked for something in one stretch.".to_owned(),
                    count => format!("The song is asked for something in {count} stretches."),
                };
                self.feed.order(Order::Ask(stretches));
                said
            }
            Err(sentence) => sentence,
        });
        self.model.song_wishes = self.feed.song_wishes();
    }
}
