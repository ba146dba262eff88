use super::*;
use barform_dice::{Dice, seed};

/// Two of the four phases of the interpolator in ITU-R BS.1770-4, Annex 2 (the
/// other two are these backwards). From memory.
const BS_1770: [[f64; 12]; 2] = [
    [
        0.001_708_984_375,
        0.010_986_328_125,
        -0.019_653_320_312_5,
        0.033_203_125,
        -0.059_448_242_187_5,
        0.137_329_101_562_5,
        0.972_167_968_75,
        -0.102_294_921_875,
        0.047_607_421_875,
        -0.026_611_328_125,
        0.014_892_578_125,
        -0.008_300_781_25,
    ],
    [
        -0.029_174_804_687_5,
        0.029_296_875,
        -0.051_757_812_5,
        0.089_111_328_125,
        -0.166_503_906_25,
        0.465_087_890_625,
        0.779_785_156_25,
        -0.200_317_382_812_5,
        0.101_562_5,
        -0.058_227_539_062_5,
        0.033_081_054_687_5,
        -0.018_920_898_437_5,
    ],
];

/// The phases of a windowed-sinc interpolator of 48 taps (Hann), as the loudness
/// library uses: 12 taps a phase at 4 times the rate, 24 at twice.
fn windowed_sinc(factor: usize) -> Vec<Vec<f64>> {
    use std::f64::consts::PI;
    let tap = |n: usize| {
        let window = 0.5 * (1.0 - (2.0 * PI * n as f64 / 48.0).cos());
        let x = (n as f64 - 24.0) * PI / factor as f64;
        if x == 0.0 {
            window
        } else {
            window * x.sin() / x
        }
    };
    (0..factor)
        .map(|phase| (phase..48).step_by(factor).map(tap).collect())
        .collect()
}

/// An upper bound of what `taps` can make of a signal under the limiter's rule
/// with a ceiling of 1: dynamic programming over samples on a grid, the rule
/// widened by what the grid could hide.
fn worst_reading(taps: &[f64]) -> f64 {
    const STEPS: i32 = 150;
    let grid: Vec<f64> = (-STEPS..=STEPS)
        .map(|n| f64::from(n) / f64::from(STEPS))
        .collect();
    let weight = f64::from(STEP_WEIGHT);
    // Moving both samples to the grid moves the left side by at most this.
    let slack = (1.0 + 2.0 * weight) * 0.5 / f64::from(STEPS);
    let mut best = vec![0.0_f64; grid.len()];
    for tap in taps {
        let reach = |y: &f64| {
            let before = grid.iter().zip(&best);
            let allowed = before.filter(|(b, _)| y.abs() + weight * (y - **b).abs() <= 1.0 + slack);
            allowed.fold(f64::NEG_INFINITY, |most, (_, value)| most.max(*value)) + tap * y
        };
        best = grid.iter().map(reach).collect();
    }
    let rounding: f64 = taps.iter().map(|t| t.abs()).sum::<f64>() * 0.5 / f64::from(STEPS);
    best.into_iter().fold(f64::NEG_INFINITY, f64::max) + rounding
}

#[test]
fn the_rule_bounds_what_true_peak_meters_can_read() {
    let mut filters: Vec<Vec<f64>> = BS_1770.iter().map(|phase| phase.to_vec()).collect();
    filters.extend(windowed_sinc(4));
    filters.extend(windowed_sinc(2));
    for taps in filters {
        let backwards: Vec<f64> = taps.iter().rev().copied().collect();
        let worst = worst_reading(&taps).max(worst_reading(&backwards));
        let limit = 10_f64.powf(TRUE_PEAK_LIMIT_DBTP / 20.0);
        assert!(f64::from(CEILING) * worst <= limit, "{worst}");
    }
}

#[test]
fn the_rule_holds_for_any_input() {
    let mut limiter = Limiter::new(48_000.0);
    let mut before = [0.0_f32; 2];
    let mut dice = Dice::of(seed(1));
    for n in 0..200_000_u32 {
        // From far too soft to far too loud, over 200 dB.
        let scale = 10_f32.powf(((n / 1_000) % 10) as f32 - 5.0);
        let mut left = (dice.unit() as f32 - 0.5) * scale;
        let mut right = if dice.below(7) < 3 { -left } else { left * 0.3 };
        limiter.frame(&mut left, &mut right);
        for (now, before) in [left, right].into_iter().zip(&mut before) {
            let load = now.abs() + STEP_WEIGHT * (now - *before).abs();
            assert!(load <= CEILING * (1.0 + 1e-6), "{load}");
            *before = now;
        }
    }
}

#[test]
fn below_the_knee_nothing_changes() {
    let mut limiter = Limiter::new(48_000.0);
    for n in 0..48_000 {
        // 100 Hz: steps add next to nothing to the load.
        let wave = 0.42 * (n as f32 * 100.0 * std::f32::consts::TAU / 48_000.0).sin();
        let (mut left, mut right) = (wave, -wave);
        limiter.frame(&mut left, &mut right);
        assert!(left == wave && right == -wave);
    }
}
