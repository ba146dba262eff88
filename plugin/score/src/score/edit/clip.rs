//! Copy and paste, as the text of a score file.

use super::form::insert;
use super::letters::{define, index_of, letter_beside, prime_beside};
use super::path::{ItemPath, Run, each};
use super::{Work, form, refuse};
use crate::music::Letter;
use crate::score::error::{Fault, ScoreError, Spot};
use crate::score::form::{FormItem, Overrides};
use crate::score::limits::MAX_VOICINGS;
use crate::score::model::{CellDef, Score, Voicing};
use crate::score::read::{Clip, clip};
use crate::score::write::{self, form_text, quoted};
use std::collections::HashMap;

/// Text to put into a score.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paste {
    /// What [`copy_cells`] or [`copy_run`] gave, or the same written by hand:
    /// `[cell.A]` tables, a form, or both. A cell the score has already stays
    /// one; a letter that another cell has gets the next free one.
    pub text: String,
    /// The gap where its form goes, or else its cells; `None` adds the cells
    /// alone.
    pub at: Option<ItemPath>,
}

/// Cells as the text of a score file. Parents come along; then a form says which
/// letters were asked for. `None` if the score has not all of them.
pub fn copy_cells(score: &Score, letters: &[Letter]) -> Option<String> {
    let (wanted, more) = with_parents(score, letters)?;
    let form: Vec<FormItem> = letters.iter().map(plain).collect();
    let mut out = String::new();
    if more {
        form_line(&mut out, &form);
    }
    tables(&mut out, score, &wanted);
    Some(out)
}

/// A stretch of form: its letters alone, or with the cells and voicings they
/// need, for another score. `None` if there is no such stretch.
pub fn copy_run(score: &Score, run: &Run, with_cells: bool) -> Option<String> {
    let mut items = run.items(score)?.to_vec();
    if !with_cells {
        return Some(form_text(&items));
    }
    let (mut letters, mut voicings) = (Vec::new(), Vec::new());
    each(&mut items, &mut |item| match item {
        FormItem::Letter { letter, overrides } => {
            letters.push(letter.clone());
            voicings.extend(overrides.voicing.clone());
        }
        FormItem::Group { overrides, .. } => voicings.extend(overrides.voicing.clone()),
        FormItem::BarLine => {}
    });
    let mut out = String::new();
    form_line(&mut out, &items);
    tables(&mut out, score, &with_parents(score, &letters)?.0);
    for voicing in score.voicings.iter().filter(|v| voicings.contains(&v.name)) {
        let head = format!("[voicing.{}]", write::key(&voicing.name));
        write::table(&mut out, &head, write::voicing(voicing));
    }
    Some(out)
}

/// The cells of letters with their parents, in the score's order; and whether
/// there are parents that were not asked for.
fn with_parents(score: &Score, letters: &[Letter]) -> Option<(Vec<usize>, bool)> {
    let mut wanted: Vec<usize> = Vec::new();
    for letter in letters {
        wanted.push(index_of(score, letter)?);
    }
    wanted.sort_unstable();
    wanted.dedup();
    let asked = wanted.len();
    let mut at = 0;
    while let Some(index) = wanted.get(at) {
        let like = score.cells[*index].like.as_ref();
        let parent = like.and_then(|like| index_of(score, like));
        wanted.extend(parent.filter(|p| !wanted.contains(p)));
        at += 1;
    }
    let more = wanted.len() > asked;
    wanted.sort_unstable();
    Some((wanted, more))
}

fn form_line(out: &mut String, items: &[FormItem]) {
    let line = vec![("form", Some(quoted(&form_text(items))))];
    write::table(out, "", line);
}

fn tables(out: &mut String, score: &Score, cells: &[usize]) {
    let grids = write::grids(score);
    for i in cells {
        let def = &score.cells[*i];
        let head = format!("[cell.{}]", write::key(def.letter.as_str()));
        let mut table = String::new();
        write::table(&mut table, &head, write::cell(def, grids[*i]));
        // The blank line above a table is not needed at the top.
        out.push_str(if out.is_empty() {
            table.trim_start()
        } else {
            &table
        });
    }
}

fn plain(letter: &Letter) -> FormItem {
    FormItem::Letter {
        letter: letter.clone(),
        overrides: Overrides::default(),
    }
}

/// Makes the edit.
pub(super) fn make(paste: &Paste, work: &mut Work) -> Result<(), ScoreError> {
    let mut clip = clip(&paste.text, &work.score)?;
    clip.form = clip.form.filter(|items| !items.is_empty());
    if clip.cells.is_empty() && (clip.form.is_none() || paste.at.is_none()) {
        let problem = "there is nothing to paste here";
        let mend = clip.form.map(|_| "select a place in the form".into());
        let allowed = "cells go to the score, letters to a place in its form";
        return Err(refuse(Spot::File, problem, allowed, mend).into());
    }
    let letters = paste_cells(&clip, work)?;
    let voicings = paste_voicings(&clip.voicings, work)?;
    let Clip { form, cells, .. } = clip;
    let mut items = match form {
        Some(items) => items,
        None => cells.iter().map(|c| plain(&c.letter)).collect(),
    };
    work.label = match paste.at {
        Some(_) => format!("Paste {}", form::name(&items)),
        None if cells.len() == 1 => format!("Paste cell {}", cells[0].letter),
        None => format!("Paste {} cells", cells.len()),
    };
    let rename = |overrides: &mut Overrides| {
        let name = overrides.voicing.as_ref().and_then(|v| voicings.get(v));
        if let Some(name) = name {
            overrides.voicing = Some(name.clone());
        }
    };
    each(&mut items, &mut |item| match item {
        FormItem::Letter { letter, overrides } => {
            if let Some(to) = letters.get(letter) {
                letter.clone_from(to);
            }
            rename(overrides);
        }
        FormItem::Group { overrides, .. } => rename(overrides),
        FormItem::BarLine => {}
    });
    match &paste.at {
        Some(at) => Ok(insert(work, at, items)?),
        None => Ok(()),
    }
}

/// Adds the cells that the score has not; gives the letter each goes by.
fn paste_cells(clip: &Clip, work: &mut Work) -> Result<HashMap<Letter, Letter>, Fault> {
    let mut names: HashMap<Letter, Letter> = HashMap::new();
    let mut left: Vec<&CellDef> = clip.cells.iter().collect();
    // Parents first; the clip has been checked to have no circles.
    while !left.is_empty() {
        let waits = |def: &&CellDef| {
            let like = def.like.as_ref();
            like.is_some_and(|l| left.iter().any(|other| other.letter == *l))
        };
        let (later, now): (Vec<_>, Vec<_>) = left.iter().copied().partition(waits);
        if now.is_empty() {
            break;
        }
        for def in now {
            let letter = paste_cell(def, &clip.cells, &names, work)?;
            names.insert(def.letter.clone(), letter);
        }
        left = later;
    }
    Ok(names)
}

fn paste_cell(
    def: &CellDef,
    // What else is pasted keeps its letter, so it is not free.
    beside: &[CellDef],
    names: &HashMap<Letter, Letter>,
    work: &mut Work,
) -> Result<Letter, Fault> {
    let mut def = def.clone();
    if let Some(like) = &mut def.like
        && let Some(name) = names.get(like)
    {
        like.clone_from(name);
    }
    let Some(index) = index_of(&work.score, &def.letter) else {
        let letter = def.letter.clone();
        define(work, def);
        return Ok(letter);
    };
    if work.score.cells[index] == def {
        return Ok(def.letter);
    }
    let prime = def
        .like
        .as_ref()
        .and_then(|like| prime_beside(&work.score, like, beside));
    let free = prime.or_else(|| letter_beside(&work.score, beside));
    let free = free.ok_or_else(form::no_letter)?;
    work.told.push(format!(
        "{} is another cell here: the pasted one is {free}",
        def.letter
    ));
    def.letter.clone_from(&free);
    define(work, def);
    Ok(free)
}

/// Adds the voicings that the score has not; gives the name each goes by.
fn paste_voicings(voicings: &[Voicing], work: &mut Work) -> Result<HashMap<String, String>, Fault> {
    let mut names = HashMap::new();
    for voicing in voicings {
        let known = |score: &Score, name: &str| score.voicings.iter().any(|v| v.name == name);
        let mut new = voicing.clone();
        if known(&work.score, &voicing.name) {
            if work.score.voicings.contains(voicing) {
                continue;
            }
            let free = (2..=MAX_VOICINGS + 1).map(|n| format!("{}-{n}", voicing.name));
            let free = free.into_iter().find(|name| !known(&work.score, name));
            new.name = free.unwrap_or(new.name);
            work.told.push(format!(
                "{} is another voicing here: the pasted one is {}",
                voicing.name, new.name
            ));
        }
        names.insert(voicing.name.clone(), new.name.clone());
        work.score.voicings.push(new);
    }
    Ok(names)
}
