//! The nearest known word to a misspelt one.

use super::error::Mend;

/// "did you mean …?", if one of the known words is near enough.
pub(super) fn did_you_mean<'k>(read: &str, known: impl IntoIterator<Item = &'k str>) -> Mend {
    Mend(nearest_word(read, known).map(|word| format!("did you mean '{word}'?")))
}

/// The known word with the fewest letters to change, at most a third of them
/// (but at least one, and two from four letters on); `None` if there is none.
pub fn nearest_word<'k>(read: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let read: Vec<char> = read.chars().take(41).flat_map(char::to_lowercase).collect();
    if read.is_empty() || read.len() > 40 {
        return None;
    }
    let most = if read.len() < 4 {
        1
    } else {
        (read.len() / 3).max(2)
    };
    known
        .into_iter()
        .map(|word| (distance(&read, word), word))
        .filter(|(d, word)| *d <= most && *d < word.chars().count())
        .min_by_key(|(d, _)| *d)
        .map(|(_, word)| word)
}

/// Letters to insert, delete or replace; two swapped neighbours count as one.
fn distance(read: &[char], word: &str) -> usize {
    let word: Vec<char> = word.chars().flat_map(char::to_lowercase).collect();
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=word.len()).collect();
    for (i, a) in read.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, b) in word.iter().enumerate() {
            let mut best = (last[j + 1] + 1)
                .min(row[j] + 1)
                .min(last[j] + usize::from(a != b));
            if i > 0 && j > 0 && *a == word[j - 1] && read[i - 1] == *b {
                best = best.min(before_last[j - 1] + 1);
            }
            row.push(best);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[word.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_near_and_leaves_the_far() {
        let voices = ["kick", "snare", "hat", "tom1", "tom2"];
        assert_eq!(nearest_word("snair", voices), Some("snare"));
        assert_eq!(nearest_word("sanre", voices), Some("snare"));
        assert_eq!(nearest_word("HAT", voices), Some("hat"));
        assert_eq!(nearest_word("tom", voices), Some("tom1"));
        assert_eq!(nearest_word("timpani", voices), None);
        assert_eq!(nearest_word("", voices), None);
    }
}
