//! The plugin as whoever plays the line behind the window.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;

use super::computer_hand;
use super::kept_performance::KeptPerformance;
use super::live_values::{HeardMessage, LiveFrame};
use super::window_access::{TellHost, WindowAccess};
use crate::editor::feed::{ComputerHand, Feed, InputMessage, Order, Snapshot};
use crate::editor::printing::song::{PrintedSong, PrintingState};
use crate::editor::song_wishes::SongWishes;
use crate::engine::Input;

/// The plugin as whoever plays the line behind the window. The window's thread.
pub struct PluginFeed {
    access: Arc<WindowAccess>,
    tell: TellHost,
    /// Wishes that the player has no room for, since the host does not play.
    owed: VecDeque<Input>,
}

impl PluginFeed {
    /// Off the audio thread. The window's opening to the plugin.
    pub fn new(access: Arc<WindowAccess>, tell: TellHost) -> PluginFeed {
        PluginFeed { access, tell, owed: VecDeque::new() }
    }

    /// Of gestures in a row only the last counts, so what is owed does not grow.
    fn owe(&mut self, input: Input) {
        if let (Some(Input::Gesture(_)), Input::Gesture(_)) = (self.owed.back(), input) {
            self.owed.pop_back();
        }
        self.owed.push_back(input);
    }

    fn pay(&mut self) {
        while let Some(input) = self.owed.front()
            && self.access.live_values.wish(*input)
        {
            self.owed.pop_front();
        }
    }
}

impl Feed for PluginFeed {
    fn read(&mut self) -> Option<Snapshot> {
        let frame = self.access.live_values.read()?;
        let LiveFrame { at_s, view, losses, sent } = frame;
        Some(Snapshot { at_s, view, losses, sent })
    }

    fn hear(&mut self) -> Option<InputMessage> {
        let HeardMessage { at_s, message } = self.access.live_values.hear()?;
        Some(InputMessage { at_s, message })
    }

    fn order(&mut self, order: Order) {
        match order {
            Order::Play(setup) => self.access.keep(&setup, &self.tell),
            Order::Try(patch) => self.access.try_out(&patch),
            Order::Input(input) => {
                self.owe(input);
                self.pay();
            }
            Order::Ask(stretches) => self.access.ask(&stretches, &self.tell),
            Order::ComputerHand => {
                self.access.controls.project.set_live_hand(computer_hand::read());
            }
            Order::RecordAnew => self.access.record_anew(&self.tell),
            Order::Printed(is_printed) => self.access.set_printed(is_printed, &self.tell),
        }
    }

    fn pass(&mut self, _: f64) {
        self.pay();
    }

    fn computer_hand_path(&self) -> Option<PathBuf> {
        computer_hand::path()
    }

    fn computer_hand(&mut self) -> Option<ComputerHand> {
        let (name, is_recorded) = self.access.controls.project.hands();
        Some(ComputerHand { name, is_recorded })
    }

    fn printing(&mut self) -> Option<PrintingState> {
        let is_printed = self.access.controls.printed.value();
        Some(self.access.with_performance(|performance| performance.state(is_printed)))
    }

    fn song_wishes(&mut self) -> Option<SongWishes> {
        let stretches = self.access.controls.project.opened().0.stretches();
        let metres = self.access.with_performance(KeptPerformance::metres);
        Some(SongWishes { stretches, metres })
    }

    fn performed(&mut self) -> Option<PrintedSong> {
        Some(self.access.with_performance(KeptPerformance::song))
    }
}
