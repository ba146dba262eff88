//! Cowbell, and the click of the metronome.

use super::shot::Shot;
use super::synth::{Band, Layer, Partial};

/// Cowbell: two clear modes and a short clank. The pair near 540 and 800 Hz is
/// common practice.
pub(super) fn cowbell(rate_hz: f64, peak: f32) -> Shot {
    let place = 0.1;
    let mut body = Layer::new(rate_hz, 0.8, place, 621);
    body.partials(&[
        mode(547.0, 0.8, 0.42),
        mode(812.0, 1.0, 0.36),
        mode(1392.0, 0.3, 0.2),
        mode(1985.0, 0.25, 0.16),
        mode(2710.0, 0.18, 0.12),
    ]);
    body.band(tick((1500.0, 4500.0), 0.5, 0.012));
    let mut edge = Layer::new(rate_hz, 0.4, place, 721);
    edge.partials(&[
        mode(3460.0, 0.4, 0.12),
        mode(4340.0, 0.3, 0.09),
        mode(5820.0, 0.25, 0.06),
    ]);
    edge.band(tick((3000.0, 9000.0), 0.8, 0.01));
    body.block_dc();
    edge.block_dc();
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Metronome click: a dry wood-block tick, pitched between the drums and the
/// cymbals so that it is heard through both; `first` is the higher sound of a
/// bar's first beat.
pub(super) fn click(rate_hz: f64, peak: f32, first: bool) -> Shot {
    let hz = if first { 2100.0 } else { 1400.0 };
    let mut body = Layer::new(rate_hz, 0.15, 0.0, 631);
    body.partials(&[mode(hz, 1.0, 0.05), mode(1.52 * hz, 0.4, 0.03)]);
    let mut edge = Layer::new(rate_hz, 0.1, 0.0, 731);
    edge.partials(&[mode(2.31 * hz, 0.4, 0.02)]);
    edge.band(tick((2500.0, 8000.0), 0.5, 0.006));
    body.block_dc();
    edge.block_dc();
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// A decaying sine; starts a little off zero, so it speaks at once.
fn mode(hz: f64, gain: f64, t60_s: f64) -> Partial {
    Partial {
        hz,
        gain,
        t60_s,
        phase: 0.08,
        aside: 0.0,
    }
}

fn tick((low_hz, high_hz): (f64, f64), gain: f64, t60_s: f64) -> Band {
    Band {
        low_hz,
        high_hz,
        gain,
        rise_s: 0.0,
        t60_s,
        width: 0.0,
    }
}
