//! What is done to the form, made into edits.
//!
//! Each goes through the desk, so that undo knows it. What cannot be done says
//! so under the strip. Afterwards what was put in, moved or changed is chosen.

use barform_core::music::{Grid, Letter};
use barform_core::score::edit::{
    Edit, FormEdit, ItemPath, Override, Owner, Paste, Run, SectionEdit, Target, copy_run,
    next_letter,
};
use barform_core::score::{FormItem, Overrides};
use egui::Ui;

use super::menus::Menu;
use super::{Strip, id};
use crate::editor::desk::{Desk, Spot};
use crate::editor::repeats::Kind;
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
        if !keep {
            ui.memory_mut(|m| m.request_focus(id()));
        }
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
            Act::Split => split(desk, run),
            Act::Section(edit) => self.section(desk, edit, None),
            Act::Rename(section, name) => {
                let key = format!("name of section {section}");
                self.section(desk, SectionEdit::Rename { section, name }, Some(key));
            }
            Act::Mend(way) => self.mend(desk, way),
            Act::PutBack => self.put_back(desk),
            Act::Otherwise(change) => self.otherwise(desk, change),
            other => match run {
                Some(run) => self.to_run(desk, run, other),
                None => refuse(desk, "Nothing is chosen", Some("click a block first")),
            },
        }
    }

    /// Acts on what is chosen.
    fn to_run(&mut self, desk: &mut Desk, run: Run, act: Act) {
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
                    "Another letter goes in the place of one",
                    Some("choose one block"),
                ),
            },
            Act::Prime => match one {
                Some(FormItem::Letter { .. }) => self.form(desk, FormEdit::Prime(run.at), None),
                _ => refuse(
                    desk,
                    "A variation is made of one letter",
                    Some("choose one block"),
                ),
            },
            Act::Check => self.check(desk, run),
            _ => {}
        }
    }

    fn form(&mut self, desk: &mut Desk, edit: FormEdit, key: Option<String>) {
        self.form_done(desk, edit, key);
    }

    fn form_done(&mut self, desk: &mut Desk, edit: FormEdit, key: Option<String>) -> bool {
        let group = key.map(|key| desk.typing(key));
        let done = desk.edit(Spot::Strip, &Edit::Form(edit), group.as_ref());
        done.is_some()
    }

    /// Puts items in: after what is chosen, or before it if that is asked for.
    fn put(&mut self, desk: &mut Desk, items: Vec<FormItem>) {
        let at = self.gap(desk);
        self.form(desk, FormEdit::Insert { at, items }, None);
    }

    /// Where something is put in: after what is chosen, else at the end.
    fn gap(&self, desk: &Desk) -> ItemPath {
        match &desk.chosen.run {
            Some(run) if self.menus.before() => run.at.clone(),
            Some(run) => run.at.further(run.count),
            None => {
                let sections = &desk.score().sections;
                let last = sections.len().saturating_sub(1);
                let items = sections.last().map_or(0, |s| s.items.len());
                ItemPath::new(last, [items])
            }
        }
    }

    /// After something was taken out: what now stands there is chosen, or what
    /// stands before.
    fn land(&mut self, desk: &mut Desk, at: ItemPath) {
        let mut at = at;
        while let Some(last) = at.items.last().copied() {
            for index in [Some(last), last.checked_sub(1)].into_iter().flatten() {
                if let Some(end) = at.items.last_mut() {
                    *end = index;
                }
                if at
                    .item(desk.score())
                    .is_some_and(|item| *item != FormItem::BarLine)
                {
                    self.choice.run(desk, at.into());
                    return;
                }
            }
            at.items.pop();
        }
    }

    /// How often what is chosen is played, if that is one thing.
    pub(super) fn times_now(&self, desk: &Desk) -> Option<u32> {
        let run = desk.chosen.run.as_ref()?;
        match run.items(desk.score())? {
            [FormItem::Group { times, .. }] => Some(*times),
            _ => Some(1),
        }
    }

    fn times(&mut self, desk: &mut Desk, run: Run, times: u32) {
        let key = Some(format!("times {:?}", run.at));
        if run.count == 1 {
            let at = run.at;
            self.form(desk, FormEdit::Times { at, times }, key);
        } else if times > 1 {
            self.form(desk, FormEdit::Group { run, times }, key);
        }
    }

    fn ungroup(&mut self, desk: &mut Desk, run: &Run) {
        let outer = &run.at.items[..run.at.items.len().saturating_sub(1)];
        let at = match single(desk, run) {
            Some(FormItem::Group { .. }) => run.at.clone(),
            _ if !outer.is_empty() => ItemPath::new(run.at.section, outer),
            _ => {
                refuse(
                    desk,
                    "What is chosen is in no group",
                    Some("choose a bracket"),
                );
                return;
            }
        };
        self.form(desk, FormEdit::Ungroup(at), None);
    }

    /// A check after what is chosen is taken away if it is there, else put in.
    fn check(&mut self, desk: &mut Desk, run: Run) {
        let gap = run.at.further(run.count);
        let edit = match gap.item(desk.score()) {
            Some(FormItem::BarLine) => FormEdit::Delete(gap.into()),
            _ => FormEdit::Insert {
                at: gap,
                items: vec![FormItem::BarLine],
            },
        };
        if self.form_done(desk, edit, None) {
            self.choice.run(desk, run);
        }
    }

    /// One override of what is chosen: of one item, of a whole section, or of
    /// each item of a stretch.
    fn otherwise(&mut self, desk: &mut Desk, change: Override) {
        let key = match &change {
            Override::Level(_) => Some("level".to_owned()),
            _ => None,
        };
        if let Some(section) = self.choice.section() {
            let edit = FormEdit::Override(Target::Section(section), change);
            if self.form_done(desk, edit, key) {
                self.choice.whole(desk, section);
            }
            return;
        }
        let Some(run) = desk.chosen.run.clone() else {
            refuse(
                desk,
                "Nothing is chosen",
                Some("click a block or a section's name first"),
            );
            return;
        };
        if run.count == 1 {
            let edit = FormEdit::Override(Target::Item(run.at), change);
            self.form(desk, edit, key);
            return;
        }
        let Some(items) = with_each(desk, &run, &change) else {
            return;
        };
        let edit = FormEdit::Items {
            section: run.at.section,
            items,
            cells: Vec::new(),
        };
        if self.form_done(desk, edit, key) {
            self.choice.run(desk, run);
        }
    }

    /// Afterwards the section is chosen that it was done to.
    fn section(&mut self, desk: &mut Desk, edit: SectionEdit, key: Option<String>) {
        let (run, whole) = (desk.chosen.run.clone(), self.choice.section());
        let stays = match &edit {
            SectionEdit::Rename { .. } | SectionEdit::Meter { .. } => true,
            _ => false,
        };
        let gone = matches!(edit, SectionEdit::Remove(_));
        let group = key.map(|key| desk.typing(key));
        let done = desk.edit(Spot::Strip, &Edit::Section(edit), group.as_ref());
        let Some(done) = done.filter(|_| !gone) else {
            return;
        };
        match (stays, whole, done.focus.section) {
            (true, Some(section), _) | (false, _, Some(section)) => {
                self.choice.whole(desk, section);
            }
            _ => desk.chosen.run = run.filter(|run| run.items(desk.score()).is_some()),
        }
    }

    fn look(&mut self, number: usize) {
        self.fit.look(number);
        if let Some(fault) = self.fit.faults().get(number) {
            self.view.reveal(fault.start, fault.end);
        }
    }

    fn mend(&mut self, desk: &mut Desk, number: usize) {
        let Some(way) = self.fit.ways().and_then(|ways| ways.get(number)).cloned() else {
            let message = if self.fit.faults().is_empty() {
                "No bar needs mending"
            } else {
                "There is no such mend"
            };
            refuse(desk, message, None);
            return;
        };
        let section = desk.score().sections.get(way.section);
        let items = section.and_then(|section| self.fit.mended(&way, &section.items));
        if let Some(items) = items {
            let (section, cells) = (way.section, way.cells);
            self.form(
                desk,
                FormEdit::Items {
                    section,
                    items,
                    cells,
                },
                None,
            );
            desk.chosen.run = None;
        }
    }

    /// In one step, however many sections.
    fn put_back(&mut self, desk: &mut Desk) {
        let mut sections: Vec<usize> = self.fit.holding().iter().map(|g| g.section).collect();
        sections.dedup();
        let run = desk.chosen.run.clone();
        let key = format!("checks {}", desk.stamp());
        for section in sections {
            let Some(of) = desk.score().sections.get(section) else {
                continue;
            };
            let items = self.fit.with_checks(section, &of.items);
            let cells = Vec::new();
            self.form(
                desk,
                FormEdit::Items {
                    section,
                    items,
                    cells,
                },
                Some(key.clone()),
            );
        }
        desk.seal();
        // Items moved only behind what was put back.
        desk.chosen.run = run.filter(|run| run.items(desk.score()).is_some());
    }

    fn copy(&mut self, ui: &Ui, desk: &mut Desk) -> bool {
        let run = desk.chosen.run.as_ref();
        let Some(text) = run.and_then(|run| copy_run(desk.score(), run, true)) else {
            refuse(
                desk,
                "Nothing is chosen to be copied",
                Some("click a block first"),
            );
            return false;
        };
        ui.ctx().copy_text(text.clone());
        self.copied = text;
        true
    }

    fn neighbour(&mut self, desk: &mut Desk, later: bool, extend: bool) {
        let last = desk.shown.checked.timeline.places.len().saturating_sub(1);
        let place = match self.choice.head() {
            Some(head) if later => (head + 1).min(last),
            Some(head) => head.saturating_sub(1),
            None => self.first_in_view(desk),
        };
        self.choice.block(desk, place, extend, true);
    }

    fn first_in_view(&self, desk: &Desk) -> usize {
        let start = self.view.start_beats();
        let places = &desk.shown.checked.timeline.places;
        places.partition_point(|place| place.start.to_f64() < start - 1e-9)
    }

    fn all(&mut self, desk: &mut Desk) {
        let at = match &desk.chosen.run {
            Some(run) => run.at.clone(),
            None => ItemPath::new(0, [0]),
        };
        let Some((_, outer)) = at.items.split_last() else {
            return;
        };
        let items: Vec<usize> = outer.iter().copied().chain([0]).collect();
        let at = ItemPath::new(at.section, items);
        let mut count = 0;
        while at.further(count).item(desk.score()).is_some() {
            count += 1;
        }
        self.choice.run(desk, Run { at, count });
    }

    fn around(&mut self, desk: &mut Desk) {
        let Some(run) = &desk.chosen.run else { return };
        let (section, mut items) = (run.at.section, run.at.items.clone());
        items.pop();
        if items.is_empty() {
            self.choice.whole(desk, section);
        } else {
            self.choice.run(desk, ItemPath::new(section, items).into());
        }
    }

    fn inside(&mut self, desk: &mut Desk) {
        let Some((section, items)) = self.choice.items().cloned() else {
            return;
        };
        let written = &desk.shown.written;
        let number = match written.entry(section, items.start).map(|e| e.kind) {
            Some(Kind::Group(_)) if items.len() > 1 => items.start + 1,
            _ => items.start,
        };
        if let Some(at) = written.path(section, number) {
            self.choice.run(desk, at.into());
        }
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

fn split(desk: &mut Desk, run: Option<Run>) {
    let Some(run) = run else {
        refuse(
            desk,
            "Nothing is chosen",
            Some("click the block that the new section begins with"),
        );
        return;
    };
    let edit = SectionEdit::Split {
        at: run.at,
        name: String::new(),
    };
    desk.edit(Spot::Strip, &Edit::Section(edit), None);
}

/// A section's items with an override set on each item of a run.
fn with_each(desk: &Desk, run: &Run, change: &Override) -> Option<Vec<FormItem>> {
    let mut items = desk.score().sections.get(run.at.section)?.items.clone();
    let (first, outer) = run.at.items.split_last()?;
    let mut list = &mut items;
    for index in outer {
        let FormItem::Group { items, .. } = list.get_mut(*index)? else {
            return None;
        };
        list = items;
    }
    for item in list.get_mut(*first..*first + run.count)? {
        let overrides = match item {
            FormItem::Letter { overrides, .. } | FormItem::Group { overrides, .. } => overrides,
            FormItem::BarLine => continue,
        };
        match change.clone() {
            Override::Subdivision(to) => overrides.subdivision = to,
            Override::Rate(to) => overrides.rate = to,
            Override::Level(to) => overrides.level = to,
            Override::Voicing(to) => overrides.voicing = to,
        }
    }
    Some(items)
}
