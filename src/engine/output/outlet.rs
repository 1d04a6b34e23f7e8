//! The way out of one line: its outputs, what its receiver has been told, and what sends for it.

use super::feedback::Feedback;
use super::outputs::Outputs;
use super::sender::Sender;
use super::sink::Sink;
use super::sounding::Sounding;
use super::switching::{NoteManner, Switching};
use crate::input::Message;
use crate::layers::values::Values;
use crate::patch::setup::Setup;

/// A receiver that changes its sound is told everything again after this time.
const SOUND_CHANGE_S: f64 = 0.050;
/// MIDI 1.0 controllers 0 and 32 choose the bank.
const BANKS: [u8; 2] = [0, 32];

/// What has gone out for one line. It holds no settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineOut {
    /// Its outputs.
    pub outputs: Outputs,
    /// Mode and articulation.
    pub switching: Switching,
    /// Messages since the budget was last charged.
    pub count: u32,
    /// When the receiver is told everything again.
    pub resync_due_s: f64,
}

impl LineOut {
    /// Nothing has gone out.
    pub fn unsent(setup: &Setup) -> LineOut {
        LineOut {
            outputs: Outputs::unsent(setup),
            switching: Switching::UNTOLD,
            count: 0,
            resync_due_s: f64::INFINITY,
        }
    }

    /// A keyswitch is to come up, or the receiver to be told everything again.
    #[inline]
    pub fn is_awaited_by(&self, by_s: f64) -> bool {
        by_s >= self.switching.due_s().min(self.resync_due_s)
    }
}

/// The way out of one line at one frame.
pub struct Outlet<'a, S: Sink> {
    /// The line's outputs.
    pub outputs: &'a mut Outputs,
    /// Its mode and articulation.
    pub switching: &'a mut Switching,
    /// When its receiver is told everything again.
    pub resync_due_s: &'a mut f64,
    /// What sends.
    pub sender: Sender<'a, S>,
}

impl<'a, S: Sink> Outlet<'a, S> {
    /// Opens the way out of a line at a frame of the present block.
    #[inline]
    pub fn open(
        out: &'a mut LineOut,
        sounding: &'a mut Sounding,
        feedback: &'a mut Feedback,
        (frame, now_s): (u32, f64),
        sink: &'a mut S,
    ) -> Outlet<'a, S> {
        let LineOut { outputs, switching, count, resync_due_s } = out;
        let sender = Sender { frame, now_s, sounding, feedback, count, sink };
        Outlet { outputs, switching, resync_due_s, sender }
    }

    /// Every output's present value again, and the mode with the next note.
    pub fn resync(&mut self, tick: u64, values: &Values<'_>) {
        self.switching.forget();
        self.end_joins(values);
        self.outputs.resync(tick, values, &mut self.sender);
    }

    /// Portamento and legato switch are off until a note needs them, and the receiver hears so.
    fn end_joins(&mut self, values: &Values<'_>) {
        let transition = &values.setup.patch.target.transition;
        self.switching.portamento.resync(transition, values.channel, &mut self.sender);
    }

    /// The receiver has had time to change its sound: every value again, and the manner of the
    /// note that sounds.
    #[cold]
    pub fn tell_all_again(&mut self, tick: u64, values: &Values<'_>, sounding: Option<NoteManner>) {
        *self.resync_due_s = f64::INFINITY;
        self.outputs.resync(tick, values, &mut self.sender);
        match sounding {
            Some(manner) => {
                let (setup, now_s) = (values.setup, values.now_s);
                self.switching.tell_again(setup, now_s, manner, &mut self.sender);
            }
            // Between notes the mode waits for the note that needs it.
            None => {
                self.switching.forget();
                self.end_joins(values);
            }
        }
    }

    /// A message that has passed may change the receiver's sound, which then forgets its values.
    pub fn passed(&mut self, message: Message) {
        let chooses = match message {
            Message::Program { .. } => true,
            Message::Controller { number, .. } => BANKS.contains(&number),
            _ => false,
        };
        if chooses {
            *self.resync_due_s = self.sender.now_s + SOUND_CHANGE_S;
        }
    }
}
