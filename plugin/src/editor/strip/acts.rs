//! What is done to the form, made into edits.
//!
//! Each goes through the desk, so that undo knows it. What cannot be done says
//! so under the strip. Afterwards what was put in, moved or changed is chosen.

mod choosing;
mod forms;
mod sections;

use barform_app::music::{Grid, Letter};
use barform_app::score::edit::{
    Edit, FormEdit, ItemPath, Override, Owner, Paste, Run, SectionEdit, copy_run, next_letter,
};
use barform_app::score::{FormItem, Overrides};
use egui::Ui;

use super::Strip;
use super::menus::Menu;
use crate::editor::desk::{Desk, Spot};
use crate::state::Problem;

/// Something the user does to the form.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// Chooses a block, or extends the choice to it.
    Block(usize, bool),
    /// Chooses an item of a section by its number.
    Item(usize, usize),
    /// Chooses a whole section.
    WholeSection(usize),
    /// Chooses the next block, or the one before; or extends the choice.
    Neighbour(bool, bool),
    /// Chooses the last block, or the first; or extends the choice.
    End(bool, bool),
    /// Chooses all of the list that the choice is in.
    All,
    /// Chooses the group around.
    Around,
    /// Chooses what is first in a group.
    Inside,
    /// Chooses nothing.
    Nothing,
    /// The view moved; nothing else.
    Looked,
    /// Opens the cell on the Bench.
    ToBench,
    /// Opens a menu.
    Open(Menu),
    /// Puts a letter in.
    Insert(Letter),
    /// A letter that no cell has was typed.
    Unknown(String),
    /// Makes a new cell and puts it in.
    NewCell,
    /// Plays what is chosen once more.
    Duplicate,
    /// Takes what is chosen out.
    Delete,
    /// Moves what is chosen past its neighbour after, or before.
    Step(bool),
    /// Moves or copies what is chosen to a gap.
    Drop {
        /// The gap.
        to: ItemPath,
        /// Whether it also stays.
        copy: bool,
    },
    /// How often what is chosen is played.
    Times(u32),
    /// So many times more.
    More(i32),
    /// Puts what is chosen in a group.
    Group,
    /// Takes parentheses away.
    Ungroup,
    /// Plays another letter.
    Play(Letter),
    /// Makes a variation.
    Prime,
    /// Puts a bar-line check after what is chosen, or takes it away.
    Check,
    /// Plays what is chosen otherwise.
    Otherwise(Override),
    /// Copies what is chosen.
    Copy,
    /// Copies it and takes it out.
    Cut,
    /// Puts text in.
    Paste(String),
    /// Begins a new section with what is chosen.
    Split,
    /// Changes the list of sections.
    Section(SectionEdit),
    /// Names a section, as it is typed.
    Rename(usize, String),
    /// Looks at what is missing in another bar.
    Look(usize),
    /// Mends what is missing in a bar, by the n-th way.
    Mend(usize),
    /// Puts checks back that were taken away and hold again.
    PutBack,
}

impl Strip {
    /// Does it.
    pub(super) fn act(&mut self, ui: &Ui, desk: &mut Desk, act: Act) {
        let keep = matches!(act, Act::Open(_) | Act::Rename(..) | Act::Otherwise(_));
        // The Bench takes it where it is opened.
        self.calls_keys |= !keep && act != Act::ToBench;
        match act {
            Act::Block(place, extend) => self.choice.block(desk, place, extend, false),
            Act::Item(section, number) => {
                if let Some(at) = desk.shown.written.path(section, number) {
                    self.choice.run(desk, at.into());
                }
            }
            Act::WholeSection(section) => self.choice.whole(desk, section),
            Act::Neighbour(later, extend) => self.neighbour(desk, later, extend),
            Act::End(last, extend) => {
                let places = desk.shown.checked.timeline.places.len();
                let place = if last { places.saturating_sub(1) } else { 0 };
                self.choice.block(desk, place, extend, true);
            }
            Act::All => self.all(desk),
            Act::Around => self.around(desk),
            Act::Inside => self.inside(desk),
            Act::Nothing => self.choice.clear(desk),
            Act::Looked => {}
            Act::ToBench => to_bench(desk),
            Act::Open(menu) => self.menus.open(menu),
            Act::Look(number) => self.look(number),
            Act::Copy => {
                self.copy(ui, desk);
            }
            Act::Cut => {
                if self.copy(ui, desk) {
                    self.change(desk, Act::Delete);
                }
            }
            Act::Unknown(letter) => {
                let free = next_letter(desk.score());
                let mend = free.map(|free| format!("Insert… makes a new cell {free}"));
                refuse(desk, &format!("There is no cell {letter}"), mend.as_deref());
            }
            other => self.change(desk, other),
        }
    }

    /// Acts that change the score.
    fn change(&mut self, desk: &mut Desk, act: Act) {
        let run = desk.chosen.run.clone();
        match act {
            Act::Insert(letter) => self.put(desk, vec![plain(letter)]),
            Act::NewCell => {
                if let Some(grid) = new_grid(desk) {
                    let at = self.gap(desk);
                    self.form(desk, FormEdit::NewCell { at, grid }, None);
                }
            }
            Act::Paste(text) => {
                let at = Some(self.gap(desk));
                desk.edit(Spot::Strip, &Edit::Paste(Paste { text, at }), None);
            }
            Act::Split => sections::split(desk, run),
            Act::Section(edit) => self.section(desk, edit, None),
            Act::Rename(section, name) => {
                let key = format!("name of section {section}");
                self.section(desk, SectionEdit::Rename { section, name }, Some(key));
            }
            Act::Mend(way) => self.mend(desk, way),
            Act::PutBack => self.put_back(desk),
            Act::Otherwise(change) => self.otherwise(desk, change),
            other => match run {
                Some(run) => self.on_run(desk, run, other),
                None => refuse(desk, "Nothing is selected", Some("click a block first")),
            },
        }
    }

    /// Acts on what is chosen.
    fn on_run(&mut self, desk: &mut Desk, run: Run, act: Act) {
        let one = single(desk, &run);
        match act {
            Act::Duplicate => self.form(desk, FormEdit::Duplicate(run), None),
            Act::Delete => {
                let at = run.at.clone();
                if self.form_done(desk, FormEdit::Delete(run), None) {
                    self.land(desk, at);
                }
            }
            Act::Step(later) => self.form(desk, FormEdit::Step { run, later }, None),
            Act::Drop { to, copy: false } => self.form(desk, FormEdit::Move { run, to }, None),
            Act::Drop { to, copy: true } => {
                let items = run.items(desk.score()).unwrap_or_default().to_vec();
                self.form(desk, FormEdit::Insert { at: to, items }, None);
            }
            Act::Times(times) => self.times(desk, run, times),
            Act::More(by) => {
                let now = self.times_now(desk).unwrap_or(1);
                let times = now.saturating_add_signed(by).clamp(1, 9_999);
                self.times(desk, run, times);
            }
            Act::Group => self.form(desk, FormEdit::Group { run, times: 2 }, None),
            Act::Ungroup => self.ungroup(desk, &run),
            Act::Play(letter) => match one {
                Some(FormItem::Letter { .. }) => {
                    self.form(desk, FormEdit::Play { at: run.at, letter }, None);
                }
                _ => refuse(
                    desk,
                    "Select one block to replace its letter",
                    Some("select one block"),
                ),
            },
            Act::Prime => match one {
                Some(FormItem::Letter { .. }) => self.form(desk, FormEdit::Prime(run.at), None),
                _ => refuse(
                    desk,
                    "A variation is made of one letter",
                    Some("select one block"),
                ),
            },
            Act::Check => self.check(desk, run),
            _ => {}
        }
    }

    fn copy(&mut self, ui: &Ui, desk: &mut Desk) -> bool {
        let run = desk.chosen.run.as_ref();
        let Some(text) = run.and_then(|run| copy_run(desk.score(), run, true)) else {
            refuse(
                desk,
                "Nothing is selected to be copied",
                Some("click a block first"),
            );
            return false;
        };
        ui.ctx().copy_text(text.clone());
        self.copied = text;
        true
    }
}

/// Says under the strip what cannot be done.
pub fn refuse(desk: &mut Desk, message: &str, mend: Option<&str>) {
    let problem = Problem {
        line: 0,
        column: 0,
        span: 0..0,
        message: message.to_owned(),
        mend: mend.map(str::to_owned),
    };
    desk.refuse(Spot::Strip, problem);
}

/// The item of a run of one.
fn single(desk: &Desk, run: &Run) -> Option<FormItem> {
    match run.items(desk.score())? {
        [one] => Some(one.clone()),
        _ => None,
    }
}

pub fn plain(letter: Letter) -> FormItem {
    FormItem::Letter {
        letter,
        overrides: Overrides::default(),
    }
}

fn to_bench(desk: &mut Desk) {
    if let Some(Owner::Cell(letter)) = desk.owner() {
        let slot = desk.chosen.slot;
        desk.to_bench(letter);
        desk.chosen.slot = slot;
    }
}

/// The grid of a new cell: that of the chosen one, so that it fits in beside it.
fn new_grid(desk: &Desk) -> Option<Grid> {
    let chosen = desk.chosen.run.as_ref().and(desk.chosen_cell());
    let grid = chosen.map(|cell| cell.grid);
    grid.or_else(|| Grid::per_beat(4))
}
