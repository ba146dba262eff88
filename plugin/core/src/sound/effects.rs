//! Cowbell, and the click of the metronome.

use super::shot::Shot;
use super::synth::{Band, Layer, Partial};

/// Cowbell: two clear modes and a short clank. The pair near 540 and 800 Hz is
/// common practice.
pub(super) fn cowbell(rate_hz: f64, peak: f32) -> Shot {
    let place = 0.1;
    let mut body = Layer::new(rate_hz, 0.8, place, 621);
    for (hz, gain, t60_s) in [
        (547.0, 0.8, 0.42),
        (812.0, 1.0, 0.36),
        (1392.0, 0.3, 0.2),
        (1985.0, 0.25, 0.16),
        (2710.0, 0.18, 0.12),
    ] {
        body.partial(Partial {
            hz,
            gain,
            t60_s,
            phase: 0.05,
            aside: 0.0,
        });
    }
    body.band(click_noise((1500.0, 4500.0), 0.5, 0.012));
    let mut edge = Layer::new(rate_hz, 0.4, place, 721);
    for (hz, gain, t60_s) in [
        (3460.0, 0.4, 0.12),
        (4340.0, 0.3, 0.09),
        (5820.0, 0.25, 0.06),
    ] {
        edge.partial(Partial {
            hz,
            gain,
            t60_s,
            phase: 0.05,
            aside: 0.0,
        });
    }
    edge.band(click_noise((3000.0, 9000.0), 0.8, 0.01));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Metronome click: a dry wood-block tick, pitched between the drums and the
/// cymbals so that it is heard through both; `first` is the higher sound of a
/// bar's first beat.
pub(super) fn click(rate_hz: f64, peak: f32, first: bool) -> Shot {
    let hz = if first { 2100.0 } else { 1400.0 };
    let mut body = Layer::new(rate_hz, 0.15, 0.0, 631);
    body.partial(Partial {
        hz,
        gain: 1.0,
        t60_s: 0.05,
        phase: 0.1,
        aside: 0.0,
    });
    body.partial(Partial {
        hz: 1.52 * hz,
        gain: 0.4,
        t60_s: 0.03,
        phase: 0.1,
        aside: 0.0,
    });
    let mut edge = Layer::new(rate_hz, 0.1, 0.0, 731);
    edge.partial(Partial {
        hz: 2.31 * hz,
        gain: 0.4,
        t60_s: 0.02,
        phase: 0.1,
        aside: 0.0,
    });
    edge.band(click_noise((2500.0, 8000.0), 0.5, 0.006));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

fn click_noise((low_hz, high_hz): (f64, f64), gain: f64, t60_s: f64) -> Band {
    Band {
        low_hz,
        high_hz,
        gain,
        rise_s: 0.0,
        t60_s,
        width: 0.0,
    }
}
