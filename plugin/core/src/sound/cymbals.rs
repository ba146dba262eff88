//! The cymbals: plates with many inharmonic partials, high ones dying first,
//! and a wash of noise that takes a moment to open.
//!
//! Decays and brightness are common practice for thin to medium cymbals; no
//! published source.

use super::shot::Shot;
use super::synth::{Band, Layer, Partial};

/// What a cluster of partials is made of.
#[derive(Debug, Clone, Copy)]
struct Plate {
    /// Lowest and highest partial, hertz.
    range_hz: (f64, f64),
    /// Number of partials.
    count: usize,
    /// Frequency of the loudest partials, hertz; gains fall off to both sides.
    centre_hz: f64,
    /// Octaves from the centre in which gains fall to 1/e.
    spread_octaves: f64,
    /// Seconds in which a partial at 1 kHz falls by 60 dB.
    t60_s: f64,
    /// How much faster higher partials die: the power of frequency.
    damping: f64,
    /// Sum of the partials' powers, as an amplitude.
    gain: f64,
}

/// Closed hi-hat, tip on the bow.
pub(super) fn hat_closed(rate_hz: f64, peak: f32) -> Shot {
    let take = |n: u64| {
        let mut body = Layer::new(rate_hz, 0.25, HAT_PLACE, 401 + n);
        plate(
            &mut body,
            Plate {
                t60_s: 0.16,
                gain: 0.6,
                ..HAT
            },
        );
        body.band(band((6200.0, 13_000.0), 0.9, 0.0, 0.075));
        let mut edge = Layer::new(rate_hz, 0.25, HAT_PLACE, 501 + n);
        plate(
            &mut edge,
            Plate {
                t60_s: 0.2,
                gain: 0.5,
                centre_hz: 9500.0,
                ..HAT
            },
        );
        edge.band(band((8000.0, 16_000.0), 1.6, 0.0, 0.09));
        edge.band(band((3000.0, 6000.0), 0.4, 0.0, 0.012));
        (body, edge)
    };
    Shot::new(rate_hz, peak, (0..3).map(take).collect())
}

/// Hi-hat half open: the cymbals sizzle against each other.
pub(super) fn hat_half(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 0.9, HAT_PLACE, 411);
    plate(
        &mut body,
        Plate {
            t60_s: 0.9,
            gain: 0.55,
            damping: 0.35,
            ..HAT
        },
    );
    body.band(band((5000.0, 12_000.0), 0.75, 0.0, 0.42));
    let mut edge = Layer::new(rate_hz, 0.9, HAT_PLACE, 511);
    plate(
        &mut edge,
        Plate {
            t60_s: 0.8,
            gain: 0.4,
            centre_hz: 9000.0,
            damping: 0.35,
            ..HAT
        },
    );
    edge.band(band((7500.0, 16_000.0), 1.5, 0.0, 0.36));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Open hi-hat.
pub(super) fn hat_open(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 2.2, HAT_PLACE, 421);
    plate(
        &mut body,
        Plate {
            t60_s: 2.6,
            gain: 0.6,
            damping: 0.4,
            ..HAT
        },
    );
    body.band(band((5000.0, 12_500.0), 0.6, 0.0, 0.8));
    let mut edge = Layer::new(rate_hz, 1.6, HAT_PLACE, 521);
    plate(
        &mut edge,
        Plate {
            t60_s: 2.2,
            gain: 0.4,
            centre_hz: 9000.0,
            damping: 0.45,
            ..HAT
        },
    );
    edge.band(band((7500.0, 16_000.0), 1.3, 0.0, 0.6));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Bell of the closed hi-hat.
pub(super) fn hat_bell(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 0.4, HAT_PLACE, 431);
    bell(
        &mut body,
        &[1510.0, 2260.0, 3370.0, 4180.0, 5630.0, 7020.0],
        0.2,
        0.9,
    );
    body.band(band((6000.0, 12_000.0), 0.35, 0.0, 0.06));
    let mut edge = Layer::new(rate_hz, 0.3, HAT_PLACE, 531);
    plate(
        &mut edge,
        Plate {
            t60_s: 0.2,
            gain: 0.35,
            ..HAT
        },
    );
    edge.band(band((7000.0, 15_000.0), 0.9, 0.0, 0.05));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Hi-hat closed with the foot: the cymbals meet, darker than the stick.
pub(super) fn hat_foot(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 0.3, HAT_PLACE, 441);
    plate(
        &mut body,
        Plate {
            t60_s: 0.15,
            gain: 0.6,
            centre_hz: 4800.0,
            ..HAT
        },
    );
    body.band(band((2800.0, 9000.0), 0.9, 0.0, 0.07));
    body.band(band((350.0, 900.0), 0.25, 0.0, 0.03));
    let mut edge = Layer::new(rate_hz, 0.2, HAT_PLACE, 541);
    edge.band(band((5500.0, 13_000.0), 0.9, 0.0, 0.06));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Foot splash: closed with the foot and let go at once.
pub(super) fn hat_foot_splash(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 1.6, HAT_PLACE, 451);
    plate(
        &mut body,
        Plate {
            t60_s: 2.0,
            gain: 0.6,
            centre_hz: 5200.0,
            damping: 0.45,
            ..HAT
        },
    );
    body.band(band((3200.0, 10_000.0), 0.6, 0.0, 0.12));
    body.band(band((5000.0, 11_000.0), 0.35, 0.004, 0.6));
    let mut edge = Layer::new(rate_hz, 1.0, HAT_PLACE, 551);
    plate(
        &mut edge,
        Plate {
            t60_s: 1.6,
            gain: 0.3,
            damping: 0.5,
            ..HAT
        },
    );
    edge.band(band((6500.0, 14_000.0), 0.9, 0.0, 0.4));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Bow of the ride: a clear stick over a quiet, long wash.
pub(super) fn ride(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 3.4, RIDE_PLACE, 461);
    plate(&mut body, Plate { gain: 0.75, ..RIDE });
    bell(&mut body, &[2930.0, 3720.0, 4650.0, 5480.0], 0.5, 0.34);
    body.band(band((3500.0, 8500.0), 0.5, 0.0, 0.03));
    body.band(band((2500.0, 9000.0), 0.05, 0.02, 1.6));
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
    edge.band(band((6000.0, 14_000.0), 0.9, 0.0, 0.035));
    edge.band(band((4500.0, 12_000.0), 0.12, 0.03, 1.0));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Bell of the ride.
pub(super) fn ride_bell(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 3.2, RIDE_PLACE, 471);
    bell(
        &mut body,
        &[
            742.0, 1185.0, 1668.0, 2290.0, 2975.0, 3760.0, 4480.0, 5620.0,
        ],
        2.4,
        1.0,
    );
    plate(&mut body, Plate { gain: 0.22, ..RIDE });
    body.band(band((3000.0, 9000.0), 0.4, 0.0, 0.02));
    let mut edge = Layer::new(rate_hz, 2.0, RIDE_PLACE, 571);
    bell(
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
    edge.band(band((6000.0, 14_000.0), 0.6, 0.0, 0.02));
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
    body.band(band((4000.0, 12_000.0), 0.6, 0.002, 0.4));
    let mut edge = Layer::new(rate_hz, 1.1, -0.2, 701);
    plate(
        &mut edge,
        Plate {
            gain: 0.4,
            centre_hz: 8500.0,
            ..small
        },
    );
    edge.band(band((6000.0, 16_000.0), 1.2, 0.003, 0.4));
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
    body.band(band((1800.0, 7000.0), 0.6, 0.004, 0.7));
    let mut edge = Layer::new(rate_hz, 1.6, 0.7, 711);
    plate(
        &mut edge,
        Plate {
            gain: 0.4,
            centre_hz: 6000.0,
            ..trash
        },
    );
    edge.band(band((3500.0, 12_000.0), 1.1, 0.004, 0.6));
    edge.bloom(0.4, 0.012);
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

const HAT_PLACE: f64 = -0.6;
const RIDE_PLACE: f64 = 0.55;

const HAT: Plate = Plate {
    range_hz: (1900.0, 17_000.0),
    count: 90,
    centre_hz: 7600.0,
    spread_octaves: 0.85,
    t60_s: 0.16,
    damping: 0.3,
    gain: 0.5,
};

const RIDE: Plate = Plate {
    range_hz: (310.0, 13_500.0),
    count: 130,
    centre_hz: 3900.0,
    spread_octaves: 1.35,
    t60_s: 4.6,
    damping: 0.55,
    gain: 0.6,
};

const CRASH: Plate = Plate {
    range_hz: (330.0, 15_500.0),
    count: 170,
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
    body.band(band((2200.0, 9000.0), 0.5, 0.003, 1.3 * c.length));
    let mut edge = Layer::new(rate_hz, 2.6 * c.length, c.place, c.seed + 100);
    plate(
        &mut edge,
        Plate {
            gain: 0.5,
            centre_hz: 2.0 * metal.centre_hz,
            ..metal
        },
    );
    edge.band(band((4200.0, 15_000.0), 1.2, 0.008, 1.1 * c.length));
    edge.bloom(0.45, 0.015);
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Adds a cluster of partials. Their spacing lies between even (a flat plate)
/// and even per octave, each shifted by chance so that no pitch is heard.
fn plate(layer: &mut Layer, p: Plate) {
    let (low, high) = p.range_hz;
    let mut partials = Vec::with_capacity(p.count);
    for n in 0..p.count {
        let share = (n as f64 + layer.chance()) / p.count as f64;
        let hz = low * (high / low).powf(share.powf(0.72));
        let octaves = (hz / p.centre_hz).log2() / p.spread_octaves;
        let gain = (-octaves * octaves).exp() * layer.chance_in(0.35, 1.0);
        let t60_s = p.t60_s * (1000.0 / hz).powf(p.damping) * layer.chance_in(0.6, 1.15);
        let phase = layer.chance();
        let aside = layer.chance_in(-0.35, 0.35);
        partials.push(Partial {
            hz,
            gain,
            t60_s,
            phase,
            aside,
        });
    }
    let power: f64 = partials.iter().map(|p| p.gain * p.gain).sum();
    for partial in partials {
        layer.partial(Partial {
            gain: partial.gain * p.gain / power.sqrt(),
            ..partial
        });
    }
}

/// Adds the few clear partials of a cymbal's bell, each split in two by the
/// metal's unevenness so that it beats.
fn bell(layer: &mut Layer, pitches_hz: &[f64], t60_s: f64, gain: f64) {
    for (n, hz) in pitches_hz.iter().enumerate() {
        let gain = gain / (2.0 + n as f64 * 0.5);
        let t60_s = t60_s * (pitches_hz[0] / hz).powf(0.4);
        for side in [-1.0, 1.0] {
            let hz = hz * (1.0 + side * layer.chance_in(0.000_4, 0.001_2));
            let phase = layer.chance_in(0.0, 0.2);
            layer.partial(Partial {
                hz,
                gain,
                t60_s,
                phase,
                aside: 0.12 * side,
            });
        }
    }
}

fn band((low_hz, high_hz): (f64, f64), gain: f64, rise_s: f64, t60_s: f64) -> Band {
    Band {
        low_hz,
        high_hz,
        gain,
        rise_s,
        t60_s,
        width: 0.6,
    }
}
