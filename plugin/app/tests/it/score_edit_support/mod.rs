//! An invented score and short ways to edit it.

// Every test binary uses its own part of this.
#![allow(dead_code)]

pub mod actions;

use barform_app::music::{Cell, Grid, Letter};
use barform_app::score::edit::{
    BarLines, CellEdit, Done, Edit, FormEdit, ItemPath, LetterEdit, Lines, Owner, Run, SectionEdit,
};
use barform_app::score::{CellDef, FormItem, Score, form_text, read_form, read_grid};

/// Four cells: three beats, one beat with a variation, and two beats.
pub const CELLS: &str = r#"
[cell.A]                        # three beats
grid = "6 6 6"
sticking = "R> L R L R L  R> L R L R L  R> L R L K K"
voices   = "snare . . . . .  tom1 . . . . .  tom2 . . . kick ."

[cell.B]                        # one beat
grid = "6"
sticking = "R L K R L K"
voices   = "snare snare kick tom1 tom1 kick"

[cell."B'"]
like = "B"
voices = "tom1 tom1 kick tom2 tom2 kick"

[cell.C]
grid = "4 4"
sticking = "R L R L  R L R L"
"#;

/// A file with this form at the top.
pub fn file(form: &str) -> String {
    format!("barform = 1 # invented\ntempo = 92\nmeter = \"4/4\"\nform = \"{form}\"\n{CELLS}")
}

/// A score with this form.
#[track_caller]
pub fn score(form: &str) -> Score {
    Score::parse(&file(form), "solo.barform").unwrap()
}

/// A score with sections: name, meter (may be empty) and form of each.
#[track_caller]
pub fn sections(all: &[(&str, &str, &str)]) -> Score {
    let mut text = String::from("barform = 1\nmeter = \"4/4\"\n");
    for (name, meter, form) in all {
        text += "[[section]]\n";
        if !name.is_empty() {
            text += &format!("name = \"{name}\"\n");
        }
        if !meter.is_empty() {
            text += &format!("meter = \"{meter}\"\n");
        }
        text += &format!("form = \"{form}\"\n");
    }
    Score::parse(&(text + CELLS), "solo.barform").unwrap()
}

pub fn letter(text: &str) -> Letter {
    Letter::new(text).unwrap()
}

pub fn grid(text: &str) -> Grid {
    read_grid(text).unwrap()
}

pub fn items(text: &str) -> Vec<FormItem> {
    read_form(text).unwrap()
}

/// Items in the first section.
pub fn path(items: &[usize]) -> ItemPath {
    ItemPath::new(0, items)
}

pub fn run(items: &[usize], count: usize) -> Run {
    Run {
        at: path(items),
        count,
    }
}

/// The form of a section as text.
pub fn form(score: &Score, section: usize) -> String {
    form_text(&score.sections[section].items)
}

pub fn cell(score: &Score, of: &str) -> Cell {
    score.cell(&letter(of)).unwrap()
}

#[track_caller]
fn made(edit: Edit, score: &Score) -> Done {
    let done = edit.apply_with(score, BarLines::Hold).unwrap();
    done.score.check().unwrap();
    done
}

#[track_caller]
pub fn do_form(score: &Score, edit: FormEdit) -> Done {
    made(Edit::Form(edit), score)
}

#[track_caller]
pub fn do_section(score: &Score, edit: SectionEdit) -> Done {
    made(Edit::Section(edit), score)
}

#[track_caller]
pub fn do_letter(score: &Score, edit: LetterEdit) -> Done {
    made(Edit::Letter(edit), score)
}

#[track_caller]
pub fn do_cell(score: &Score, of: &str, edit: CellEdit) -> Done {
    made(Edit::Cell(Owner::Cell(letter(of)), edit), score)
}

/// Why the edit is refused.
#[track_caller]
pub fn refused(score: &Score, edit: Edit) -> String {
    edit.apply(score).unwrap_err().to_string()
}

/// Grid, sticking and voices of a cell as text.
pub fn lines(score: &Score, of: &str) -> [String; 3] {
    let lines = Lines::of(score, &Owner::Cell(letter(of))).unwrap();
    [lines.grid.to_string(), lines.sticking, lines.voices]
}

/// What a cell states.
pub fn def<'s>(score: &'s Score, of: &str) -> &'s CellDef {
    score.cells.iter().find(|c| c.letter == letter(of)).unwrap()
}
