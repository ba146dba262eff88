//! Which sound answers to which voice and articulation, and how loud it stands
//! in the kit.

use super::shot::Shot;
use super::{cymbals, drums, effects, hats};
use barform_score::music::{Articulation, Voice};

/// Peaks at full force, as a share of full scale. They keep strokes of
/// normal force, three or four at once, below the limiter's knee.
mod peak {
    pub(super) const KICK: f32 = 0.4;
    pub(super) const SNARE: f32 = 0.34;
    pub(super) const CROSS: f32 = 0.27;
    pub(super) const TOM: f32 = 0.37;
    pub(super) const HAT: f32 = 0.19;
    pub(super) const HAT_FOOT: f32 = 0.14;
    pub(super) const RIDE: f32 = 0.19;
    pub(super) const CRASH: f32 = 0.27;
    pub(super) const SPLASH: f32 = 0.23;
    pub(super) const COWBELL: f32 = 0.2;
    pub(super) const CLICK: f32 = 0.27;
}

/// The sound of a voice struck this way; an articulation the voice does not
/// have is a plain stroke.
pub(super) fn shot(rate_hz: f64, voice: Voice, articulation: Articulation) -> Shot {
    use Articulation::{Bell, Cross, Half, Open, Rim};
    let tom = |index| {
        let rim = articulation == Rim;
        drums::tom(
            rate_hz,
            if rim { peak::TOM * 1.1 } else { peak::TOM },
            index,
            rim,
        )
    };
    match (voice, articulation) {
        (Voice::Kick, _) => drums::kick(rate_hz, peak::KICK),
        (Voice::Snare, Rim) => drums::snare_rim(rate_hz, peak::SNARE * 1.15),
        (Voice::Snare, Cross) => drums::cross_stick(rate_hz, peak::CROSS),
        (Voice::Snare, _) => drums::snare(rate_hz, peak::SNARE),
        (Voice::Hat, Open) => hats::open(rate_hz, peak::HAT * 1.2),
        (Voice::Hat, Half) => hats::half(rate_hz, peak::HAT * 1.1),
        (Voice::Hat, Bell) => hats::bell(rate_hz, peak::HAT),
        (Voice::Hat, _) => hats::closed(rate_hz, peak::HAT),
        (Voice::HatFoot, Open) => hats::foot_splash(rate_hz, peak::HAT_FOOT * 1.2),
        (Voice::HatFoot, _) => hats::foot(rate_hz, peak::HAT_FOOT),
        (Voice::Tom1, _) => tom(0),
        (Voice::Tom2, _) => tom(1),
        (Voice::Tom3, _) => tom(2),
        (Voice::Tom4, _) => tom(3),
        (Voice::Tom5, _) => tom(4),
        (Voice::Tom6, _) => tom(5),
        (Voice::Ride, Bell) => cymbals::ride_bell(rate_hz, peak::RIDE * 1.1),
        (Voice::Ride, _) => cymbals::ride(rate_hz, peak::RIDE),
        (Voice::Crash, _) => cymbals::crash(rate_hz, peak::CRASH),
        (Voice::Crash2, _) => cymbals::crash2(rate_hz, peak::CRASH),
        (Voice::Splash, _) => cymbals::splash(rate_hz, peak::SPLASH),
        (Voice::China, _) => cymbals::china(rate_hz, peak::CRASH),
        (Voice::Cowbell, _) => effects::cowbell(rate_hz, peak::COWBELL),
        (Voice::Click, Bell) => effects::click(rate_hz, peak::CLICK, true),
        (Voice::Click, _) => effects::click(rate_hz, peak::CLICK, false),
    }
}
