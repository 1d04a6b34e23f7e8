//! Asks something of the song that a host plays, as a table says it.

use super::app::Editor;
use super::feed::Order;

impl Editor {
    /// Asks of the song what a table says, and nothing else.
    pub(super) fn ask(&mut self, table: &str) {
        let Some(wishes) = self.feed.song_wishes() else { return };
        self.model.sentence = Some(match wishes.read(table, &self.model.all_styles()) {
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
