//! The smallest edits after which a form fills its bars.

use super::edit::{Edit, EditKind, candidates, item_at, total};
use super::misfit::{Misfit, misfits};
use super::walk::walk;
use super::{ArrangeError, ArrangeRules, Material};
use barform_score::music::{Beats, Cell};
use barform_score::score::FormItem;
use std::fmt;

/// Edits that mend a form, and the form they make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mend {
    /// The edits in the order they are made.
    pub edits: Vec<Edit>,
    /// The mended form: it meets every bar line and ends on one.
    pub items: Vec<FormItem>,
    /// Cells that the edits add.
    pub added: Vec<Cell>,
    /// Its price by the rules, in beats and such; smaller is better.
    pub price: Beats,
}

/// Most letters written out while looking: past that, what has been found is
/// given. A second or two on a small machine.
const MOST_WALKED: usize = 20_000_000;

/// The ways to mend a form, best first, by the built-in rules; none if it fills
/// its bars.
///
/// Each bar-line check that is not met is mended by one edit of an item between
/// it and the check before; where no one edit does, by two. Every mended form
/// is written out and checked.
///
/// # Errors
/// See [`ArrangeError`].
pub fn mends(items: &[FormItem], of: &Material) -> Result<Vec<Mend>, ArrangeError> {
    mends_by(ArrangeRules::builtin(), items, of)
}

/// [`mends`] by other rules.
///
/// # Errors
/// As [`mends`].
pub fn mends_by(
    rules: &ArrangeRules,
    items: &[FormItem],
    of: &Material,
) -> Result<Vec<Mend>, ArrangeError> {
    let mut found = Vec::new();
    let whole = Mend {
        edits: Vec::new(),
        items: items.to_vec(),
        added: Vec::new(),
        price: Beats::ZERO,
    };
    if misfits(items, of)?.is_empty() {
        return Ok(found);
    }
    // Cheapest first, so the first whole forms are the best. Prices only grow.
    let mut open = vec![whole];
    let mut search = Search {
        rules,
        of,
        walked: 0,
    };
    while let Some(next) = cheapest(&mut open) {
        let cells = cells_with(of.cells, &next.added);
        let left = misfits(
            &next.items,
            &Material {
                cells: &cells,
                ..*of
            },
        )?;
        let Some(first) = left.first() else {
            if !found
                .iter()
                .any(|m: &Mend| m.items == next.items && m.added == next.added)
            {
                found.push(next);
            }
            if found.len() == rules.mend.most as usize {
                break;
            }
            continue;
        };
        if search.walked >= MOST_WALKED {
            break;
        }
        open.extend(search.mend_one(&next, first, left.len())?);
    }
    Ok(found)
}

fn cheapest(open: &mut Vec<Mend>) -> Option<Mend> {
    // The first of equals, as they were found.
    let (at, _) = open.iter().enumerate().min_by_key(|(i, m)| (m.price, *i))?;
    Some(open.remove(at))
}

fn cells_with(cells: &[Cell], added: &[Cell]) -> Vec<Cell> {
    cells.iter().chain(added).cloned().collect()
}

struct Search<'a> {
    rules: &'a ArrangeRules,
    of: &'a Material<'a>,
    walked: usize,
}

impl Search<'_> {
    /// Every smallest change of `from` after which `misfit`, the first of so
    /// many, is gone and no other has come.
    fn mend_one(
        &mut self,
        from: &Mend,
        misfit: &Misfit,
        many: usize,
    ) -> Result<Vec<Mend>, ArrangeError> {
        let mut singles = Vec::new();
        let mut mended = Vec::new();
        for edit in self.edits(from, misfit)? {
            let Some(next) = self.apply(from, edit)? else {
                continue;
            };
            if self.left(&next)?.is_some_and(|left| left < many) {
                mended.push(next);
            } else {
                singles.push(next);
            }
        }
        if !mended.is_empty() {
            return Ok(mended);
        }
        for single in singles {
            // Items may have moved: look again at what is off.
            let cells = cells_with(self.of.cells, &single.added);
            let of = Material {
                cells: &cells,
                ..*self.of
            };
            let Some(misfit) = misfits(&single.items, &of)?.into_iter().next() else {
                continue;
            };
            for edit in self.edits(&single, &misfit)? {
                if self.walked >= MOST_WALKED {
                    return Ok(mended);
                }
                let Some(next) = self.apply(&single, edit)? else {
                    continue;
                };
                if self.left(&next)?.is_some_and(|left| left < many) {
                    mended.push(next);
                }
            }
        }
        Ok(mended)
    }

    /// The edits of the items that lead up to a misfit.
    fn edits(&self, from: &Mend, misfit: &Misfit) -> Result<Vec<Edit>, ArrangeError> {
        let cells = cells_with(self.of.cells, &from.added);
        let mut edits = Vec::new();
        for path in &misfit.items {
            if let Some((item, holds)) = item_at(path, &from.items, self.of.overrides) {
                edits.extend(candidates(path, item, &cells, holds));
            }
        }
        Ok(edits)
    }

    /// The form after one more edit, unless it cannot be made or its cells do
    /// not go on their subdivisions.
    fn apply(&mut self, from: &Mend, edit: Edit) -> Result<Option<Mend>, ArrangeError> {
        let cells = cells_with(self.of.cells, &from.added);
        let Some((items, new)) = edit.apply(&from.items, &cells) else {
            return Ok(None);
        };
        let added: Vec<Cell> = from.added.iter().cloned().chain(new).collect();
        let after = cells_with(self.of.cells, &added);
        let old = walk(
            &from.items,
            &Material {
                cells: &cells,
                ..*self.of
            },
        )?;
        let new = match walk(
            &items,
            &Material {
                cells: &after,
                ..*self.of
            },
        ) {
            Ok(steps) => steps,
            Err(ArrangeError::Refit { .. } | ArrangeError::TooLong) => return Ok(None),
            Err(other) => return Err(other),
        };
        // Both, and the new one once more for its bar lines.
        self.walked += old.len() + 2 * new.len();
        let changed = total(&new)?.checked_sub(total(&old)?)?;
        let changed = changed.max(Beats::ZERO.checked_sub(changed)?);
        let price = self
            .price(&edit.kind)
            .checked_add(changed.checked_mul(Beats::whole(i64::from(self.rules.mend.beat)))?)?;
        let price = from.price.checked_add(price)?;
        let edits = from.edits.iter().cloned().chain([edit]).collect();
        Ok(Some(Mend {
            edits,
            items,
            added,
            price,
        }))
    }

    /// How many checks a form does not meet.
    fn left(&self, form: &Mend) -> Result<Option<usize>, ArrangeError> {
        let cells = cells_with(self.of.cells, &form.added);
        match misfits(
            &form.items,
            &Material {
                cells: &cells,
                ..*self.of
            },
        ) {
            Ok(left) => Ok(Some(left.len())),
            Err(ArrangeError::Refit { .. } | ArrangeError::TooLong) => Ok(None),
            Err(other) => Err(other),
        }
    }

    fn price(&self, kind: &EditKind) -> Beats {
        let prices = &self.rules.mend;
        Beats::whole(i64::from(match kind {
            EditKind::Times { .. } => prices.times,
            EditKind::Again => prices.again,
            EditKind::Drop => prices.drop,
            EditKind::Refit(_) => prices.refit,
            EditKind::Swap(_) => prices.swap,
            EditKind::Carry(_) => prices.carry,
            EditKind::Cut { .. } => prices.cut,
        }))
    }
}

impl fmt::Display for Mend {
    /// One line: the edits with `, then` between.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, edit) in self.edits.iter().enumerate() {
            let then = if i == 0 { "" } else { ", then " };
            write!(f, "{then}{edit}")?;
        }
        Ok(())
    }
}
