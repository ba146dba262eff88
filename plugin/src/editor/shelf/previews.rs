//! Items that were read: their scores, and small pictures of their cells.
//!
//! A picture is engraved once and kept; in one frame at most one new one is
//! made, so that scrolling never stalls.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

use barform_app::music::{Beats, Cell, count_syllables};
use barform_app::score::Score;
use barform_app::shelf::ItemId;
use egui::{Color32, Painter, Rect, vec2};

use crate::editor::engraved::{Gallery, Request};

/// Items whose scores are kept.
const KEPT: usize = 120;

/// Cells of an item that have pictures.
pub const CELLS: usize = 16;

/// Pictures that are surely still in the gallery.
const DRAWN: usize = 32;

/// Height of the staff as a share of the room for a picture.
const STAFF_SHARE: f32 = 0.24;

/// An item that was read.
struct Read {
    score: Arc<Score>,
    /// The first cells, with their counts.
    cells: Vec<(Cell, Vec<String>)>,
    /// Number of the first one's picture; the others' follow.
    number: u32,
    /// What is on the disk may be another by now.
    stale: bool,
}

enum Entry {
    /// It is being read; what it was before is shown meanwhile.
    Asked(Option<Read>),
    Here(Read),
    Failed(String),
}

/// What was read so far.
#[derive(Default)]
pub struct Previews {
    entries: HashMap<ItemId, Entry>,
    /// Keys of `entries`, the ones longest there first.
    order: VecDeque<ItemId>,
    gallery: Gallery,
    /// Numbers of the pictures drawn last, with the height of their room.
    drawn: VecDeque<(u32, u32)>,
    numbers: u32,
    /// A picture was made in this frame.
    busy: bool,
}

impl Previews {
    /// A frame begins.
    pub fn begin_frame(&mut self) {
        self.busy = false;
    }

    /// The folder has changed: everything is read again when it is next seen.
    pub fn doubt(&mut self) {
        for entry in self.entries.values_mut() {
            if let Entry::Here(read) = entry {
                read.stale = true;
            }
        }
        self.entries
            .retain(|_, entry| !matches!(entry, Entry::Failed(_)));
        self.order.retain(|id| self.entries.contains_key(id));
    }

    /// Whether an item is to be read now; it then counts as asked for.
    pub fn wants(&mut self, id: &ItemId) -> bool {
        match self.entries.get_mut(id) {
            None => {
                self.make_room();
                self.entries.insert(id.clone(), Entry::Asked(None));
                self.order.push_back(id.clone());
                true
            }
            Some(entry) => {
                if !matches!(entry, Entry::Here(read) if read.stale) {
                    return false;
                }
                if let Entry::Here(old) = std::mem::replace(entry, Entry::Asked(None)) {
                    *entry = Entry::Asked(Some(old));
                }
                true
            }
        }
    }

    fn make_room(&mut self) {
        while self.order.len() >= KEPT {
            if let Some(oldest) = self.order.pop_front() {
                self.entries.remove(&oldest);
            }
        }
    }

    /// An item was read.
    pub fn take(&mut self, id: ItemId, score: Result<Arc<Score>, String>) {
        let before = self.entries.remove(&id);
        if before.is_none() {
            self.order.push_back(id.clone());
        }
        let entry = match score {
            Err(why) => Entry::Failed(why),
            Ok(score) => {
                let cells = first_cells(&score);
                let same = match before {
                    Some(Entry::Asked(Some(old)) | Entry::Here(old)) if old.cells == cells => {
                        Some(old.number)
                    }
                    _ => None,
                };
                let number = same.unwrap_or_else(|| {
                    self.numbers += CELLS as u32;
                    self.numbers
                });
                Entry::Here(Read {
                    score,
                    cells,
                    number,
                    stale: false,
                })
            }
        };
        self.entries.insert(id, entry);
    }

    /// The score of an item as it is on the disk, once it was read.
    pub fn score(&self, id: &ItemId) -> Option<Result<&Arc<Score>, &str>> {
        match self.entries.get(id)? {
            Entry::Here(read) if !read.stale => Some(Ok(&read.score)),
            Entry::Failed(why) => Some(Err(why)),
            Entry::Here(_) | Entry::Asked(_) => None,
        }
    }

    /// Paints cell number `nth` of an item into its room, as far as it fits; a
    /// wedge marks the moment `at` in beats. Returns whether it is still to come.
    pub fn paint(
        &mut self,
        painter: &Painter,
        room: Rect,
        (id, nth): (&ItemId, usize),
        ink: Color32,
        at: Option<f64>,
    ) -> bool {
        let read = match self.entries.get(id) {
            Some(Entry::Here(read) | Entry::Asked(Some(read))) => read,
            Some(Entry::Failed(_)) => return false,
            Some(Entry::Asked(None)) | None => return true,
        };
        let Some((cell, counts)) = read.cells.get(nth) else {
            return false;
        };
        let number = read.number + nth as u32;
        let key = (number, room.height() as u32);
        if !self.drawn.contains(&key) {
            if std::mem::replace(&mut self.busy, true) {
                return true;
            }
            self.drawn.push_back(key);
            if self.drawn.len() > DRAWN {
                self.drawn.pop_front();
            }
        }
        let request = Request {
            variant: number,
            cell,
            meter: read.score.meter,
            counts,
            staff_points: (room.height() * STAFF_SHARE).round(),
        };
        let Some(picture) = self.gallery.picture(painter.ctx(), &request) else {
            return false;
        };
        let painter = painter.with_clip_rect(room.intersect(painter.clip_rect()));
        let down = ((room.height() - picture.size.y) / 2.0).max(0.0);
        let corner = room.min + vec2(0.0, down);
        picture.paint(&painter, corner, ink);
        if let Some(at) = at {
            picture.mark(&painter, corner.x, room.bottom(), at, ink);
        }
        false
    }
}

fn first_cells(score: &Score) -> Vec<(Cell, Vec<String>)> {
    let cells = score.cells.iter().take(CELLS);
    let cells = cells.filter_map(|def| score.cell(&def.letter));
    let counted = |cell: Cell| {
        let counts = count_syllables(&cell.grid, Beats::ZERO, score.meter);
        (cell, counts.unwrap_or_default())
    };
    cells.map(counted).collect()
}
