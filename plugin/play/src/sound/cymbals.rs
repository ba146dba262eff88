//! Ride, crashes, splash and china.
//!
//! Decays and brightness are common practice for thin to medium cymbals; no
//! published source.

use super::metal::{Plate, chime, plate, wash};
use super::shot::Shot;
use super::synth::Layer;

/// Bow of the ride: a clear stick over a quiet, long wash.
pub(super) fn ride(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 3.4, RIDE_PLACE, 461);
    plate(&mut body, Plate { gain: 0.75, ..RIDE });
    chime(&mut body, &[2930.0, 3720.0, 4650.0, 5480.0], 0.5, 0.34);
    body.band(wash((3500.0, 8500.0), 0.5, 0.0, 0.03));
    body.band(wash((2500.0, 9000.0), 0.05, 0.02, 1.6));
    let mut edge = Layer::new(rate_hz, 2.4, RIDE_PLACE, 561);
    plate(
        &mut edge,
        Plate {
            gain: 0.5,
            centre_hz: 6500.0,
            t60_s: 3.2,
            ..RIDE
        },
    );
    edge.band(wash((6000.0, 14_000.0), 0.9, 0.0, 0.035));
    edge.band(wash((4500.0, 12_000.0), 0.12, 0.03, 1.0));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Bell of the ride.
pub(super) fn ride_bell(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 3.2, RIDE_PLACE, 471);
    chime(
        &mut body,
        &[
            742.0, 1185.0, 1668.0, 2290.0, 2975.0, 3760.0, 4480.0, 5620.0,
        ],
        2.4,
        1.0,
    );
    plate(&mut body, Plate { gain: 0.22, ..RIDE });
    body.band(wash((3000.0, 9000.0), 0.4, 0.0, 0.02));
    let mut edge = Layer::new(rate_hz, 2.0, RIDE_PLACE, 571);
    chime(
        &mut edge,
        &[5150.0, 6420.0, 7310.0, 8660.0, 9900.0],
        0.9,
        0.4,
    );
    plate(
        &mut edge,
        Plate {
            gain: 0.25,
            centre_hz: 6000.0,
            t60_s: 2.5,
            ..RIDE
        },
    );
    edge.band(wash((6000.0, 14_000.0), 0.6, 0.0, 0.02));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// First crash, on the left.
pub(super) fn crash(rate_hz: f64, peak: f32) -> Shot {
    crash_like(
        rate_hz,
        peak,
        Crash {
            place: -0.5,
            pitch: 1.0,
            length: 1.0,
            seed: 481,
        },
    )
}

/// Second crash, on the right, larger and lower.
pub(super) fn crash2(rate_hz: f64, peak: f32) -> Shot {
    crash_like(
        rate_hz,
        peak,
        Crash {
            place: 0.5,
            pitch: 0.84,
            length: 1.15,
            seed: 491,
        },
    )
}

/// Splash: small, bright, quickly gone.
pub(super) fn splash(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 1.5, -0.2, 601);
    let small = Plate {
        range_hz: (680.0, 15_000.0),
        t60_s: 1.5,
        centre_hz: 5600.0,
        ..CRASH
    };
    plate(&mut body, Plate { gain: 0.7, ..small });
    body.band(wash((4000.0, 12_000.0), 0.6, 0.002, 0.4));
    let mut edge = Layer::new(rate_hz, 1.1, -0.2, 701);
    plate(
        &mut edge,
        Plate {
            gain: 0.4,
            centre_hz: 8500.0,
            ..small
        },
    );
    edge.band(wash((6000.0, 16_000.0), 1.2, 0.003, 0.4));
    edge.bloom(0.35, 0.006);
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// China: clangorous, with a trashy middle.
pub(super) fn china(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 2.4, 0.7, 611);
    let trash = Plate {
        range_hz: (290.0, 12_000.0),
        t60_s: 2.4,
        centre_hz: 2600.0,
        ..CRASH
    };
    plate(&mut body, Plate { gain: 0.9, ..trash });
    body.band(wash((1800.0, 7000.0), 0.6, 0.004, 0.7));
    let mut edge = Layer::new(rate_hz, 1.6, 0.7, 711);
    plate(
        &mut edge,
        Plate {
            gain: 0.4,
            centre_hz: 6000.0,
            ..trash
        },
    );
    edge.band(wash((3500.0, 12_000.0), 1.1, 0.004, 0.6));
    edge.bloom(0.4, 0.012);
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

const RIDE_PLACE: f64 = 0.55;

const RIDE: Plate = Plate {
    range_hz: (310.0, 16_000.0),
    count: 110,
    centre_hz: 3900.0,
    spread_octaves: 1.35,
    t60_s: 4.6,
    damping: 0.55,
    gain: 0.6,
};

const CRASH: Plate = Plate {
    range_hz: (330.0, 15_500.0),
    count: 150,
    centre_hz: 4200.0,
    spread_octaves: 1.5,
    t60_s: 4.2,
    damping: 0.5,
    gain: 0.7,
};

struct Crash {
    place: f64,
    pitch: f64,
    length: f64,
    seed: u64,
}

fn crash_like(rate_hz: f64, peak: f32, c: Crash) -> Shot {
    let metal = Plate {
        range_hz: (CRASH.range_hz.0 * c.pitch, CRASH.range_hz.1),
        centre_hz: CRASH.centre_hz * c.pitch,
        t60_s: CRASH.t60_s * c.length,
        ..CRASH
    };
    let mut body = Layer::new(rate_hz, 3.6 * c.length, c.place, c.seed);
    plate(&mut body, metal);
    body.band(wash((2200.0, 9000.0), 0.5, 0.003, 1.3 * c.length));
    let mut edge = Layer::new(rate_hz, 2.6 * c.length, c.place, c.seed + 100);
    plate(
        &mut edge,
        Plate {
            gain: 0.5,
            centre_hz: 2.0 * metal.centre_hz,
            ..metal
        },
    );
    edge.band(wash((4200.0, 15_000.0), 1.2, 0.008, 1.1 * c.length));
    edge.bloom(0.45, 0.015);
    Shot::new(rate_hz, peak, vec![(body, edge)])
}
