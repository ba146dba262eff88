//! What the window shows of a score, worked out once for each score.

use egui::Color32;

use super::palette::letter_colours;
use crate::state::CompiledScore;
use barform_app::session::WrittenForm;

/// A playing score with what drawing it needs.
#[derive(Debug, Clone)]
pub struct Shown {
    /// The score.
    pub checked: CompiledScore,
    /// Colour of each of the timeline's letters.
    pub colours: Vec<Color32>,
    /// The form as written.
    pub written: WrittenForm,
}

impl Shown {
    /// Works it out.
    pub fn of(checked: CompiledScore) -> Shown {
        let colours = letter_colours(&checked.timeline);
        let written = WrittenForm::of(checked.score());
        Shown {
            checked,
            colours,
            written,
        }
    }

    /// The place that follows another as the form is played, the first again
    /// after the last if the form repeats.
    pub fn next_place(&self, place: usize, repeat: bool) -> Option<usize> {
        let next = place + 1;
        if next < self.checked.timeline.places.len() {
            Some(next)
        } else {
            repeat.then_some(0)
        }
    }
}

#[cfg(test)]
pub mod tests {
    use super::Shown;
    use crate::state::check;

    /// A form in 4/4 of cells A, a beat each.
    pub fn shown_of(form: &str) -> Shown {
        let text = format!(
            "barform = 1\ntempo = 90\nmeter = \"4/4\"\nform = \"{form}\"\n\
             [cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n"
        );
        Shown::of(check(&text, "test").unwrap())
    }
}
