//! The form: letters, groups with repeats, bar-line checks.

use crate::music::{Beats, Fit, Letter, Subdivision};

/// The tempo multiplier of a section, a group or a letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Rate {
    /// Everything takes twice as long.
    Half,
    /// As written.
    #[default]
    Normal,
    /// Everything takes half as long.
    Double,
}

impl Rate {
    /// The factor on speed.
    pub fn factor(self) -> Beats {
        match self {
            Rate::Half => Beats::new(1, 2),
            Rate::Normal => Beats::ONE,
            Rate::Double => Beats::whole(2),
        }
    }
}

/// What a letter, a group or a section plays otherwise than its cells say.
/// `None` keeps what the level above says; the innermost statement wins,
/// except that rates and levels multiply.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Overrides {
    /// Another subdivision, by refit or carry.
    pub subdivision: Option<(Subdivision, Fit)>,
    /// Speed.
    pub rate: Option<Rate>,
    /// Loudness in percent of the kit's velocities, `10 ..= 150`.
    pub level: Option<u8>,
    /// Name of a [`super::Voicing`].
    pub voicing: Option<String>,
}

impl Overrides {
    /// Whether nothing is stated.
    pub fn is_empty(&self) -> bool {
        *self == Overrides::default()
    }
}

/// One element of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FormItem {
    /// A cell by its letter.
    Letter {
        /// Which cell.
        letter: Letter,
        /// What it does otherwise.
        overrides: Overrides,
    },
    /// A group in parentheses.
    Group {
        /// What is inside.
        items: Vec<FormItem>,
        /// How often it is played, `1 ..= 9999`.
        times: u32,
        /// What all of it does otherwise.
        overrides: Overrides,
    },
    /// `|`: a bar line is asserted to fall here.
    BarLine,
}
