//! A host that plays block after block through the plugin and records what it
//! is sent.

// Each test file uses a part of it.
#![allow(dead_code)]

pub mod aside;

use barform::Barform;
use nice_plug::context::activate::ActivateContext;
use nice_plug::context::process::SendEventError;
use nice_plug::midi::{Channel, Key, PluginNoteEvent, VoiceID};
use nice_plug::prelude::*;

/// Samples a second.
pub const RATE_HZ: f32 = 48_000.0;

/// What a host sends and gets.
pub type Note = PluginNoteEvent<Barform>;

/// A host's side of a block.
pub struct Host {
    api: PluginApi,
    /// What it tells about time.
    pub transport: Transport,
    input: Vec<Note>,
    output: Vec<Note>,
    /// Room in its output buffer.
    pub room: usize,
}

impl Host {
    fn new(api: PluginApi) -> Host {
        let transport = Transport::new(RATE_HZ);
        Host {
            api,
            transport,
            input: Vec::new(),
            output: Vec::new(),
            room: usize::MAX,
        }
    }
}

impl ProcessContext<Barform> for Host {
    fn plugin_api(&self) -> PluginApi {
        self.api
    }
    fn execute_background(&self, (): ()) {}
    fn execute_gui(&self, (): ()) {}
    fn transport(&self) -> &Transport {
        &self.transport
    }
    fn next_event(&mut self) -> Option<Note> {
        (!self.input.is_empty()).then(|| self.input.remove(0))
    }
    fn try_send_event(&mut self, event: Note) -> Result<(), (Note, SendEventError)> {
        if self.output.len() >= self.room {
            return Err((event, SendEventError::HostBufferFull));
        }
        // The test's own list may grow.
        nice_assert_no_alloc::permit_alloc(|| self.output.push(event));
        Ok(())
    }
    fn set_latency_samples(&self, _: u32) {}
    fn request_restart(&self) {}
    fn set_current_voice_capacity(&self, _: u32) {}
}

/// A host that activates.
struct Activating(PluginApi);

impl ActivateContext<Barform> for Activating {
    fn plugin_api(&self) -> PluginApi {
        self.0
    }
    fn execute(&self, (): ()) {}
    fn set_latency_samples(&self, _: u32) {}
    fn set_current_voice_capacity(&self, _: u32) {}
}

/// A plugin in a host that plays at 120 BPM.
pub struct Rig {
    /// The plugin.
    pub plugin: Barform,
    /// Its host.
    pub host: Host,
    /// Samples so far in the host's time.
    pub now: u64,
    /// Loudest sample of the last block.
    pub peak: f32,
}

impl Rig {
    /// An active plugin in a host whose time stands.
    pub fn new(api: PluginApi) -> Rig {
        let mut plugin = Barform::default();
        let config = BufferConfig {
            sample_rate: RATE_HZ,
            min_buffer_size: None,
            max_buffer_size: 8_192,
            process_mode: ProcessMode::Realtime,
        };
        let mut context = Activating(api);
        assert!(plugin.activate(&Barform::AUDIO_IO_LAYOUTS[0], &config, &mut context));
        plugin.reset();
        Rig {
            plugin,
            host: Host::new(api),
            now: 0,
            peak: 0.0,
        }
    }

    /// A rig in a host that reports position and tempo.
    pub fn rolling() -> Rig {
        let mut rig = Rig::new(PluginApi::Clap);
        rig.host.transport.playing = true;
        rig.host.transport.tempo = Some(120.0);
        rig.host.transport.pos_beats = Some(0.0);
        rig
    }

    /// One block; returns what came out in it.
    pub fn block(&mut self, frames: usize, input: Vec<Note>) -> Vec<Note> {
        if self.host.transport.pos_beats.is_some() {
            let beats = self.now as f64 / f64::from(RATE_HZ) * 2.0;
            self.host.transport.pos_beats = Some(beats);
        }
        self.host.input = input;
        let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
        let mut buffer = Buffer::default();
        // SAFETY: both slices live, untouched otherwise, until after the block,
        // and are of the stated length.
        unsafe {
            buffer.set_slices(frames, |slices| {
                *slices = vec![&mut left[..], &mut right[..]];
            });
        }
        let mut aux = AuxiliaryBuffers {
            inputs: &mut [],
            outputs: &mut [],
        };
        self.host.output.reserve(4_096);
        // Aborts at an allocation or a free where the framework's check is built
        // in, as in the full test run; else does nothing.
        nice_assert_no_alloc::assert_no_alloc(|| {
            self.plugin.process(&mut buffer, &mut aux, &mut self.host)
        });
        drop(buffer);
        self.peak = left.iter().chain(&right).fold(0.0, |m, s| m.max(s.abs()));
        if self.host.transport.playing {
            self.now += frames as u64;
        }
        std::mem::take(&mut self.host.output)
    }

    /// Sets a parameter by its id.
    pub fn set(&self, id: &str, normalized: f32) {
        let params = self.plugin.params();
        let (_, ptr, _) = params
            .param_map()
            .into_iter()
            .find(|(known, ..)| known == id)
            .unwrap();
        // SAFETY: the plugin, and with it the parameter, lives.
        unsafe { ptr._internal_set_normalized_value(normalized) };
    }
}

/// A note that comes in.
pub fn on(timing: u32, key: u8) -> Note {
    let (voice_id, channel, key) = (VoiceID::Wildcard, Channel::Number(9), Key::Number(key));
    NoteEvent::NoteOn {
        timing,
        voice_id,
        channel,
        key,
        velocity: 0.5,
    }
}

/// Its end.
pub fn off(timing: u32, key: u8) -> Note {
    let (voice_id, channel, key) = (VoiceID::Wildcard, Channel::Number(9), Key::Number(key));
    NoteEvent::NoteOff {
        timing,
        voice_id,
        channel,
        key,
        velocity: 0.0,
    }
}

/// Note-ons among events.
pub fn ons(events: &[Note]) -> usize {
    events
        .iter()
        .filter(|e| matches!(e, NoteEvent::NoteOn { .. }))
        .count()
}

/// Note-offs among events.
pub fn offs(events: &[Note]) -> usize {
    events
        .iter()
        .filter(|e| matches!(e, NoteEvent::NoteOff { .. }))
        .count()
}
