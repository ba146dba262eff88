//! A score file that is edited: what an edit does not touch stays as the
//! drummer wrote it, comments, order and spacing included.

mod patch;

use super::error::ScoreError;
use super::model::Score;
use super::read::every_voice;
use super::write::{self, Entries};
use patch::{SPREAD, fresh, implicit, in_order, last, patch, reorder, spread, written};
use std::collections::{HashMap, HashSet};
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table};

/// The text of a score file and the score it says.
#[derive(Debug, Clone)]
pub struct Document {
    text: String,
    score: Score,
    file: String,
}

/// The patch met a way of writing that it does not know to change in place.
struct Unusual;

impl Document {
    /// Reads a score file; `file_name` is for messages only.
    ///
    /// # Errors
    /// As [`Score::parse`].
    pub fn parse(text: &str, file_name: &str) -> Result<Document, ScoreError> {
        let score = Score::parse(text, file_name)?;
        Ok(Document {
            text: text.to_owned(),
            score,
            file: file_name.to_owned(),
        })
    }

    /// A new file for a score.
    ///
    /// # Errors
    /// As [`Score::check`].
    pub fn new(score: &Score, file_name: &str) -> Result<Document, ScoreError> {
        score.check()?;
        Ok(Document {
            text: score.to_toml(),
            score: score.clone(),
            file: file_name.to_owned(),
        })
    }

    /// The score the text says.
    pub fn score(&self) -> &Score {
        &self.score
    }

    /// The text of the file.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The file name as given.
    pub fn file_name(&self) -> &str {
        &self.file
    }

    /// Changes the text so that it says `score`, only where it says otherwise.
    ///
    /// # Errors
    /// As [`Score::check`]; text and score are then as before.
    pub fn update(&mut self, score: &Score) -> Result<(), ScoreError> {
        if *score == self.score {
            return Ok(());
        }
        score.check()?;
        // Files may write tables in many ways; what cannot be patched in place
        // is written anew. Either way the text is known to say the score.
        let read = |text: String| Score::parse(&text, &self.file).map(|said| (said, text));
        let patched = self.patched(score).ok().and_then(|text| read(text).ok());
        let patched = patched.filter(|(said, _)| said == score);
        // A file's size is a limit that only its text shows.
        (self.score, self.text) = match patched {
            Some(patched) => patched,
            None => read(score.to_toml())?,
        };
        Ok(())
    }

    fn patched(&self, new: &Score) -> Result<String, Unusual> {
        let old = &self.score;
        let mut toml: DocumentMut = self.text.parse().map_err(|_| Unusual)?;
        // Room for new tables between the old ones.
        spread(toml.as_table_mut());
        // A file keeps to sections once it has them.
        let in_sections = toml.contains_key("section") || write::one_form(new).is_none();
        patch(
            toml.as_table_mut(),
            &head(old, in_sections),
            &head(new, in_sections),
        )?;
        if in_sections {
            sections(&mut toml, old, new)?;
        }
        let (was, is) = (write::grids(old), write::grids(new));
        Named {
            kind: "cell",
            old: &old.cells,
            new: &new.cells,
            name: |c| c.letter.as_str(),
            was: |i| write::cell(&old.cells[i], was[i]),
            is: |i| write::cell(&new.cells[i], is[i]),
        }
        .patch(&mut toml)?;
        Named {
            kind: "ostinato",
            old: &old.ostinatos,
            new: &new.ostinatos,
            name: |o| &o.name,
            was: |i| write::ostinato(&old.ostinatos[i]),
            is: |i| write::ostinato(&new.ostinatos[i]),
        }
        .patch(&mut toml)?;
        Named {
            kind: "voicing",
            old: &old.voicings,
            new: &new.voicings,
            name: |v| &v.name,
            was: |i| write::voicing(&old.voicings[i]),
            is: |i| write::voicing(&new.voicings[i]),
        }
        .patch(&mut toml)?;
        kit(&mut toml, old, new)?;
        if old.timing != new.timing {
            timing(&mut toml, new)?;
        }
        Ok(toml.to_string())
    }
}

/// The keys at the top; a form is not among them where there are sections.
fn head(score: &Score, in_sections: bool) -> Entries {
    let mut entries = write::top(score);
    entries.retain(|(key, _)| !(in_sections && *key == "form"));
    entries
}

/// The timing of another take. Nobody writes into it by hand, so its tables are
/// written anew, behind all others.
fn timing(toml: &mut DocumentMut, new: &Score) -> Result<(), Unusual> {
    toml.remove("timing");
    let mut text = String::new();
    write::timing_tables(&mut text, &new.timing);
    let fresh: DocumentMut = text.parse().map_err(|_| Unusual)?;
    let Some(Item::Table(tables)) = fresh.get("timing") else {
        return Ok(());
    };
    let mut tables = tables.clone();
    for (n, (_, item)) in tables.iter_mut().enumerate() {
        if let Item::Table(table) = item {
            table.set_position(Some(isize::MAX - 8 + n as isize));
        }
    }
    tables.set_position(Some(isize::MAX - 9));
    toml.insert("timing", Item::Table(tables));
    Ok(())
}

fn sections(toml: &mut DocumentMut, old: &Score, new: &Score) -> Result<(), Unusual> {
    if let Some(tables) = toml.get_mut("section") {
        let tables = tables.as_array_of_tables_mut().ok_or(Unusual)?;
        return section_tables(tables, old, new);
    }
    toml.remove("form");
    let mut tables = ArrayOfTables::new();
    for section in &new.sections {
        // Right after the keys at the top.
        tables.push(fresh(write::section_entries(section), 0)?);
    }
    toml.insert("section", Item::ArrayOfTables(tables));
    Ok(())
}

fn section_tables(tables: &mut ArrayOfTables, old: &Score, new: &Score) -> Result<(), Unusual> {
    let (old, new) = (&old.sections, &new.sections);
    let same = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let rest = old.len().min(new.len()) - same;
    let same_end = old
        .iter()
        .rev()
        .zip(new.iter().rev())
        .take(rest)
        .take_while(|(a, b)| a == b)
        .count();
    let (old_end, new_end) = (old.len() - same_end, new.len() - same_end);
    let both = (old_end - same).min(new_end - same);
    for i in same..same + both {
        let table = tables.get_mut(i).ok_or(Unusual)?;
        patch(
            table,
            &write::section_entries(&old[i]),
            &write::section_entries(&new[i]),
        )?;
    }
    for _ in same + both..old_end {
        tables.remove(same + both);
    }
    for (i, section) in new.iter().enumerate().take(new_end).skip(same + both) {
        let before = i
            .checked_sub(1)
            .and_then(|i| tables.get(i))
            .and_then(Table::position);
        let position = before.map_or(0, |p| p + 1);
        tables.insert(i, fresh(write::section_entries(section), position)?);
    }
    Ok(())
}

/// The tables under `[kind.NAME]` before and after an edit.
struct Named<'s, T, Was, Is> {
    kind: &'static str,
    old: &'s [T],
    new: &'s [T],
    name: fn(&T) -> &str,
    /// Keys of an old one.
    was: Was,
    /// Keys of a new one.
    is: Is,
}

impl<T, Was, Is> Named<'_, T, Was, Is>
where
    T: PartialEq,
    Was: Fn(usize) -> Entries,
    Is: Fn(usize) -> Entries,
{
    fn patch(&self, toml: &mut DocumentMut) -> Result<(), Unusual> {
        if self.old == self.new {
            return Ok(());
        }
        let end = last(toml);
        let holder = toml.entry(self.kind).or_insert_with(implicit);
        let holder = holder.as_table_mut().ok_or(Unusual)?;
        let old: HashMap<&str, usize> = (0..)
            .zip(self.old)
            .map(|(i, o)| ((self.name)(o), i))
            .collect();
        let new: HashSet<&str> = self.new.iter().map(self.name).collect();
        for gone in old.keys().filter(|name| !new.contains(*name)) {
            let key = written(holder, gone).ok_or(Unusual)?;
            holder.remove(&key);
        }
        let mut order: Vec<String> = Vec::with_capacity(self.new.len());
        let first = holder
            .iter()
            .filter_map(|(_, item)| item.as_table()?.position())
            .min();
        // Before the first of its kind, or at the end if there is none.
        let mut position = first.map_or(end, |p| p - SPREAD / 2);
        for (i, item) in self.new.iter().enumerate() {
            let name = (self.name)(item);
            let key = match old.get(name) {
                Some(was) => {
                    let key = written(holder, name).ok_or(Unusual)?;
                    if self.old[*was] != *item {
                        self.patch_one(holder, &key, *was, i)?;
                    }
                    key
                }
                None => {
                    // Right after the one before it.
                    let table = fresh((self.is)(i), position + 1)?;
                    holder.insert(name, Item::Table(table));
                    name.to_owned()
                }
            };
            let placed = holder
                .get(&key)
                .and_then(Item::as_table)
                .and_then(Table::position);
            position = placed.unwrap_or(position);
            order.push(key);
        }
        reorder(holder, &order);
        Ok(())
    }

    fn patch_one(
        &self,
        holder: &mut Table,
        key: &str,
        was: usize,
        is: usize,
    ) -> Result<(), Unusual> {
        let item = holder.get_mut(key).ok_or(Unusual)?;
        let entries = (self.is)(is);
        patch(
            item.as_table_like_mut().ok_or(Unusual)?,
            &(self.was)(was),
            &entries,
        )?;
        // The order of a voicing's entries is part of it.
        if let (true, Some(table)) = (self.kind == "voicing", item.as_table_mut()) {
            in_order(table, &entries);
        }
        Ok(())
    }
}

fn kit(toml: &mut DocumentMut, old: &Score, new: &Score) -> Result<(), Unusual> {
    if old.kit == new.kit {
        return Ok(());
    }
    let end = last(toml);
    let holder = toml.entry("kit").or_insert_with(implicit);
    let holder = holder.as_table_like_mut().ok_or(Unusual)?;
    patch(
        holder,
        &write::kit_order(&old.kit),
        &write::kit_order(&new.kit),
    )?;
    for voice in every_voice().filter(|v| old.kit.voice(*v) != new.kit.voice(*v)) {
        let (was, is) = (
            write::kit_voice(&old.kit, voice),
            write::kit_voice(&new.kit, voice),
        );
        match holder.get_mut(voice.name()) {
            Some(item) => {
                let table = item.as_table_like_mut().ok_or(Unusual)?;
                patch(table, &was, &is)?;
                if table.is_empty() {
                    holder.remove(voice.name());
                }
            }
            None => {
                holder.insert(voice.name(), Item::Table(fresh(is, end + 1)?));
            }
        }
    }
    Ok(())
}
