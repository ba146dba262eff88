//! The hi-hat: two cymbals that ring the longer the less they touch.
//!
//! Decays and brightness are common practice for a 14-inch pair; no published
//! source.

use super::metal::{Plate, chime, plate, wash};
use super::shot::Shot;
use super::synth::Layer;

/// Left of the drummer.
const HAT_PLACE: f64 = -0.6;

const HAT: Plate = Plate {
    range_hz: (1900.0, 17_000.0),
    count: 80,
    centre_hz: 7600.0,
    spread_octaves: 0.85,
    t60_s: 0.14,
    damping: 0.3,
    gain: 0.5,
};

/// Closed hi-hat, tip on the bow.
pub(super) fn closed(rate_hz: f64, peak: f32) -> Shot {
    let take = |n: u64| {
        let mut body = Layer::new(rate_hz, 0.25, HAT_PLACE, 401 + n);
        plate(
            &mut body,
            Plate {
                t60_s: 0.14,
                gain: 0.6,
                ..HAT
            },
        );
        body.band(wash((6200.0, 13_000.0), 0.9, 0.0, 0.062));
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
        edge.band(wash((8000.0, 16_000.0), 1.6, 0.0, 0.075));
        edge.band(wash((3000.0, 6000.0), 0.4, 0.0, 0.012));
        (body, edge)
    };
    Shot::new(rate_hz, peak, (0..3).map(take).collect())
}

/// Hi-hat half open: the cymbals sizzle against each other.
pub(super) fn half(rate_hz: f64, peak: f32) -> Shot {
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
    body.band(wash((5000.0, 12_000.0), 0.75, 0.0, 0.42));
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
    edge.band(wash((7500.0, 16_000.0), 1.5, 0.0, 0.36));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Open hi-hat.
pub(super) fn open(rate_hz: f64, peak: f32) -> Shot {
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
    body.band(wash((5000.0, 12_500.0), 0.6, 0.0, 0.8));
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
    edge.band(wash((7500.0, 16_000.0), 1.3, 0.0, 0.6));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Bell of the closed hi-hat.
pub(super) fn bell(rate_hz: f64, peak: f32) -> Shot {
    let mut body = Layer::new(rate_hz, 0.4, HAT_PLACE, 431);
    chime(
        &mut body,
        &[1510.0, 2260.0, 3370.0, 4180.0, 5630.0, 7020.0],
        0.2,
        0.9,
    );
    body.band(wash((6000.0, 12_000.0), 0.35, 0.0, 0.06));
    let mut edge = Layer::new(rate_hz, 0.3, HAT_PLACE, 531);
    plate(
        &mut edge,
        Plate {
            t60_s: 0.2,
            gain: 0.35,
            ..HAT
        },
    );
    edge.band(wash((7000.0, 15_000.0), 0.9, 0.0, 0.05));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Hi-hat closed with the foot: the cymbals meet, darker than the stick.
pub(super) fn foot(rate_hz: f64, peak: f32) -> Shot {
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
    body.band(wash((2800.0, 9000.0), 0.9, 0.0, 0.07));
    body.band(wash((350.0, 900.0), 0.25, 0.0, 0.03));
    let mut edge = Layer::new(rate_hz, 0.2, HAT_PLACE, 541);
    edge.band(wash((5500.0, 13_000.0), 0.9, 0.0, 0.06));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}

/// Foot splash: closed with the foot and let go at once.
pub(super) fn foot_splash(rate_hz: f64, peak: f32) -> Shot {
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
    body.band(wash((3200.0, 10_000.0), 0.6, 0.0, 0.12));
    body.band(wash((5000.0, 11_000.0), 0.35, 0.004, 0.6));
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
    edge.band(wash((6500.0, 14_000.0), 0.9, 0.0, 0.4));
    Shot::new(rate_hz, peak, vec![(body, edge)])
}
