//! Nothing that can be played exceeds -1 dB: neither a sample nor, measured after
//! ITU-R BS.1770, the signal between samples.

use crate::sound_support;

use barform_play::sound::{CEILING_DBFS, Mixer, TRUE_PEAK_LIMIT_DBTP};
use barform_score::music::Articulation;
use ebur128::{EbuR128, Mode};
use proptest::prelude::*;
use sound_support::{Audio, RATE_HZ, all_strokes, render, set, velocity};

fn db(share: f64) -> f64 {
    20.0 * share.log10()
}

fn true_peak_dbtp(audio: &Audio, rate_hz: f64) -> f64 {
    let mut meter = EbuR128::new(2, rate_hz as u32, Mode::TRUE_PEAK).expect("a common rate");
    meter
        .add_frames_planar_f32(&[&audio.left, &audio.right])
        .expect("equal lengths");
    let peak = |channel| meter.true_peak(channel).expect("true-peak mode");
    db(peak(0).max(peak(1)))
}

/// Plays strokes, each at a frame, at full force.
fn pile(strokes: &[(usize, usize)], gain_db: f32, rate_hz: f64) -> Audio {
    let all = all_strokes();
    let mut mixer = Mixer::new(set(rate_hz));
    mixer.set_gain_db(gain_db);
    render(&mut mixer, (0.03 * rate_hz) as usize);
    let mut audio = Audio {
        left: Vec::new(),
        right: Vec::new(),
    };
    let mut run = |mixer: &mut Mixer, frames: usize| {
        let block = render(mixer, frames);
        audio.left.extend(block.left);
        audio.right.extend(block.right);
    };
    let mut now = 0;
    for (frame, index) in strokes {
        run(&mut mixer, frame - now);
        now = *frame;
        let (voice, articulation) = all[*index];
        mixer.trigger(voice, articulation, velocity(127));
    }
    run(&mut mixer, (0.08 * rate_hz) as usize);
    audio
}

fn stays_below(audio: &Audio, rate_hz: f64) -> Result<(), TestCaseError> {
    let sample_db = db(f64::from(audio.peak()));
    prop_assert!(sample_db <= f64::from(CEILING_DBFS), "{sample_db} dBFS");
    prop_assert!(sample_db <= -1.0);
    let true_db = true_peak_dbtp(audio, rate_hz);
    prop_assert!(true_db <= TRUE_PEAK_LIMIT_DBTP, "{true_db} dBTP");
    Ok(())
}

#[test]
fn sixty_four_of_a_kind_at_once_stay_below() {
    for rate_hz in [RATE_HZ, 96_000.0] {
        let _kept = set(rate_hz);
        for index in 0..all_strokes().len() {
            for gain_db in [0.0, 24.0] {
                let audio = pile(&vec![(0, index); 64], gain_db, rate_hz);
                assert!(
                    stays_below(&audio, rate_hz).is_ok(),
                    "{:?}",
                    all_strokes()[index]
                );
            }
        }
    }
}

#[test]
fn an_ordinary_bar_is_not_touched() {
    use barform_score::music::Voice::{Crash, Hat, Kick, Snare};
    // Kick, snare and hi-hat together at the velocity of a normal stroke, and a
    // crash with a kick: below the knee, so gain and mix are exactly linear.
    for strokes in [&[Kick, Snare, Hat][..], &[Crash, Kick]] {
        let play = |gain_db: f32| {
            let mut mixer = Mixer::new(set(RATE_HZ));
            mixer.set_gain_db(gain_db);
            render(&mut mixer, 2_000);
            for voice in strokes {
                mixer.trigger(*voice, Articulation::Plain, velocity(84));
            }
            render(&mut mixer, 24_000)
        };
        let (plain, soft) = (play(0.0), play(-20.0));
        let same = plain
            .samples()
            .zip(soft.samples())
            .all(|(p, s)| (p - 10.0 * s).abs() < 2e-6);
        assert!(same, "{strokes:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_sixty_four_at_once_stay_below(
        indices in prop::collection::vec(0..all_strokes().len(), 64),
        gain_db in -12.0_f32..24.0,
    ) {
        let strokes: Vec<_> = indices.into_iter().map(|index| (0, index)).collect();
        stays_below(&pile(&strokes, gain_db, RATE_HZ), RATE_HZ)?;
    }

    #[test]
    fn any_hail_of_strokes_stays_below(
        mut strokes in prop::collection::vec((0..6_000_usize, 0..all_strokes().len()), 1..200),
        gain_db in -12.0_f32..24.0,
    ) {
        strokes.sort();
        stays_below(&pile(&strokes, gain_db, RATE_HZ), RATE_HZ)?;
    }
}
