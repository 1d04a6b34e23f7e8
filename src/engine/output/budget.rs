//! How much a channel carries: so many messages a second, and a few at once.

use crate::math::clock::TICK_S;
use crate::patch::TargetPatch;

/// What is left of a channel's allowance; below 0 it is in debt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MessageBudget {
    left: f64,
    tick: u64,
}

impl MessageBudget {
    /// All of the burst is left.
    pub fn full(target: &TargetPatch) -> MessageBudget {
        MessageBudget { left: target.burst_messages, tick: 0 }
    }

    /// Time has passed and messages have gone out.
    pub fn settle(&mut self, target: &TargetPatch, tick: u64, messages: u32) {
        let per_tick = target.messages_per_s * TICK_S;
        // From a signed number it is one instruction, and 2^63 ticks do not pass.
        let gained = per_tick * tick.saturating_sub(self.tick) as i64 as f64;
        self.tick = tick;
        self.left = (self.left + gained).min(target.burst_messages);
        self.spend(target, messages);
    }

    /// Messages have gone out at the tick of the last settling.
    #[inline]
    pub fn spend(&mut self, target: &TargetPatch, messages: u32) {
        // What must go out may go out on credit, but not on more than the burst.
        self.left = (self.left - f64::from(messages)).max(-target.burst_messages);
    }

    /// An output of this priority (0 is the first) may send: it leaves something for those before it.
    pub fn allows(&self, priority: u8) -> bool {
        self.left >= 1.0 + f64::from(priority)
    }
}
