//! A score file that is edited: what an edit does not touch stays as the
//! drummer wrote it, comments, order and spacing included.

mod patch;

use super::error::ScoreError;
use super::model::Score;
use super::read::every_voice;
use super::write::{self, Entries};
use patch::{SPREAD, fresh, implicit, in_order, last, patch, reorder, spread, written};
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
        let patched = self
            .patched(score)
            .ok()
            .filter(|text| Score::parse(text, &self.file).is_ok_and(|read| read == *score));
        let text = patched.unwrap_or_else(|| score.to_toml());
        // A file's size is a limit that only its text shows.
        self.score = Score::parse(&text, &self.file)?;
        self.text = text;
        Ok(())
    }

    fn patched(&self, new: &Score) -> Result<String, Unusual> {
        let old = &self.score;
        let mut toml: DocumentMut = self.text.parse().map_err(|_| Unusual)?;
        // Room for new tables between the old ones.
        spread(toml.as_table_mut());
        patch(toml.as_table_mut(), &write::top(old), &write::top(new))?;
        sections(&mut toml, old, new)?;
        named(
            &mut toml,
            "cell",
            &old.cells,
            &new.cells,
            |c| c.letter.as_str(),
            |score, i| write::cell(&score.cells[i], write::grid_of(score, i)),
            (old, new),
        )?;
        named(
            &mut toml,
            "ostinato",
            &old.ostinatos,
            &new.ostinatos,
            |o| &o.name,
            |score, i| write::ostinato(&score.ostinatos[i]),
            (old, new),
        )?;
        named(
            &mut toml,
            "voicing",
            &old.voicings,
            &new.voicings,
            |v| &v.name,
            |score, i| write::voicing(&score.voicings[i]),
            (old, new),
        )?;
        kit(&mut toml, old, new)?;
        Ok(toml.to_string())
    }
}

fn sections(toml: &mut DocumentMut, old: &Score, new: &Score) -> Result<(), Unusual> {
    let had = write::one_form(old).is_none() || toml.contains_key("section");
    let has = write::one_form(new).is_none();
    match (had, has) {
        (false, false) => Ok(()),
        (true, false) => {
            // `form` at the top is set already where the old score had sections
            // to speak of.
            toml.remove("section");
            patch(toml.as_table_mut(), &Entries::new(), &write::top(new))
        }
        (false, true) => {
            toml.remove("form");
            let mut tables = ArrayOfTables::new();
            for section in &new.sections {
                // Right after the keys at the top.
                tables.push(fresh(write::section_entries(section), 0)?);
            }
            toml.insert("section", Item::ArrayOfTables(tables));
            Ok(())
        }
        (true, true) => {
            let tables = toml
                .get_mut("section")
                .and_then(Item::as_array_of_tables_mut);
            section_tables(tables.ok_or(Unusual)?, old, new)
        }
    }
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

/// Patches the tables under `[kind.NAME]`.
fn named<T: PartialEq>(
    toml: &mut DocumentMut,
    kind: &str,
    old: &[T],
    new: &[T],
    name: fn(&T) -> &str,
    entries: fn(&Score, usize) -> Entries,
    scores: (&Score, &Score),
) -> Result<(), Unusual> {
    if old == new {
        return Ok(());
    }
    let end = last(toml);
    let holder = toml.entry(kind).or_insert_with(implicit);
    let holder = holder.as_table_mut().ok_or(Unusual)?;
    for gone in old
        .iter()
        .filter(|o| !new.iter().any(|n| name(n) == name(o)))
    {
        let key = written(holder, name(gone)).ok_or(Unusual)?;
        holder.remove(&key);
    }
    let mut order: Vec<String> = Vec::with_capacity(new.len());
    let first = holder
        .iter()
        .filter_map(|(_, item)| item.as_table()?.position())
        .min();
    // Before the first of its kind, or at the end if there is none.
    let mut position = first.map_or(end, |p| p - SPREAD / 2);
    for (i, item) in new.iter().enumerate() {
        let key = match old.iter().position(|o| name(o) == name(item)) {
            Some(was) => {
                let key = written(holder, name(item)).ok_or(Unusual)?;
                let table = holder.get_mut(&key).and_then(Item::as_table_like_mut);
                let table = table.ok_or(Unusual)?;
                let now = entries(scores.1, i);
                patch(table, &entries(scores.0, was), &now)?;
                if let (true, Some(table)) = (kind == "voicing", holder[&key].as_table_mut()) {
                    in_order(table, &now);
                }
                key
            }
            None => {
                // Right after the one before it.
                let table = fresh(entries(scores.1, i), position + 1)?;
                holder.insert(name(item), Item::Table(table));
                name(item).to_owned()
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
