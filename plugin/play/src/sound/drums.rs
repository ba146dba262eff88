//! The drums: membranes whose pitch falls as they settle, with what the stick
//! or beater adds.
//!
//! Pitches and decays are common practice for a medium-tuned jazz-rock kit; no
//! published source.

use super::shot::Shot;
use super::synth::{Band, Fall, Layer, Partial};

/// Pitches the six toms settle on, highest first: even steps of 3 1/2
/// semitones, from an 8-inch tom down to an 18-inch floor tom.
const TOM_HZ: [f64; 6] = [196.0, 160.0, 131.0, 107.0, 87.0, 71.0];

/// Places of the toms from the drummer's seat, left to right.
const TOM_PLACES: [f64; 6] = [-0.45, -0.25, -0.02, 0.2, 0.45, 0.6];

/// Overtones of a drum head over its lowest mode, with gain and share of the
/// lowest mode's decay. An ideal membrane has 1.594, 2.136, 2.296, 2.653
/// (Bessel zeros, any text on acoustics); the air a drum moves pulls the lower
/// ones closer to 1.5 and 2.
const HEAD_MODES: [(f64, f64, f64); 4] = [
    (1.51, 0.42, 0.6),
    (1.99, 0.26, 0.45),
    (2.44, 0.15, 0.35),
    (2.91, 0.09, 0.28),
];

/// Bass drum with a felt beater.
pub(super) fn kick(rate_hz: f64, peak: f32) -> Shot {
    let take = |n: u64| {
        let mut body = Layer::new(rate_hz, 1.0, 0.0, 101 + n);
        body.fall(fall((150.0, 56.0), 0.024, 1.0, 0.5));
        body.fall(fall((215.0, 91.0), 0.015, 0.4, 0.2));
        body.band(band((120.0, 420.0), 0.6, 0.05));
        body.band(band((900.0, 2600.0), 0.6, 0.014));
        body.press(1.6);
        let mut edge = Layer::new(rate_hz, 0.3, 0.0, 201 + n);
        edge.band(band((2000.0, 5200.0), 1.1, 0.022));
        edge.band(band((5000.0, 9000.0), 0.4, 0.008));
        edge.partials(&[wood(1450.0, 0.12, 0.03), wood(3100.0, 0.16, 0.014)]);
        edge.press(2.0);
        (body, edge)
    };
    Shot::new(rate_hz, peak, (0..2).map(take).collect())
}

/// Snare drum, wires on.
pub(super) fn snare(rate_hz: f64, peak: f32) -> Shot {
    let take = |n| {
        let (mut body, mut edge) = snare_layers(rate_hz, n);
        body.press(1.5);
        edge.press(1.2);
        (body, edge)
    };
    Shot::new(rate_hz, peak, (0..3).map(take).collect())
}

/// Rimshot: stick on head and rim at once.
pub(super) fn snare_rim(rate_hz: f64, peak: f32) -> Shot {
    let take = |n: u64| {
        let (mut body, mut edge) = snare_layers(rate_hz, 10 + n);
        body.partials(&[
            wood(412.0, 0.5, 0.22),
            wood(655.0, 0.34, 0.17),
            wood(1010.0, 0.24, 0.12),
            wood(1730.0, 0.18, 0.07),
        ]);
        body.press(1.6);
        edge.partials(&[wood(2480.0, 0.4, 0.05), wood(3720.0, 0.3, 0.035)]);
        edge.band(band((2500.0, 7500.0), 1.2, 0.03));
        edge.press(1.5);
        (body, edge)
    };
    Shot::new(rate_hz, peak, (0..2).map(take).collect())
}

/// Cross-stick: the stick's shoulder on the rim, its tip resting on the head.
pub(super) fn cross_stick(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 0.35, SNARE_PLACE, 131);
    body.partials(&[
        wood(395.0, 0.3, 0.09),
        wood(880.0, 0.5, 0.08),
        wood(1640.0, 1.0, 0.075),
        wood(2350.0, 0.5, 0.05),
    ]);
    body.band(band((1200.0, 4200.0), 0.4, 0.014));
    body.band(band((2200.0, 7000.0), 0.05, 0.09));
    body.press(1.2);
    let mut edge = Layer::new(rate_hz, 0.2, SNARE_PLACE, 231);
    edge.partials(&[wood(3350.0, 0.5, 0.035), wood(4900.0, 0.3, 0.025)]);
    edge.band(band((3000.0, 9000.0), 0.8, 0.009));
    edge.press(1.5);
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Tom number `index` (0 highest to 5 lowest), on the head or as a rimshot.
pub(super) fn tom(rate_hz: f64, peak: f32, index: usize, rim: bool) -> Shot {
    let hz = TOM_HZ[index];
    let place = TOM_PLACES[index];
    // The larger the drum, the longer it rings.
    let t60_s = 0.62 * (TOM_HZ[0] / hz).powf(0.65);
    let take = |n: u64| {
        let seed = 300 + 10 * index as u64 + n;
        let mut body = Layer::new(rate_hz, 1.5 * t60_s, place, seed);
        body.fall(fall((1.18 * hz, hz), 0.05, 1.0, t60_s));
        for (ratio, gain, share) in HEAD_MODES {
            let to_hz = hz * ratio * body.chance_in(0.993, 1.007);
            body.fall(fall((1.15 * to_hz, to_hz), 0.03, gain, t60_s * share));
        }
        body.band(band((500.0, 1900.0), 0.5, 0.035));
        let mut edge = Layer::new(rate_hz, 0.5, place, seed + 1000);
        edge.band(band((1500.0, 5200.0), 0.9, 0.025));
        edge.band(band((250.0, 900.0), 0.35, 0.14));
        for (ratio, gain) in [(3.4, 0.12), (3.95, 0.09), (4.6, 0.07)] {
            edge.partials(&[wood(hz * ratio, gain, 0.14)]);
        }
        if rim {
            body.partials(&[
                wood(690.0, 0.7, 0.16),
                wood(1180.0, 0.5, 0.11),
                wood(2050.0, 0.4, 0.06),
            ]);
            edge.band(band((2500.0, 8000.0), 1.6, 0.025));
            edge.partials(&[wood(3050.0, 0.3, 0.03)]);
        }
        body.press(1.4);
        edge.press(2.0);
        (body, edge)
    };
    let takes = if rim { 1 } else { 2 };
    Shot::new(rate_hz, peak, (0..takes).map(take).collect())
}

/// The snare stands between the drummer's knees, a little to the left.
const SNARE_PLACE: f64 = -0.08;

fn snare_layers(rate_hz: f64, n: u64) -> (Layer, Layer) {
    let mut body = Layer::new(rate_hz, 0.8, SNARE_PLACE, 110 + n);
    let hz = 187.0 * body.chance_in(0.997, 1.003);
    body.fall(fall((1.3 * hz, hz), 0.012, 0.75, 0.24));
    for (ratio, gain, t60_s) in [(1.76, 0.38, 0.17), (2.35, 0.2, 0.11), (3.1, 0.12, 0.08)] {
        body.fall(fall((1.15 * hz * ratio, hz * ratio), 0.01, gain, t60_s));
    }
    // The wires answer the lower head: a touch late and longer than the stick.
    body.band(wires((1400.0, 7000.0), 0.8, 0.32));
    body.band(band((1500.0, 4500.0), 0.5, 0.016));
    let mut edge = Layer::new(rate_hz, 0.7, SNARE_PLACE, 210 + n);
    edge.band(wires((2600.0, 10_500.0), 1.1, 0.36));
    edge.band(band((3000.0, 9500.0), 0.9, 0.02));
    edge.band(band((500.0, 1400.0), 0.4, 0.05));
    (body, edge)
}

fn wires((low_hz, high_hz): (f64, f64), gain: f64, t60_s: f64) -> Band {
    Band {
        low_hz,
        high_hz,
        gain,
        rise_s: 0.001,
        t60_s,
        width: 0.35,
    }
}

fn band((low_hz, high_hz): (f64, f64), gain: f64, t60_s: f64) -> Band {
    Band {
        low_hz,
        high_hz,
        gain,
        rise_s: 0.0,
        t60_s,
        width: 0.0,
    }
}

fn fall((from_hz, to_hz): (f64, f64), fall_s: f64, gain: f64, t60_s: f64) -> Fall {
    Fall {
        from_hz,
        to_hz,
        fall_s,
        gain,
        t60_s,
    }
}

fn wood(hz: f64, gain: f64, t60_s: f64) -> Partial {
    Partial {
        hz,
        gain,
        t60_s,
        phase: 0.0,
        aside: 0.0,
    }
}
