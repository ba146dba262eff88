//! What an item says besides its score: lines at the top of the score file that
//! begin with `#:` and are TOML behind that.
//!
//! ```toml
//! #: name = "Six round the toms"
//! #: tags = ["toms", "warm-up"]
//! #: added = 2026-03-04T10:11:12Z
//! #: note = "Slowly at first."
//! barform = 1
//! ```
//!
//! To a score file they are comments, so an item opens anywhere as it is; name,
//! tags and score are one file, so one step of the file system changes them
//! together and none is left behind when the file is copied, mailed or restored.

use super::error::ShelfError;
use super::names::fold;
use super::stamp::Stamp;
use crate::score::{MAX_NAME_CHARS, Place};
use std::ops::Range;
use toml_edit::{Array, Document, DocumentMut, Item as Toml, Value};

/// Most tags of one item.
pub const MAX_TAGS: usize = 32;
/// Longest tag, in characters.
pub const MAX_TAG_CHARS: usize = 40;
/// Longest note, in characters: two pages.
pub const MAX_NOTE_CHARS: usize = 4_000;

/// What a line of a label begins with.
const MARK: &str = "#:";

/// Keys known here. Others are kept as they are: a newer Barform may know them.
const KNOWN: [&str; 4] = ["name", "tags", "added", "note"];

/// What an item says besides its score.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Label {
    /// Name: one line of at most 200 characters; not empty.
    pub name: String,
    /// Tags, each once without regard to case and accents; at most
    /// [`MAX_TAGS`] of [`MAX_TAG_CHARS`] characters.
    pub tags: Vec<String>,
    /// When it was put on the shelf; `None` in a file put there by hand.
    pub added: Option<Stamp>,
    /// Free text, lines and all; may be empty, at most [`MAX_NOTE_CHARS`].
    pub note: String,
    /// Lines of keys that are not known here, as TOML.
    pub(super) more: String,
}

impl Label {
    /// A label with a name alone.
    pub fn named(name: impl Into<String>) -> Label {
        Label {
            name: name.into(),
            ..Label::default()
        }
    }

    /// The label with these tags.
    pub fn tagged<T: Into<String>>(mut self, tags: impl IntoIterator<Item = T>) -> Label {
        self.tags = tags.into_iter().map(Into::into).collect();
        self
    }

    /// The label with this note.
    pub fn noted(mut self, note: impl Into<String>) -> Label {
        self.note = note.into();
        self
    }

    /// The label and the score text beneath. The name is empty where the text
    /// states none.
    ///
    /// # Errors
    /// [`ShelfError::Text`] with line and column of the file; `file` is its name.
    pub fn split<'t>(text: &'t str, file: &str) -> Result<(Label, &'t str), ShelfError> {
        let (head, body) = cut(text);
        let label = read(head, file)?;
        Ok((label, body))
    }

    /// The label above a score text that has none.
    pub fn above(&self, body: &str) -> String {
        let mut lines = String::new();
        let mut state = |key: &str, value: Option<Value>| {
            if let Some(value) = value {
                lines.push_str(&format!("{key} = {}\n", value.to_string().trim()));
            }
        };
        let text = |t: &str| (!t.is_empty()).then(|| Value::from(t));
        let tags: Array = self.tags.iter().map(String::as_str).collect();
        state("name", text(&self.name));
        state("tags", (!tags.is_empty()).then(|| tags.into()));
        let added = self.added.and_then(|a| a.to_string().parse().ok());
        state("added", added.map(|a: toml_edit::Datetime| a.into()));
        state("note", text(&self.note));
        lines.push_str(&self.more);
        let mut out = String::new();
        for line in lines.lines() {
            let gap = if line.is_empty() { "" } else { " " };
            out.push_str(&format!("{MARK}{gap}{line}\n"));
        }
        out.push_str(body);
        out
    }

    /// The label as it is kept: blanks around name and tags gone, each tag once.
    ///
    /// # Errors
    /// [`ShelfError::OutOfRange`].
    pub fn tidy(mut self) -> Result<Label, ShelfError> {
        self.name = self.name.trim().to_owned();
        one_line("the name", &self.name, MAX_NAME_CHARS)?;
        let mut seen = Vec::new();
        let mut tags = Vec::new();
        for tag in &self.tags {
            let tag = tag.trim();
            one_line("the tag", tag, MAX_TAG_CHARS)?;
            let folded = fold(tag);
            if !seen.contains(&folded) {
                seen.push(folded);
                tags.push(tag.to_owned());
            }
        }
        if tags.len() > MAX_TAGS {
            return Err(ShelfError::OutOfRange {
                what: "the number of tags is",
                read: tags.len().to_string(),
                allowed: format!("at most {MAX_TAGS}"),
            });
        }
        self.tags = tags;
        self.note = self.note.replace("\r\n", "\n");
        let strange = |c: char| c.is_control() && c != '\n' && c != '\t';
        let chars = self.note.chars().count();
        if chars > MAX_NOTE_CHARS || self.note.contains(strange) {
            return Err(ShelfError::OutOfRange {
                what: "the note has",
                read: format!("{chars} characters"),
                allowed: format!("at most {MAX_NOTE_CHARS}, none of them a control character"),
            });
        }
        Ok(self)
    }
}

fn one_line(what: &'static str, text: &str, most: usize) -> Result<(), ShelfError> {
    let chars = text.chars().count();
    if chars == 0 || chars > most || text.chars().any(char::is_control) {
        return Err(ShelfError::OutOfRange {
            what,
            read: format!(
                "is '{}'",
                text.chars().take(most).collect::<String>().escape_debug()
            ),
            allowed: format!("one line of 1 to {most} characters"),
        });
    }
    Ok(())
}

/// The lines of the label and what is beneath them. A byte order mark goes.
fn cut(text: &str) -> (&str, &str) {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines = text.split_inclusive('\n');
    let head: usize = lines
        .take_while(|line| line.starts_with(MARK))
        .map(str::len)
        .sum();
    text.split_at(head)
}

fn read(head: &str, file: &str) -> Result<Label, ShelfError> {
    // Behind each mark may stand a blank; both are gone in what is read as TOML.
    let mut toml = String::new();
    let mut before = Vec::new();
    for line in head.lines() {
        let rest = line.strip_prefix(MARK).unwrap_or(line);
        let rest = rest.strip_prefix(' ').unwrap_or(rest);
        before.push(line.len() - rest.len());
        toml.push_str(rest);
        toml.push('\n');
    }
    let fault = |span: Option<Range<usize>>, problem: String| {
        let at = span.map_or(0, |s| s.start).min(toml.len());
        let above = toml.as_bytes().get(..at).unwrap_or_default();
        let line = above.iter().filter(|b| **b == b'\n').count();
        let start = above.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
        let column = String::from_utf8_lossy(&above[start..]).chars().count();
        let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        ShelfError::Text {
            place: Place {
                file: file.to_owned(),
                line: number(line + 1),
                column: number(column + before.get(line).unwrap_or(&0) + 1),
            },
            problem,
        }
    };
    let doc = Document::parse(toml.as_str()).map_err(|e| {
        let message: Vec<&str> = e.message().split_whitespace().collect();
        fault(e.span(), format!("not TOML: {}", message.join(" ")))
    })?;
    let wrong = |key: &str, item: &Toml, allowed: &str| {
        let problem = format!(
            "'{key}' is of type {}; allowed is {allowed}",
            item.type_name()
        );
        fault(item.span(), problem)
    };
    let text = |key: &str| match doc.get(key) {
        None => Ok(String::new()),
        Some(item) => {
            let text = item.as_str().map(str::to_owned);
            text.ok_or_else(|| wrong(key, item, "text in quotes"))
        }
    };
    let mut label = Label {
        name: text("name")?,
        note: text("note")?,
        ..Label::default()
    };
    if let Some(item) = doc.get("tags") {
        let allowed = "a list of texts: [\"toms\"]";
        let list = item
            .as_array()
            .ok_or_else(|| wrong("tags", item, allowed))?;
        for value in list {
            let tag = value.as_str().ok_or_else(|| wrong("tags", item, allowed))?;
            label.tags.push(tag.to_owned());
        }
    }
    if let Some(item) = doc.get("added") {
        let stated = item.as_datetime().map(ToString::to_string);
        let stated = stated.or_else(|| item.as_str().map(str::to_owned));
        let added = stated.as_deref().and_then(Stamp::parse);
        let allowed = "a date and time of RFC 3339: 2026-03-04T10:11:12Z";
        label.added = Some(added.ok_or_else(|| wrong("added", item, allowed))?);
    }
    let mut rest: DocumentMut = doc.clone().into_mut();
    for key in KNOWN {
        rest.remove(key);
    }
    label.more = rest.to_string();
    // A label without a name takes the file's, and is tidied with it.
    let nameless = label.name.trim().is_empty();
    if nameless {
        label.name = "nameless".to_owned();
    }
    let mut label = label.tidy().map_err(|e| fault(None, e.to_string()))?;
    if nameless {
        label.name.clear();
    }
    Ok(label)
}

/// A score text without the label above it.
pub(super) fn body(text: &str) -> &str {
    cut(text).1
}
