//! What letters, groups and sections play otherwise.

use super::{item, not_a, shown};
use crate::music::{Fit, Subdivision};
use crate::score::edit::path::ItemPath;
use crate::score::edit::{Work, sections};
use crate::score::error::Fault;
use crate::score::form::{FormItem, Overrides, Rate};

/// What an override is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// A letter or a group.
    Item(ItemPath),
    /// A section, from 0.
    Section(usize),
}

/// One override to set, or to clear with `None`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Override {
    /// Another subdivision, by refit or carry.
    Subdivision(Option<(Subdivision, Fit)>),
    /// Speed.
    Rate(Option<Rate>),
    /// Loudness in percent, `10 ..= 150`.
    Level(Option<u8>),
    /// Name of a voicing.
    Voicing(Option<String>),
}

/// The overrides of a target, and what a menu calls it.
pub(super) fn overrides<'w>(
    work: &'w mut Work,
    target: &Target,
) -> Result<(&'w mut Overrides, String), Fault> {
    match target {
        Target::Item(at) => {
            item(work, at)?;
            shown(work, at, 1);
            match at.item_mut(&mut work.score.sections)? {
                FormItem::Letter { letter, overrides } => Ok((overrides, letter.to_string())),
                FormItem::Group { overrides, .. } => Ok((overrides, "group".into())),
                FormItem::BarLine => Err(not_a(at, "letter or group")),
            }
        }
        Target::Section(i) => {
            work.focus.section = Some(*i);
            let section = sections::at(&mut work.score, *i)?;
            Ok((&mut section.overrides, format!("section {}", i + 1)))
        }
    }
}

/// Sets one override, and says which.
pub(super) fn set(overrides: &mut Overrides, change: &Override) -> &'static str {
    match change {
        Override::Subdivision(to) => {
            overrides.subdivision.clone_from(to);
            "Subdivision"
        }
        Override::Rate(to) => {
            overrides.rate = *to;
            "Rate"
        }
        Override::Level(to) => {
            overrides.level = *to;
            "Level"
        }
        Override::Voicing(to) => {
            overrides.voicing.clone_from(to);
            "Voicing"
        }
    }
}
