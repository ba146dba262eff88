//! A letter, a section or the whole score put on another subdivision.

use barform_score::music::{Fit, Letter, Subdivision};
use barform_score::score::{FormItem, Overrides, Score};

/// What is put on another subdivision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Scope {
    /// A letter, wherever the form plays it.
    Letter(Letter),
    /// A section, from 0.
    Section(usize),
    /// All sections.
    Score,
}

/// The score with `scope` on another subdivision, by refit or carry. What the
/// form said about subdivisions inside of it gives way; cells stay as written,
/// so that taking the subdivision away again gives the form back. `None` if the
/// form plays no such letter or has no such section.
///
/// The result is not checked: a carried form may no longer meet its bar lines
/// ([`super::misfits`] says where, [`super::mends`] how to mend it).
pub fn resubdivide(
    score: &Score,
    scope: &Scope,
    subdivision: &Subdivision,
    fit: Fit,
) -> Option<Score> {
    let mut score = score.clone();
    let to = Some((subdivision.clone(), fit));
    let mut found = false;
    match scope {
        Scope::Letter(letter) => {
            for section in &mut score.sections {
                each(&mut section.items, &mut |of, overrides| {
                    if of == Some(letter) {
                        overrides.subdivision.clone_from(&to);
                        found = true;
                    }
                });
            }
        }
        Scope::Section(_) | Scope::Score => {
            for (i, section) in score.sections.iter_mut().enumerate() {
                if *scope == Scope::Score || *scope == Scope::Section(i) {
                    each(&mut section.items, &mut |_, overrides| {
                        overrides.subdivision = None
                    });
                    section.overrides.subdivision.clone_from(&to);
                    found = true;
                }
            }
        }
    }
    found.then_some(score)
}

/// Every letter and group (which has none), with what it does otherwise.
fn each(items: &mut [FormItem], change: &mut impl FnMut(Option<&Letter>, &mut Overrides)) {
    for item in items {
        match item {
            FormItem::Letter { letter, overrides } => change(Some(letter), overrides),
            FormItem::Group {
                items, overrides, ..
            } => {
                change(None, overrides);
                each(items, change);
            }
            FormItem::BarLine => {}
        }
    }
}
