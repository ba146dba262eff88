//! The embedded faces: which glyph a letter is, how wide, how it is drawn.
//!
//! Condensed cuts, since counts and letters stand close.

use super::super::{Bounds, Face, Path, PathStep, Point};
use super::outline::path_bounds;
use super::pen::at;
use super::words::printable;
use std::ops::Range;
use std::sync::{LazyLock, OnceLock};
use ttf_parser::GlyphId;

/// A face, read once; its glyphs are drawn when first asked for.
pub(super) struct Letters {
    data: &'static [u8],
    face: Option<ttf_parser::Face<'static>>,
    glyphs: Vec<OnceLock<Letter>>,
}

/// A glyph of a face; the unit is the em square, y downward from the base line.
pub(super) struct Letter {
    /// How far the next one stands to the right.
    pub(super) advance: f32,
    /// Closed contours, non-zero rule; none for a space.
    pub(super) path: Path,
    /// Its ink; `None` for a space.
    pub(super) bounds: Option<Bounds>,
}

/// A glyph in a line of words; lengths in em.
pub(super) struct Placed {
    /// Glyph number in the face.
    pub(super) id: GlyphId,
    /// From the start of the words.
    pub(super) x: f32,
    /// To the next glyph, kerning included.
    pub(super) advance: f32,
    /// Which bytes of the words it shows.
    pub(super) range: Range<usize>,
}

/// A line of words set in a face.
pub(super) struct Line {
    /// What is written: the words as given, or made printable.
    pub(super) text: String,
    /// Its glyphs from left to right.
    pub(super) glyphs: Vec<Placed>,
    /// Width in em: the sum of advances.
    pub(super) width: f32,
}

static SERIF: LazyLock<Letters> =
    LazyLock::new(|| Letters::new(dejavu::serif_condensed::regular()));
/// Also draws the digits of meters.
pub(super) static SERIF_BOLD: LazyLock<Letters> =
    LazyLock::new(|| Letters::new(dejavu::serif_condensed::bold()));
/// Draws the digits of tuplets.
pub(super) static SERIF_BOLD_ITALIC: LazyLock<Letters> =
    LazyLock::new(|| Letters::new(dejavu::serif_condensed::bold_italic()));
static SANS: LazyLock<Letters> = LazyLock::new(|| Letters::new(dejavu::sans_condensed::regular()));
static SANS_BOLD: LazyLock<Letters> =
    LazyLock::new(|| Letters::new(dejavu::sans_condensed::bold()));

/// Every face that words are set in.
pub(super) const FACES: [Face; 4] = [Face::Serif, Face::SerifBold, Face::Sans, Face::SansBold];

/// The letters of a face.
pub(super) fn letters(face: Face) -> &'static Letters {
    match face {
        Face::Serif => &SERIF,
        Face::SerifBold => &SERIF_BOLD,
        Face::Sans => &SANS,
        Face::SansBold => &SANS_BOLD,
    }
}

impl Letters {
    fn new(data: &'static [u8]) -> Self {
        let face = ttf_parser::Face::parse(data, 0).ok();
        let count = face.as_ref().map_or(0, ttf_parser::Face::number_of_glyphs);
        Self {
            data,
            face,
            glyphs: (0..count).map(|_| OnceLock::new()).collect(),
        }
    }

    /// The font file.
    pub(super) fn data(&self) -> &'static [u8] {
        self.data
    }

    /// The glyph number of a sign, if the face has it.
    pub(super) fn id(&self, sign: char) -> Option<GlyphId> {
        let id = self.face.as_ref()?.glyph_index(sign)?;
        (id.0 != 0).then_some(id)
    }

    /// The glyph of a sign, if the face has it.
    pub(super) fn glyph(&self, sign: char) -> Option<&Letter> {
        self.letter(self.id(sign)?)
    }

    /// A glyph by number.
    pub(super) fn letter(&self, id: GlyphId) -> Option<&Letter> {
        let face = self.face.as_ref()?;
        let slot = self.glyphs.get(usize::from(id.0))?;
        Some(slot.get_or_init(|| Letter::new(face, id)))
    }

    fn kerning(&self, left: GlyphId, right: GlyphId) -> f32 {
        let Some(face) = &self.face else {
            return 0.0;
        };
        let Some(table) = face.tables().kern else {
            return 0.0;
        };
        let units: i32 = table
            .subtables
            .into_iter()
            .filter(|part| part.horizontal && !part.variable && !part.has_cross_stream)
            .filter_map(|part| part.glyphs_kerning(left, right))
            .map(i32::from)
            .sum();
        units as f32 / f32::from(face.units_per_em())
    }

    /// Sets words in a line.
    pub(super) fn set(&self, text: &str) -> Line {
        let has_all = text.chars().all(|sign| self.id(sign).is_some());
        let text = if has_all {
            text.to_owned()
        } else {
            printable(text)
        };
        let mut glyphs: Vec<Placed> = Vec::with_capacity(text.len());
        let mut x = 0.0;
        for (start, sign) in text.char_indices() {
            let Some(id) = self.id(sign) else { continue };
            if let Some(last) = glyphs.last_mut() {
                let kerning = self.kerning(last.id, id);
                last.advance += kerning;
                x += kerning;
            }
            let advance = self.letter(id).map_or(0.0, |letter| letter.advance);
            glyphs.push(Placed {
                id,
                x,
                advance,
                range: start..start + sign.len_utf8(),
            });
            x += advance;
        }
        Line {
            text,
            glyphs,
            width: x,
        }
    }
}

impl Letter {
    fn new(face: &ttf_parser::Face<'_>, id: GlyphId) -> Self {
        let em = f32::from(face.units_per_em());
        let mut tracer = Tracer {
            steps: Vec::new(),
            last: Point::default(),
            em,
        };
        let drawn = face.outline_glyph(id, &mut tracer).is_some();
        let path = Path(tracer.steps);
        let bounds = (drawn && !path.0.is_empty()).then(|| path_bounds(&path));
        Self {
            advance: f32::from(face.glyph_hor_advance(id).unwrap_or(0)) / em,
            path,
            bounds,
        }
    }
}

/// Takes an outline from the font file, y turned downward.
struct Tracer {
    steps: Vec<PathStep>,
    last: Point,
    em: f32,
}

impl Tracer {
    fn point(&self, x: f32, y: f32) -> Point {
        at(x / self.em, -y / self.em)
    }
}

impl ttf_parser::OutlineBuilder for Tracer {
    fn move_to(&mut self, x: f32, y: f32) {
        self.last = self.point(x, y);
        self.steps.push(PathStep::Move(self.last));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.last = self.point(x, y);
        self.steps.push(PathStep::Line(self.last));
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (start, handle, end) = (self.last, self.point(x1, y1), self.point(x, y));
        let toward = |p: Point| {
            let mix = |a: f32, b: f32| a + (b - a) * 2.0 / 3.0;
            at(mix(p.x, handle.x), mix(p.y, handle.y))
        };
        self.last = end;
        self.steps
            .push(PathStep::Curve(toward(start), toward(end), end));
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.last = self.point(x, y);
        self.steps.push(PathStep::Curve(
            self.point(x1, y1),
            self.point(x2, y2),
            self.last,
        ));
    }

    fn close(&mut self) {
        self.steps.push(PathStep::Close);
    }
}

/// Width of words in millimetres: the sum of advances, with kerning. `size` is
/// that of the em square in millimetres.
pub fn text_width(text: &str, face: Face, size: f32) -> f32 {
    letters(face).set(text).width * size
}

/// The box of the words' ink in millimetres, from the start of the words on the
/// base line. Words without ink have an empty box there.
pub fn text_bounds(text: &str, face: Face, size: f32) -> Bounds {
    let letters = letters(face);
    let line = letters.set(text);
    let boxes = line.glyphs.iter().filter_map(|glyph| {
        let bounds = letters.letter(glyph.id)?.bounds?;
        Some(Bounds {
            left: (glyph.x + bounds.left) * size,
            top: bounds.top * size,
            right: (glyph.x + bounds.right) * size,
            bottom: bounds.bottom * size,
        })
    });
    boxes.reduce(Bounds::with).unwrap_or_default()
}
