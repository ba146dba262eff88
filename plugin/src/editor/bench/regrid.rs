//! Another grid under the strokes, and the cursor that stays at its time.

use barform_app::music::{Beats, Span};
use barform_app::score::edit::CellEdit;

use super::super::desk::Desk;
use super::act::{Act, Doing, edit};
use super::known::Known;

impl Doing {
    /// Another grid; the cursor stays at its time.
    pub(super) fn grid(&mut self, act: Act, desk: &mut Desk, known: &Known) {
        let slot = desk.chosen.slot;
        let spans = known.cell.grid.spans();
        let span = known.span_of(slot);
        let change = match act {
            Act::Slots(slots) => {
                let length = spans.get(span).map_or(Beats::ONE, |span| span.length);
                let Some(to) = Span::new(slots, length) else {
                    return;
                };
                let way = self.way;
                CellEdit::Span { span, to, way }
            }
            Act::AddBeat => {
                let Some(span) = spans.last().copied() else {
                    return;
                };
                CellEdit::AddSpan {
                    at: spans.len(),
                    span,
                }
            }
            _ => CellEdit::RemoveSpan(spans.len().saturating_sub(1)),
        };
        keeping_time(desk, known, |desk| edit(desk, known, change));
        self.limb = None;
    }
}

/// Does what may change the grid, and puts the cursor back to its time.
pub fn keeping_time(desk: &mut Desk, known: &Known, go: impl FnOnce(&mut Desk) -> bool) -> bool {
    let at = known.bounds.get(desk.chosen.slot).copied();
    let done = go(desk);
    if done && let (Some(at), Some(now)) = (at, Known::of(desk)) {
        desk.chosen.slot = now.slot_at(at);
    }
    done
}
