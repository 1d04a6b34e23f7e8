//! What came of each wish: obeyed, or refused and why.

use super::{Request, Wished, in_words};
use crate::engine::Mode;
use crate::engine::reason::Reason;
use crate::offline::perform::Look;
use crate::offline::region::Region;
use crate::profile::pitch::key_name;

/// What came of each wish, written down while the line is played.
pub struct Answers {
    all: Vec<(Wished, Option<Answer>)>,
}

#[derive(Clone, Copy)]
enum Answer {
    Obeyed,
    Refused(Reason),
}

impl Answers {
    /// Nothing has been played yet. Wishes outside the region are not answered.
    pub fn new(wishes: &[Wished], region: Region) -> Answers {
        let inside = wishes.iter().filter(|wished| region.holds(wished.tick));
        Answers { all: inside.map(|wished| (*wished, None)).collect() }
    }

    /// Looks at a note that has just begun.
    pub fn look(&mut self, look: &Look) {
        let (Some(tick), view) = (look.begun, look.view) else { return };
        let from = self.all.partition_point(|(wished, _)| wished.tick < tick);
        let here = self.all[from..].iter_mut().take_while(|(wished, _)| wished.tick == tick);
        for (wished, answer) in here.filter(|(wished, _)| Some(wished.wish.key) == view.key) {
            let is_slide_refused = wished.wish.slide == Some(true) && view.mode != Mode::Slide;
            let refused = view.refused_wish.or(is_slide_refused.then_some(view.legato_reason));
            *answer = Some(refused.map_or(Answer::Obeyed, Answer::Refused));
        }
    }

    /// One sentence a wish: place, key, what was asked, and what came of it.
    pub fn sentences(&self, requests: &[Request], styles: &[String]) -> Vec<String> {
        let sentence = |(wished, answer): &(Wished, Option<Answer>)| {
            let beat = requests.get(wished.request).map_or("", |request| &request.beat);
            let (key, asked) = (key_name(wished.wish.key), in_words(&wished.wish, styles));
            let came = match answer {
                Some(Answer::Obeyed) => "obeyed".to_owned(),
                Some(Answer::Refused(reason)) => format!("refused. {}", reason.sentence()),
                None => "refused. Another note of the chord owns the line.".to_owned(),
            };
            format!("{beat} {key}: {asked}: {came}")
        };
        self.all.iter().map(sentence).collect()
    }
}
