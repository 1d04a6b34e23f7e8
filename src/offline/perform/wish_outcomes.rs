//! What came of each wish: obeyed, or refused and why.

use super::performance::Observation;
use crate::engine::Mode;
use crate::engine::reason::Reason;
use crate::offline::take::Region;
use crate::offline::take::wish::{WishRequest, Wished, in_words};
use crate::profile::pitch::key_name;

/// What came of each wish, written down while the line is played.
pub struct WishOutcomes {
    all: Vec<(Wished, Option<WishOutcome>)>,
}

#[derive(Clone, Copy)]
enum WishOutcome {
    Obeyed,
    Refused(Reason),
}

impl WishOutcomes {
    /// Nothing has been played yet. Wishes outside the region have no outcome.
    pub fn new(wishes: &[Wished], region: Region) -> WishOutcomes {
        let inside = wishes.iter().filter(|wished| region.holds(wished.tick));
        WishOutcomes { all: inside.map(|wished| (*wished, None)).collect() }
    }

    /// Looks at a note that has just begun.
    pub fn look(&mut self, look: &Observation) {
        let (Some(tick), view) = (look.begun, look.view) else { return };
        let from = self.all.partition_point(|(wished, _)| wished.tick < tick);
        let here = self.all[from..].iter_mut().take_while(|(wished, _)| wished.tick == tick);
        for (wished, outcome) in here.filter(|(wished, _)| Some(wished.wish.key) == view.key) {
            let is_slide_refused = wished.wish.slide == Some(true) && view.mode != Mode::Slide;
            let refused = view.refused_wish.or(is_slide_refused.then_some(view.legato_reason));
            *outcome = Some(refused.map_or(WishOutcome::Obeyed, WishOutcome::Refused));
        }
    }

    /// One sentence a wish: place, key, what was asked, and what came of it.
    pub fn sentences(&self, requests: &[WishRequest], styles: &[String]) -> Vec<String> {
        let sentence = |(wished, outcome): &(Wished, Option<WishOutcome>)| {
            let beat = requests.get(wished.request).map_or("", |request| &request.beat);
            let (key, asked) = (key_name(wished.wish.key), in_words(&wished.wish, styles));
            let came = match outcome {
                Some(WishOutcome::Obeyed) => "obeyed".to_owned(),
                Some(WishOutcome::Refused(reason)) => format!("refused. {}", reason.sentence()),
                None => "refused. Another note of the chord owns the line.".to_owned(),
            };
            format!("{beat} {key}: {asked}: {came}")
        };
        self.all.iter().map(sentence).collect()
    }
}
