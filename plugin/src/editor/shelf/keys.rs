//! The page by keyboard.
//!
//! Without Ctrl they work only while the list or nothing has the focus.

use egui::{Key, Modifiers, Ui};

use super::detail::Where;
use super::keep::What;
use super::{Pane, ShelfEdit, ShelfPage, Wanted, find, is_covered, list};
use crate::editor::desk::Desk;

/// Rows that Page Up and Page Down go.
const PAGE: usize = 5;

impl ShelfPage {
    /// Keys. Those without Ctrl work while the list or nothing has the focus.
    pub(super) fn keys(&mut self, ui: &Ui, desk: &mut Desk) {
        if is_covered(ui.ctx()) {
            return;
        }
        let pressed = |key, modifiers| ui.input_mut(|i| i.consume_key(modifiers, key));
        if pressed(Key::F, Modifiers::COMMAND) {
            ui.memory_mut(|m| m.request_focus(find::field_id()));
        }
        if pressed(Key::K, Modifiers::COMMAND) && desk.owner().is_some() {
            self.keep(desk, What::Cell);
            return;
        }
        if matches!(self.pane, Pane::Keep(_)) && pressed(Key::Escape, Modifiers::NONE) {
            self.pane = Pane::Item;
        }
        let focused = ui.memory(|m| m.focused());
        if focused == Some(find::field_id()) && pressed(Key::ArrowDown, Modifiers::NONE) {
            self.go(ui, 0, true);
            return;
        }
        let row = self.chosen.as_ref().map(list::row_id);
        let on_list = focused.is_none() || focused == row;
        if !on_list || self.found.matching.is_empty() {
            return;
        }
        for (key, by) in [
            (Key::ArrowUp, -1),
            (Key::ArrowDown, 1),
            (Key::PageUp, -(PAGE as isize)),
            (Key::PageDown, PAGE as isize),
            (Key::Home, isize::MIN),
            (Key::End, isize::MAX),
        ] {
            if pressed(key, Modifiers::NONE) {
                self.go(ui, by, focused.is_some());
            }
        }
        if self.item().is_none() {
            return;
        }
        if pressed(Key::Enter, Modifiers::SHIFT) {
            self.want(desk, Wanted::Insert(Where::Cells));
        } else if pressed(Key::Enter, Modifiers::NONE) {
            self.want(desk, Wanted::Insert(Where::usual(desk)));
        }
        if pressed(Key::H, Modifiers::NONE) {
            self.want(desk, Wanted::Hear);
        }
        if pressed(Key::F2, Modifiers::NONE) || pressed(Key::R, Modifiers::NONE) {
            self.turn_to(Pane::Item);
            self.fields.rename = true;
        }
        if pressed(Key::Delete, Modifiers::NONE)
            && let Some(id) = self.chosen.clone()
        {
            self.act(ShelfEdit::Remove(id));
        }
    }

    /// Chooses an item so many rows further down.
    fn go(&mut self, ui: &Ui, by: isize, focus: bool) {
        let all = &self.found.all;
        let is = |at: &usize| Some(&all[*at].id) == self.chosen.as_ref();
        let now = self.found.matching.iter().position(is);
        let last = self.found.matching.len().saturating_sub(1);
        let to = match now {
            None => 0,
            Some(now) => now.saturating_add_signed(by).min(last),
        };
        let Some(item) = self.found.matching.get(to).and_then(|at| all.get(*at)) else {
            return;
        };
        let id = item.id.clone();
        if focus {
            ui.memory_mut(|m| m.request_focus(list::row_id(&id)));
        }
        self.chosen = Some(id);
        self.turn_to(Pane::Item);
        self.reveal = true;
    }
}
