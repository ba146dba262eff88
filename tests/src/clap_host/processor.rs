//! One block for a CLAP plugin.

use anyhow::{Context, Result, anyhow, bail};
use clack_host::events::event_types::{
    NoteOffEvent, NoteOnEvent, ParamValueEvent, TransportEvent, TransportFlags,
};
use clack_host::events::spaces::CoreEventSpace;
use clack_host::prelude::*;
use clack_host::utils::{BeatTime, SecondsTime};

use super::Handlers;
use crate::host::{Block, Note, Played, Processor, SongTime, Transport};

/// The audio thread's side.
pub(super) struct ClapProcessor {
    plugin: Option<PluginAudioProcessor<Handlers>>,
    /// Number, least and greatest value of each parameter.
    ranges: Vec<(u32, f64, f64)>,
    sample_rate_hz: f64,
    input: EventBuffer,
    output: EventBuffer,
    input_ports: AudioPorts,
    output_ports: AudioPorts,
    /// Samples processed so far.
    steady: u64,
}

impl Processor for ClapProcessor {
    fn process(&mut self, block: &Block, played: &mut Played) -> Result<()> {
        self.fill_input(block)?;
        self.output.clear();
        for channel in &mut played.audio {
            // What the plugin leaves as it was shows in the result.
            channel.clear();
            channel.resize(block.frames as usize, f32::NAN);
        }
        let transport = block
            .transport
            .map(|transport| transport_event(transport, self.sample_rate_hz));
        let inputs = self.input_ports.with_input_buffers(std::iter::empty::<
            AudioPortBuffer<
                std::iter::Empty<InputChannel<f32>>,
                std::iter::Empty<InputChannel<f64>>,
            >,
        >());
        let mut outputs = self.output_ports.with_output_buffers([AudioPortBuffer {
            latency: 0,
            channels: AudioPortBufferType::f32_output_only(
                played.audio.iter_mut().map(Vec::as_mut_slice),
            ),
        }]);
        let plugin = self.plugin.as_mut().context("already stopped")?;
        plugin.ensure_processing_started()?.process(
            &inputs,
            &mut outputs,
            &self.input.as_input(),
            &mut self.output.as_output(),
            Some(self.steady),
            transport.as_ref(),
        )?;
        self.steady += u64::from(block.frames);
        played.notes.clear();
        for event in &self.output {
            let frame = event.header().time();
            if frame >= block.frames {
                bail!("an event at sample {frame} of {}", block.frames);
            }
            if let Some(event) = event.as_core_event()
                && let Some(note) = note_of(frame, event)?
            {
                played.notes.push(note);
            }
        }
        Ok(())
    }
}

impl ClapProcessor {
    pub fn new(
        plugin: PluginAudioProcessor<Handlers>,
        ranges: Vec<(u32, f64, f64)>,
        sample_rate_hz: f64,
    ) -> ClapProcessor {
        ClapProcessor {
            plugin: Some(plugin),
            ranges,
            sample_rate_hz,
            input: EventBuffer::new(),
            output: EventBuffer::new(),
            input_ports: AudioPorts::with_capacity(0, 0),
            output_ports: AudioPorts::with_capacity(2, 1),
            steady: 0,
        }
    }

    fn fill_input(&mut self, block: &Block) -> Result<()> {
        self.input.clear();
        for change in block.params {
            let (_, min, max) = *self
                .ranges
                .iter()
                .find(|(id, ..)| *id == change.id)
                .with_context(|| format!("no parameter {}", change.id))?;
            let id = ClapId::from_raw(change.id).context("not a parameter number")?;
            let value = min + change.value * (max - min);
            self.input.push(&ParamValueEvent::new(
                change.frame,
                id,
                Pckn::match_all(),
                value,
            ));
        }
        for note in block.notes {
            let place = Pckn::from_raw(0, note.channel.into(), note.key.into(), -1);
            if note.on {
                self.input
                    .push(&NoteOnEvent::new(note.frame, place, note.velocity));
            } else {
                self.input
                    .push(&NoteOffEvent::new(note.frame, place, note.velocity));
            }
        }
        self.input.sort();
        Ok(())
    }
}

impl Drop for ClapProcessor {
    fn drop(&mut self) {
        if let Some(plugin) = self.plugin.take() {
            drop(plugin.into_stopped());
        }
    }
}

/// The notes among what the plugin sends; anything else is none.
fn note_of(frame: u32, event: CoreEventSpace) -> Result<Option<Note>> {
    let note = |on, place: Pckn, velocity| {
        let number = |raw: i16| u8::try_from(raw).map_err(|_| anyhow!("a note for all: {place:?}"));
        anyhow::Ok(Some(Note {
            frame,
            on,
            channel: number(place.raw_channel())?,
            key: number(place.raw_key())?,
            velocity,
        }))
    };
    match event {
        CoreEventSpace::NoteOn(event) => note(true, event.pckn(), event.velocity()),
        CoreEventSpace::NoteOff(event) => note(false, event.pckn(), event.velocity()),
        CoreEventSpace::Midi(event) => {
            // Status bytes of the MIDI 1.0 specification; a note-on with
            // velocity 0 is a note-off.
            let [status, key, velocity] = event.data();
            let on = match status & 0xf0 {
                0x90 => velocity > 0,
                0x80 => false,
                _ => return Ok(None),
            };
            Ok(Some(Note {
                frame,
                on,
                channel: status & 0x0f,
                key,
                velocity: f64::from(velocity) / 127.0,
            }))
        }
        _ => Ok(None),
    }
}

fn transport_event(transport: Transport, sample_rate_hz: f64) -> TransportEvent {
    let mut flags = TransportFlags::HAS_TEMPO | TransportFlags::HAS_TIME_SIGNATURE;
    flags.set(TransportFlags::HAS_BEATS_TIMELINE, transport.tells_beats);
    let song_pos_beats = if transport.tells_beats {
        BeatTime::from_float(transport.position_beats)
    } else {
        BeatTime::default()
    };
    let song_pos_seconds = match transport.song {
        SongTime::At(samples) => {
            flags |= TransportFlags::HAS_SECONDS_TIMELINE;
            SecondsTime::from_float(samples / sample_rate_hz)
        }
        SongTime::FromBeats | SongTime::Absent => SecondsTime::default(),
    };
    flags.set(TransportFlags::IS_PLAYING, transport.playing);
    flags.set(TransportFlags::IS_LOOP_ACTIVE, transport.cycle.is_some());
    let (start, end) = transport.cycle.unwrap_or_default();
    let (beats, value) = transport.meter;
    let bar_beats = f64::from(beats) * 4.0 / f64::from(value);
    let bar = (transport.position_beats / bar_beats).floor();
    TransportEvent {
        header: Default::default(),
        flags,
        song_pos_beats,
        song_pos_seconds,
        tempo: transport.tempo_bpm,
        tempo_inc: 0.0,
        loop_start_beats: BeatTime::from_float(start),
        loop_end_beats: BeatTime::from_float(end),
        loop_start_seconds: SecondsTime::default(),
        loop_end_seconds: SecondsTime::default(),
        bar_start: BeatTime::from_float(bar * bar_beats),
        bar_number: bar as i32,
        time_signature_numerator: beats,
        time_signature_denominator: value,
    }
}
