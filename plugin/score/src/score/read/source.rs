//! Strings of the file with the way back to their bytes.

use super::super::error::{Fault, ScoreErrorKind, Spot};
use std::ops::Range;

/// Something wrong at a range of a decoded string.
#[derive(Debug)]
pub(in crate::score) struct TextFault {
    /// Bytes of the string.
    pub range: Range<usize>,
    /// What is wrong.
    pub kind: Box<ScoreErrorKind>,
}

impl TextFault {
    /// A fault.
    pub fn new(range: Range<usize>, kind: ScoreErrorKind) -> TextFault {
        TextFault {
            range,
            kind: Box::new(kind),
        }
    }
}

/// Something wrong at a range of the file.
#[derive(Debug)]
pub(super) struct FileFault {
    /// Bytes of the file.
    pub span: Range<usize>,
    /// The rest.
    pub fault: Fault,
}

impl FileFault {
    /// A fault in text of which nothing is known but its bytes.
    pub fn new(span: Range<usize>, kind: ScoreErrorKind) -> FileFault {
        FileFault {
            span,
            fault: Fault::new(Spot::File, kind),
        }
    }
}

/// A string value: what it says, and where each byte of it stands in the file.
pub(super) struct Located<'a> {
    /// The decoded string.
    pub text: &'a str,
    /// The value in the file, quotes included.
    pub span: Range<usize>,
    map: Map,
}

/// Where the bytes of a decoded string stand.
enum Map {
    /// One after the other from here.
    Linear(usize),
    /// Each where the list says; the last entry is the end.
    Each(Vec<u32>),
    /// Unknown: somewhere in the value.
    Whole,
}

impl<'a> Located<'a> {
    /// The string `text` written at `span` of `file`.
    pub fn new(file: &str, span: Range<usize>, text: &'a str) -> Located<'a> {
        let map = file
            .get(span.clone())
            .map_or(Map::Whole, |raw| Map::of(raw, span.start, text));
        Located { text, span, map }
    }

    /// Bytes of the file that hold `range` of the string.
    pub fn span_of(&self, range: Range<usize>) -> Range<usize> {
        match &self.map {
            Map::Linear(base) => base + range.start..base + range.end,
            Map::Each(bytes) => {
                let at = |i: usize| bytes.get(i).map_or(self.span.end, |b| *b as usize);
                at(range.start)..at(range.end)
            }
            Map::Whole => self.span.clone(),
        }
    }

    /// A fault of the string as a fault of the file.
    pub fn fault(&self, fault: TextFault) -> FileFault {
        FileFault::new(self.span_of(fault.range), *fault.kind)
    }
}

impl Map {
    fn of(raw: &str, base: usize, text: &str) -> Map {
        let multi = raw.starts_with("\"\"\"") || raw.starts_with("'''");
        let mut start = if multi { 3 } else { 1 };
        if multi {
            // TOML drops a newline right after the opening quotes.
            let rest = raw.get(start..).unwrap_or_default();
            start += usize::from(rest.starts_with("\r\n"));
            start += usize::from(rest.starts_with('\n') || rest.starts_with("\r\n"));
        }
        let Some(body) = raw.get(start..) else {
            return Map::Whole;
        };
        if body.starts_with(text) && !(raw.starts_with('"') && text.contains('\\')) {
            return Map::Linear(base + start);
        }
        let escapes = raw.starts_with('"');
        decode(body, base + start, text, escapes).map_or(Map::Whole, Map::Each)
    }
}

/// The place of every byte of `text` in `body`, or `None` if the two do not
/// agree.
fn decode(body: &str, base: usize, text: &str, escapes: bool) -> Option<Vec<u32>> {
    let mut places = Vec::with_capacity(text.len() + 1);
    let mut at = 0;
    let mut left = text;
    while let Some(want) = left.chars().next() {
        let rest = body.get(at..)?;
        let (got, width) = if escapes && rest.starts_with('\\') {
            match escape(rest) {
                Some(hit) => hit,
                None => {
                    // A backslash at the end of a line eats blanks and newlines.
                    let blank = rest[1..].len() - rest[1..].trim_start().len();
                    if blank == 0 {
                        return None;
                    }
                    at += 1 + blank;
                    continue;
                }
            }
        } else if want == '\n' && rest.starts_with("\r\n") {
            ('\n', 2)
        } else {
            let c = rest.chars().next()?;
            (c, c.len_utf8())
        };
        if got != want {
            return None;
        }
        places.extend(std::iter::repeat_n(
            u32::try_from(base + at).ok()?,
            want.len_utf8(),
        ));
        at += width;
        left = &left[want.len_utf8()..];
    }
    places.push(u32::try_from(base + at).ok()?);
    Some(places)
}

/// The character an escape stands for, and the escape's bytes.
fn escape(rest: &str) -> Option<(char, usize)> {
    let hex = |digits: usize| {
        let code = u32::from_str_radix(rest.get(2..2 + digits)?, 16).ok()?;
        Some((char::from_u32(code)?, 2 + digits))
    };
    match rest.as_bytes().get(1)? {
        b'b' => Some(('\u{8}', 2)),
        b't' => Some(('\t', 2)),
        b'n' => Some(('\n', 2)),
        b'f' => Some(('\u{c}', 2)),
        b'r' => Some(('\r', 2)),
        b'e' => Some(('\u{1b}', 2)),
        b'"' => Some(('"', 2)),
        b'\\' => Some(('\\', 2)),
        b'x' => hex(2),
        b'u' => hex(4),
        b'U' => hex(8),
        _ => None,
    }
}

/// The words of a text with their bytes.
pub(in crate::score) fn words(text: &str) -> impl Iterator<Item = (Range<usize>, &str)> {
    text.split_whitespace().map(move |word| {
        let start = word.as_ptr() as usize - text.as_ptr() as usize;
        (start..start + word.len(), word)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The raw bytes under the decoded `R`.
    fn r_in(raw: &str) -> (usize, String) {
        let file = format!("s = {raw}\n");
        let doc = toml_edit::Document::parse(file.clone()).unwrap();
        let item = &doc["s"];
        let located = Located::new(&file, item.span().unwrap(), item.as_str().unwrap());
        let at = located.text.find('R').unwrap();
        let span = located.span_of(at..at + 1);
        (span.start, file[span].to_owned())
    }

    #[test]
    fn every_kind_of_string_leads_back() {
        assert_eq!(r_in(r#""L R L""#), (7, "R".into()));
        assert_eq!(r_in("'L R L'"), (7, "R".into()));
        assert_eq!(r_in(r#""L\tR""#), (8, "R".into()));
        assert_eq!(r_in(r#""\u004C \x52 L""#), (12, r"\x52".into()));
        assert_eq!(r_in("\"\"\"\nL\nR\"\"\""), (10, "R".into()));
        assert_eq!(r_in("\"\"\"\r\nL\r\nR\"\"\""), (12, "R".into()));
        assert_eq!(r_in("'''\nL \\ R'''"), (12, "R".into()));
        assert_eq!(r_in("\"\"\"L \\\n   R\"\"\""), (14, "R".into()));
    }
}
