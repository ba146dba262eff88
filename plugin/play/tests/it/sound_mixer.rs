//! The mixer: splitting, choking, stealing, gain.

use crate::sound_support;

use barform_play::sound::{MAX_STRIKES, Mixer};
use barform_score::music::Articulation::{Choke, Half, Open, Plain};
use barform_score::music::{Articulation, Voice};
use proptest::prelude::*;
use sound_support::{Audio, RATE_HZ, all_strokes, render, set, stroke, velocity};

/// Rounding of a few sums in `f32` near 0.5.
const ROUNDING: f32 = 1e-6;

/// Seconds of a steal's fade, as [`Mixer::trigger`] promises.
const STEAL_FADE_S: f64 = 0.008;

fn frames(seconds: f64) -> usize {
    (seconds * RATE_HZ) as usize
}

/// What is left of `first`, `gap_s` after it, once `second` has been struck: the
/// mix less `second` alone.
fn first_after_second(
    first: (Voice, Articulation),
    second: (Voice, Articulation),
    gap_s: f64,
) -> Audio {
    let set = set(RATE_HZ);
    let mut mixer = Mixer::new(set.clone());
    mixer.trigger(first.0, first.1, velocity(60));
    render(&mut mixer, frames(gap_s));
    mixer.trigger(second.0, second.1, velocity(60));
    let both = render(&mut mixer, frames(1.0));
    let alone = stroke(&set, second, 60, frames(1.0));
    both.minus(&alone)
}

#[test]
fn closing_the_hats_silences_them_smoothly() {
    for ringing in [
        (Voice::Hat, Open),
        (Voice::Hat, Half),
        (Voice::HatFoot, Open),
    ] {
        for closing in [(Voice::Hat, Plain), (Voice::HatFoot, Plain)] {
            let left = first_after_second(ringing, closing, 0.05);
            assert!(
                left.from(frames(0.061)).peak() < ROUNDING,
                "{ringing:?} {closing:?}"
            );
            // Not cut off: for the first few milliseconds it still rings.
            assert!(left.peak() > 1e-3, "{ringing:?} {closing:?}");
        }
    }
    let left = first_after_second((Voice::Hat, Open), (Voice::Hat, Half), 0.05);
    assert!(left.from(frames(0.061)).peak() < ROUNDING);
}

#[test]
fn an_open_stroke_lets_the_hats_ring() {
    let left = first_after_second((Voice::Hat, Open), (Voice::Snare, Plain), 0.05);
    assert!(left.from(frames(0.1)).peak() > 1e-3);
}

#[test]
fn a_choked_stroke_stops_itself_and_what_its_cymbal_rings() {
    let cymbals = [
        Voice::Ride,
        Voice::Crash,
        Voice::Crash2,
        Voice::Splash,
        Voice::China,
    ];
    for voice in cymbals {
        let set = set(RATE_HZ);
        let choked = stroke(&set, (voice, Choke), 100, frames(1.0));
        let plain = stroke(&set, (voice, Plain), 100, frames(1.0));
        // The stick is heard as ever, then the hand takes the ring away.
        let start = frames(0.04);
        assert_eq!(choked.left[..start], plain.left[..start], "{voice:?}");
        assert!(choked.from(frames(0.22)).peak() == 0.0, "{voice:?}");

        let mut mixer = Mixer::new(set);
        mixer.trigger(voice, Plain, velocity(100));
        render(&mut mixer, frames(0.1));
        mixer.trigger(voice, Choke, velocity(60));
        render(&mut mixer, frames(0.22));
        assert!(!mixer.is_sounding(), "{voice:?}");
    }
}

#[test]
fn a_choke_leaves_other_cymbals_alone() {
    let mut mixer = Mixer::new(set(RATE_HZ));
    mixer.trigger(Voice::Crash2, Plain, velocity(100));
    mixer.trigger(Voice::Crash, Choke, velocity(100));
    render(&mut mixer, frames(0.5));
    assert!(mixer.is_sounding());
}

#[test]
fn strokes_on_one_cymbal_overlap() {
    for voice in [Voice::Ride, Voice::Crash, Voice::China] {
        let ring = first_after_second((voice, Plain), (voice, Plain), 0.25);
        let alone = stroke(&set(RATE_HZ), (voice, Plain), 60, frames(1.25)).from(frames(0.25));
        assert!(ring.minus(&alone).peak() < ROUNDING, "{voice:?}");
    }
}

#[test]
fn a_steal_fades_without_a_step() {
    let set = set(RATE_HZ);
    let fill = || {
        let mut mixer = Mixer::new(set.clone());
        for _ in 0..MAX_STRIKES {
            mixer.trigger(Voice::Ride, Plain, velocity(1));
        }
        // The one to be stolen: softer than the rest by now, as it is older.
        render(&mut mixer, frames(0.02));
        mixer
    };
    let (mut kept, mut stolen) = (fill(), fill());
    stolen.trigger(Voice::Cowbell, Plain, velocity(1));
    let length = frames(0.1);
    let bell = stroke(&set, (Voice::Cowbell, Plain), 1, length);
    let change = render(&mut stolen, length)
        .minus(&render(&mut kept, length))
        .minus(&bell);
    let victim = stroke(&set, (Voice::Ride, Plain), 1, frames(0.02) + length).from(frames(0.02));
    // What goes missing starts from nothing and ends as the whole victim.
    assert!(change.left[0].abs() < ROUNDING && change.right[0].abs() < ROUNDING);
    let fade = frames(STEAL_FADE_S);
    for (change, victim) in [(&change.left, &victim.left), (&change.right, &victim.right)] {
        let peak = victim.iter().fold(0.0_f32, |p, x| p.max(x.abs()));
        let own = victim
            .windows(2)
            .fold(0.0_f32, |p, x| p.max((x[1] - x[0]).abs()));
        // The fade itself moves by at most 3/length of the level per sample.
        let bound = 3.0 / fade as f32 * peak + own + ROUNDING;
        assert!(change.windows(2).all(|x| (x[1] - x[0]).abs() <= bound));
        let gone = change[fade..].iter().zip(&victim[fade..]);
        assert!(gone.into_iter().all(|(c, v)| (c + v).abs() < ROUNDING));
    }
}

#[test]
fn the_quietest_is_stolen() {
    let set = set(RATE_HZ);
    let mut mixer = Mixer::new(set.clone());
    mixer.trigger(Voice::Crash, Plain, velocity(127));
    for _ in 1..MAX_STRIKES {
        mixer.trigger(Voice::Ride, Plain, velocity(1));
    }
    render(&mut mixer, 64);
    for _ in 1..MAX_STRIKES {
        mixer.trigger(Voice::Ride, Plain, velocity(1));
        render(&mut mixer, 480);
    }
    // The crash, oldest of all, is still there.
    let start = 64 + 480 * (MAX_STRIKES - 1);
    let crash = stroke(&set, (Voice::Crash, Plain), 127, start + 4_800).from(start);
    let mix = render(&mut mixer, 4_800);
    assert!(
        mix.energy() > 0.7 * crash.energy(),
        "{} {}",
        mix.energy(),
        crash.energy()
    );
}

#[test]
fn more_strokes_than_there_is_room_for_are_survived() {
    let mut mixer = Mixer::new(set(RATE_HZ));
    for round in 0..40 {
        for (voice, articulation) in all_strokes() {
            mixer.trigger(voice, articulation, velocity(127));
        }
        let audio = render(&mut mixer, round);
        assert!(audio.samples().all(f32::is_finite));
    }
}

#[test]
fn silence_is_written_not_left() {
    let mut mixer = Mixer::new(set(RATE_HZ));
    // `render` hands over blocks full of nines.
    assert_eq!(render(&mut mixer, 512).peak(), 0.0);
    let (mut left, mut right) = ([1.0; 8], [1.0; 5]);
    mixer.trigger(Voice::Click, Plain, velocity(127));
    mixer.render(&mut left, &mut right);
    assert_eq!(left[5..], [0.0; 3]);
}

#[test]
fn gain_scales_and_moves_without_a_step() {
    let set = set(RATE_HZ);
    let plain = stroke(&set, (Voice::Ride, Plain), 84, frames(0.5));
    let mut mixer = Mixer::new(set.clone());
    mixer.set_gain_db(-20.0);
    render(&mut mixer, frames(0.03));
    mixer.trigger(Voice::Ride, Plain, velocity(84));
    let soft = render(&mut mixer, frames(0.5));
    assert!(
        soft.samples()
            .zip(plain.samples())
            .all(|(s, p)| (10.0 * s - p).abs() < 1e-5)
    );

    let mut mixer = Mixer::new(set);
    mixer.trigger(Voice::Ride, Plain, velocity(84));
    mixer.set_gain_db(f32::NAN);
    let fading = render(&mut mixer, frames(0.5));
    let gains = fading
        .left
        .iter()
        .zip(&plain.left)
        .filter(|(_, p)| p.abs() > 1e-3);
    let gains: Vec<f32> = gains.map(|(f, p)| f / p).collect();
    // 20 ms to silence, downwards all the way.
    assert!(gains.windows(2).all(|g| g[1] <= g[0] + 1e-3) && gains[0] > 0.95);
    assert_eq!(fading.from(frames(0.02) + 1).peak(), 0.0);
}

#[test]
fn fading_out_takes_eight_milliseconds_and_silence_none() {
    let mut mixer = Mixer::new(set(RATE_HZ));
    let strike = |mixer: &mut Mixer| {
        mixer.trigger(Voice::Crash, Plain, velocity(100));
        render(mixer, 1_000);
    };
    strike(&mut mixer);
    mixer.fade_out();
    render(&mut mixer, frames(STEAL_FADE_S));
    assert!(!mixer.is_sounding());
    strike(&mut mixer);
    mixer.silence();
    assert!(!mixer.is_sounding());
    assert_eq!(render(&mut mixer, 64).peak(), 0.0);
}

#[test]
fn after_silence_the_same_strokes_give_the_same_samples() {
    let mut mixer = Mixer::new(set(RATE_HZ));
    let mut play = || {
        let mut blocks = Vec::new();
        for value in [40, 127, 127, 90] {
            mixer.trigger(Voice::Snare, Plain, velocity(value));
            mixer.trigger(Voice::Crash, Plain, velocity(value));
            blocks.push(render(&mut mixer, 777));
        }
        mixer.silence();
        blocks
    };
    assert_eq!(play(), play());
}

#[test]
fn another_set_takes_over_and_the_old_one_comes_back() {
    let (one, other) = (set(RATE_HZ), set(22_050.0));
    let mut mixer = Mixer::new(one.clone());
    mixer.trigger(Voice::Crash, Plain, velocity(100));
    let old = mixer.set_samples(other.clone());
    assert!(std::sync::Arc::ptr_eq(&old, &one) && !mixer.is_sounding());
    mixer.trigger(Voice::Crash, Plain, velocity(100));
    assert_eq!(
        render(&mut mixer, 500),
        stroke(&other, (Voice::Crash, Plain), 100, 500)
    );
}

/// Strokes at frames of a second, with gain changes and fades among them.
fn session() -> impl Strategy<Value = Vec<(usize, usize, u8)>> {
    let strokes = all_strokes().len();
    prop::collection::vec((0..24_000_usize, 0..strokes + 2, 1..=127_u8), 1..120)
}

/// Plays a session; between events, blocks come from `sizes` in turn.
fn play(events: &[(usize, usize, u8)], sizes: &[usize]) -> Audio {
    let strokes = all_strokes();
    let mut mixer = Mixer::new(set(RATE_HZ));
    let mut audio = Audio {
        left: Vec::new(),
        right: Vec::new(),
    };
    let mut sizes = sizes.iter().cycle();
    let mut run_to = |mixer: &mut Mixer, audio: &mut Audio, end: usize| {
        while audio.left.len() < end {
            let size = sizes
                .next()
                .copied()
                .unwrap_or(1)
                .min(end - audio.left.len());
            let block = render(mixer, size);
            audio.left.extend(block.left);
            audio.right.extend(block.right);
        }
    };
    for (frame, what, value) in events {
        run_to(&mut mixer, &mut audio, *frame);
        match strokes.get(*what) {
            Some((voice, articulation)) => {
                mixer.trigger(*voice, *articulation, velocity(*value));
            }
            None if *what == strokes.len() => mixer.set_gain_db(f32::from(*value) / 10.0 - 6.0),
            None => mixer.fade_out(),
        }
    }
    run_to(&mut mixer, &mut audio, 48_000);
    audio
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_split_into_blocks_gives_the_same_samples(
        mut events in session(),
        sizes in prop::collection::vec(1..2_000_usize, 1..8),
    ) {
        events.sort();
        prop_assert!(play(&events, &sizes) == play(&events, &[48_000]));
    }
}
