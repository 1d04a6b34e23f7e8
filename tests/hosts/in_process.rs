//! The plugin without a format around it, so that a test sees what hosts do not: its losses.
#![allow(unsafe_code, reason = "a buffer without channels is given its length")]

use std::collections::VecDeque;

use nice_plug::context::process::SendEventError;
use nice_plug::midi::{NoteEvent, PluginNoteEvent};
use nice_plug::prelude::{
    AuxiliaryBuffers, Buffer, Plugin, PluginApi, ProcessContext, ProcessStatus, Transport,
};
use polso::host::Polso;

use super::room::RATE_HZ;

/// The plugin, and what goes in and comes out.
pub struct InProcess {
    pub plugin: Polso,
    api: PluginApi,
}

impl InProcess {
    /// A fresh plugin that believes it is played through `api`.
    pub fn open(api: PluginApi) -> InProcess {
        InProcess { plugin: Polso::default(), api }
    }

    /// Plays a block.
    pub fn block(&mut self, frames: u32, events: &[NoteEvent<Exclusive>]) -> Heard {
        self.block_in(frames, events, Transport::new(RATE_HZ as f32))
    }

    /// Plays a block in a song.
    pub fn block_in(
        &mut self,
        frames: u32,
        events: &[NoteEvent<Exclusive>],
        transport: Transport,
    ) -> Heard {
        let mut context = Context {
            api: self.api,
            transport,
            events: events.iter().copied().collect(),
            heard: Vec::new(),
        };
        let mut buffer = Buffer::default();
        // SAFETY: there is no channel that could be too short.
        unsafe { buffer.set_slices(frames as usize, |_| {}) };
        let mut aux = AuxiliaryBuffers { inputs: &mut [], outputs: &mut [] };
        let status = self.plugin.process(&mut buffer, &mut aux, &mut context);
        assert!(!matches!(status, ProcessStatus::Error(_)), "{status:?}");
        context.heard
    }

    /// The host turns the track to printed, or back, between two blocks.
    #[cfg(feature = "editor")]
    pub fn set_printed(&mut self, is_printed: bool) {
        use nice_plug::prelude::Param;
        let access = self.plugin.window_access();
        let value = f32::from(u8::from(is_printed));
        // SAFETY: the control lives as long as its owner, and nobody plays meanwhile.
        unsafe { access.controls.printed.as_ptr()._internal_set_normalized_value(value) };
    }

    /// Messages that were not played so far.
    pub fn dropped(&self) -> u64 {
        let live_values = self.plugin.live_values();
        let mut dropped = 0;
        while let Some(frame) = live_values.read() {
            dropped = frame.losses.dropped_messages;
        }
        dropped
    }
}

pub type Exclusive = <Polso as Plugin>::SysExMessage;
type Heard = Vec<NoteEvent<Exclusive>>;

/// The host as the plugin sees it during a block.
struct Context {
    api: PluginApi,
    transport: Transport,
    events: VecDeque<NoteEvent<Exclusive>>,
    heard: Heard,
}

impl ProcessContext<Polso> for Context {
    fn plugin_api(&self) -> PluginApi {
        self.api
    }

    fn execute_background(&self, _: <Polso as Plugin>::BackgroundTask) {}

    fn execute_gui(&self, _: <Polso as Plugin>::BackgroundTask) {}

    fn transport(&self) -> &Transport {
        &self.transport
    }

    fn next_event(&mut self) -> Option<PluginNoteEvent<Polso>> {
        self.events.pop_front()
    }

    fn try_send_event(
        &mut self,
        event: PluginNoteEvent<Polso>,
    ) -> Result<(), (PluginNoteEvent<Polso>, SendEventError)> {
        self.heard.push(event);
        Ok(())
    }

    fn set_latency_samples(&self, _: u32) {}

    fn request_restart(&self) {}

    fn set_current_voice_capacity(&self, _: u32) {}
}
