//! Bar-line checks give way to an edit that moves the form off them.

use super::path::ItemPath;
use crate::music::{Beats, Meter};
use crate::score::check::check;
use crate::score::error::{Fault, ScoreErrorKind as Kind, Spot};
use crate::score::form::FormItem;
use crate::score::model::Score;
use crate::score::placements::{Placement, Placements};
use std::fmt;

/// What an edit does to bar lines that no longer fall where the form says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BarLines {
    /// They hold: the edit is refused.
    Hold,
    /// Checks `|` that no longer hold are taken away, in the section that is
    /// edited and in those after it, which move along with it.
    #[default]
    Loosen,
    /// The same, and a section that would change the meter inside a bar goes on
    /// in the meter before it.
    LoosenMeters,
}

/// Something that gave way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Loosened {
    /// A check `|` that stood in this gap of the form as it is now.
    BarLine(ItemPath),
    /// The meter of a section.
    Meter {
        /// The section, from 0.
        section: usize,
        /// Its meter before.
        was: Meter,
        /// Its meter now, that of the section before it.
        now: Meter,
    },
}

impl fmt::Display for Loosened {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Loosened::BarLine(at) => {
                write!(f, "no bar line falls before {at} any more: | taken away")
            }
            Loosened::Meter { section, was, now } => {
                let section = section + 1;
                write!(f, "section {section} does not begin on a bar line: ")?;
                write!(f, "it goes on in {now}, not in {was}")
            }
        }
    }
}

/// Checks the score and takes away what may give way. Gives the paths of the
/// checks that went, in order, and what to tell.
pub(super) fn loosen(
    score: &mut Score,
    bar_lines: BarLines,
) -> Result<(Vec<ItemPath>, Vec<Loosened>), Fault> {
    match check(score) {
        Ok(_) => return Ok((Vec::new(), Vec::new())),
        Err(fault) if bar_lines == BarLines::Hold || !is_bar_line(&fault) => return Err(fault),
        Err(_) => {}
    }
    let mut bare = score.clone();
    for section in &mut bare.sections {
        strip(&mut section.items);
    }
    let mut loosened = Vec::new();
    let placements = loop {
        let fault = match check(&bare) {
            Ok(placements) => break placements,
            Err(fault) => fault,
        };
        let section = match fault.spot {
            Spot::SectionMeter(i) if i > 0 && is_bar_line(&fault) => i,
            _ => return Err(fault),
        };
        if bar_lines != BarLines::LoosenMeters {
            return Err(fault);
        }
        let (was, now) = (meter(&bare, section), meter(&bare, section - 1));
        bare.sections[section].meter = Some(now);
        score.sections[section].meter = Some(now);
        loosened.push(Loosened::Meter { section, was, now });
    };
    let gone = failing(score, &placements)?;
    for path in gone.iter().rev() {
        let (at, _) = path.split()?;
        path.list(&mut score.sections)?.remove(at);
    }
    check(score)?;
    let gaps = gone.iter().filter_map(|path| path.without(&gone, true));
    loosened.extend(gaps.map(Loosened::BarLine));
    Ok((gone, loosened))
}

fn is_bar_line(fault: &Fault) -> bool {
    matches!(*fault.kind, Kind::BarLine { .. })
}

fn strip(items: &mut Vec<FormItem>) {
    items.retain(|item| *item != FormItem::BarLine);
    for item in items {
        if let FormItem::Group { items, .. } = item {
            strip(items);
        }
    }
}

fn meter(score: &Score, section: usize) -> Meter {
    let own = score.sections.get(section).and_then(|s| s.meter);
    own.unwrap_or(score.meter)
}

/// The form played through once more beside its placements.
struct Walk<'p> {
    places: std::slice::Iter<'p, Placement>,
    now: Beats,
    bar: Beats,
    /// Where bars are counted from.
    first: Beats,
    path: ItemPath,
    gone: Vec<ItemPath>,
}

/// The checks that do not hold, in order, each once.
fn failing(score: &Score, placements: &Placements) -> Result<Vec<ItemPath>, Fault> {
    let mut walk = Walk {
        places: placements.places.iter(),
        now: Beats::ZERO,
        bar: meter(score, 0).bar(),
        first: score.pickup,
        path: ItemPath::new(0, Vec::new()),
        gone: Vec::new(),
    };
    for (i, section) in score.sections.iter().enumerate() {
        if i > 0 && meter(score, i) != meter(score, i - 1) {
            (walk.bar, walk.first) = (meter(score, i).bar(), walk.now);
        }
        walk.path.section = i;
        walk.items(&section.items)?;
    }
    walk.gone.sort();
    walk.gone.dedup();
    Ok(walk.gone)
}

impl Walk<'_> {
    fn items(&mut self, items: &[FormItem]) -> Result<(), Fault> {
        for (i, item) in items.iter().enumerate() {
            self.path.items.push(i);
            match item {
                FormItem::Letter { .. } => {
                    if let Some(place) = self.places.next() {
                        let end = place.start.checked_add(place.length);
                        self.now = end.map_err(|_| self.overflow())?;
                    }
                }
                FormItem::Group { items, times, .. } => {
                    for _ in 0..*times {
                        self.items(items)?;
                    }
                }
                FormItem::BarLine => {
                    let passed = self.now.checked_sub(self.first);
                    let passed = passed.and_then(|since| since.checked_div(self.bar));
                    let passed = passed.map_err(|_| self.overflow())?;
                    if !passed.is_whole() || passed < Beats::ZERO {
                        self.gone.push(self.path.clone());
                    }
                }
            }
            self.path.items.pop();
        }
        Ok(())
    }

    fn overflow(&self) -> Fault {
        let what = "the form up to here".into();
        Fault::new(Spot::Form(self.path.section), Kind::Overflow { what })
    }
}
