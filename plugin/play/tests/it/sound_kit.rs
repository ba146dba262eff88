//! What every sound of the embedded kit must be, at every velocity and rate.

use crate::sound_support;

use barform_play::sound::{Mixer, SampleSet, SoundError};
use barform_score::music::{Articulation, Voice};
use sound_support::{RATE_HZ, all_strokes, render, rms, set, stroke, velocity};
use std::sync::Arc;

const RATES_HZ: [f64; 12] = [
    8_000.0, 11_025.0, 16_000.0, 22_050.0, 32_000.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0,
    176_400.0, 192_000.0, 384_000.0,
];

#[test]
fn every_velocity_sounds_and_a_harder_stroke_is_louder() {
    let set = set(RATE_HZ);
    for one in all_strokes() {
        let mut before = 0.0;
        for value in 1..=127 {
            let energy = stroke(&set, one, value, 4_800).energy();
            assert!(energy > 1e-7, "{one:?} at {value}: {energy}");
            assert!(
                energy > before,
                "{one:?}: {value} is no louder than {}",
                value - 1
            );
            before = energy;
        }
    }
}

/// One walk through the rates, since each builds a kit of its own.
#[test]
fn every_sound_is_right_at_every_rate() {
    let reference = set(RATE_HZ);
    for rate_hz in RATES_HZ {
        let set = set(rate_hz);
        for one in all_strokes() {
            speaks_within_a_millisecond(&set, one);
            is_clean_from_first_to_last_sample(&set, one);
            lasts_as_long_as(&reference, &set, one);
        }
    }
}

fn speaks_within_a_millisecond(set: &Arc<SampleSet>, one: (Voice, Articulation)) {
    let rate_hz = set.rate_hz();
    for value in [1, 32, 84, 127] {
        let audio = stroke(set, one, value, (0.05 * rate_hz) as usize);
        let loud = 0.1 * audio.peak();
        let frames = audio.left.iter().zip(&audio.right);
        let first = frames
            .map(|(l, r)| l.abs().max(r.abs()))
            .position(|x| x >= loud);
        let millisecond = (0.001 * rate_hz) as usize;
        assert!(
            first.is_some_and(|n| n <= millisecond),
            "{one:?} {value} {rate_hz} Hz: {first:?}"
        );
    }
}

fn is_clean_from_first_to_last_sample(set: &Arc<SampleSet>, one: (Voice, Articulation)) {
    let frames = set.frames(one.0, one.1);
    for value in [1, 127] {
        let audio = stroke(set, one, value, frames + 64);
        let name = format!("{one:?} at {value}, {} Hz", set.rate_hz());
        // Subnormal numbers are slow on many processors.
        assert!(audio.samples().all(|x| x == 0.0 || x.is_normal()), "{name}");
        for channel in [&audio.left, &audio.right] {
            let mean: f64 = channel.iter().map(|x| f64::from(*x)).sum();
            let mean = mean / channel.len() as f64;
            assert!(mean.abs() < 1e-3, "{name}: offset {mean}");
            // The end: nothing left to step down from, then exact silence.
            let end = &channel[frames.saturating_sub(8)..frames];
            assert!(
                end.iter().all(|x| x.abs() < 1e-6),
                "{name}: ends at {end:?}"
            );
            assert!(channel[frames..].iter().all(|x| *x == 0.0), "{name}");
            let quarter = frames / 4;
            let (start, tail) = (
                rms(&channel[..quarter]),
                rms(&channel[frames - quarter..frames]),
            );
            assert!(tail < start / 30.0, "{name}: {start} to {tail}");
        }
    }
}

fn lasts_as_long_as(
    reference: &Arc<SampleSet>,
    set: &Arc<SampleSet>,
    (voice, articulation): (Voice, Articulation),
) {
    let seconds = set.frames(voice, articulation) as f64 / set.rate_hz();
    let expected = reference.frames(voice, articulation) as f64 / reference.rate_hz();
    // A low rate has no high partials, and where those were most of a sound it
    // may end sooner.
    let lowest = if set.rate_hz() < 44_100.0 { 0.3 } else { 0.8 };
    let ratio = seconds / expected;
    let name = format!("{voice:?} {articulation:?}, {} Hz", set.rate_hz());
    assert!(
        (lowest..1.6).contains(&ratio),
        "{name}: {seconds} s for {expected} s"
    );
}

#[test]
fn two_builds_are_equal_bit_for_bit() {
    for rate_hz in [8_000.0, 44_100.0, RATE_HZ] {
        let (one, other) = (SampleSet::build(rate_hz), SampleSet::build(rate_hz));
        assert!(one.is_ok() && one == other, "{rate_hz}");
    }
}

#[test]
fn sets_are_shared_by_rate_and_freed_with_their_last_user() {
    let rate_hz = 12_345.0;
    let one = set(rate_hz);
    assert!(Arc::ptr_eq(&one, &set(rate_hz)));
    assert!(!Arc::ptr_eq(&one, &set(12_346.0)));
    let watch = Arc::downgrade(&one);
    drop(one);
    assert!(watch.upgrade().is_none());
    assert_eq!(set(rate_hz).rate_hz(), rate_hz);
}

#[test]
fn a_rate_out_of_range_is_refused() {
    for rate_hz in [0.0, -48_000.0, 7_999.9, 384_000.1, f64::INFINITY] {
        assert_eq!(
            SampleSet::for_rate(rate_hz).err(),
            Some(SoundError::Rate(rate_hz))
        );
    }
    assert!(SampleSet::for_rate(f64::NAN).is_err());
}

#[test]
fn articulations_of_a_voice_differ() {
    let set = set(RATE_HZ);
    for (voice, articulation) in all_strokes() {
        if articulation == Articulation::Plain {
            continue;
        }
        let plain = stroke(&set, (voice, Articulation::Plain), 100, 24_000);
        let other = stroke(&set, (voice, articulation), 100, 24_000);
        let apart = plain.minus(&other).energy();
        assert!(apart > 0.05 * plain.energy(), "{voice:?} {articulation:?}");
    }
}

#[test]
fn an_articulation_the_voice_does_not_know_is_a_plain_stroke() {
    let set = set(RATE_HZ);
    let plain = stroke(&set, (Voice::Kick, Articulation::Plain), 100, 4_800);
    assert_eq!(
        stroke(&set, (Voice::Kick, Articulation::Bell), 100, 4_800),
        plain
    );
}

#[test]
fn fast_strokes_on_one_drum_are_no_copies() {
    for voice in [
        Voice::Kick,
        Voice::Snare,
        Voice::Hat,
        Voice::Tom1,
        Voice::Tom6,
    ] {
        let mut mixer = Mixer::new(set(RATE_HZ));
        let mut next = || {
            mixer.trigger(voice, Articulation::Plain, velocity(90));
            let audio = render(&mut mixer, 4_800);
            mixer.fade_out();
            render(&mut mixer, 4_800);
            audio
        };
        let (first, second) = (next(), next());
        let apart = first.minus(&second).energy();
        assert!(apart > 1e-4 * first.energy(), "{voice:?}");
        // Alike in strength, though: a take is no accent.
        let ratio = first.energy() / second.energy();
        assert!((0.85..1.18).contains(&ratio), "{voice:?}: {ratio}");
    }
}
