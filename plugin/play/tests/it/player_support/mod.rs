//! What the player's tests are made of.

use std::sync::Arc;

use barform_score::music::*;
use barform_score::timeline::*;

/// A stroke of the right hand on the snare, told apart by its key.
pub fn note(key: u8) -> Note {
    Note {
        key: Key::new(key).unwrap(),
        channel: Channel::PERCUSSION,
        velocity: Velocity::new(100).unwrap(),
        voice: Voice::Snare,
        articulation: Articulation::Plain,
        limb: Some(Limb::RightHand),
    }
}

/// A form of `length` beats in one bar of 4/4 with these lanes; the letters are
/// named from A on.
pub fn timeline(length: Beats, lanes: Vec<Lane>) -> Arc<Timeline> {
    let letters = lanes.iter().filter_map(|lane| match lane.role {
        LaneRole::Letter(n) => Letter::new(["A", "B"][usize::from(n)]),
        _ => None,
    });
    Arc::new(Timeline {
        title: String::new(),
        tempo: Beats::whole(120),
        length,
        pickup: Beats::ZERO,
        bars: vec![Bar {
            start: Beats::ZERO,
            meter: Meter::FOUR_FOUR,
            number: 1,
        }],
        sections: vec![],
        places: vec![],
        variants: vec![],
        letters: letters.collect(),
        lanes,
        kit: Kit::default(),
    })
}
