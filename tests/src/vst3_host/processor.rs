//! One block for a VST3 plugin.

use anyhow::{Context, Result, bail};
use vst3::Steinberg::Vst::{
    AudioBusBuffers, AudioBusBuffers__type0, Chord, FrameRate, IAudioProcessor,
    IAudioProcessorTrait, IEventList, IParameterChanges, ProcessContext,
    ProcessContext_::StatesAndFlags_, ProcessData, ProcessModes, SymbolicSampleSizes_,
};
use vst3::{ComPtr, ComWrapper};

use super::changes::Changes;
use super::events::EventList;
use super::ok;
use crate::host::{Block, Played, Processor, SongTime, Transport};

/// The audio thread's side.
pub(super) struct Vst3Processor {
    audio: ComPtr<IAudioProcessor>,
    sample_rate_hz: f64,
    mode: ProcessModes,
    /// Samples processed so far.
    steady: i64,
}

impl Vst3Processor {
    pub fn new(
        audio: ComPtr<IAudioProcessor>,
        sample_rate_hz: f64,
        mode: ProcessModes,
    ) -> Vst3Processor {
        Vst3Processor {
            audio,
            sample_rate_hz,
            mode,
            steady: 0,
        }
    }

    fn context(&self, transport: Transport) -> ProcessContext {
        let mut state = StatesAndFlags_::kTempoValid
            | StatesAndFlags_::kTimeSigValid
            | StatesAndFlags_::kCycleValid
            | StatesAndFlags_::kContTimeValid;
        if transport.tells_beats {
            state |= StatesAndFlags_::kProjectTimeMusicValid | StatesAndFlags_::kBarPositionValid;
        }
        if transport.playing {
            state |= StatesAndFlags_::kPlaying;
        }
        if transport.cycle.is_some() {
            state |= StatesAndFlags_::kCycleActive;
        }
        let (start, end) = transport.cycle.unwrap_or_default();
        let (beats, value) = transport.meter;
        let bar_beats = f64::from(beats) * 4.0 / f64::from(value);
        let bar = (transport.position_beats / bar_beats).floor();
        let beats_per_sample = transport.tempo_bpm / (60.0 * self.sample_rate_hz);
        // What is not told is not there either.
        let told = |beats: f64| if transport.tells_beats { beats } else { 0.0 };
        let song_samples = match transport.song {
            SongTime::FromBeats => transport.position_beats / beats_per_sample,
            SongTime::At(samples) => samples,
            SongTime::Absent => 0.0,
        };
        ProcessContext {
            state,
            sampleRate: self.sample_rate_hz,
            projectTimeSamples: song_samples.round() as i64,
            systemTime: 0,
            continousTimeSamples: self.steady,
            projectTimeMusic: told(transport.position_beats),
            barPositionMusic: told(bar * bar_beats),
            cycleStartMusic: start,
            cycleEndMusic: end,
            tempo: transport.tempo_bpm,
            timeSigNumerator: beats.into(),
            timeSigDenominator: value.into(),
            chord: Chord {
                keyNote: 0,
                rootNote: 0,
                chordMask: 0,
            },
            smpteOffsetSubframes: 0,
            frameRate: FrameRate {
                framesPerSecond: 0,
                flags: 0,
            },
            samplesToNextClock: 0,
        }
    }
}

impl Processor for Vst3Processor {
    fn process(&mut self, block: &Block, played: &mut Played) -> Result<()> {
        for channel in &mut played.audio {
            // What the plugin leaves as it was shows in the result.
            channel.clear();
            channel.resize(block.frames as usize, f32::NAN);
        }
        let mut channels = played.audio.each_mut().map(|channel| channel.as_mut_ptr());
        let mut output = AudioBusBuffers {
            numChannels: 2,
            silenceFlags: 0,
            __field0: AudioBusBuffers__type0 {
                channelBuffers32: channels.as_mut_ptr(),
            },
        };
        let notes_in = ComWrapper::new(EventList::of(block.notes));
        let notes_out = ComWrapper::new(EventList::default());
        let changes = ComWrapper::new(Changes::of(block.params));
        let list = |events: &ComWrapper<EventList>| {
            let list = events.as_com_ref::<IEventList>();
            list.map_or(std::ptr::null_mut(), |list| list.as_ptr())
        };
        let params = changes
            .as_com_ref::<IParameterChanges>()
            .context("no changes")?;
        let mut context = block.transport.map(|transport| self.context(transport));
        let mut data = ProcessData {
            processMode: self.mode as i32,
            symbolicSampleSize: SymbolicSampleSizes_::kSample32 as i32,
            numSamples: i32::try_from(block.frames)?,
            numInputs: 0,
            numOutputs: 1,
            inputs: std::ptr::null_mut(),
            outputs: &mut output,
            inputParameterChanges: params.as_ptr(),
            outputParameterChanges: std::ptr::null_mut(),
            inputEvents: list(&notes_in),
            outputEvents: list(&notes_out),
            processContext: context.as_mut().map_or(std::ptr::null_mut(), |c| c),
        };
        // SAFETY: everything `data` points to outlives the call, and the
        // buffers hold `numSamples` samples each.
        ok(unsafe { self.audio.process(&mut data) }, "process")?;
        self.steady += i64::from(block.frames);
        played.notes = notes_out.notes()?;
        if let Some(late) = played.notes.iter().find(|n| n.frame >= block.frames) {
            bail!("an event at sample {} of {}", late.frame, block.frames);
        }
        Ok(())
    }
}
