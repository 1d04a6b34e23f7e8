//! What becomes of automation that the take has already: the options of every verb that writes one.

use polso::offline::LaneRule;

/// What to do where the take already moves what the performance would write.
#[derive(clap::Args, Clone, Copy)]
pub struct LaneOptions {
    /// Take lanes out that the take already has where the performance writes; peel gives them back
    #[arg(long, conflicts_with = "keep")]
    replace: bool,
    /// Leave such lanes, and write nothing of ours there
    #[arg(long)]
    keep: bool,
}

impl LaneOptions {
    pub fn rule(self) -> LaneRule {
        match (self.replace, self.keep) {
            (true, _) => LaneRule::Replace,
            (_, true) => LaneRule::Keep,
            _ => LaneRule::Refuse,
        }
    }
}
