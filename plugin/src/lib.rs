//! Barform as a CLAP and VST3 instrument: lettered drum forms in the host's
//! time.
//!
//! The story in the order the host tells it: the plugin is made with the
//! embedded score, state is loaded, it is activated for a sample rate, reset,
//! and asked for block after block; the editor comes and goes meanwhile on a
//! thread of its own.

pub mod audition;
pub mod editor;
pub mod handover;
pub mod params;
pub mod process;
pub mod state;

use std::sync::Arc;

use nice_plug::prelude::*;

use crate::editor::BarformEditor;
use crate::params::BarformParams;
use crate::process::Engine;
use crate::state::Session;

/// The plugin, with or without controllers among what it takes from the host.
pub struct Instrument<const CONTROLLERS: bool> {
    /// What host, editor and audio thread share.
    params: Arc<BarformParams>,
    /// What the audio thread alone uses.
    engine: Engine,
}

/// As a CLAP plugin and without a host. Controllers pass through as well as
/// notes: the pedal of an electronic hi-hat is one.
pub type Barform = Instrument<true>;

/// As a VST3 plugin. That format knows controllers only as parameters, 2080 of
/// them, and hosts send them all at once when a session loads: to a sampler
/// behind Barform volumes of 0, to Barform more than there is room for. So only
/// notes pass through.
pub type BarformVst3 = Instrument<false>;

impl<const CONTROLLERS: bool> Instrument<CONTROLLERS> {
    /// The session of this instance.
    pub fn session(&self) -> &Arc<Session> {
        &self.params.session
    }
}

impl<const CONTROLLERS: bool> Default for Instrument<CONTROLLERS> {
    fn default() -> Self {
        let params = Arc::new(BarformParams::new(Arc::new(Session::default())));
        Instrument {
            engine: Engine::new(params.clone()),
            params,
        }
    }
}

impl<const CONTROLLERS: bool> Plugin for Instrument<CONTROLLERS> {
    const NAME: &'static str = "Barform";
    const VENDOR: &'static str = "Barform";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");

    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[AudioIOLayout {
        main_input_channels: None,
        main_output_channels: NonZeroU32::new(2),
        names: PortNames {
            layout: Some("Stereo"),
            main_output: Some("Kit"),
            ..PortNames::const_default()
        },
        ..AudioIOLayout::const_default()
    }];

    const MIDI_INPUT: MidiConfig = if CONTROLLERS {
        MidiConfig::MidiCCs
    } else {
        MidiConfig::Basic
    };
    const MIDI_OUTPUT: MidiConfig = Self::MIDI_INPUT;
    // Beyond this the framework allocates: room for every controller of sixteen
    // channels at once, and as many notes.
    const INPUT_EVENT_CAPACITY: usize = 8_192;

    type Editor = BarformEditor;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn editor(&mut self, _async_executor: AsyncExecutor<Self>) -> Option<BarformEditor> {
        Some(BarformEditor::new(self.params.clone()))
    }

    fn filter_state(state: &mut PluginState) {
        state::filter(state);
    }

    fn activate(
        &mut self,
        _audio_io_layout: &AudioIOLayout,
        buffer_config: &BufferConfig,
        _context: &mut impl ActivateContext<Self>,
    ) -> bool {
        self.engine.activate(f64::from(buffer_config.sample_rate));
        true
    }

    fn reset(&mut self) {
        self.engine.reset();
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        self.engine.process(buffer, context);
        // Time may start to run at any block, with nothing coming in.
        ProcessStatus::KeepAlive
    }

    fn deactivate(&mut self) {
        self.engine.silence();
    }
}

impl ClapPlugin for Barform {
    const CLAP_ID: &'static str = "barform.barform";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Plays lettered drum forms in the host's time");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[
        ClapFeature::Instrument,
        ClapFeature::NoteEffect,
        ClapFeature::Drum,
        ClapFeature::Stereo,
    ];
}

impl Vst3Plugin for BarformVst3 {
    const VST3_CLASS_ID: [u8; 16] = *b"BarformLetterdAA";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] = &[
        Vst3SubCategory::Instrument,
        Vst3SubCategory::Drum,
        Vst3SubCategory::Stereo,
    ];
}
