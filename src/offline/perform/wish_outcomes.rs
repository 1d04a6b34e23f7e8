//! What came of each wish: obeyed, or refused and why.

use super::performance::{Asked, Observation};
use super::stretch_outcomes::StretchOutcomes;
use crate::engine::View;
use crate::engine::reason::Reason;
use crate::offline::midi::TempoMap;
use crate::offline::take::Region;
use crate::offline::take::wish::{WishRequest, Wished};
use crate::profile::pitch::key_name;
use crate::profile::wish::in_words;

/// What came of each wish, written down while the line is played.
pub struct WishOutcomes<'a> {
    clock: &'a TempoMap,
    stretches: StretchOutcomes,
    all: Vec<(Wished, Option<WishOutcome>)>,
}

#[derive(Clone, Copy)]
enum WishOutcome {
    Obeyed,
    Refused(Reason),
}

impl WishOutcomes<'_> {
    /// Nothing has been played yet. Wishes outside the region have no outcome.
    pub fn new<'a>(asked: &Asked, region: Region, clock: &'a TempoMap) -> WishOutcomes<'a> {
        let inside = asked.wishes.iter().filter(|wished| region.holds(wished.tick));
        WishOutcomes {
            clock,
            stretches: StretchOutcomes::new(&asked.stretches, region, clock),
            all: inside.map(|wished| (*wished, None)).collect(),
        }
    }

    /// Looks at the line, and at a note that has just begun.
    pub fn look(&mut self, look: &Observation) {
        self.stretches.look(look, look.begun.map(|tick| self.clock.beat_at(tick)));
        let Some(tick) = look.begun else { return };
        let from = self.all.partition_point(|(wished, _)| wished.tick < tick);
        let here = self.all[from..].iter_mut().take_while(|(wished, _)| wished.tick == tick);
        for (wished, outcome) in here {
            let is_own = |view: &&View| Some(wished.wish.key) == view.key;
            let Some(view) = look.began().find(is_own) else { continue };
            let is_refused = wished.wish.asked.mode().is_some_and(|mode| view.mode != mode);
            let refused = view.refused_wish.or(is_refused.then_some(view.legato_reason));
            *outcome = Some(refused.map_or(WishOutcome::Obeyed, WishOutcome::Refused));
        }
    }

    /// One sentence a wish: place, key, what was asked, and what came of it.
    pub fn sentences(&self, requests: &[WishRequest], styles: &[String]) -> Vec<String> {
        let sentence = |(wished, outcome): &(Wished, Option<WishOutcome>)| {
            let beat = requests.get(wished.request).map_or("", |request| &request.beat);
            let (key, asked) = (key_name(wished.wish.key), in_words(&wished.wish.asked, styles));
            let came = match outcome {
                Some(WishOutcome::Obeyed) => "obeyed".to_owned(),
                Some(WishOutcome::Refused(reason)) => format!("refused. {}", reason.sentence()),
                None => "refused. Another note of the chord owns the line.".to_owned(),
            };
            format!("{beat} {key}: {asked}: {came}")
        };
        self.all.iter().map(sentence).chain(self.stretches.sentences()).collect()
    }
}
