//! Rudiments: the 40 of the Percussive Arts Society, and where a line of
//! strokes holds them.
//!
//! In: a line of strokes, the list of rudiments (data). Out: names with their
//! places: which strokes, which rotation, which hand leads. Never here: the
//! instruments (a paradiddle round the toms is one) and the feet.
//!
//! The rules, in order:
//!
//! 1. **Complete.** In place, a find is a whole number of rudiments, one at
//!    least and no fewer strokes than the rudiment's `least`. Rotated (begun in
//!    the middle), it must go all the way round: both leads where the lead
//!    alternates.
//! 2. **In rhythm.** Times between strokes stand in the rudiment's proportions,
//!    at any speed. A long note that closes a rudiment may have any length, but
//!    must be longer than the stroke before it, so that a five stroke roll is
//!    not found in a longer roll. [`Rhythm::Any`] drops this rule.
//! 3. **Longest.** What keeps going is one find. A find that lies wholly within
//!    another's strokes is not told; finds that only overlap are.
//! 4. Over the same strokes: in place before rotated, then by number; the
//!    others are told as [`Find::also`].
//! 5. Of one rudiment, finds share no stroke: the longest from where the last
//!    ended, in place if that is as long, then the earliest.
//!
//! Two hands at once are no part of any rudiment.

mod find;
mod list;
mod notation;
mod run;

pub use find::{Find, Look, Named, Rhythm};
pub use list::{Family, Rudiment, Rudiments};
