//! One hand for every project: chosen here, kept in the user's own folder.

use std::fs;

use super::app::Editor;
use super::disk;
use super::feed::Order;
use crate::profile::FileKind;

impl Editor {
    /// The hand of the slot that plays becomes that of this computer, or there is none any more.
    pub(super) fn choose_computer_hand(&mut self, is_chosen: bool) {
        let Some(path) = self.feed.computer_hand_path() else {
            self.model.sentence = Some("this system names no folder for settings".to_owned());
            return;
        };
        let done = match is_chosen {
            true => {
                let text = self.model.file(FileKind::Hand).text();
                let folder = path.parent().map_or(Ok(()), fs::create_dir_all);
                let folder = folder.map_err(|error| format!("{}: {error}", path.display()));
                folder.and_then(|()| disk::save(&path, text.as_bytes(), true)).map(drop)
            }
            false => fs::remove_file(&path).map_err(|error| format!("{}: {error}", path.display())),
        };
        self.model.sentence = Some(match (done, is_chosen) {
            (Ok(()), true) => format!("The hand of this computer: {}.", path.display()),
            (Ok(()), false) => "Every project is read by its own hand.".to_owned(),
            (Err(sentence), _) => sentence,
        });
        self.feed.order(Order::ComputerHand);
    }
}
