//! What stands round a drummer.

use super::toms::is_tom;
use barform_score::music::{Kit, Voice};

/// The pedals of a kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pedals {
    /// A pedal on the bass drum.
    pub kick: bool,
    /// A pedal on the hi-hat.
    pub hat_foot: bool,
    /// A second pedal on the bass drum for the other foot.
    pub double_kick: bool,
}

impl Pedals {
    /// Bass drum and hi-hat, and a second pedal.
    pub const ALL: Pedals = Pedals {
        kick: true,
        hat_foot: true,
        double_kick: true,
    };
    /// Bass drum and hi-hat.
    pub const TWO: Pedals = Pedals {
        kick: true,
        hat_foot: true,
        double_kick: false,
    };
    /// The bass drum only.
    pub const ONE: Pedals = Pedals {
        kick: true,
        hat_foot: false,
        double_kick: false,
    };
}

/// The voices of a kit in order round it, and its pedals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setup {
    order: Vec<Voice>,
    pedals: Pedals,
}

impl Setup {
    /// The voices in `order`, each once (later ones of the same name and pedals
    /// are left out), with `pedals`. Toms are highest first in `order`.
    pub fn new(order: &[Voice], pedals: Pedals) -> Setup {
        let mut setup = Setup {
            order: Vec::new(),
            pedals,
        };
        for voice in order {
            let pedal = matches!(voice, Voice::Kick | Voice::HatFoot | Voice::Click);
            if !pedal && !setup.order.contains(voice) {
                setup.order.push(*voice);
            }
        }
        setup
    }

    /// The voices of a kit: those in its order round the kit.
    pub fn of(kit: &Kit, pedals: Pedals) -> Setup {
        Setup::new(&kit.order, pedals)
    }

    /// Whether a voice is there.
    pub fn has(&self, voice: Voice) -> bool {
        match voice {
            Voice::Kick => self.pedals.kick,
            Voice::HatFoot => self.pedals.hat_foot,
            _ => self.order.contains(&voice),
        }
    }

    /// The toms in order round the kit.
    pub fn toms(&self) -> Vec<Voice> {
        self.order.iter().copied().filter(|v| is_tom(*v)).collect()
    }

    /// The pedals.
    pub fn pedals(&self) -> Pedals {
        self.pedals
    }
}
