//! The notes of a SoundFont as finished one-shots.

use super::{FontError, Preset, SoundFont};
use barform_score::music::{Key, Velocity};
use rustysynth::{InstrumentRegion, LoopMode, PresetRegion, Synthesizer, SynthesizerSettings};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Longest sound of one stroke, seconds: longer than a large cymbal rings.
pub const MAX_SHOT_S: f64 = 12.0;

/// Seconds a key is held. What still sounds then is a loop that waits for its
/// key to be let go.
const HOLD_S: f64 = 6.0;

/// Seconds over which a sound of full length fades.
const CUT_FADE_S: f64 = 0.5;

/// Seconds of quiet after which a sound is over, or was never there.
const QUIET_S: f64 = 0.5;

/// What counts as quiet, share of full scale: -100 dB.
const QUIET: f32 = 1e-5;

/// Memory granted to the notes of one kit, MiB.
const MAX_MIB: usize = 768;

/// Sample rates the synthesiser accepts, hertz.
const RATES_HZ: std::ops::RangeInclusive<u32> = 16_000..=192_000;

/// Frames at a time in the synthesiser, which moves its envelopes once in each.
const BLOCK: usize = 32;

/// A note that sounds.
#[derive(Debug)]
pub(super) struct Shot {
    pub left: Vec<f32>,
    pub right: Vec<f32>,
    /// Notes of one class other than 0 stop each other.
    pub class: u16,
}

/// The notes of one preset at one sample rate.
#[derive(Debug)]
pub struct FontShots {
    rate_hz: u32,
    shots: BTreeMap<(Key, Velocity), Shot>,
    missing: Vec<Key>,
}

impl FontShots {
    /// Plays each note once and keeps what is heard, from its first frame on.
    /// Takes a moment; never on an audio thread.
    ///
    /// # Errors
    /// [`FontError`] for a rate outside 16000 to 192000 Hz, and for notes that
    /// need too much memory.
    pub fn build(
        font: &SoundFont,
        preset: &Preset,
        rate_hz: u32,
        notes: impl IntoIterator<Item = (Key, Velocity)>,
    ) -> Result<FontShots, FontError> {
        if !RATES_HZ.contains(&rate_hz) {
            return Err(FontError::Rate(rate_hz));
        }
        let number = (preset.bank, preset.program);
        font.zones.check(number)?;
        let mut built = FontShots {
            rate_hz,
            shots: BTreeMap::new(),
            missing: Vec::new(),
        };
        let mut frames = 0_usize;
        for (key, velocity) in notes {
            if built.shots.contains_key(&(key, velocity)) {
                continue;
            }
            // See `SoundFont::read` on panics. What may run away is left out
            // beforehand.
            let sound = || play(font, preset, rate_hz, key, velocity);
            let class = font.zones.class(number, key.number(), velocity.value());
            let heard = catch_unwind(AssertUnwindSafe(sound)).ok().flatten();
            let (Some(class), Some((left, right))) = (class, heard) else {
                if !built.missing.contains(&key) {
                    built.missing.push(key);
                }
                continue;
            };
            frames += left.len();
            if frames.saturating_mul(2 * size_of::<f32>()) > MAX_MIB << 20 {
                return Err(FontError::TooMuch(MAX_MIB));
            }
            let shot = Shot { left, right, class };
            built.shots.insert((key, velocity), shot);
        }
        built.missing.sort();
        Ok(built)
    }

    /// The sample rate, hertz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Keys that were asked for and do not sound.
    pub fn missing(&self) -> &[Key] {
        &self.missing
    }

    /// Frames a note rings; `None` if the preset has no sound for it.
    pub fn frames(&self, key: Key, velocity: Velocity) -> Option<usize> {
        self.shot(key, velocity).map(|shot| shot.left.len())
    }

    pub(super) fn shot(&self, key: Key, velocity: Velocity) -> Option<&Shot> {
        self.shots.get(&(key, velocity))
    }
}

/// One note from its start until it has died away; `None` for silence.
fn play(
    font: &SoundFont,
    preset: &Preset,
    rate_hz: u32,
    key: Key,
    velocity: Velocity,
) -> Option<(Vec<f32>, Vec<f32>)> {
    let (key, velocity) = (i32::from(key.number()), i32::from(velocity.value()));
    if !stays_inside(font, preset, rate_hz, key, velocity) {
        return None;
    }
    let mut settings = SynthesizerSettings::new(i32::try_from(rate_hz).ok()?);
    settings.block_size = BLOCK;
    settings.enable_reverb_and_chorus = false;
    let mut synth = Synthesizer::new(&font.font, &settings).ok()?;
    let (bank, program) = (i32::from(preset.bank), i32::from(preset.program));
    // The percussion channel counts its banks from 128.
    let (channel, bank) = match bank.checked_sub(128).filter(|b| *b >= 0) {
        Some(bank) => (Synthesizer::PERCUSSION_CHANNEL as i32, bank),
        None => (0, bank),
    };
    synth.set_master_volume(1.0);
    for (controller, value) in [
        (0x00, bank),
        (0x07, 127),
        (0x27, 127),
        (0x0B, 127),
        (0x2B, 127),
    ] {
        synth.process_midi_message(channel, 0xB0, controller, value);
    }
    synth.process_midi_message(channel, 0xC0, program, 0);
    synth.note_on(channel, key, velocity);

    let frames = |seconds: f64| (seconds * f64::from(rate_hz)) as usize;
    let (hold, most, quiet) = (frames(HOLD_S), frames(MAX_SHOT_S), frames(QUIET_S));
    let (mut left, mut right) = (Vec::new(), Vec::new());
    let (mut last_loud, mut held) = (None, true);
    while left.len() < most {
        if held && left.len() >= hold {
            synth.note_off(channel, key);
            held = false;
        }
        let (mut l, mut r) = ([0.0_f32; BLOCK], [0.0_f32; BLOCK]);
        synth.render(&mut l, &mut r);
        let finite = l.iter().chain(&r).all(|x| x.is_finite());
        if !finite {
            return None;
        }
        let loud = |n: &usize| l[*n].abs() > QUIET || r[*n].abs() > QUIET;
        if let Some(n) = (0..BLOCK).rev().find(loud) {
            last_loud = Some(left.len() + n);
        }
        left.extend_from_slice(&l);
        right.extend_from_slice(&r);
        if left.len() - last_loud.unwrap_or(0) > quiet {
            break;
        }
    }
    let length = (last_loud? + 1).min(most);
    for channel in [&mut left, &mut right] {
        channel.truncate(length);
        channel.shrink_to_fit();
        let fade = frames(CUT_FADE_S).min(length);
        if length + BLOCK > most {
            for (n, x) in channel.iter_mut().rev().take(fade).enumerate() {
                *x *= n as f32 / fade as f32;
            }
        }
    }
    Some((left, right))
}

/// Whether no zone of a note can read outside of its sample: the synthesiser
/// goes back by one length of a loop at most once a frame, so a pitch must not
/// be able to step over a whole loop.
fn stays_inside(font: &SoundFont, preset: &Preset, rate_hz: u32, key: i32, velocity: i32) -> bool {
    let is = |p: &&rustysynth::Preset| {
        (p.get_bank_number(), p.get_patch_number())
            == (i32::from(preset.bank), i32::from(preset.program))
    };
    let font = &font.font;
    // Of several with one number the last plays.
    let Some(preset) = font.get_presets().iter().rev().find(is) else {
        return false;
    };
    let outer = preset.get_regions().iter();
    outer.filter(|o| o.contains(key, velocity)).all(|outer| {
        let instrument = font.get_instruments().get(outer.get_instrument_id());
        let inner = instrument.map_or(&[][..], |i| i.get_regions()).iter();
        inner.filter(|i| i.contains(key, velocity)).all(|inner| {
            let sample = font.get_sample_headers().get(inner.get_sample_id());
            let sample_rate = sample.map_or(0, |s| s.get_sample_rate());
            if !(1..=1_000_000).contains(&sample_rate) {
                return false;
            }
            let highest = f64::from(sample_rate) / f64::from(rate_hz)
                * (highest_shift(outer, inner, key) / 12.0).exp2();
            let length = inner.get_sample_end_loop() - inner.get_sample_start_loop();
            let looped = inner.get_sample_modes() != LoopMode::NoLoop && length > 0;
            highest < 65_536.0 && !(looped && highest > f64::from(length))
        })
    })
}

/// By how many semitones a zone may be raised at most.
fn highest_shift(outer: &PresetRegion, inner: &InstrumentRegion, key: i32) -> f64 {
    // Envelope and oscillators stay within ±1; a little more for rounding.
    let swing = |outer: i32, inner: i32| 0.0101 * f64::from((outer + inner).abs());
    let moved = swing(
        outer.get_vibrato_lfo_to_pitch(),
        inner.get_vibrato_lfo_to_pitch(),
    ) + swing(
        outer.get_modulation_lfo_to_pitch(),
        inner.get_modulation_lfo_to_pitch(),
    ) + swing(
        outer.get_modulation_envelope_to_pitch(),
        inner.get_modulation_envelope_to_pitch(),
    );
    let scale = 0.01 * f64::from(outer.get_scale_tuning() + inner.get_scale_tuning());
    let tune = f64::from(outer.get_coarse_tune() + inner.get_coarse_tune())
        + 0.01 * f64::from(outer.get_fine_tune() + inner.get_fine_tune());
    scale * f64::from(key - inner.get_root_key()) + scale.abs() * moved + tune
}
