//! Pages: title, tempo and key at the head of the first, systems down each,
//! page number and running title at its foot. Millimetres from here on.

use super::canvas::{line, moved, moved_box, sign, words};
use super::metrics::{self, STEM};
use super::rows::{fitted, typographic};
use super::system::Line;
use super::{Style, key};
use crate::{Anchor, Bounds, Drawing, Face, Glyph, Item, Page, Role, Spot, System, Written, ink};
use barform_score::music::{Beats, Kit};
use std::ops::Range;

/// Least white between systems, in staff spaces.
const BETWEEN: f32 = 2.2;
/// Most white added between systems to fill a page, in staff spaces.
const STRETCH: f32 = 2.5;
/// Sizes in staff spaces.
const TITLE: (Face, f32) = (Face::SerifBold, 4.0);
/// Most of what is left of the page that a title may take, or the form under it.
const TITLE_SHARE: f32 = 0.4;
const SUBTITLE: (Face, f32) = (Face::Serif, 2.3);
const TEMPO: (Face, f32) = (Face::Serif, 2.2);
const FOLIO: (Face, f32) = (Face::Serif, 1.6);

/// Pages as they fill.
pub struct Pages<'a> {
    style: &'a Style,
    /// What has been drawn.
    pub drawing: Drawing,
    title: String,
    /// Lower edge of what stands on the current page.
    y: f32,
    /// Systems of the current page: index of the system, its items.
    open: Vec<(usize, Vec<Item>)>,
    /// Whether the current page has a header.
    headed: bool,
}

impl<'a> Pages<'a> {
    /// The first page with its header.
    pub fn new(written: &Written, kit: &Kit, style: &'a Style) -> Pages<'a> {
        let mut pages = Pages {
            style,
            drawing: Drawing {
                title: written.title.clone(),
                ..Drawing::default()
            },
            title: ink::printable(written.title.trim()),
            y: 0.0,
            open: Vec::new(),
            headed: false,
        };
        pages.page();
        pages.header(written, kit);
        pages
    }

    fn edges(&self) -> Bounds {
        let (width, height) = self.style.page_mm();
        let margin = self.style.margins_mm;
        Bounds {
            left: margin,
            top: margin,
            right: width - margin,
            bottom: height - margin,
        }
    }

    /// Lowest place for music: above the foot.
    fn floor(&self) -> f32 {
        self.edges().bottom - 3.2 * self.style.space_mm()
    }

    fn page(&mut self) {
        let (width, height) = self.style.page_mm();
        self.drawing.pages.push(Page {
            width,
            height,
            items: Vec::new(),
        });
        self.y = self.edges().top;
        self.headed = false;
    }

    fn put(&mut self, item: Item) {
        if let Some(page) = self.drawing.pages.last_mut() {
            page.items.push(item);
        }
    }

    /// Words in the middle, over as many lines as they need, whose ink begins at `self.y`; moves `y` below them.
    fn heading(&mut self, text: &str, (face, size): (Face, f32)) {
        let space = self.style.space_mm();
        let edges = self.edges();
        let width = edges.right - edges.left;
        let size = size * space;
        let ink = |text: &str| metrics::text_at(text, 0.0, 0.0, size, face, Anchor::Start);
        let fits = |text: &str| {
            let b = ink(text);
            b.right - b.left.min(0.0) <= width
        };
        let room = (self.floor() - self.y) * TITLE_SHARE;
        let most = ((room / (1.4 * size)) as usize).max(1);
        // As many words on a line as fit, no further than there is room.
        let mut lines: Vec<String> = Vec::new();
        for word in text.split_whitespace() {
            let full = lines.len() > most;
            match lines.last_mut() {
                Some(line) if fits(&format!("{line} {word}")) => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ if full => break,
                _ => lines.push(word.to_owned()),
            }
        }
        let more = lines.len() > most;
        lines.truncate(most);
        if let Some(last) = lines.last_mut().filter(|_| more) {
            last.push('…');
        }
        for (i, line) in lines.iter().enumerate() {
            if i > 0 {
                self.y += 0.4 * size;
            }
            self.title_line(&fitted(line, (face, size), width), (face, size));
        }
    }

    fn title_line(&mut self, text: &str, (face, size): (Face, f32)) {
        let edges = self.edges();
        let width = edges.right - edges.left;
        let b = metrics::text_at(text, 0.0, 0.0, size, face, Anchor::Start);
        let x = edges.left + (width - (b.right - b.left)) / 2.0 - b.left;
        let y = self.y - b.top;
        self.put(words(
            text,
            (x, y),
            (face, size),
            Anchor::Start,
            Role::Title,
        ));
        self.y += b.bottom - b.top;
    }

    fn header(&mut self, written: &Written, kit: &Kit) {
        let space = self.style.space_mm();
        let edges = self.edges();
        let top = self.y;
        if self.style.show_title {
            // The form's letters have the primes of the letters in boxes.
            let form = typographic(&written.subtitle);
            for (text, face) in [(&written.title, TITLE), (&form, SUBTITLE)] {
                let text = ink::printable(text.trim());
                if !text.is_empty() {
                    self.heading(&text, face);
                    self.y += 1.2 * space;
                }
            }
            self.tempo(written.tempo);
        }
        if self.style.show_key {
            let width = (edges.right - edges.left) / space;
            let (items, height) = key::key(written, kit, width);
            if !items.is_empty() && self.floor() - self.y > 4.0 * space {
                if self.y > top {
                    self.y += 1.2 * space;
                }
                // A key that would fill the page leaves no room for music.
                let room = (self.floor() - self.y) / space * 0.5;
                let scale = space * (room / height).min(1.0);
                for item in items {
                    let item = moved(item, scale, edges.left, self.y);
                    self.put(item);
                }
                self.y += height * scale;
            }
        }
        if self.y > top {
            self.y += 1.8 * space;
            self.headed = true;
        }
    }

    /// A quarter note and how many a minute.
    fn tempo(&mut self, tempo: Beats) {
        let space = self.style.space_mm();
        let left = self.edges().left;
        let scale = 0.8;
        let b = metrics::glyph(Glyph::HeadFilled);
        let text = format!("= {}", per_minute(tempo));
        let x = -b.left * scale;
        let stem = x + b.right * scale - STEM / 2.0;
        let label = words(
            &text,
            (x + b.right * scale + 0.7, 0.5),
            TEMPO,
            Anchor::Start,
            Role::Tempo,
        );
        let items = [
            sign(Glyph::HeadFilled, x, 0.0, scale, Role::Tempo, None),
            line((stem, -0.1), (stem, -2.8), STEM, Role::Tempo),
            label,
        ];
        let ink = items
            .iter()
            .map(|i| i.bounds)
            .reduce(Bounds::with)
            .unwrap_or_default();
        let y = self.y - ink.top * space;
        for item in items {
            self.put(moved(item, space, left, y));
        }
        self.y += (ink.bottom - ink.top) * space;
    }

    /// Adds a system below the last, on a new page if there is no room.
    pub fn system(&mut self, drawn: Line, bars: Range<usize>) {
        let edges = self.edges();
        let space = self.style.space_mm();
        let wide = drawn.bounds.right - drawn.bounds.left.min(0.0);
        let high = drawn.bounds.bottom - drawn.bounds.top;
        let fit_wide = (edges.right - edges.left) / (wide * space);
        let gap = if self.open.is_empty() {
            0.0
        } else {
            BETWEEN * space
        };
        let scale = space * fit_wide.min(1.0);
        let mut scale = scale;
        if self.y + gap + high * scale > self.floor() {
            if !self.open.is_empty() || self.headed {
                self.close(true);
                self.page();
            }
            // Higher than a whole page: as small as the page asks.
            scale = scale.min((self.floor() - self.y) / high);
        }
        let gap = if self.open.is_empty() { 0.0 } else { gap };
        let dy = self.y + gap - drawn.bounds.top * scale;
        let system = self.drawing.systems.len();
        let spots = drawn.spots.into_iter().map(|s| Spot {
            system,
            x: s.x * scale + edges.left,
            ..s
        });
        self.drawing.spots.extend(spots);
        let bounds = moved_box(drawn.bounds, scale, edges.left, dy);
        self.drawing.systems.push(System {
            page: self.drawing.pages.len() - 1,
            bounds,
            staff: (dy, dy + metrics::STAFF * scale),
            bars,
        });
        let items = drawn
            .items
            .into_iter()
            .map(|i| moved(i, scale, edges.left, dy))
            .collect();
        self.open.push((system, items));
        self.y = bounds.bottom;
    }

    /// Finishes a page; a full one is spread down to its foot.
    fn close(&mut self, full: bool) {
        let gaps = self.open.len().saturating_sub(1);
        let spare = (self.floor() - self.y).max(0.0);
        let most = STRETCH * self.style.space_mm();
        let each = if full && gaps > 0 {
            (spare / gaps as f32).min(most)
        } else {
            0.0
        };
        for (i, (system, items)) in std::mem::take(&mut self.open).into_iter().enumerate() {
            let dy = each * i as f32;
            let s = &mut self.drawing.systems[system];
            s.bounds = moved_box(s.bounds, 1.0, 0.0, dy);
            s.staff = (s.staff.0 + dy, s.staff.1 + dy);
            if let Some(page) = self.drawing.pages.last_mut() {
                page.items
                    .extend(items.into_iter().map(|i| moved(i, 1.0, 0.0, dy)));
            }
        }
    }

    /// The finished sheet.
    pub fn finish(mut self) -> Drawing {
        self.close(false);
        self.folios();
        self.drawing
    }

    /// Page numbers, and the title again from the second page on.
    fn folios(&mut self) {
        let edges = self.edges();
        let (face, size) = (FOLIO.0, FOLIO.1 * self.style.space_mm());
        let count = self.drawing.pages.len();
        let low = metrics::text_at("gjpqy", 0.0, 0.0, size, face, Anchor::Start).bottom;
        let y = edges.bottom - low;
        for (i, page) in self.drawing.pages.iter_mut().enumerate() {
            let mut room = edges.right - edges.left;
            if count > 1 {
                let text = format!("{} / {count}", i + 1);
                let b = metrics::text_at(&text, edges.right, y, size, face, Anchor::End);
                let at = (edges.right - (b.right - edges.right).max(0.0), y);
                let item = words(&text, at, (face, size), Anchor::End, Role::Folio);
                room = item.bounds.left - edges.left - 2.0 * size;
                page.items.push(item);
            }
            if i > 0 && !self.title.is_empty() && room > 4.0 * size {
                let text = fitted(&self.title, (face, size), room);
                let b = metrics::text_at(&text, edges.left, y, size, face, Anchor::Start);
                let at = (edges.left + (edges.left - b.left).max(0.0), y);
                page.items
                    .push(words(&text, at, (face, size), Anchor::Start, Role::Folio));
            }
        }
    }
}

/// Beats a minute as printed: whole, or with one or two decimals.
fn per_minute(tempo: Beats) -> String {
    let text = format!("{:.2}", tempo.to_f64());
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
