//! Who plays: two hands and two feet.

/// A hand, as written on a sticking line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Hand {
    /// `R` (grace: `r`).
    Right,
    /// `L` (grace: `l`).
    Left,
}

/// The limb of a stroke, by its sticking letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Limb {
    /// `R`, right hand.
    RightHand,
    /// `L`, left hand.
    LeftHand,
    /// `K`, the foot on the bass drum pedal.
    KickFoot,
    /// `H`, the foot on the hi-hat pedal.
    HatFoot,
}

impl Limb {
    /// All limbs in the order `R L K H`.
    pub const ALL: [Limb; 4] = [
        Limb::RightHand,
        Limb::LeftHand,
        Limb::KickFoot,
        Limb::HatFoot,
    ];

    /// The letter on a sticking line.
    pub const fn letter(self) -> char {
        match self {
            Limb::RightHand => 'R',
            Limb::LeftHand => 'L',
            Limb::KickFoot => 'K',
            Limb::HatFoot => 'H',
        }
    }

    /// The limb of a sticking letter, if it is one.
    pub const fn from_letter(letter: char) -> Option<Limb> {
        match letter {
            'R' => Some(Limb::RightHand),
            'L' => Some(Limb::LeftHand),
            'K' => Some(Limb::KickFoot),
            'H' => Some(Limb::HatFoot),
            _ => None,
        }
    }

    /// The hand, if the limb is one.
    pub const fn hand(self) -> Option<Hand> {
        match self {
            Limb::RightHand => Some(Hand::Right),
            Limb::LeftHand => Some(Hand::Left),
            _ => None,
        }
    }

    /// Whether the limb is a foot.
    pub const fn is_foot(self) -> bool {
        matches!(self, Limb::KickFoot | Limb::HatFoot)
    }
}

impl From<Hand> for Limb {
    fn from(hand: Hand) -> Self {
        match hand {
            Hand::Right => Limb::RightHand,
            Hand::Left => Limb::LeftHand,
        }
    }
}

impl Hand {
    /// The lower-case letter of a grace note.
    pub const fn grace_letter(self) -> char {
        match self {
            Hand::Right => 'r',
            Hand::Left => 'l',
        }
    }

    /// The other hand.
    pub const fn other(self) -> Hand {
        match self {
            Hand::Right => Hand::Left,
            Hand::Left => Hand::Right,
        }
    }
}
