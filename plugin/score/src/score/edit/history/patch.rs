//! What differs between two texts, to go from one to the other and back.

use std::collections::HashMap;
use std::ops::Range;

/// A stretch of text that becomes another.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Hunk {
    /// First byte in the text before.
    at: usize,
    old: Box<str>,
    new: Box<str>,
}

/// The stretches that differ, in order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Patch(Vec<Hunk>);

/// Deepest search for lines that stayed between lines that stayed.
const DEPTH: usize = 16;

impl Patch {
    /// From one text to another. Whole lines that are there once in both and
    /// stand in the same order are taken to be the same.
    pub fn between(old: &str, new: &str) -> Patch {
        let (a, b) = (Text::new(old), Text::new(new));
        let mut patch = Patch::default();
        patch.lines(&a, &b, 0..a.lines.len(), 0..b.lines.len(), DEPTH);
        patch
    }

    /// The text after, from the text before.
    pub fn forwards(&self, text: &str) -> String {
        let hunks = self.0.iter();
        replaced(text, hunks.map(|h| (h.at, &*h.old, &*h.new)))
    }

    /// The text before, from the text after.
    pub fn backwards(&self, text: &str) -> String {
        // Where hunks stand in the text after: all before them have changed it.
        let (mut grown, mut shrunk) = (0, 0);
        let hunks = self.0.iter().map(|h| {
            let at = (h.at + grown).saturating_sub(shrunk);
            grown += h.new.len();
            shrunk += h.old.len();
            (at, &*h.new, &*h.old)
        });
        replaced(text, hunks)
    }

    /// Whether the texts are the same.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Bytes of text it keeps.
    pub fn bytes(&self) -> usize {
        let one = |h: &Hunk| h.old.len() + h.new.len() + size_of::<Hunk>();
        self.0.iter().map(one).sum()
    }

    fn lines(&mut self, a: &Text, b: &Text, old: Range<usize>, new: Range<usize>, depth: usize) {
        let (mut old, mut new) = (old, new);
        while !old.is_empty() && !new.is_empty() && a.lines[old.start] == b.lines[new.start] {
            (old.start, new.start) = (old.start + 1, new.start + 1);
        }
        while !old.is_empty() && !new.is_empty() && a.lines[old.end - 1] == b.lines[new.end - 1] {
            (old.end, new.end) = (old.end - 1, new.end - 1);
        }
        if old.is_empty() && new.is_empty() {
            return;
        }
        let anchors = if depth == 0 || old.is_empty() || new.is_empty() {
            Vec::new()
        } else {
            anchors(a, b, old.clone(), new.clone())
        };
        if anchors.is_empty() {
            return self.push(a, b, old, new);
        }
        for (i, j) in anchors {
            self.lines(a, b, old.start..i, new.start..j, depth - 1);
            (old.start, new.start) = (i + 1, j + 1);
        }
        self.lines(a, b, old, new, depth - 1);
    }

    /// Lines that differ, less the characters they share at both ends.
    fn push(&mut self, a: &Text, b: &Text, old: Range<usize>, new: Range<usize>) {
        let (from, to) = (a.bytes(&old), b.bytes(&new));
        let (was, is) = (&a.text[from.clone()], &b.text[to]);
        let chars = was.chars().zip(is.chars());
        let head: usize = chars
            .take_while(|(x, y)| x == y)
            .map(|(x, _)| x.len_utf8())
            .sum();
        let (was, is) = (&was[head..], &is[head..]);
        let chars = was.chars().rev().zip(is.chars().rev());
        let tail: usize = chars
            .take_while(|(x, y)| x == y)
            .map(|(x, _)| x.len_utf8())
            .sum();
        self.0.push(Hunk {
            at: from.start + head,
            old: was[..was.len() - tail].into(),
            new: is[..is.len() - tail].into(),
        });
    }
}

fn replaced<'h>(text: &str, hunks: impl Iterator<Item = (usize, &'h str, &'h str)>) -> String {
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for (at, from, to) in hunks {
        out.push_str(text.get(done..at).unwrap_or_default());
        out.push_str(to);
        done = at + from.len();
    }
    out.push_str(text.get(done..).unwrap_or_default());
    out
}

/// A text and its lines, line ends included.
struct Text<'t> {
    text: &'t str,
    lines: Vec<&'t str>,
    /// First byte of each line, then the length of the text.
    starts: Vec<usize>,
}

impl<'t> Text<'t> {
    fn new(text: &'t str) -> Text<'t> {
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        let mut starts = Vec::with_capacity(lines.len() + 1);
        let mut at = 0;
        for line in &lines {
            starts.push(at);
            at += line.len();
        }
        starts.push(at);
        Text {
            text,
            lines,
            starts,
        }
    }

    fn bytes(&self, lines: &Range<usize>) -> Range<usize> {
        self.starts[lines.start]..self.starts[lines.end]
    }
}

/// The lines that are there once in a range, and where.
fn once<'t>(text: &Text<'t>, range: Range<usize>) -> HashMap<&'t str, usize> {
    let mut seen: HashMap<&str, Option<usize>> = HashMap::new();
    for i in range {
        let line = seen.entry(text.lines[i]).or_insert(Some(i));
        *line = line.filter(|first| *first == i);
    }
    let found = seen.into_iter();
    found.filter_map(|(line, at)| Some((line, at?))).collect()
}

/// Lines that are there once in both, as many as stand in the same order.
fn anchors(a: &Text, b: &Text, old: Range<usize>, new: Range<usize>) -> Vec<(usize, usize)> {
    let there = once(b, new);
    let here = once(a, old.clone());
    let pairs = old.filter(|i| here.get(a.lines[*i]) == Some(i));
    let pairs = pairs.filter_map(|i| Some((i, *there.get(a.lines[i])?)));
    rising(&pairs.collect::<Vec<_>>())
}

/// The longest part of the pairs whose second numbers rise.
fn rising(pairs: &[(usize, usize)]) -> Vec<(usize, usize)> {
    // For each length, the pair with the least end; for each pair, the one before.
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = Vec::with_capacity(pairs.len());
    for (k, (_, j)) in pairs.iter().enumerate() {
        let length = ends.partition_point(|e| pairs[*e].1 < *j);
        before.push(length.checked_sub(1).map(|l| ends[l]));
        if length == ends.len() {
            ends.push(k);
        } else {
            ends[length] = k;
        }
    }
    let mut found = Vec::with_capacity(ends.len());
    let mut at = ends.last().copied();
    while let Some(k) = at {
        found.push(pairs[k]);
        at = before[k];
    }
    found.reverse();
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn goes_there_and_back(old in "([abä♩]{0,2}\n?){0,30}", new in "([abä♩]{0,2}\n?){0,30}") {
            let patch = Patch::between(&old, &new);
            prop_assert_eq!(patch.forwards(&old), new.clone());
            prop_assert_eq!(patch.backwards(&new), old);
        }
    }

    #[test]
    fn two_words_far_apart_are_two_small_stretches() {
        let file = |a: &str, b: &str| {
            let lines: String = (0..2000).map(|i| format!("line {i}\n")).collect();
            format!("{a}\n{lines}{b}\n")
        };
        let patch = Patch::between(&file("form A", "cell X"), &file("form A B", "cell Y"));
        assert_eq!(patch.0.len(), 2);
        assert!(patch.bytes() < 200);
        assert_eq!(Patch::between("same", "same").bytes(), 0);
    }
}
