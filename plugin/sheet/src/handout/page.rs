//! Pages of letters: everything flows down a page, and on to the next one where
//! there is no more room.

use super::about::About;
use super::text::{Block, Type, block, ending, line, wide};
use crate::engrave::canvas::{self, frame, moved, moved_box};
use crate::engrave::metrics::text_at;
use crate::engrave::rows::fitted;
use crate::engrave::{EngraveError, Paper, Style, engrave};
use crate::{Anchor, Bounds, Drawing, Face, Item, Page, Role, System, Written, ink};
use barform_score::music::Kit;

/// The line of care at the foot of every letter.
pub const CARE: &str = "Start the monitor low: drums and clicks in headphones can damage hearing. \
    Warm up, raise the tempo in small steps, stop at pain or numbness. Where something hurts or \
    does not come, ask a teacher or a physician.";

/// Types at a staff of usual height, in millimetres.
const LETTER: (Face, f32) = (Face::SerifBold, 9.0);
const BESIDE: (Face, f32) = (Face::Serif, 4.2);
const HEADING: (Face, f32) = (Face::SerifBold, 3.7);
/// Running words.
pub const WORDS: (Face, f32) = (Face::Serif, 3.4);
/// Running words that stand out.
pub const STRONG: (Face, f32) = (Face::SerifBold, 3.4);
const FOOT: (Face, f32) = (Face::Serif, 2.8);
/// Size of page number and running title in staff spaces of the sheet, as the
/// engraver has it.
const FOLIO: (Face, f32) = (Face::Serif, 1.6);

/// Against the staff of the sheet.
const LARGE: f32 = 1.5;
/// Width and height between the margins, in millimetres, on which the types
/// above are read; on less they shrink.
const READ_ON: (f32, f32) = (110.0, 150.0);
/// Thickness of rules.
pub const RULE: f32 = 0.2;
/// The hand-out as it grows.
pub struct Pages<'a> {
    style: &'a Style,
    drawing: Drawing,
    /// Type against a staff of usual height.
    pub scale: f32,
    /// Letter and variation of the page at hand.
    head: (String, String, u32),
    /// Lower edge of what stands on the page at hand.
    pub y: f32,
    /// Lowest place for what flows.
    pub floor: f32,
    /// Whether anything but the head stands on the page.
    pub begun: bool,
}

impl<'a> Pages<'a> {
    /// After the pages of the sheet.
    pub fn new(drawing: Drawing, style: &'a Style) -> Pages<'a> {
        let (width, height) = style.page_mm();
        let inner = (
            width - 2.0 * style.margins_mm,
            height - 2.0 * style.margins_mm,
        );
        let scale = (style.staff_height_mm / Style::NORMAL_STAFF_MM)
            .min(inner.0 / READ_ON.0)
            .min(inner.1 / READ_ON.1);
        Pages {
            style,
            drawing,
            scale,
            head: Default::default(),
            y: 0.0,
            floor: 0.0,
            begun: false,
        }
    }

    /// One letter, from a new page on.
    pub fn letter(
        &mut self,
        about: &About,
        music: &Written,
        kit: &Kit,
    ) -> Result<(), EngraveError> {
        let beside = about
            .parent
            .as_ref()
            .map_or(String::new(), |parent| format!("a variation of {parent}"));
        self.head = (about.letter.clone(), beside, about.index);
        self.page(false);
        self.music(music, kit)?;
        self.space(4.0);
        self.words(&about.facts.join(" "), WORDS, 0.0);
        self.heading("Rudiments");
        for text in &about.rudiments {
            self.words(text, WORDS, 0.0);
        }
        if !about.tops.is_empty() {
            self.heading("Top tempo, again and again");
            self.tops(&about.tops);
        }
        self.heading("Practice");
        self.words(
            "Steps of common practice; a teacher who sees you play may set others.",
            WORDS,
            0.0,
        );
        let hang = wide("10.", self.typed(STRONG)) / self.scale + 1.2;
        for (i, text) in about.steps.iter().enumerate() {
            self.hanging(&format!("{}.", i + 1), STRONG, text, hang);
        }
        self.ladder(about);
        Ok(())
    }

    /// The finished hand-out.
    pub fn finish(mut self) -> Drawing {
        self.folios();
        self.drawing
    }

    /// What is between the margins.
    pub fn edges(&self) -> Bounds {
        let (width, height) = self.style.page_mm();
        let margin = self.style.margins_mm;
        Bounds {
            left: margin,
            top: margin,
            right: width - margin,
            bottom: height - margin,
        }
    }

    /// A type at the size of this hand-out.
    pub fn typed(&self, (face, size): (Face, f32)) -> Type {
        (face, size * self.scale)
    }

    /// Adds to the page at hand.
    pub fn put(&mut self, item: Item) {
        if let Some(page) = self.drawing.pages.last_mut() {
            page.items.push(item);
        }
    }

    /// White, in millimetres at usual size, unless the page has just begun.
    pub fn space(&mut self, mm: f32) {
        if self.begun {
            self.y += mm * self.scale;
        }
    }

    /// Room for a block so high, on a new page if need be.
    pub fn room(&mut self, height: f32) {
        if self.begun && self.y + height > self.floor {
            self.page(true);
        }
    }

    /// A new page with its head and the line of care at its foot.
    fn page(&mut self, continued: bool) {
        let (width, height) = self.style.page_mm();
        self.drawing.pages.push(Page {
            width,
            height,
            items: Vec::new(),
        });
        let edges = self.edges();
        let wide_inner = edges.right - edges.left;
        // The foot: page number, over it the care, over it a rule.
        let space = self.style.space_mm();
        let folio = text_at("gjpqy|", 0.0, 0.0, FOLIO.1 * space, FOLIO.0, Anchor::Start);
        let care = block(CARE, self.typed(FOOT), wide_inner);
        let gap = 1.4 * self.scale;
        let top = edges.bottom - (folio.bottom - folio.top) - gap - care.height;
        self.place(care, edges.left, top);
        let rule = top - gap;
        let foot = canvas::line((edges.left, rule), (edges.right, rule), RULE, Role::Rule);
        self.put(foot);
        self.floor = rule - 2.5 * self.scale;
        self.head(continued);
        self.begun = false;
    }

    /// The letter in its box, and what stands beside it.
    fn head(&mut self, continued: bool) {
        let edges = self.edges();
        let (letter, beside, index) = self.head.clone();
        let face = self.typed(LETTER);
        let pad = 1.6 * self.scale;
        let role = Role::Letter(index);
        // Every letter's box is as high as the highest's.
        let tall = text_at("JQ8′", 0.0, 0.0, face.1, face.0, Anchor::Start);
        let b = text_at(&letter, 0.0, 0.0, face.1, face.0, Anchor::Start);
        let box_wide = (b.right - b.left).max(tall.bottom - tall.top) + 2.0 * pad;
        let outer = Bounds {
            left: edges.left,
            top: edges.top,
            right: edges.left + box_wide,
            bottom: edges.top + tall.bottom - tall.top + 2.0 * pad,
        };
        self.put(frame(outer, 0.4 * self.scale, role));
        let x = outer.left + (box_wide - (b.right - b.left)) / 2.0 - b.left;
        let base = outer.top + pad - tall.top;
        self.put(canvas::words(&letter, (x, base), face, Anchor::Start, role));
        let beside = match (beside.is_empty(), continued) {
            (true, false) => String::new(),
            (true, true) => "continued".to_owned(),
            (false, false) => beside,
            (false, true) => format!("{beside}, continued"),
        };
        if !beside.is_empty() {
            let face = self.typed(BESIDE);
            let left = outer.right + 3.0 * self.scale;
            let text = fitted(&beside, face, edges.right - left);
            let b = text_at(&text, 0.0, 0.0, face.1, face.0, Anchor::Start);
            let x = left - b.left.min(0.0);
            let item = canvas::words(&text, (x, base), face, Anchor::Start, Role::Words);
            self.put(item);
        }
        self.y = outer.bottom + 4.0 * self.scale;
    }

    fn place(&mut self, block: Block, left: f32, top: f32) {
        for item in block.items {
            self.put(moved(item, 1.0, left, top));
        }
    }

    /// A heading that does not stand alone at the foot.
    pub fn heading(&mut self, text: &str) {
        let edges = self.edges();
        self.space(3.2);
        let head = block(text, self.typed(HEADING), edges.right - edges.left);
        self.room(head.height + 9.0 * self.scale);
        let (height, y) = (head.height, self.y);
        self.place(head, edges.left, y);
        self.y += height;
        self.begun = true;
        self.space(1.0);
    }

    /// A paragraph.
    pub fn words(&mut self, text: &str, face: (Face, f32), indent: f32) {
        let edges = self.edges();
        let left = edges.left + indent;
        let face = self.typed(face);
        self.flow(block(text, face, edges.right - left), left);
        self.space(0.7);
    }

    /// A block, line by line over pages if one does not hold it.
    pub fn flow(&mut self, block: Block, left: f32) {
        self.room(block.height.min(0.3 * (self.floor - self.edges().top)));
        let mut shift = self.y;
        for item in block.items {
            if self.begun && item.bounds.bottom + shift > self.floor {
                self.page(true);
                shift = self.y - item.bounds.top;
            }
            self.y = self.y.max(item.bounds.bottom + shift);
            self.put(moved(item, 1.0, left, shift));
            self.begun = true;
        }
        self.y = self.y.max((shift + block.height).min(self.floor));
    }

    /// Words with a mark hung out in front of them.
    fn hanging(&mut self, mark: &str, mark_face: (Face, f32), text: &str, hang: f32) {
        let edges = self.edges();
        let left = edges.left + hang * self.scale;
        let words = block(text, self.typed(WORDS), edges.right - left);
        self.room(words.height);
        let (item, _) = line(mark, edges.left, self.y, self.typed(mark_face), Role::Words);
        self.put(item);
        self.flow(words, left);
        self.space(0.9);
    }

    /// The music in large print, a line of it at a time.
    fn music(&mut self, music: &Written, kit: &Kit) -> Result<(), EngraveError> {
        let edges = self.edges();
        let inner = (edges.right - edges.left, edges.bottom - edges.top);
        // As large as a clef and some notes allow on narrow paper.
        let most = (inner.0 / 26.0 * 4.0).min(40.0);
        let own = self.style.staff_height_mm;
        let large = (own * LARGE).min(Style::LARGE_STAFF_MM).min(most).max(own);
        let style = Style {
            paper: Paper {
                width_mm: inner.0,
                // One page takes all: it is cut up here.
                height_mm: 5_000.0,
            },
            landscape: false,
            margins_mm: 0.0,
            staff_height_mm: large,
            show_title: false,
            show_key: false,
            ..*self.style
        };
        let drawn = engrave(music, kit, &style)?;
        for (number, page) in drawn.pages.into_iter().enumerate() {
            let systems: Vec<&System> = drawn.systems.iter().filter(|s| s.page == number).collect();
            let mut shares: Vec<Vec<Item>> = systems.iter().map(|_| Vec::new()).collect();
            for item in page.items {
                // Systems stand clear of each other: the last that begins above.
                let at = systems.partition_point(|s| s.bounds.top <= item.bounds.top + 0.01);
                if item.role == Role::Folio {
                    continue;
                }
                if let Some(share) = shares.get_mut(at.saturating_sub(1)) {
                    share.push(item);
                }
            }
            for (system, items) in systems.into_iter().zip(shares) {
                self.system(system, items);
            }
        }
        Ok(())
    }

    fn system(&mut self, system: &System, items: Vec<Item>) {
        let edges = self.edges();
        let b = system.bounds;
        self.space(3.0);
        self.room(b.bottom - b.top);
        // Higher than a page: as small as the page asks.
        let scale = ((self.floor - self.y) / (b.bottom - b.top)).min(1.0);
        let dy = self.y - b.top * scale;
        for item in items {
            self.put(moved(item, scale, edges.left, dy));
        }
        let bounds = moved_box(b, scale, edges.left, dy);
        self.y = bounds.bottom;
        self.begun = true;
        self.drawing.systems.push(System {
            page: self.drawing.pages.len() - 1,
            bounds,
            staff: (system.staff.0 * scale + dy, system.staff.1 * scale + dy),
            bars: system.bars.clone(),
        });
    }

    /// Page numbers through the whole hand-out, and the title from the second
    /// page on.
    fn folios(&mut self) {
        let edges = self.edges();
        let (face, size) = (FOLIO.0, FOLIO.1 * self.style.space_mm());
        let title = ink::printable(self.drawing.title.trim());
        let count = self.drawing.pages.len();
        let low = text_at("gjpqy", 0.0, 0.0, size, face, Anchor::Start).bottom;
        let base = edges.bottom - low;
        for (i, page) in self.drawing.pages.iter_mut().enumerate() {
            let number = format!("{} / {count}", i + 1);
            let item = ending(&number, edges.right, base, (face, size), Role::Folio);
            let room = item.bounds.left - edges.left - 2.0 * size;
            page.items.push(item);
            if i > 0 && !title.is_empty() && room > 4.0 * size {
                let text = fitted(&title, (face, size), room);
                let b = text_at(&text, edges.left, base, size, face, Anchor::Start);
                let x = edges.left + (edges.left - b.left).max(0.0);
                let item =
                    canvas::words(&text, (x, base), (face, size), Anchor::Start, Role::Folio);
                page.items.push(item);
            }
        }
    }
}
