//! Which sound answers to which voice and articulation, and how loud it stands
//! in the kit.

use super::shot::Shot;
use super::{cymbals, drums, effects};
use crate::music::{Articulation, Voice};

/// Peaks at full force, as a share of full scale. They leave the sum of a kick,
/// a snare and a crash just over the limiter's knee.
mod peak {
    pub(super) const KICK: f32 = 0.36;
    pub(super) const SNARE: f32 = 0.34;
    pub(super) const CROSS: f32 = 0.26;
    pub(super) const TOM: f32 = 0.34;
    pub(super) const HAT: f32 = 0.17;
    pub(super) const HAT_FOOT: f32 = 0.12;
    pub(super) const RIDE: f32 = 0.17;
    pub(super) const CRASH: f32 = 0.3;
    pub(super) const SPLASH: f32 = 0.24;
    pub(super) const COWBELL: f32 = 0.2;
    pub(super) const CLICK: f32 = 0.25;
}

/// The sound of a voice struck this way, or `None` if the plain stroke is meant
/// (a choked cymbal is a plain one that is caught).
pub(super) fn shot(rate_hz: f64, voice: Voice, articulation: Articulation) -> Option<Shot> {
    use Articulation::{Bell, Cross, Half, Open, Plain, Rim};
    let shot = match (voice, articulation) {
        (Voice::Kick, Plain) => drums::kick(rate_hz, peak::KICK),
        (Voice::Snare, Plain) => drums::snare(rate_hz, peak::SNARE),
        (Voice::Snare, Rim) => drums::snare_rim(rate_hz, peak::SNARE * 1.15),
        (Voice::Snare, Cross) => drums::cross_stick(rate_hz, peak::CROSS),
        (Voice::Hat, Plain) => cymbals::hat_closed(rate_hz, peak::HAT),
        (Voice::Hat, Open) => cymbals::hat_open(rate_hz, peak::HAT * 1.2),
        (Voice::Hat, Half) => cymbals::hat_half(rate_hz, peak::HAT * 1.1),
        (Voice::Hat, Bell) => cymbals::hat_bell(rate_hz, peak::HAT),
        (Voice::HatFoot, Plain) => cymbals::hat_foot(rate_hz, peak::HAT_FOOT),
        (Voice::HatFoot, Open) => cymbals::hat_foot_splash(rate_hz, peak::HAT_FOOT * 1.2),
        (Voice::Ride, Plain) => cymbals::ride(rate_hz, peak::RIDE),
        (Voice::Ride, Bell) => cymbals::ride_bell(rate_hz, peak::RIDE * 1.1),
        (Voice::Crash, Plain) => cymbals::crash(rate_hz, peak::CRASH),
        (Voice::Crash2, Plain) => cymbals::crash2(rate_hz, peak::CRASH),
        (Voice::Splash, Plain) => cymbals::splash(rate_hz, peak::SPLASH),
        (Voice::China, Plain) => cymbals::china(rate_hz, peak::CRASH),
        (Voice::Cowbell, Plain) => effects::cowbell(rate_hz, peak::COWBELL),
        (Voice::Click, Plain) => effects::click(rate_hz, peak::CLICK, false),
        (Voice::Click, Bell) => effects::click(rate_hz, peak::CLICK, true),
        _ => {
            let index = tom_index(voice)?;
            match articulation {
                Plain => drums::tom(rate_hz, peak::TOM, index, false),
                Rim => drums::tom(rate_hz, peak::TOM * 1.1, index, true),
                _ => return None,
            }
        }
    };
    Some(shot)
}

/// 0 for the highest tom to 5 for the lowest.
fn tom_index(voice: Voice) -> Option<usize> {
    [
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom3,
        Voice::Tom4,
        Voice::Tom5,
        Voice::Tom6,
    ]
    .iter()
    .position(|tom| *tom == voice)
}
