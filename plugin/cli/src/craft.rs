//! The verbs that ask the craft: what a drummer would say about a score.
//!
//! A question is a file of its own, with its arguments and how its answer is
//! printed: as readable tables, or as JSON with keys that stay as they are (see
//! `docs/craft.md`); and a line in [`CraftVerb`] and in [`run`].

pub(crate) mod asked;
mod print;

mod count;
mod forms;
mod mend;
mod playable;
mod refit;
mod revoice;
mod rudiments;
mod stick;
mod vary;

use crate::failure::Failure;
use clap::Subcommand;

/// What can be asked.
#[derive(Debug, Subcommand)]
pub enum CraftVerb {
    /// Say what is counted on each slot
    Count(count::CountArgs),
    /// Find the sticking that costs the hands least, with reasons
    Stick(stick::StickArgs),
    /// Find the rudiments in a score
    Rudiments(rudiments::RudimentsArgs),
    /// Say how fast it can be played, and what limits it
    Playable(playable::PlayableArgs),
    /// Make variations of a cell, nearest first
    Vary(vary::VaryArgs),
    /// Put cells on another subdivision, refit or carried
    Refit(refit::RefitArgs),
    /// Put cells on another kit
    Revoice(revoice::RevoiceArgs),
    /// List forms that fill so many bars, best first
    Forms(forms::FormsArgs),
    /// Find what does not fill its bars, and fix it
    Mend(mend::MendArgs),
}

/// Asks it, and prints the answer.
pub fn run(verb: &CraftVerb) -> Result<(), Failure> {
    match verb {
        CraftVerb::Count(args) => count::run(args),
        CraftVerb::Stick(args) => stick::run(args),
        CraftVerb::Rudiments(args) => rudiments::run(args),
        CraftVerb::Playable(args) => playable::run(args),
        CraftVerb::Vary(args) => vary::run(args),
        CraftVerb::Refit(args) => refit::run(args),
        CraftVerb::Revoice(args) => revoice::run(args),
        CraftVerb::Forms(args) => forms::run(args),
        CraftVerb::Mend(args) => mend::run(args),
    }
}
