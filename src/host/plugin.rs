//! The two plugins: a pure note effect, and the same with a stereo pass-through.

use std::collections::BTreeMap;
use std::num::NonZeroU32;
use std::sync::Arc;

use nice_plug::prelude::{
    ActivateContext, AudioIOLayout, AuxiliaryBuffers, Buffer, BufferConfig, ClapFeature,
    ClapPlugin, MidiConfig, Params, Plugin, PluginState, ProcessContext, ProcessStatus, Vst3Plugin,
    Vst3SubCategory,
};
#[cfg(feature = "editor")]
use nice_plug::prelude::{AsyncExecutor, TaskExecutor};

use super::computer_hand;
#[cfg(feature = "editor")]
use super::gatherer::Gatherer;
use super::live_values::LiveValues;
use super::parameters::Parameters;
#[cfg(feature = "editor")]
use super::performed;
use super::player::Player;
#[cfg(feature = "editor")]
use super::plugin_window::PluginWindow;
use super::state::State;
use super::system_exclusive::SystemExclusive;
#[cfg(feature = "editor")]
use super::window_access::{WindowAccess, WindowTask};

/// The persisted field that holds the project's text.
const STATE_FIELD: &str = "state";
/// The one layout of the variant for hosts that refuse a plugin without audio. The framework has
/// copied input to output before `process`.
const STEREO: [AudioIOLayout; 1] = [AudioIOLayout {
    main_input_channels: NonZeroU32::new(2),
    main_output_channels: NonZeroU32::new(2),
    ..AudioIOLayout::const_default()
}];

/// The pure note effect.
pub type Polso = PluginVariant<false>;
/// The note effect with stereo audio that passes through.
pub type PolsoThrough = PluginVariant<true>;

/// The plugin, as the framework calls it: `process` and `reset` on the audio thread, the rest on the
/// host's main thread. `THROUGH` gives it a stereo input and output.
pub struct PluginVariant<const THROUGH: bool> {
    controls: Arc<Parameters>,
    player: Option<Player>,
    live_values: Arc<LiveValues>,
    #[cfg(feature = "editor")]
    access: Arc<WindowAccess>,
    /// While it is active.
    #[cfg(feature = "editor")]
    gatherer: Option<Gatherer>,
}

impl<const THROUGH: bool> PluginVariant<THROUGH> {
    /// Off the audio thread. What the player shows.
    pub fn live_values(&self) -> Arc<LiveValues> {
        Arc::clone(&self.live_values)
    }

    /// Off the audio thread. What its window has of it.
    #[cfg(feature = "editor")]
    pub fn window_access(&self) -> Arc<WindowAccess> {
        Arc::clone(&self.access)
    }
}

impl<const THROUGH: bool> Default for PluginVariant<THROUGH> {
    fn default() -> Self {
        let controls = Arc::new(Parameters::neutral());
        controls.project.set_live_hand(computer_hand::read());
        let (writer, live_values) = LiveValues::both_ends();
        let live_values = Arc::new(live_values);
        #[cfg(feature = "editor")]
        let (performance, access) = {
            let (performance, reader) = performed::both_ends();
            let (controls, live_values) = (Arc::clone(&controls), Arc::clone(&live_values));
            (Some(performance), Arc::new(WindowAccess::new(controls, live_values, reader)))
        };
        // Nobody could print it.
        #[cfg(not(feature = "editor"))]
        let performance = None;
        let player = Player::prepare(controls.project.hand_off(), writer, performance);
        PluginVariant {
            controls,
            player,
            live_values,
            #[cfg(feature = "editor")]
            access,
            #[cfg(feature = "editor")]
            gatherer: None,
        }
    }
}

impl<const THROUGH: bool> Plugin for PluginVariant<THROUGH> {
    const NAME: &'static str = if THROUGH { "Polso Through" } else { "Polso" };
    const VENDOR: &'static str = "Polso";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = if THROUGH { &STEREO } else { &[] };
    const MIDI_INPUT: MidiConfig = MidiConfig::MidiCCs;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::MidiCCs;
    const SAMPLE_ACCURATE_AUTOMATION: bool = true;

    type SysExMessage = SystemExclusive;

    #[cfg(not(feature = "editor"))]
    type Editor = ();
    #[cfg(not(feature = "editor"))]
    type BackgroundTask = ();

    #[cfg(feature = "editor")]
    type Editor = PluginWindow;
    #[cfg(feature = "editor")]
    type BackgroundTask = WindowTask;

    #[cfg(feature = "editor")]
    fn task_executor(&mut self) -> TaskExecutor<Self> {
        let access = Arc::clone(&self.access);
        Box::new(move |task| access.fulfil(task))
    }

    #[cfg(feature = "editor")]
    fn editor(&mut self, executor: AsyncExecutor<Self>) -> Option<PluginWindow> {
        let tell = Arc::new(move || executor.execute_gui(WindowTask::TellHost));
        Some(PluginWindow::new(Arc::clone(&self.access), tell))
    }

    fn params(&self) -> Arc<dyn Params> {
        Arc::clone(&self.controls) as Arc<dyn Params>
    }

    /// The framework leaves absent controls where they are and forgets a field that is not
    /// JSON; an old project must sound as it did, and nothing of it may be lost.
    fn filter_state(state: &mut PluginState) {
        complete(state);
    }

    fn activate(
        &mut self,
        _: &AudioIOLayout,
        config: &BufferConfig,
        _: &mut impl ActivateContext<Self>,
    ) -> bool {
        // Another window may have chosen another one meanwhile.
        self.controls.project.set_live_hand(computer_hand::read());
        #[cfg(feature = "editor")]
        self.gatherer.get_or_insert_with(|| Gatherer::begin(Arc::clone(&self.access)));
        self.player.as_mut().is_some_and(|player| player.activate(f64::from(config.sample_rate)))
    }

    #[cfg(feature = "editor")]
    fn deactivate(&mut self) {
        self.gatherer = None;
    }

    fn reset(&mut self) {
        if let Some(player) = &mut self.player {
            player.reset();
        }
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let frames = buffer.samples() as u32;
        let Some(player) = &mut self.player else {
            return ProcessStatus::Error("nothing that can be played");
        };
        player.play(frames, &self.controls, context)
    }
}

/// Puts defaults in for controls that the state does not name, and makes a text of a field that
/// is none, so that it can be kept.
fn complete(state: &mut PluginState) {
    let neutral = Parameters::neutral();
    for (id, value) in neutral.values() {
        state.params.entry(id.to_owned()).or_insert(value);
    }
    if let Some(text) = state.fields.get_mut(STATE_FIELD)
        && serde_json::from_str::<String>(text).is_err()
    {
        *text = serde_json::Value::String(std::mem::take(text)).to_string();
    }
    let text = || serde_json::Value::String(State::in_place_of_unread().to_text()).to_string();
    let fields: &mut BTreeMap<String, String> = &mut state.fields;
    fields.entry(STATE_FIELD.to_owned()).or_insert_with(text);
}

impl<const THROUGH: bool> ClapPlugin for PluginVariant<THROUGH> {
    const CLAP_ID: &'static str = if THROUGH { "polso.through" } else { "polso.note-effect" };
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("One gesture becomes dynamics, vibrato, style, legato and the end of the phrase.");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = if THROUGH {
        &[ClapFeature::NoteEffect, ClapFeature::AudioEffect, ClapFeature::Stereo]
    } else {
        &[ClapFeature::NoteEffect, ClapFeature::Utility]
    };
}

impl<const THROUGH: bool> Vst3Plugin for PluginVariant<THROUGH> {
    const VST3_CLASS_ID: [u8; 16] =
        if THROUGH { *b"PolsoThroughFx01" } else { *b"PolsoNoteEffect1" };
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] = if THROUGH {
        &[Vst3SubCategory::Fx, Vst3SubCategory::Tools, Vst3SubCategory::Stereo]
    } else {
        &[Vst3SubCategory::Fx, Vst3SubCategory::Tools]
    };
}
