//! The fields of an item: what was typed and is not kept yet.

use barform_app::shelf::{Item, ItemId};
use barform_app::words;

use barform_app::shelf::{EditKind, ShelfEdit};

/// The fields of the chosen item, as typed.
#[derive(Debug, Default)]
pub struct Fields {
    /// What they were filled from.
    pub of: Option<(ItemId, [String; 3])>,
    /// Name, tags, note.
    pub typed: [String; 3],
    /// What is on its way to the disk.
    pub sent: [Option<String>; 3],
    /// What was not kept, and why.
    pub refused: Option<(ItemId, EditKind, String)>,
    /// The name is to have the focus.
    pub rename: bool,
}

impl Fields {
    /// Fills them anew where the item has changed; what is being typed in the
    /// other fields stays.
    pub fn follow(&mut self, item: &Item) {
        let now = [item.name.clone(), item.tags.join(", "), item.note.clone()];
        let Some((_, before)) = self.of.as_mut().filter(|(id, _)| *id == item.id) else {
            self.typed = now.clone();
            self.sent = Default::default();
            self.of = Some((item.id.clone(), now));
            return;
        };
        for (at, text) in now.into_iter().enumerate() {
            if before[at] != text {
                self.typed[at].clone_from(&text);
                self.sent[at] = None;
                before[at] = text;
            }
        }
    }

    /// The item has another name, and so another file.
    pub fn renamed(&mut self, from: Option<&ItemId>, to: &ItemId) {
        if let Some((id, _)) = &mut self.of
            && Some(&*id) == from
        {
            *id = to.clone();
        }
    }

    /// The item is shown no longer, unless it is `still`: what was typed and is
    /// not on its way yet.
    pub fn leave(&mut self, still: Option<&ItemId>) -> Vec<ShelfEdit> {
        if self.of.as_ref().is_none_or(|(id, _)| Some(id) == still) {
            return Vec::new();
        }
        let all = [EditKind::Name, EditKind::Tags, EditKind::Note]
            .into_iter()
            .enumerate();
        let mut edits: Vec<ShelfEdit> = all.filter_map(|(at, kind)| self.edit(at, kind)).collect();
        // With another name it is another file.
        edits.reverse();
        *self = Fields {
            refused: self.refused.take(),
            rename: self.rename,
            ..Fields::default()
        };
        edits
    }

    /// What is to be done so that a field is kept as typed.
    pub fn edit(&mut self, at: usize, kind: EditKind) -> Option<ShelfEdit> {
        let (id, before) = self.of.as_ref()?;
        let typed = self.typed[at].clone();
        if typed == before[at] || self.sent[at].as_ref() == Some(&typed) {
            return None;
        }
        self.sent[at] = Some(typed.clone());
        let id = id.clone();
        Some(match kind {
            EditKind::Tags => ShelfEdit::Retag(id, words::tags(&typed)),
            EditKind::Note => ShelfEdit::Annotate(id, typed),
            _ => ShelfEdit::Rename(id, typed),
        })
    }

    /// Why something was not kept.
    pub fn why(&self, item: &Item, kind: EditKind) -> Option<&str> {
        let (id, at, why) = self.refused.as_ref()?;
        (*id == item.id && *at == kind).then_some(why)
    }
}
