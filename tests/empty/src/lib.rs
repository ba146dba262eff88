//! An instrument that does nothing, with Barform's ports: the yardstick that the
//! process benches measure against.
//!
//! It writes silence: the framework hands out the host's buffers with whatever
//! was in them, and an instrument that leaves that there is none.

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
    const MIDI_INPUT: MidiConfig = MidiConfig::MidiCCs;
    const MIDI_OUTPUT: MidiConfig = MidiConfig::MidiCCs;

    type Editor = ();
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        _context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        for channel in buffer.as_slice() {
            channel.fill(0.0);
        }
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
