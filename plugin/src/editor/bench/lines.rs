//! Grid, sticking and voices as text, in the words of the score file.
//!
//! What does not stays as typed, with the reason, and the cell plays on as it
//! was.

use barform_app::music::Grid;
use barform_app::score::edit::{CellEdit, Edit, Lines, Owner, Way};
use barform_app::score::read_grid;
use egui::text::{LayoutJob, TextFormat};
use egui::{FontId, Id, Key, Response, Stroke, TextEdit, Ui};

use super::super::desk::{Desk, Spot};
use super::super::palette::Palette;
use super::known::Known;
use super::regrid::keeping_time;
use crate::state::Problem;

/// Size of the text in points.
const FONT_SIZE: f32 = 14.0;

/// Which line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// The grid.
    Grid,
    /// The sticking.
    Sticking,
    /// The voices.
    Voices,
}

impl Line {
    /// All lines.
    pub const ALL: [Line; 3] = [Line::Grid, Line::Sticking, Line::Voices];

    /// What it is called.
    pub const fn name(self) -> &'static str {
        ["Grid", "Sticking", "Voices"][self as usize]
    }

    const fn hint(self) -> &'static str {
        [
            "Slots per beat: 4 is sixteenths, 6 sixteenth-triplets, 3@2 three slots over two beats",
            "R L hands, K kick foot, H hi-hat foot, - rest, R> accent, (R) ghost note, lR flam, \
             llR drag, Rz buzz, R+K together",
            "One voice a slot: snare tom1 hat:open; . is the voice before, - a rest, snare+kick \
             together; empty: hands on the snare, feet on their pedals",
        ][self as usize]
    }

    /// The line as the cell has it.
    fn of(self, lines: &Lines) -> String {
        match self {
            Line::Grid => lines.grid.to_string(),
            Line::Sticking => lines.sticking.clone(),
            Line::Voices => lines.voices.clone(),
        }
    }

    /// The widget.
    pub fn id(self) -> Id {
        Id::unique(("bench line", self.name()))
    }
}

/// What the fields are about.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// The cell.
    pub known: &'a Known,
    /// Colours.
    pub palette: &'a Palette,
    /// What becomes of strokes when the grid changes.
    pub way: Way,
}

/// Text in one field.
#[derive(Debug, Clone, Default)]
struct Field {
    text: String,
    problem: Option<Problem>,
    /// The desk's number of the score that this text made, while it is typed.
    made: Option<u64>,
}

/// The three fields.
#[derive(Debug, Default)]
pub struct Fields {
    owner: Option<Owner>,
    stamp: Option<u64>,
    fields: [Field; 3],
    /// Lines that were left unfinished, by cell.
    left: Vec<(Owner, [Field; 3])>,
}

impl Fields {
    /// Takes over what the cell states now. What is being typed, and what does
    /// not make sense yet, stays.
    pub fn follow(&mut self, known: &Known) {
        if self.owner.as_ref() != Some(&known.owner) {
            self.change_owner(known);
        } else if self.stamp == Some(known.stamp) {
            return;
        }
        self.stamp = Some(known.stamp);
        for (line, field) in Line::ALL.into_iter().zip(&mut self.fields) {
            if field.problem.is_none() && field.made != Some(known.stamp) {
                field.text = line.of(&known.lines);
                field.made = None;
            }
        }
    }

    fn change_owner(&mut self, known: &Known) {
        let fields = std::mem::take(&mut self.fields);
        if let Some(owner) = self.owner.take()
            && fields.iter().any(|field| field.problem.is_some())
        {
            self.left.push((owner, fields));
        }
        if let Some(at) = self.left.iter().position(|(o, _)| *o == known.owner) {
            self.fields = self.left.swap_remove(at).1;
        }
        self.owner = Some(known.owner.clone());
    }

    /// Puts back what does not make sense; whether there was anything.
    pub fn give_up(&mut self, known: &Known) -> bool {
        let mut any = false;
        for line in Line::ALL {
            any |= self.put_back(line, known);
        }
        any
    }

    fn put_back(&mut self, line: Line, known: &Known) -> bool {
        let field = &mut self.fields[line as usize];
        field.made = None;
        field.text = line.of(&known.lines);
        field.problem.take().is_some()
    }

    /// What is wrong, a sentence each.
    pub fn wrong(&self) -> impl Iterator<Item = String> {
        let all = Line::ALL.into_iter().zip(&self.fields);
        all.filter_map(|(line, field)| {
            Some(format!("{}: {}", line.name(), field.problem.as_ref()?))
        })
    }

    /// Tries lines again that did not fit the grid before.
    pub fn retry(&mut self, desk: &mut Desk, way: Way) {
        for line in [Line::Sticking, Line::Voices] {
            if let Some(known) = Known::of(desk)
                && self.fields[line as usize].problem.is_some()
            {
                self.typed(line, desk, &known, way);
            }
        }
    }

    /// Shows one field, with its name in front, as wide as there is room, but
    /// not wider than `most` points. Returns whether the cell changed.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &mut Desk,
        (line, most): (Line, f32),
        on: &Setting,
    ) -> bool {
        let Setting {
            known,
            palette,
            way,
        } = *on;
        let own = known.lines.own[line as usize];
        let field = &mut self.fields[line as usize];
        let wrong = field.problem.is_some();
        name(ui, line, own, wrong, known, palette);
        let response = edit_text(ui, line, field, most, palette);
        let mut changed = false;
        if response.gained_focus() {
            desk.seal();
        }
        if response.changed() {
            changed = self.typed(line, desk, known, way);
        }
        if response.lost_focus() {
            desk.seal();
            let field = &mut self.fields[line as usize];
            field.made = None;
            if ui.input(|i| i.key_pressed(Key::Escape)) || field.problem.is_none() {
                // Tidy, as the file has it.
                self.stamp = None;
                self.fields[line as usize].problem = None;
            }
        }
        changed
    }

    /// A keystroke: the cell follows if the line makes sense.
    fn typed(&mut self, line: Line, desk: &mut Desk, known: &Known, way: Way) -> bool {
        let text = self.fields[line as usize].text.clone();
        let owner = known.owner.clone();
        let change = match line {
            Line::Grid => match read_grid(text.trim()) {
                Ok(grid) if is_unbounded(&grid) => Err(too_long()),
                Ok(grid) => Ok(CellEdit::Grid { grid, way }),
                Err(error) => Err(Problem::from(error)),
            },
            Line::Sticking => Ok(CellEdit::Sticking(text)),
            Line::Voices => {
                let text = (!text.trim().is_empty()).then_some(text);
                Ok(CellEdit::Voices(text))
            }
        };
        // Each keystroke starts from the cell as it was before the first: what
        // was passed on the way to the line that is meant costs no stroke.
        let group = desk.drag(format!("bench {} of {owner}", line.name()));
        let slot = desk.chosen.slot;
        let outcome = change.and_then(|change| {
            let edit = Edit::Cell(owner, change);
            let go = |desk: &mut Desk| desk.edit(Spot::Bench, &edit, Some(&group)).is_some();
            let done = match line {
                Line::Grid => keeping_time(desk, known, go),
                _ => go(desk),
            };
            let why = desk.refused_at(Spot::Bench).cloned();
            if done {
                Ok(())
            } else {
                Err(why.unwrap_or_else(too_long))
            }
        });
        let field = &mut self.fields[line as usize];
        match outcome {
            Ok(()) => {
                field.problem = None;
                field.made = Some(desk.stamp());
                if line != Line::Grid {
                    desk.chosen.slot = slot;
                }
                true
            }
            Err(problem) => {
                if desk.refused_at(Spot::Bench).is_some() {
                    desk.dismiss();
                }
                field.problem = Some(problem);
                false
            }
        }
    }
}

fn is_unbounded(grid: &Grid) -> bool {
    grid.slot_bounds().is_err()
}

fn too_long() -> Problem {
    super::act::problem("Lengths too fine to add up exactly")
}

/// The name of a line; whose it is, where it is a parent's.
fn name(ui: &mut Ui, line: Line, own: bool, wrong: bool, known: &Known, palette: &Palette) {
    let mut text = line.name().to_owned();
    let mut hint = line.hint().to_owned();
    let stated = line != Line::Voices || !known.lines.voices.is_empty();
    if !own && stated && matches!(known.owner, Owner::Cell(_)) {
        text.push('*');
        hint += ". * taken from the parent; a change here becomes this cell's own";
    }
    if wrong {
        text.push_str(" !");
    }
    let colour = if wrong { palette.error } else { palette.dim };
    let (rect, response) = ui.allocate_exact_size(
        egui::vec2(68.0, ui.spacing().interact_size.y),
        egui::Sense::hover(),
    );
    ui.painter().text(
        rect.left_center(),
        egui::Align2::LEFT_CENTER,
        text,
        FontId::proportional(13.0),
        colour,
    );
    response.on_hover_text(hint);
}

fn edit_text(ui: &mut Ui, line: Line, field: &mut Field, most: f32, palette: &Palette) -> Response {
    let span = field.problem.as_ref().map(|problem| problem.span.clone());
    let mut layouter = |ui: &Ui, text: &dyn egui::TextBuffer, _wrap: f32| {
        let job = marked(text.as_str(), span.clone().unwrap_or(0..0), palette);
        ui.fonts_mut(|fonts| fonts.layout_job(job))
    };
    let width = ui.available_width().min(most);
    let response = TextEdit::singleline(&mut field.text)
        .id(line.id())
        .desired_width(width)
        .margin(egui::Margin::symmetric(5, 2))
        .layouter(&mut layouter)
        .show(ui)
        .response
        .response;
    if field.problem.is_some() {
        let frame = Stroke::new(2.0, palette.error);
        ui.painter()
            .rect_stroke(response.rect, 3.0, frame, egui::StrokeKind::Inside);
    }
    response
        .accessible_name(format!("{} line", line.name()))
        .on_hover_text(line.hint())
}

/// The text with what is wrong in it underlined.
fn marked(text: &str, wrong: std::ops::Range<usize>, palette: &Palette) -> LayoutJob {
    let format = |underline: bool| TextFormat {
        font_id: FontId::monospace(FONT_SIZE),
        color: palette.ink,
        underline: if underline {
            Stroke::new(2.0, palette.error)
        } else {
            Stroke::NONE
        },
        ..TextFormat::default()
    };
    let at = |byte: usize| {
        let mut byte = byte.min(text.len());
        while !text.is_char_boundary(byte) {
            byte -= 1;
        }
        byte
    };
    let (from, to) = (at(wrong.start), at(wrong.end).max(at(wrong.start)));
    let mut job = LayoutJob::default();
    job.append(&text[..from], 0.0, format(false));
    if to > from {
        job.append(&text[from..to], 0.0, format(true));
    }
    if to < text.len() || job.sections.is_empty() {
        job.append(&text[to..], 0.0, format(false));
    }
    job.wrap.max_width = f32::INFINITY;
    job
}
