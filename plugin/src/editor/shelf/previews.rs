//! Items that were read: their scores, and a small picture of the first cell.
//!
//! In: items in view. Out: which of them are still to be read, pictures of
//! those that were. A picture is engraved once and kept; in one frame at most
//! one new one is made, so that scrolling never stalls.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

use barform_core::music::{Beats, Cell, count_syllables};
use barform_core::score::Score;
use barform_core::shelf::ItemId;
use egui::{Color32, Painter, Rect, pos2, vec2};

use crate::editor::engraved::{Gallery, Request};

/// Items whose scores are kept.
const KEPT: usize = 120;

/// Pictures that are surely still in the gallery.
const DRAWN: usize = 32;

/// Height of the staff as a share of the room for a picture.
const STAFF_SHARE: f32 = 0.24;

/// An item that was read.
struct Read {
    score: Arc<Score>,
    /// The first cell, with its counts.
    first: Option<(Cell, Vec<String>)>,
    /// Number of its picture.
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
                let first = first_cell(&score);
                let same = match before {
                    Some(Entry::Asked(Some(old)) | Entry::Here(old)) if old.first == first => {
                        Some(old.number)
                    }
                    _ => None,
                };
                let number = same.unwrap_or_else(|| {
                    self.numbers += 1;
                    self.numbers
                });
                Entry::Here(Read {
                    score,
                    first,
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

    /// Paints the first cell of an item into its room, as far as it fits; a wedge
    /// marks the moment `at` in beats. Returns whether it is still to come.
    pub fn paint(
        &mut self,
        painter: &Painter,
        room: Rect,
        id: &ItemId,
        ink: Color32,
        at: Option<f64>,
    ) -> bool {
        let read = match self.entries.get(id) {
            Some(Entry::Here(read) | Entry::Asked(Some(read))) => read,
            Some(Entry::Failed(_)) => return false,
            Some(Entry::Asked(None)) | None => return true,
        };
        let Some((cell, counts)) = &read.first else {
            return false;
        };
        let key = (read.number, room.height() as u32);
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
            variant: read.number,
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
        if let Some(x) = at.and_then(|at| picture.x_at(at)) {
            let (x, y) = (corner.x + x, room.bottom());
            let tip = vec![
                pos2(x, y - 8.0),
                pos2(x + 5.0, y - 1.0),
                pos2(x - 5.0, y - 1.0),
            ];
            painter.add(egui::Shape::convex_polygon(tip, ink, egui::Stroke::NONE));
        }
        false
    }
}

fn first_cell(score: &Score) -> Option<(Cell, Vec<String>)> {
    let cell = score.cell(&score.cells.first()?.letter)?;
    let counts = count_syllables(&cell.grid, Beats::ZERO, score.meter).unwrap_or_default();
    Some((cell, counts))
}
