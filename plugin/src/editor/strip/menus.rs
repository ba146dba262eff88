//! What the menus of the row hold: letters to put in, sections.

use barform_app::music::{Letter, Meter};
use barform_app::score::Score;
use barform_app::score::edit::{SectionEdit, next_letter};
use barform_app::words;
use egui::{
    Button, Key, Popup, PopupCloseBehavior, ScrollArea, SetOpenCommand, TextEdit, Ui, WidgetText,
    style::StyleModifier,
};

use super::acts::{plain, refuse};
use super::{Act, Strip};
use crate::editor::desk::Desk;

/// A menu of the row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Menu {
    /// Letters.
    Insert,
    /// How it is played here.
    Otherwise,
    /// Sections.
    Section,
}

/// What the menus keep.
#[derive(Debug, Default)]
pub struct Menus {
    /// To be opened by key.
    open: Option<Menu>,
    /// Something is put in before what is chosen.
    before: bool,
    /// A grid as typed.
    pub(super) grid: String,
    /// A new subdivision carries.
    pub(super) carry: bool,
    /// A meter as typed.
    meter: String,
}

impl Menus {
    /// Opens a menu with the next frame.
    pub fn open(&mut self, menu: Menu) {
        self.open = Some(menu);
    }

    /// Whether something is put in before what is chosen.
    pub fn before(&self) -> bool {
        self.before
    }

    /// Whether a menu is to be opened now.
    pub(super) fn opens(&mut self, menu: Menu) -> Option<bool> {
        let opens = self.open == Some(menu);
        if opens {
            self.open = None;
        }
        opens.then_some(true)
    }
}

/// A button that opens a menu.
pub struct MenuButton<'a> {
    name: &'a str,
    hint: &'a str,
}

impl<'a> MenuButton<'a> {
    /// A button with a name and a tip.
    pub fn new(name: &'a str, hint: &'a str) -> MenuButton<'a> {
        MenuButton { name, hint }
    }

    /// Shows it, and its menu while that is open; `open` opens it.
    pub fn show(self, ui: &mut Ui, open: Option<bool>, content: impl FnOnce(&mut Ui)) {
        let response = ui.add(Button::new(self.name));
        let set = match open {
            Some(open) => {
                // From here Down goes into the menu.
                response.request_focus();
                Some(SetOpenCommand::Bool(open))
            }
            None => response.clicked().then_some(SetOpenCommand::Toggle),
        };
        Popup::menu(&response)
            .open_memory(set)
            .gap(2.0)
            .style(StyleModifier::default())
            .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
            .show(|ui| {
                ui.spacing_mut().button_padding = egui::vec2(6.0, 2.0);
                content(ui);
            });
        response.on_hover_text(self.hint);
    }
}

/// Height of a long list in a menu, in points.
const LIST: f32 = 220.0;

impl Strip {
    /// Letters that exist, and a new one.
    pub(super) fn insert_menu(&mut self, ui: &mut Ui, desk: &Desk, acts: &mut Vec<Act>) {
        let open = self.menus.opens(Menu::Insert);
        let before = &mut self.menus.before;
        Menu::Insert.button().show(ui, open, |ui| {
            ui.set_min_width(230.0);
            let score = desk.score();
            if desk.chosen.run.is_some() {
                ui.horizontal(|ui| {
                    ui.selectable_value(before, false, "After what is selected");
                    ui.selectable_value(before, true, "Before it");
                });
            } else {
                ui.label("At the end of the form");
            }
            let height = ui.spacing().interact_size.y;
            ScrollArea::vertical().max_height(LIST).show_rows(
                ui,
                height,
                score.cells.len(),
                |ui, rows| {
                    for cell in score.cells.get(rows).unwrap_or_default() {
                        let text = described(score, &cell.letter);
                        let button = ui.button(text);
                        let name = format!("Insert {}", cell.letter);
                        if button.accessible_name(name).clicked() {
                            acts.push(Act::Insert(cell.letter.clone()));
                            ui.close();
                        }
                    }
                },
            );
            ui.separator();
            let free = next_letter(score).map_or(String::new(), |letter| letter.to_string());
            let hint =
                "A cell of rests as long as the selected one, to be filled on the Bench (Insert)";
            let new = ui.button(format!("New cell {free}")).on_hover_text(hint);
            if new.clicked() {
                acts.push(Act::NewCell);
                ui.close();
            }
        });
    }

    /// What is done to the section of what is chosen.
    pub(super) fn section_menu(&mut self, ui: &mut Ui, desk: &mut Desk, acts: &mut Vec<Act>) {
        let open = self.menus.opens(Menu::Section);
        let chosen = desk.chosen.run.as_ref().map(|run| run.at.section);
        let number = chosen.unwrap_or(0);
        let count = desk.score().sections.len();
        let Some(section) = desk.score().sections.get(number).cloned() else {
            return;
        };
        let meter = &mut self.menus.meter;
        Menu::Section.button().show(ui, open, |ui| {
            ui.set_min_width(250.0);
            ui.label(format!("Section {} of {count}", number + 1));
            let mut name = section.name.clone();
            let field = TextEdit::singleline(&mut name).hint_text("Name");
            if ui.add(field).accessible_name("Section name").changed() {
                acts.push(Act::Rename(number, name));
            }
            ui.horizontal(|ui| {
                ui.label("Meter");
                let now = section.meter.unwrap_or(desk.score().meter).to_string();
                let field = TextEdit::singleline(meter)
                    .hint_text(now)
                    .desired_width(56.0);
                let field = ui.add(field).accessible_name("Section meter");
                let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
                let set = ui
                    .button("Set")
                    .on_hover_text("Such as 3/4, 7/8 or 12/8 (Enter)");
                if set.accessible_name("Set meter").clicked() || enter {
                    match meter.parse::<Meter>() {
                        Ok(meter) => acts.push(Act::Section(SectionEdit::Meter {
                            section: number,
                            meter: Some(meter),
                        })),
                        Err(()) => refuse(
                            desk,
                            &format!("'{meter}' is no meter"),
                            Some("write it as 4/4, 7/8 or 12/8"),
                        ),
                    }
                    meter.clear();
                }
                if section.meter.is_some() && ui.button("As the score").clicked() {
                    acts.push(Act::Section(SectionEdit::Meter {
                        section: number,
                        meter: None,
                    }));
                }
            });
            ui.separator();
            let mut item = |ui: &mut Ui, enabled: bool, name: &str, hint: &str, act: Act| {
                let response = ui.add_enabled(enabled, Button::new(name));
                let response = response.on_hover_text(hint).on_disabled_hover_text(hint);
                if response.clicked() {
                    acts.push(act);
                    ui.close();
                }
            };
            let first = desk.score().cells.first().map(|cell| cell.letter.clone());
            let letter = match desk.owner() {
                Some(barform_app::score::edit::Owner::Cell(letter)) => Some(letter),
                _ => first,
            };
            let hint = "Cuts the section in two before what is selected (Ctrl+K)";
            item(
                ui,
                chosen.is_some(),
                "Split before the selected block",
                hint,
                Act::Split,
            );
            if let Some(letter) = letter {
                let new = SectionEdit::Insert {
                    at: number + 1,
                    name: format!("Section {}", count + 1),
                    items: vec![plain(letter)],
                };
                let hint = "A new section after this one, with the selected letter in it";
                item(ui, true, "New section after it", hint, Act::Section(new));
            }
            let hint = "Plays the whole section once more, right after itself";
            let twice = Act::Section(SectionEdit::Duplicate(number));
            item(ui, true, "Duplicate it", hint, twice);
            let to = |to| Act::Section(SectionEdit::Move { from: number, to });
            let hint = "Plays it before the section before it";
            item(
                ui,
                number > 0,
                "Move it earlier",
                hint,
                to(number.saturating_sub(1)),
            );
            let hint = "Plays it after the section after it";
            item(
                ui,
                number + 1 < count,
                "Move it later",
                hint,
                to(number + 1),
            );
            let hint = "Deletes the section with its letters; the cells stay";
            let remove = Act::Section(SectionEdit::Remove(number));
            item(ui, count > 1, "Remove it", hint, remove);
        });
    }
}

/// `A   3 beats, 6 6 6`.
fn described(score: &Score, letter: &Letter) -> WidgetText {
    let cell = score.cell(letter);
    let length = cell.as_ref().and_then(|cell| cell.grid.length().ok());
    let length = length.map_or(String::new(), words::beats);
    let grid = cell.map_or(String::new(), |cell| cell.grid.to_string());
    let mut grid = grid.as_str();
    // A long grid is on the Bench in full.
    if grid.len() > 24 {
        grid = "";
    }
    let comma = if grid.is_empty() { "" } else { ", grid " };
    format!("{}   {length}{comma}{grid}", words::letter(letter)).into()
}
