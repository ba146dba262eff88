//! Pitch, brightness, decay and place of the kit's sounds against what is common
//! practice among drummers and engineers. None of these figures has a published
//! source; they are ranges that recordings of medium-sized kits fall into.

use crate::sound_support;

use barform_score::music::Articulation::{Bell, Choke, Cross, Half, Open, Plain, Rim};
use barform_score::music::{Articulation, Voice};
use sound_support::{Audio, RATE_HZ, all_strokes, centroid_hz, decay_s, set, stroke, strongest_hz};

const TOMS: [Voice; 6] = [
    Voice::Tom1,
    Voice::Tom2,
    Voice::Tom3,
    Voice::Tom4,
    Voice::Tom5,
    Voice::Tom6,
];

fn normal(voice: Voice, articulation: Articulation) -> Audio {
    stroke(
        &set(RATE_HZ),
        (voice, articulation),
        84,
        5 * RATE_HZ as usize,
    )
}

fn fall_by_60_db_s(voice: Voice, articulation: Articulation, window_s: f64) -> f64 {
    decay_s(&normal(voice, articulation).mono(), 60.0, window_s, RATE_HZ)
}

fn settled_pitch_hz(voice: Voice) -> f64 {
    let audio = normal(voice, Plain).mono();
    strongest_hz(&audio[(0.1 * RATE_HZ) as usize..], (30.0, 400.0), RATE_HZ)
}

#[test]
fn kick_is_low_and_short() {
    let hz = settled_pitch_hz(Voice::Kick);
    assert!((50.0..80.0).contains(&hz), "{hz}");
    let seconds = fall_by_60_db_s(Voice::Kick, Plain, 0.02);
    assert!((0.2..0.8).contains(&seconds), "{seconds}");
}

#[test]
fn snare_has_body_and_wires() {
    let snare = normal(Voice::Snare, Plain).mono();
    let hz = strongest_hz(&snare[2_400..], (100.0, 400.0), RATE_HZ);
    assert!((180.0..220.0).contains(&hz), "{hz}");
    // Wires: up to 8 kHz within 30 dB of the band around 2 kHz.
    let (bin_hz, powers) = sound_support::spectrum(&snare, RATE_HZ);
    let band = |low: f64, high: f64| -> f64 {
        powers[(low / bin_hz) as usize..(high / bin_hz) as usize]
            .iter()
            .sum()
    };
    assert!(band(7_000.0, 8_000.0) > 1e-3 * band(1_500.0, 2_500.0));
    let centroid = centroid_hz(&snare, RATE_HZ);
    assert!((1_000.0..5_000.0).contains(&centroid), "{centroid}");
    let seconds = fall_by_60_db_s(Voice::Snare, Plain, 0.01);
    assert!((0.15..0.5).contains(&seconds), "{seconds}");
}

#[test]
fn cross_stick_is_a_short_woody_knock() {
    let cross = normal(Voice::Snare, Cross).mono();
    let hz = centroid_hz(&cross, RATE_HZ);
    assert!((800.0..3_000.0).contains(&hz), "{hz}");
    assert!(fall_by_60_db_s(Voice::Snare, Cross, 0.005) < 0.15);
}

#[test]
fn toms_fall_in_pitch_from_first_to_sixth() {
    let pitches_hz: Vec<f64> = TOMS.map(settled_pitch_hz).to_vec();
    assert!(
        pitches_hz.windows(2).all(|p| p[1] < 0.94 * p[0]),
        "{pitches_hz:?}"
    );
    assert!((60.0..90.0).contains(&pitches_hz[5]), "{pitches_hz:?}");
    assert!((150.0..260.0).contains(&pitches_hz[0]), "{pitches_hz:?}");
    // Each falls within the stroke, too: the pitch right after it is higher.
    for (tom, settled_hz) in TOMS.into_iter().zip(&pitches_hz) {
        let audio = normal(tom, Plain).mono();
        let early = &audio[..(0.06 * RATE_HZ) as usize];
        let early_hz = strongest_hz(early, (30.0, 400.0), RATE_HZ);
        assert!(
            early_hz > 1.01 * settled_hz,
            "{tom:?}: {early_hz} then {settled_hz}"
        );
    }
}

#[test]
fn low_toms_ring_longer_than_high_ones() {
    let first = fall_by_60_db_s(Voice::Tom1, Plain, 0.02);
    let last = fall_by_60_db_s(Voice::Tom6, Plain, 0.02);
    assert!((0.3..1.0).contains(&first) && (0.7..1.8).contains(&last) && first < last);
}

#[test]
fn hats_are_bright_and_ring_by_how_far_they_are_open() {
    for articulation in [Plain, Half, Open] {
        let hz = centroid_hz(&normal(Voice::Hat, articulation).mono(), RATE_HZ);
        assert!((6_000.0..12_000.0).contains(&hz), "{articulation:?}: {hz}");
    }
    let closed = fall_by_60_db_s(Voice::Hat, Plain, 0.004);
    let half = fall_by_60_db_s(Voice::Hat, Half, 0.01);
    let open = fall_by_60_db_s(Voice::Hat, Open, 0.02);
    let foot = fall_by_60_db_s(Voice::HatFoot, Plain, 0.004);
    assert!(closed < 0.1, "{closed}");
    assert!(foot < 0.12, "{foot}");
    assert!(
        half > 2.0 * closed && open > 2.0 * half,
        "{closed} {half} {open}"
    );
    assert!((0.6..2.0).contains(&open), "{open}");
}

#[test]
fn cymbals_ring_as_long_as_their_kind() {
    for (voice, articulation, range_s) in [
        (Voice::Ride, Plain, 1.0..3.0),
        (Voice::Ride, Bell, 1.0..3.5),
        (Voice::Crash, Plain, 1.5..4.0),
        (Voice::Crash2, Plain, 1.5..4.0),
        (Voice::China, Plain, 1.0..3.0),
        (Voice::Splash, Plain, 0.4..1.2),
        (Voice::Ride, Choke, 0.05..0.3),
        (Voice::Crash, Choke, 0.05..0.3),
        (Voice::Cowbell, Plain, 0.2..0.6),
        (Voice::Click, Plain, 0.01..0.1),
    ] {
        let seconds = fall_by_60_db_s(voice, articulation, 0.01);
        assert!(
            range_s.contains(&seconds),
            "{voice:?} {articulation:?}: {seconds}"
        );
    }
}

#[test]
fn a_crash_is_brighter_than_a_china_and_darker_than_a_splash() {
    let hz = |voice| centroid_hz(&normal(voice, Plain).mono(), RATE_HZ);
    assert!(hz(Voice::China) < hz(Voice::Crash) && hz(Voice::Crash) < hz(Voice::Splash));
    assert!(hz(Voice::Crash2) < hz(Voice::Crash));
}

#[test]
fn a_harder_stroke_is_brighter_not_only_louder() {
    let set = set(RATE_HZ);
    for one in all_strokes() {
        let bright = |value| centroid_hz(&stroke(&set, one, value, 24_000).mono(), RATE_HZ);
        let (ghost, normal, accent) = (bright(32), bright(84), bright(118));
        assert!(
            ghost * 1.01 < normal && normal * 1.01 < accent,
            "{one:?}: {ghost} {normal} {accent}"
        );
    }
}

#[test]
fn a_rimshot_is_brighter_in_the_ring_than_the_plain_stroke() {
    let ring = |articulation| {
        let audio = normal(Voice::Snare, articulation).mono();
        let (bin_hz, powers) = sound_support::spectrum(&audio, RATE_HZ);
        let total: f64 = powers.iter().sum();
        let band: f64 = powers[(380.0 / bin_hz) as usize..(460.0 / bin_hz) as usize]
            .iter()
            .sum();
        band / total
    };
    assert!(ring(Rim) > 2.0 * ring(Plain));
}

#[test]
fn the_kit_stands_as_its_player_sees_it() {
    // Level of the right channel over the left, dB.
    let right_db = |voice| {
        let audio = normal(voice, Plain);
        20.0 * (sound_support::rms(&audio.right) / sound_support::rms(&audio.left)).log10()
    };
    for left in [Voice::Hat, Voice::HatFoot, Voice::Crash, Voice::Tom1] {
        assert!(right_db(left) < -2.0, "{left:?}");
    }
    for right in [Voice::Ride, Voice::Crash2, Voice::China, Voice::Tom6] {
        assert!(right_db(right) > 2.0, "{right:?}");
    }
    assert!(right_db(Voice::Kick).abs() < 0.5 && right_db(Voice::Snare).abs() < 2.0);
    let toms = TOMS.map(right_db);
    assert!(toms.windows(2).all(|t| t[1] > t[0]), "{toms:?}");
}
