//! Items moved to a gap, or past their neighbour.

use super::{insert, name, shown, take};
use crate::score::edit::path::{ItemPath, Run};
use crate::score::edit::{Work, refuse};
use crate::score::error::{Fault, Spot};
use crate::score::form::FormItem;

/// Items to a gap of the form as it is before the move.
pub(super) fn shift(work: &mut Work, run: &Run, to: &ItemPath) -> Result<(), Fault> {
    run.cloned(&work.score)?;
    let (index, outer) = run.at.split()?;
    let depth = outer.len();
    let mut gap = to.clone();
    let beside = to.section == run.at.section && to.items.get(..depth) == Some(outer);
    if let (true, Some(in_list)) = (beside, gap.items.get_mut(depth)) {
        let inside = to.items.len() > depth + 1;
        if inside && (index..index + run.count).contains(in_list) {
            let problem = format!("{} cannot be moved into itself", run.at);
            let allowed = "allowed is a place outside of it";
            return Err(refuse(Spot::Form(to.section), problem, allowed, None));
        }
        if *in_list >= index + run.count {
            *in_list -= run.count;
        } else if *in_list > index {
            *in_list = index;
        }
    }
    let items = take(work, run)?;
    work.label = format!("Move {}", name(&items));
    insert(work, &gap, items).map_err(|_| to.nowhere())
}

/// Items past their neighbour.
pub(super) fn step(work: &mut Work, run: &Run, later: bool) -> Result<(), Fault> {
    let items = run.cloned(&work.score)?;
    let (index, outer) = run.at.split()?;
    let end = index + run.count;
    let list = run.at.list(&mut work.score.sections)?;
    let plays = |item: &FormItem| *item != FormItem::BarLine;
    let neighbour = if later {
        let after = list.get(end..).unwrap_or_default();
        after.iter().position(plays).map(|i| end + i)
    } else {
        let before = list.get(..index).unwrap_or_default();
        before.iter().rposition(plays)
    };
    let Some(other) = neighbour else {
        return leave(work, run, outer, later);
    };
    let first = index.min(other);
    let stretch = &mut list[first..end.max(other + 1)];
    // Turned about whole, then the run turned back; only checks lie between.
    stretch.reverse();
    let ours = if later { stretch.len() - run.count } else { 0 };
    stretch[ours..ours + run.count].reverse();
    work.label = format!("Move {}", name(&items));
    let at = run.at.beside(first + ours);
    shown(work, &at, run.count);
    Ok(())
}

/// Out of a group, or over to the section beside.
fn leave(work: &mut Work, run: &Run, outer: &[usize], later: bool) -> Result<(), Fault> {
    if !outer.is_empty() {
        let group = ItemPath::new(run.at.section, outer);
        return shift(work, run, &group.further(usize::from(later)));
    }
    let to = if later {
        run.at.section.checked_add(1).map(|s| ItemPath::new(s, [0]))
    } else {
        let before = run.at.section.checked_sub(1);
        before.and_then(|s| Some(ItemPath::new(s, [work.score.sections.get(s)?.items.len()])))
    };
    match to.filter(|to| to.section < work.score.sections.len()) {
        Some(to) => shift(work, run, &to),
        None => {
            let end = if later { "end" } else { "start" };
            let problem = format!("this is at the {end} of the form");
            let allowed = "allowed is the other way";
            Err(refuse(Spot::Form(run.at.section), problem, allowed, None))
        }
    }
}
