//! Edits of the form's items: put in, take out, move, group, play otherwise.

mod moves;
mod overrides;

pub use overrides::{Override, Target};

use super::letters::{define, next_letter, next_prime, resting};
use super::path::{ItemPath, Run};
use super::{Work, refuse};
use crate::music::{Cell, Grid, Letter};
use crate::score::error::{Fault, Spot};
use crate::score::form::{FormItem, Overrides};
use crate::score::model::CellDef;
use moves::{shift, step};
use overrides::{overrides, set};

/// One change of the form's items.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FormEdit {
    /// Puts items in a gap.
    Insert {
        /// The gap.
        at: ItemPath,
        /// Letters, groups, bar lines.
        items: Vec<FormItem>,
    },
    /// Makes a cell of rests under the next free letter and puts it in a gap.
    NewCell {
        /// The gap.
        at: ItemPath,
        /// Its grid.
        grid: Grid,
    },
    /// Plays items once more, right after themselves.
    Duplicate(Run),
    /// Takes items out. A group that is left without a letter goes too.
    Delete(Run),
    /// Moves items to a gap of the form as it is before the move; into or out of
    /// groups, within a section or to another.
    Move {
        /// What is moved.
        run: Run,
        /// Where to.
        to: ItemPath,
    },
    /// Moves items past their neighbour, as an arrow key does: bar-line checks
    /// between them stay where they are, so that `A | B` becomes `B | A`. Past
    /// the last neighbour it leaves the group, past the last item the section.
    Step {
        /// What is moved.
        run: Run,
        /// Past the one after it, or else the one before.
        later: bool,
    },
    /// Puts items in a group that is played so often.
    Group {
        /// Which.
        run: Run,
        /// Repeats, `1 ..= 9999`.
        times: u32,
    },
    /// Sets a repeat count. Once takes a plain group's parentheses away; a
    /// letter gets a group of its own, or takes the count of one it has.
    Times {
        /// A letter or a group.
        at: ItemPath,
        /// Repeats, `1 ..= 9999`.
        times: u32,
    },
    /// Takes a group's parentheses away; its items are played once.
    Ungroup(ItemPath),
    /// Sets or clears one override.
    Override(Target, Override),
    /// Sets all overrides.
    Overrides(Target, Overrides),
    /// Plays another letter at a place.
    Play {
        /// A letter.
        at: ItemPath,
        /// The one it becomes.
        letter: Letter,
    },
    /// Makes a variation of the letter at a place, with the next free primes,
    /// and plays it there and nowhere else.
    Prime(ItemPath),
    /// Gives a section another form, as a mend of bar lines does, with the cells
    /// it adds.
    Items {
        /// Section, from 0.
        section: usize,
        /// Its form.
        items: Vec<FormItem>,
        /// New cells.
        cells: Vec<Cell>,
    },
}

/// Makes the edit.
pub(super) fn make(edit: &FormEdit, work: &mut Work) -> Result<(), Fault> {
    match edit {
        FormEdit::Insert { at, items } => {
            work.label = format!("Insert {}", name(items));
            insert(work, at, items.clone())
        }
        FormEdit::NewCell { at, grid } => {
            let letter = next_letter(&work.score).ok_or_else(no_letter)?;
            work.label = format!("New cell {letter}");
            define(work, resting(letter.clone(), grid));
            insert(work, at, vec![plain(letter)])
        }
        FormEdit::Duplicate(run) => {
            let items = run.cloned(&work.score)?;
            work.label = format!("Duplicate {}", name(&items));
            insert(work, &run.at.further(run.count), items)
        }
        FormEdit::Delete(run) => {
            let items = take(work, run)?;
            work.label = format!("Delete {}", name(&items));
            Ok(())
        }
        FormEdit::Move { run, to } => shift(work, run, to),
        FormEdit::Step { run, later } => step(work, run, *later),
        FormEdit::Group { run, times } => {
            let items = take(work, run)?;
            work.label = format!("Group {}", name(&items));
            insert(work, &run.at, vec![group(items, *times)])
        }
        FormEdit::Times { at, times } => repeat(work, at, *times),
        FormEdit::Ungroup(at) => {
            let FormItem::Group { items, .. } = item(work, at)? else {
                return Err(not_a(at, "group"));
            };
            work.label = format!("Ungroup {}", name(&items));
            replace(work, at, items)
        }
        FormEdit::Override(target, change) => {
            let (was, who) = overrides(work, target)?;
            let what = set(was, change);
            work.label = format!("{what} of {who}");
            Ok(())
        }
        FormEdit::Overrides(target, to) => {
            let (was, who) = overrides(work, target)?;
            was.clone_from(to);
            work.label = format!("Overrides of {who}");
            Ok(())
        }
        FormEdit::Play { at, letter } => play(work, at, letter.clone(), "Play"),
        FormEdit::Prime(at) => {
            let FormItem::Letter { letter, .. } = item(work, at)? else {
                return Err(not_a(at, "letter"));
            };
            let prime = next_prime(&work.score, &letter).ok_or_else(|| no_prime(&letter))?;
            let def = CellDef {
                letter: prime.clone(),
                like: Some(letter),
                grid: None,
                sticking: None,
                voices: None,
            };
            define(work, def);
            play(work, at, prime, "Vary as")
        }
        FormEdit::Items {
            section,
            items,
            cells,
        } => {
            for cell in cells {
                define(work, super::restate::stated(cell));
            }
            let whole = ItemPath::new(*section, [0]);
            *whole.list(&mut work.score.sections)? = items.clone();
            work.label = format!("Form of section {}", section + 1);
            shown(work, &whole, items.len());
            Ok(())
        }
    }
}

/// What a menu calls items.
pub(super) fn name(items: &[FormItem]) -> String {
    match items {
        [FormItem::Letter { letter, .. }] => letter.to_string(),
        [FormItem::Group { .. }] => "group".into(),
        [FormItem::BarLine] => "bar line".into(),
        more => format!("{} items", more.len()),
    }
}

fn plain(letter: Letter) -> FormItem {
    FormItem::Letter {
        letter,
        overrides: Overrides::default(),
    }
}

fn group(items: Vec<FormItem>, times: u32) -> FormItem {
    FormItem::Group {
        items,
        times,
        overrides: Overrides::default(),
    }
}

pub(super) fn no_letter() -> Fault {
    let mend = Some("delete a cell that is not used".into());
    refuse(
        Spot::File,
        "all letters are taken",
        "allowed are A to Z, A1 to Z99",
        mend,
    )
}

fn no_prime(letter: &Letter) -> Fault {
    let mend = Some("make a new letter".into());
    let problem = format!("all primes of {letter} are taken");
    refuse(Spot::File, problem, "a letter has up to eight primes", mend)
}

fn not_a(at: &ItemPath, what: &str) -> Fault {
    let problem = format!("{at} is no {what}");
    refuse(
        Spot::Form(at.section),
        problem,
        &format!("allowed is a {what}"),
        None,
    )
}

fn item(work: &Work, at: &ItemPath) -> Result<FormItem, Fault> {
    let item = at.item(&work.score).cloned();
    item.ok_or_else(|| at.nowhere())
}

/// Puts items in a gap and shows them.
pub(super) fn insert(work: &mut Work, at: &ItemPath, items: Vec<FormItem>) -> Result<(), Fault> {
    let (index, _) = at.split()?;
    let count = items.len();
    let list = at.list(&mut work.score.sections)?;
    if index > list.len() {
        return Err(at.nowhere());
    }
    list.splice(index..index, items);
    shown(work, at, count);
    Ok(())
}

fn shown(work: &mut Work, at: &ItemPath, count: usize) {
    let run = Run {
        at: at.clone(),
        count,
    };
    work.focus.section = Some(at.section);
    let first = run.items(&work.score).and_then(<[FormItem]>::first);
    if let Some(FormItem::Letter { letter, .. }) = first {
        work.focus.letter = Some(letter.clone());
    }
    work.run = (count > 0).then_some(run);
}

/// Takes items out.
fn take(work: &mut Work, run: &Run) -> Result<Vec<FormItem>, Fault> {
    run.cloned(&work.score)?;
    let (index, _) = run.at.split()?;
    let list = run.at.list(&mut work.score.sections)?;
    work.focus.section = Some(run.at.section);
    Ok(list.drain(index..index + run.count).collect())
}

/// Items in the place of one.
fn replace(work: &mut Work, at: &ItemPath, items: Vec<FormItem>) -> Result<(), Fault> {
    take(work, &at.clone().into())?;
    insert(work, at, items)
}

fn repeat(work: &mut Work, at: &ItemPath, times: u32) -> Result<(), Fault> {
    let here = item(work, at)?;
    let (_, outer) = at.split()?;
    let around = ItemPath::new(at.section, outer);
    let alone = match around.item(&work.score) {
        Some(FormItem::Group {
            items, overrides, ..
        }) => items.len() == 1 && overrides.is_empty(),
        _ => false,
    };
    work.label = format!("Repeat {} x{times}", name(std::slice::from_ref(&here)));
    match here {
        FormItem::BarLine => Err(not_a(at, "letter or group")),
        FormItem::Letter { .. } if alone => repeat(work, &around, times),
        FormItem::Letter { .. } if times == 1 => {
            shown(work, at, 1);
            Ok(())
        }
        FormItem::Letter { .. } => replace(work, at, vec![group(vec![here], times)]),
        FormItem::Group {
            items, overrides, ..
        } if times == 1 && overrides.is_empty() => replace(work, at, items),
        FormItem::Group {
            items, overrides, ..
        } => {
            let group = FormItem::Group {
                items,
                times,
                overrides,
            };
            replace(work, at, vec![group])
        }
    }
}

fn play(work: &mut Work, at: &ItemPath, becomes: Letter, verb: &str) -> Result<(), Fault> {
    work.label = format!("{verb} {becomes}");
    match at.item_mut(&mut work.score.sections)? {
        FormItem::Letter { letter, .. } => *letter = becomes,
        _ => return Err(not_a(at, "letter")),
    }
    shown(work, at, 1);
    Ok(())
}
