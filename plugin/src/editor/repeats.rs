//! Repeats of a form: which places belong to which pass of which group.

use barform_core::score::{FormItem, Score};

/// Most repeats that are looked for; more than anyone can look at.
const MOST: usize = 4_000;

/// A group that is played more than once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeat {
    /// First place of the first pass.
    pub first: usize,
    /// Places of one pass.
    pub places: usize,
    /// Number of passes, at least 2.
    pub times: usize,
    /// 0 for an outermost group.
    pub depth: usize,
}

impl Repeat {
    /// One past the last place of the last pass.
    pub fn end(&self) -> usize {
        self.first + self.places * self.times
    }

    /// The pass, from 1, that a place belongs to.
    pub fn pass_of(&self, place: usize) -> Option<usize> {
        let inside = (self.first..self.end()).contains(&place);
        inside.then(|| (place - self.first) / self.places + 1)
    }
}

/// All repeats of a score's form in order of their first place.
pub fn find(score: &Score) -> Vec<Repeat> {
    let mut found = Vec::new();
    let mut at = 0;
    for section in &score.sections {
        at = walk(&section.items, at, 0, &mut found);
    }
    found.sort_by_key(|repeat| (repeat.first, repeat.depth));
    found
}

/// Walks items from place `at` on; returns the place after them.
fn walk(items: &[FormItem], mut at: usize, depth: usize, found: &mut Vec<Repeat>) -> usize {
    for item in items {
        match item {
            FormItem::Letter { .. } => at += 1,
            FormItem::BarLine => {}
            FormItem::Group { items, times, .. } => {
                let times = *times as usize;
                let inner = depth + usize::from(times > 1);
                let first = at;
                at = walk(items, at, inner, found);
                let places = at - first;
                if times > 1 && places > 0 && found.len() < MOST {
                    found.push(Repeat {
                        first,
                        places,
                        times,
                        depth,
                    });
                }
                for _ in 1..times {
                    // Bar lines alone take no place, however often.
                    if places == 0 || found.len() >= MOST {
                        break;
                    }
                    walk(items, at, inner, found);
                    at += places;
                }
                at = first + places * times;
            }
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn score(form: &str) -> Score {
        let text = format!(
            "barform = 1\ntempo = 90\nmeter = \"4/4\"\nform = \"{form}\"\n\
             [cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n"
        );
        Score::parse(&text, "test").unwrap()
    }

    #[test]
    fn places_of_a_repeat_match_the_compiled_form() {
        let score = score("A (A A)x3 A ((A)x2 A)x2");
        let timeline = barform_core::timeline::Timeline::compile(&score).unwrap();
        let found = find(&score);
        let outer: Vec<_> = found.iter().filter(|r| r.depth == 0).collect();
        assert_eq!(
            *outer[0],
            Repeat {
                first: 1,
                places: 2,
                times: 3,
                depth: 0
            }
        );
        assert_eq!(
            *outer[1],
            Repeat {
                first: 8,
                places: 3,
                times: 2,
                depth: 0
            }
        );
        assert_eq!(
            found.iter().filter(|r| r.depth == 1).count(),
            2,
            "once in each outer pass"
        );
        assert_eq!(outer[1].end(), timeline.places.len());
        assert_eq!(outer[0].pass_of(4), Some(2));
        assert_eq!(outer[0].pass_of(7), None);
    }

    #[test]
    fn a_form_without_groups_has_none() {
        assert!(find(&score("A A A A")).is_empty());
    }
}
