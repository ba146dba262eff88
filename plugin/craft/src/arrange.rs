//! Form arithmetic: forms that do not fill their bars are mended, forms that do
//! are listed.
//!
//! In: the items of a form with the cells they name, or letters with their
//! lengths; a meter. Out: what is over or short and where ([`misfits`]), the
//! smallest edits that mend it ([`mends`]), every form that fills so many bars,
//! best first, and how many there are ([`Forms`]). Never here: what a cell
//! plays; a mend that has not been checked by writing the mended form out.

mod edit;
mod forms;
mod graph;
mod mend;
mod misfit;
mod rules;
mod scope;
mod walk;

pub use edit::{Edit, EditKind, Path};
pub use forms::{Forms, FormsError, Listed, Offer, Request};
pub use mend::{Mend, mends, mends_by};
pub use misfit::{Misfit, misfits};
pub use rules::{ArrangeRules, ArrangeRulesError};
pub use scope::{Scope, resubdivide};
pub use walk::{MAX_LETTERS, Material};

use barform_score::music::{Beats, BeatsError, Letter, RefitError};

/// Why a form cannot be reckoned with.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ArrangeError {
    /// A letter that no cell has.
    #[error("no cell has the letter {0}")]
    UnknownLetter(Letter),
    /// A letter that cannot be put on the subdivision the form asks for.
    #[error("cell {letter}: {why}")]
    Refit {
        /// Its letter.
        letter: Letter,
        /// Why not.
        why: RefitError,
    },
    /// More letters than [`MAX_LETTERS`] with all repeats written out.
    #[error("the form has more than {MAX_LETTERS} letters with its repeats written out")]
    TooLong,
    /// The bar or a pickup is not above zero, or a pickup not below a bar.
    #[error("a bar is above 0 beats, a pickup from 0 up to a bar: {bar} and {pickup} are not")]
    Bar {
        /// Length of the bar.
        bar: Beats,
        /// Length of the pickup.
        pickup: Beats,
    },
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}
