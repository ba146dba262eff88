//! A plugin that does nothing, with Barform's ports: the yardstick that the
//! process benches measure against.

use std::sync::Arc;

use nice_plug::prelude::*;

/// Nothing but ports.
#[derive(Default)]
struct Empty {
    params: Arc<NoParams>,
}

/// No parameters.
#[derive(Params, Default)]
struct NoParams {}

impl Plugin for Empty {
    const NAME: &'static str = "Empty";
    const VENDOR: &'static str = "Barform";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[AudioIOLayout {
        main_output_channels: NonZeroU32::new(2),
        ..AudioIOLayout::const_default()
    }];
    const MIDI_INPUT: MidiConfig = MidiConfig::Basic;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::Basic;

    type Editor = ();
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn process(
        &mut self,
        _buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        _context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        ProcessStatus::KeepAlive
    }
}

impl ClapPlugin for Empty {
    const CLAP_ID: &'static str = "barform.tests.empty";
    const CLAP_DESCRIPTION: Option<&'static str> = None;
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[ClapFeature::Instrument];
}

nice_export_clap!(Empty);
