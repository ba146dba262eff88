//! Barform without a host: own clock, audio and MIDI devices.
//!
//! `barform-standalone --help` lists how to choose the devices. The own clock
//! stands still until it is started in the window.

fn main() {
    nice_plug::prelude::nice_export_standalone::<barform::Barform>();
}
