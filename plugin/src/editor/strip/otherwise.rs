//! The menu of what a block, a stretch or a section does otherwise.

use barform_app::music::{Fit, Subdivision};
use barform_app::score::edit::{Override, next_prime};
use barform_app::score::{FormItem, Overrides, Rate, read_grid};
use barform_app::words;
use egui::{Key, RichText, Slider, TextEdit, Ui};

use super::menus::Menu;
use super::{Act, Strip};
use crate::editor::desk::Desk;

/// Letters offered in the place of one; more are reached by Insert.
const LETTERS: usize = 40;

/// Width of the menu, in points.
const WIDTH: f32 = 380.0;

impl Strip {
    /// Another letter, subdivision, rate, level, voicing.
    pub(super) fn otherwise_menu(&mut self, ui: &mut Ui, desk: &mut Desk, acts: &mut Vec<Act>) {
        let open = self.menus.opens(Menu::Otherwise);
        let whole = self.choice.section();
        let run = desk.chosen.run.clone();
        Menu::Otherwise.button().show(ui, open, |ui| {
            ui.set_width(WIDTH);
            let items = run.as_ref().and_then(|run| run.items(desk.score()));
            let items = items.unwrap_or_default().to_vec();
            let now = match (whole, items.iter().find_map(overrides)) {
                (Some(section), _) => {
                    let section = desk.score().sections.get(section);
                    section.map(|section| section.overrides.clone())
                }
                (None, first) => first.cloned(),
            };
            let Some(now) = now else {
                ui.label("Select a block, a bracket or a section's name first.");
                return;
            };
            let of = match (whole, &items[..]) {
                (Some(_), _) => "the whole section".to_owned(),
                (None, [FormItem::Letter { letter, .. }]) => words::letter(letter),
                (None, [_]) => "the group".to_owned(),
                (None, more) => format!("each of {} items", more.len()),
            };
            ui.label(RichText::new(format!("How {of} is played here")).strong());
            if let (None, [FormItem::Letter { letter, .. }]) = (whole, &items[..]) {
                letters(ui, desk, letter, acts);
            }
            self.subdivision(ui, desk, &now, acts);
            rate(ui, &now, acts);
            level(ui, &now, acts);
            voicing(ui, desk, &now, acts);
        });
    }

    fn subdivision(&mut self, ui: &mut Ui, desk: &mut Desk, now: &Overrides, acts: &mut Vec<Act>) {
        let menus = &mut self.menus;
        let mut set = |to: Option<(Subdivision, Fit)>| {
            acts.push(Act::Otherwise(Override::Subdivision(to)));
        };
        ui.separator();
        ui.label("Subdivision");
        let fit = now.subdivision.as_ref().map(|(_, fit)| *fit);
        ui.horizontal(|ui| {
            let carry = fit.map_or(menus.carry, |fit| fit == Fit::Carry);
            for (name, hint, to) in [
                (
                    "Refit",
                    "Keeps its length in beats; strokes are left out or repeated to fit",
                    false,
                ),
                (
                    "Carry",
                    "Keeps its strokes; its length changes, it moves across the bar line",
                    true,
                ),
            ] {
                let label = ui.selectable_label(carry == to, name).on_hover_text(hint);
                if label.clicked() {
                    menus.carry = to;
                    if let Some((subdivision, _)) = &now.subdivision {
                        set(Some((subdivision.clone(), way(to))));
                    }
                }
            }
        });
        let carry = fit.map_or(menus.carry, |fit| fit == Fit::Carry);
        ui.horizontal_wrapped(|ui| {
            if ui.selectable_label(fit.is_none(), "As written").clicked() {
                set(None);
            }
            for (name, ..) in Subdivision::NAMES {
                let Some(subdivision) = Subdivision::from_name(name) else {
                    continue;
                };
                let on = now
                    .subdivision
                    .as_ref()
                    .is_some_and(|(s, _)| *s == subdivision);
                if ui.selectable_label(on, name).clicked() {
                    set(Some((subdivision, way(carry))));
                }
            }
        });
        ui.horizontal(|ui| {
            ui.label("Or a grid");
            let field = TextEdit::singleline(&mut menus.grid)
                .hint_text("4 6, or 3@2")
                .desired_width(110.0);
            let field = ui.add(field).accessible_name("Grid here");
            let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            let button = ui.button("Set").accessible_name("Set grid");
            if button.clicked() || enter {
                match read_grid(&menus.grid) {
                    Ok(grid) => {
                        set(Some((Subdivision(grid), way(carry))));
                        menus.grid.clear();
                    }
                    Err(error) => desk.refuse(crate::editor::Spot::Strip, error.into()),
                }
            }
        });
    }
}

fn way(carry: bool) -> Fit {
    if carry { Fit::Carry } else { Fit::Refit }
}

fn overrides(item: &FormItem) -> Option<&Overrides> {
    match item {
        FormItem::Letter { overrides, .. } | FormItem::Group { overrides, .. } => Some(overrides),
        FormItem::BarLine => None,
    }
}

fn letters(ui: &mut Ui, desk: &mut Desk, now: &barform_app::music::Letter, acts: &mut Vec<Act>) {
    ui.separator();
    ui.label("Letter");
    let prime = next_prime(desk.score(), now);
    ui.horizontal_wrapped(|ui| {
        for cell in desk.score().cells.iter().take(LETTERS) {
            let label = ui.selectable_label(cell.letter == *now, words::letter(&cell.letter));
            let name = format!("Play {} here", cell.letter);
            if label.accessible_name(name).clicked() {
                acts.push(Act::Play(cell.letter.clone()));
            }
        }
        if let Some(prime) = prime {
            let hint = "A new variation, played here only (')";
            let button = ui.button(format!("new {}", words::letter(&prime)));
            if button.on_hover_text(hint).clicked() {
                acts.push(Act::Prime);
            }
        }
    });
    if desk.score().cells.len() > LETTERS {
        ui.label("More letters are in Insert…");
    }
}

fn rate(ui: &mut Ui, now: &Overrides, acts: &mut Vec<Act>) {
    ui.separator();
    ui.horizontal(|ui| {
        ui.label("Rate").on_hover_text("Speed against the tempo");
        for (name, to, hint) in [
            ("As written", None, "As what is around it"),
            ("×1/2", Some(Rate::Half), "Everything takes twice as long"),
            (
                "×1",
                Some(Rate::Normal),
                "At the speed of what is around it",
            ),
            ("×2", Some(Rate::Double), "Everything takes half as long"),
        ] {
            let label = ui
                .selectable_label(now.rate == to, name)
                .on_hover_text(hint);
            if label.accessible_name(format!("Rate {name}")).clicked() {
                acts.push(Act::Otherwise(Override::Rate(to)));
            }
        }
    });
}

fn level(ui: &mut Ui, now: &Overrides, acts: &mut Vec<Act>) {
    ui.separator();
    ui.horizontal(|ui| {
        ui.label("Level")
            .on_hover_text("Loudness in per cent of the kit's");
        let label = ui.selectable_label(now.level.is_none(), "As written");
        if label.accessible_name("Level as written").clicked() {
            acts.push(Act::Otherwise(Override::Level(None)));
        }
        let mut level = now.level.unwrap_or(100);
        let slider = Slider::new(&mut level, 10..=150).suffix("%");
        if ui.add(slider).accessible_name("Level here").changed() {
            acts.push(Act::Otherwise(Override::Level(Some(level))));
        }
    });
}

fn voicing(ui: &mut Ui, desk: &mut Desk, now: &Overrides, acts: &mut Vec<Act>) {
    ui.separator();
    let names: Vec<String> = desk
        .score()
        .voicings
        .iter()
        .map(|v| v.name.clone())
        .collect();
    ui.horizontal_wrapped(|ui| {
        ui.label("Voicing")
            .on_hover_text("The same strokes on other drums");
        if names.is_empty() {
            ui.label("There is none yet: write [voicing.NAME] on the Score page.");
            return;
        }
        let label = ui.selectable_label(now.voicing.is_none(), "As written");
        if label.accessible_name("Voicing as written").clicked() {
            acts.push(Act::Otherwise(Override::Voicing(None)));
        }
        for name in names {
            let on = now.voicing.as_ref() == Some(&name);
            let label = ui.selectable_label(on, &name);
            if label.accessible_name(format!("Voicing {name}")).clicked() {
                acts.push(Act::Otherwise(Override::Voicing(Some(name))));
            }
        }
    });
}
