//! What is struck: the instruments of the drum set and how they are struck.

/// An instrument of the kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Voice {
    /// Bass drum.
    Kick,
    /// Snare drum.
    Snare,
    /// Hi-hat struck with a stick.
    Hat,
    /// Hi-hat closed with the foot.
    HatFoot,
    /// Highest tom.
    Tom1,
    /// Second tom.
    Tom2,
    /// Third tom.
    Tom3,
    /// Fourth tom.
    Tom4,
    /// Fifth tom.
    Tom5,
    /// Lowest tom.
    Tom6,
    /// Ride cymbal.
    Ride,
    /// Crash cymbal.
    Crash,
    /// Second crash cymbal.
    Crash2,
    /// Splash cymbal.
    Splash,
    /// China cymbal.
    China,
    /// Cowbell.
    Cowbell,
    /// The click of a metronome; never in a cell.
    Click,
}

/// How a voice is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
#[repr(u8)]
pub enum Articulation {
    /// The plain stroke: head, closed hi-hat, bow of a cymbal.
    #[default]
    Plain,
    /// Rimshot.
    Rim,
    /// Cross-stick (side stick).
    Cross,
    /// Open hi-hat.
    Open,
    /// Half-open hi-hat.
    Half,
    /// Bell of a cymbal.
    Bell,
    /// Struck and at once choked with the hand.
    Choke,
}

impl Voice {
    /// Every voice a cell can name, in score order; [`Voice::Click`] is not one.
    pub const ALL: [Voice; 16] = [
        Voice::Kick,
        Voice::Snare,
        Voice::Hat,
        Voice::HatFoot,
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom3,
        Voice::Tom4,
        Voice::Tom5,
        Voice::Tom6,
        Voice::Ride,
        Voice::Crash,
        Voice::Crash2,
        Voice::Splash,
        Voice::China,
        Voice::Cowbell,
    ];

    /// Number of voices including the click; an upper bound for tables indexed
    /// by [`Voice::index`].
    pub const COUNT: usize = 17;

    /// Stable index in `0 .. COUNT`.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The voice of a word in a score file ([`Voice::Click`] included, for the
    /// kit's key map).
    pub fn from_name(name: &str) -> Option<Voice> {
        if name == "click" {
            return Some(Voice::Click);
        }
        Voice::ALL.into_iter().find(|v| v.name() == name)
    }

    /// The ways this voice can be struck, the plain one first.
    pub const fn articulations(self) -> &'static [Articulation] {
        use Articulation::*;
        match self {
            Voice::Snare => &[Plain, Rim, Cross],
            Voice::Hat => &[Plain, Open, Half, Bell],
            Voice::Ride => &[Plain, Bell, Choke],
            Voice::Crash | Voice::Crash2 | Voice::Splash | Voice::China => &[Plain, Choke],
            Voice::Tom1 | Voice::Tom2 | Voice::Tom3 | Voice::Tom4 | Voice::Tom5 | Voice::Tom6 => {
                &[Plain, Rim]
            }
            Voice::HatFoot => &[Plain, Open],
            Voice::Kick | Voice::Cowbell => &[Plain],
            // The click's second sound marks the first beat of a bar.
            Voice::Click => &[Plain, Bell],
        }
    }
}

impl Articulation {
    /// Number of articulations; a bound for tables indexed by
    /// [`Articulation::index`].
    pub const COUNT: usize = 7;

    /// Stable index in `0 .. COUNT`.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The word after the colon in a score file (`hat:open`); empty for plain.
    pub const fn name(self) -> &'static str {
        match self {
            Articulation::Plain => "",
            Articulation::Rim => "rim",
            Articulation::Cross => "cross",
            Articulation::Open => "open",
            Articulation::Half => "half",
            Articulation::Bell => "bell",
            Articulation::Choke => "choke",
        }
    }

    /// The articulation of a word; the plain one has none.
    pub fn from_name(name: &str) -> Option<Articulation> {
        use Articulation::*;
        [Rim, Cross, Open, Half, Bell, Choke]
            .into_iter()
            .find(|a| a.name() == name)
    }
}
