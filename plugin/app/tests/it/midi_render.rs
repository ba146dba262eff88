//! Offline audio: the same for any split into blocks, as long as it says, and
//! in step with the MIDI file.

use barform_app::export::Options;
use barform_app::export::render::{RenderError, Rendering};
use barform_app::player::Mute;
use barform_app::score::Score;
use barform_app::timeline::Timeline;
use std::sync::Arc;

const RATE_HZ: f64 = 48_000.0;

fn timeline(form: &str, sticking: &str) -> Arc<Timeline> {
    let text = format!(
        "barform = 1\ntempo = 120\nform = \"{form}\"\n[cell.A]\ngrid = \"2 2\"\n\
         sticking = \"{sticking}\"\n"
    );
    let score = Score::parse(&text, "test").unwrap();
    Arc::new(Timeline::compile(&score).unwrap())
}

fn rendering(timeline: &Arc<Timeline>, options: &Options, tail_s: Option<f64>) -> Rendering {
    Rendering::new(timeline, options, RATE_HZ, tail_s).unwrap()
}

/// All frames, left and right one after the other, in blocks of these lengths.
fn take(mut rendering: Rendering, blocks: &[usize]) -> Vec<(f32, f32)> {
    let frames = rendering.frames() as usize;
    let mut all = Vec::with_capacity(frames);
    for block in blocks.iter().cycle() {
        let length = (*block).min(frames - all.len());
        if length == 0 {
            break;
        }
        let (mut left, mut right) = (vec![0.0; length], vec![0.0; length]);
        rendering.fill(&mut left, &mut right);
        all.extend(left.into_iter().zip(right));
    }
    all
}

fn first_sound(audio: &[(f32, f32)]) -> Option<usize> {
    audio.iter().position(|(l, r)| *l != 0.0 || *r != 0.0)
}

#[test]
fn any_split_into_blocks_gives_the_same_audio() {
    let timeline = timeline("A A", "lR> L Rz llL");
    let options = Options {
        passes: 2,
        empty_bars: 1,
        mute: Mute::default(),
        ..Options::default()
    };
    let whole = take(rendering(&timeline, &options, None), &[100_000_000]);
    assert!(first_sound(&whole).is_some());
    for blocks in [&[1024][..], &[1, 7, 333, 8192], &[64]] {
        assert!(
            take(rendering(&timeline, &options, None), blocks) == whole,
            "{blocks:?}"
        );
    }
}

#[test]
fn the_form_starts_where_the_lead_ends() {
    let timeline = timeline("A A", "R - - -");
    for bars in 0..3 {
        let options = Options {
            empty_bars: bars,
            ..Options::default()
        };
        let audio = take(rendering(&timeline, &options, Some(0.0)), &[4096]);
        // Two seconds a bar; a stroke speaks within a millisecond.
        let due = bars as usize * 96_000;
        let heard = first_sound(&audio).unwrap();
        assert!((due..due + 48).contains(&heard), "{heard}");
        assert_eq!(audio.len(), due + 96_000);
    }
}

#[test]
fn the_click_counts_in() {
    let timeline = timeline("A A", "- - - -");
    let options = Options {
        empty_bars: 1,
        mute: Mute::default(),
        ..Options::default()
    };
    let audio = take(rendering(&timeline, &options, Some(0.0)), &[4096]);
    assert!(first_sound(&audio).unwrap() < 48);
    let silent = Options {
        empty_bars: 1,
        ..Options::default()
    };
    assert_eq!(
        first_sound(&take(rendering(&timeline, &silent, Some(0.0)), &[4096])),
        None
    );
}

#[test]
fn the_last_pass_ends_without_the_next_ones_grace_notes() {
    // A flam on the first beat: between passes its grace note sounds before the
    // bar line, after the last pass there is nothing to be graced.
    let timeline = timeline("A A", "lR - - -");
    let quiet_end = |passes| {
        let options = Options {
            passes,
            ..Options::default()
        };
        let audio = take(rendering(&timeline, &options, Some(0.0)), &[4096]);
        let grace = audio.len() - 1200;
        audio[grace..]
            .iter()
            .all(|(l, r)| l.abs() < 1e-4 && r.abs() < 1e-4)
    };
    assert!(quiet_end(1) && quiet_end(3));
}

#[test]
fn without_a_tail_asked_for_the_kit_rings_out_and_no_longer() {
    let timeline = timeline("A A", "- - - R>z");
    let mut rendering = rendering(&timeline, &Options::default(), None);
    let frames = rendering.frames() as usize;
    assert!(frames > 96_000);
    let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
    rendering.fill(&mut left, &mut right);
    // Behind the end there is nothing left to cut off.
    let (mut after_left, mut after_right) = (vec![1.0; 48_000], vec![1.0; 48_000]);
    rendering.fill(&mut after_left, &mut after_right);
    assert!(after_left.iter().chain(&after_right).all(|x| *x == 0.0));
}

#[test]
fn what_cannot_be_rendered_is_refused() {
    let timeline = timeline("(A)x999", "R R R R");
    let with = |options: &Options, rate, tail| Rendering::new(&timeline, options, rate, tail).err();
    let base = Options::default();
    assert!(matches!(
        with(&base, 1.0, None),
        Some(RenderError::Sound(_))
    ));
    assert!(matches!(
        with(&base, RATE_HZ, Some(-1.0)),
        Some(RenderError::Option(_))
    ));
    assert!(matches!(
        with(&base, RATE_HZ, Some(f64::NAN)),
        Some(RenderError::Option(_))
    ));
    let none = Options {
        passes: 0,
        ..Options::default()
    };
    assert!(matches!(
        with(&none, RATE_HZ, None),
        Some(RenderError::Option(_))
    ));
    // 999 seconds a pass are more than a day in a hundred passes.
    let long = Options {
        passes: 100,
        ..Options::default()
    };
    assert!(matches!(
        with(&long, RATE_HZ, None),
        Some(RenderError::TooLong)
    ));
}
