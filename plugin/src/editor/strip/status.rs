//! The line under the strip: what could not be done, else what is missing in a
//! bar with its mends, else what is chosen.

use egui::{Button, Label, RichText, Ui};

use super::menus::MenuButton;
use super::{Act, Input, Strip};
use crate::editor::desk::{Desk, Spot};
use barform_app::score::FormItem;
use barform_app::words;

/// Height of the line, in points: always there, so that nothing below jumps.
pub const HEIGHT: f32 = 22.0;

/// Mends shown as buttons; the rest are in a menu.
const BUTTONS: usize = 2;

/// Widest mend that is a button, in characters.
const LONGEST: usize = 44;

impl Strip {
    /// Shows the line.
    pub(super) fn status(&mut self, ui: &mut Ui, desk: &mut Desk, input: &Input) -> Vec<Act> {
        let mut acts = Vec::new();
        let palette = input.palette;
        ui.horizontal(|ui| {
            ui.set_height(HEIGHT);
            ui.spacing_mut().item_spacing.x = 6.0;
            ui.spacing_mut().button_padding = egui::vec2(6.0, 1.0);
            ui.add_space(super::rows::MARGIN);
            if let Some(problem) = desk.refused_at(Spot::Strip) {
                let problem = problem.to_string();
                let dismiss = ui.button("Dismiss").on_hover_text("Dismisses this line");
                let text = RichText::new(&problem).color(palette.error);
                ui.add(Label::new(text).truncate()).on_hover_text(&problem);
                if dismiss.accessible_name("Dismiss refusal").clicked() {
                    desk.dismiss();
                }
                return;
            }
            if !self.fit.holding().is_empty() {
                let count = self.fit.holding().len();
                let (checks, hold, them) = match count {
                    1 => ("bar line", "fits", "it"),
                    _ => ("bar lines", "fit", "them"),
                };
                let put = Button::new(format!("Put {them} back"));
                let hint = "Puts the bar lines (|) back where the form had them.";
                if ui.add(put).on_hover_text(hint).clicked() {
                    acts.push(Act::PutBack);
                }
                ui.label(
                    RichText::new(format!("{count} {checks} {hold} again.")).color(palette.ink),
                );
                ui.separator();
            }
            if self.fit.faults().is_empty() {
                let (text, whole) = chosen_text(desk, self, input.can_locate);
                let text = RichText::new(text).color(palette.dim);
                let label = ui.add(Label::new(text).truncate());
                if !whole.is_empty() {
                    label.on_hover_text(whole);
                }
                return;
            }
            self.fault(ui, input, &mut acts);
        });
        acts
    }

    fn fault(&mut self, ui: &mut Ui, input: &Input, acts: &mut Vec<Act>) {
        let palette = input.palette;
        let looked = self.fit.looked();
        let Some(fault) = self.fit.faults().get(looked) else {
            return;
        };
        let count = self.fit.faults().len();
        let sentence = fault.sentence();
        ui.label(RichText::new(&sentence).color(palette.error));
        if count > 1 {
            let next = format!("Next ({} of {count})", looked + 1);
            let hint = "Shows the next bar that does not fit";
            if ui.button(next).on_hover_text(hint).clicked() {
                acts.push(Act::Look((looked + 1) % count));
            }
        }
        let Some(ways) = self.fit.ways() else {
            ui.label(RichText::new("Looking for fixes …").color(palette.dim));
            return;
        };
        if ways.is_empty() {
            ui.label(RichText::new("No one or two edits fix it.").color(palette.dim));
            return;
        }
        for (number, way) in ways.iter().take(BUTTONS).enumerate() {
            let room = ui.available_width() - 70.0;
            let text = shorten(&way.text, LONGEST.min((room / 7.0).max(0.0) as usize));
            if text.is_empty() {
                break;
            }
            let key = if number == 0 { " (Ctrl+M)" } else { "" };
            let hint = format!("Fixes the bar: {}{key}", way.text);
            let button = ui.button(text).on_hover_text(hint);
            if button
                .accessible_name(format!("Fix: {}", way.text))
                .clicked()
            {
                acts.push(Act::Mend(number));
            }
        }
        if ways.len() > 1 {
            let ways: Vec<String> = ways.iter().map(|way| way.text.clone()).collect();
            let more = MenuButton::new("More…", "All ways that were found to fix this bar");
            more.show(ui, None, |ui| {
                ui.set_min_width(260.0);
                for (number, way) in ways.iter().enumerate() {
                    if ui.button(way).clicked() {
                        acts.push(Act::Mend(number));
                        ui.close();
                    }
                }
            });
        }
    }
}

fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    if most < 12 {
        return String::new();
    }
    let head: String = text.chars().take(most - 1).collect();
    head.trim_end().to_owned() + "…"
}

/// What is chosen, in words, and more of it.
fn chosen_text(desk: &Desk, strip: &Strip, can_locate: bool) -> (String, String) {
    let timeline = &desk.shown.checked.timeline;
    let Some(run) = &desk.chosen.run else {
        let mut text = "Click a block to select it, drag it to move it.".to_owned();
        if can_locate {
            text += " Click above the blocks to play from there.";
        }
        return (text, String::new());
    };
    let items = run.items(desk.score()).unwrap_or_default();
    let first = strip.choice.items().and_then(|(section, items)| {
        let entry = desk.shown.written.entry(*section, items.start)?;
        timeline.places.get(entry.first)
    });
    let bar = first.and_then(|place| timeline.bar_at(place.start.to_f64()));
    let at = bar.map_or(String::new(), |bar| {
        format!(", bar {}", timeline.bars[bar].number)
    });
    let section = timeline.sections.get(run.at.section);
    let within = match section {
        Some(section) if !section.name.is_empty() => format!(" of {}", section.name),
        _ => String::new(),
    };
    let name = super::drag::name(desk, run);
    let text = match items {
        [FormItem::Letter { letter, .. }] => {
            let length = first.map_or(String::new(), |place| {
                format!(", {}", words::beats(place.length))
            });
            format!("Selected: {}{length}{at}{within}", words::letter(letter))
        }
        [FormItem::Group { times, .. }] => format!("Selected: ({name}) ×{times}{at}{within}"),
        _ => match strip.choice.section() {
            Some(_) => format!("Selected: the whole section{within}{at}"),
            None => format!("Selected: {name}{at}{within}"),
        },
    };
    let crossing = strip.choice.head().and_then(|head| crosses(desk, head));
    match crossing {
        Some(crossing) if items.len() == 1 => (format!("{text}. {crossing}"), crossing),
        _ => (text, String::new()),
    }
}

/// That a block plays across a bar line, and by how much.
fn crosses(desk: &Desk, place: usize) -> Option<String> {
    let timeline = &desk.shown.checked.timeline;
    let place = timeline.places.get(place)?;
    let end = place.start.checked_add(place.length).ok()?;
    let bar = timeline
        .bars
        .partition_point(|bar| bar.start <= place.start);
    let bar = timeline.bars.get(bar)?;
    if bar.start >= end {
        return None;
    }
    let over = end.checked_sub(bar.start).ok()?;
    Some(format!(
        "It plays {} across the bar line into bar {}.",
        words::beats(over),
        bar.number
    ))
}
