//! A drawing as PDF: every page, lines and signs as curves, words as text in
//! embedded subsets of the faces.

use super::super::{Drawing, Face, Page, Path, PathStep, Point, Role, Shape};
use super::InkError;
use super::face::{FACES, letters};
use super::outline::outline;
use super::paint::{MITER_LIMIT, can_be_painted, text_start};
use super::words::printable;
use krilla::Document;
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point as PdfPoint, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};

/// Points (1/72 inch) in a millimetre.
const POINTS: f32 = 72.0 / 25.4;

/// The longest side of a page in millimetres: 200 inches (ISO 32000-1, annex C).
const LONGEST: f32 = 5080.0;

/// A whole drawing as PDF. The same drawing gives the same bytes: no date is
/// written.
///
/// # Errors
/// If there is no page, or one has no size or too large a one.
pub fn pdf(drawing: &Drawing) -> Result<Vec<u8>, InkError> {
    pdf_with_progress(drawing, |_, _| {})
}

/// As [`pdf`]; calls back after each page with the pages done and all pages.
///
/// # Errors
/// As [`pdf`].
pub fn pdf_with_progress(
    drawing: &Drawing,
    mut progress: impl FnMut(usize, usize),
) -> Result<Vec<u8>, InkError> {
    let pages = drawing.pages.len();
    if pages == 0 {
        return Err(InkError::NoPage { page: 1, pages });
    }
    let failed = |why: String| InkError::Write { format: "PDF", why };
    let fonts = Fonts::new().ok_or_else(|| failed("a face cannot be read".to_owned()))?;
    let mut document = Document::new();
    let mut sections = Outline::new();
    let mut has_sections = false;
    for (index, page) in drawing.pages.iter().enumerate() {
        let fits = |length: f32| length > 0.0 && length <= LONGEST;
        let settings = PageSettings::from_wh(page.width * POINTS, page.height * POINTS)
            .filter(|_| fits(page.width) && fits(page.height))
            .ok_or(InkError::PageSize {
                page: index + 1,
                width: page.width,
                height: page.height,
                limit: LONGEST,
            })?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        surface.push_transform(&Transform::from_scale(POINTS, POINTS));
        paint(page, &fonts, &mut surface);
        surface.pop();
        surface.finish();
        sheet.finish();
        for (name, at) in section_names(page) {
            has_sections = true;
            let to = XyzDestination::new(index, PdfPoint::from_xy(0.0, at.max(0.0) * POINTS));
            sections.push_child(OutlineNode::new(name, to));
        }
        progress(index + 1, pages);
    }
    if has_sections {
        document.set_outline(sections);
    }
    document.set_metadata(
        Metadata::new()
            .title(printable(&drawing.title))
            .language("en".to_owned())
            .creator("Barform".to_owned()),
    );
    document.finish().map_err(|error| failed(error.to_string()))
}

/// Names of sections with their upper edge, for the reader's list of contents.
fn section_names(page: &Page) -> impl Iterator<Item = (String, f32)> {
    page.items.iter().filter_map(|item| match &item.shape {
        Shape::Text { text, .. } if item.role == Role::Section => {
            Some((printable(text), item.bounds.top))
        }
        _ => None,
    })
}

/// The faces, each embedded once however many pages use it.
struct Fonts(Vec<(Face, Font)>);

impl Fonts {
    fn new() -> Option<Self> {
        FACES
            .into_iter()
            .map(|face| Some((face, Font::new(letters(face).data().into(), 0)?)))
            .collect::<Option<_>>()
            .map(Self)
    }

    fn get(&self, face: Face) -> Option<&Font> {
        self.0
            .iter()
            .find(|(f, _)| *f == face)
            .map(|(_, font)| font)
    }
}

fn black(rule: FillRule) -> Option<Fill> {
    Some(Fill {
        paint: krilla::color::luma::Color::new(0).into(),
        rule,
        ..Fill::default()
    })
}

fn line(width: f32) -> Option<Stroke> {
    Some(Stroke {
        paint: krilla::color::luma::Color::new(0).into(),
        width,
        miter_limit: MITER_LIMIT,
        ..Stroke::default()
    })
}

fn paint(page: &Page, fonts: &Fonts, surface: &mut Surface<'_>) {
    for item in page.items.iter().filter(|item| can_be_painted(&item.shape)) {
        match &item.shape {
            Shape::Line { from, to, width } => {
                let path = Path(vec![PathStep::Move(*from), PathStep::Line(*to)]);
                draw(surface, &path, None, line(*width));
            }
            Shape::Fill(path) => draw(surface, path, black(FillRule::EvenOdd), None),
            Shape::Stroke { path, width } => draw(surface, path, None, line(*width)),
            Shape::Glyph { glyph, at, space } => {
                surface.push_transform(&Transform::from_row(*space, 0.0, 0.0, *space, at.x, at.y));
                draw(surface, outline(*glyph), black(FillRule::NonZero), None);
                surface.pop();
            }
            Shape::Text {
                text,
                at,
                size,
                face,
                anchor,
            } => {
                let line = letters(*face).set(text);
                let Some(font) = fonts.get(*face).filter(|_| !line.glyphs.is_empty()) else {
                    continue;
                };
                let start = text_start(*at, *anchor, line.width * size);
                let glyphs: Vec<KrillaGlyph> = line
                    .glyphs
                    .into_iter()
                    .map(|glyph| {
                        let id = GlyphId::new(u32::from(glyph.id.0));
                        KrillaGlyph::new(id, glyph.advance, 0.0, 0.0, 0.0, glyph.range, None)
                    })
                    .collect();
                surface.set_fill(black(FillRule::NonZero));
                surface.set_stroke(None);
                let start = PdfPoint::from_xy(start.x, start.y);
                surface.draw_glyphs(start, &glyphs, font.clone(), &line.text, *size, false);
            }
        }
    }
}

fn draw(surface: &mut Surface<'_>, path: &Path, fill: Option<Fill>, stroke: Option<Stroke>) {
    let mut builder = PathBuilder::new();
    let mut start = Point::default();
    let mut begun = false;
    for step in &path.0 {
        // A part that does not begin by itself goes on from where the last
        // one was closed.
        if !begun && !matches!(step, PathStep::Move(_)) {
            builder.move_to(start.x, start.y);
            begun = true;
        }
        match *step {
            PathStep::Move(p) => {
                builder.move_to(p.x, p.y);
                begun = true;
                start = p;
            }
            PathStep::Line(p) => builder.line_to(p.x, p.y),
            PathStep::Curve(a, b, p) => builder.cubic_to(a.x, a.y, b.x, b.y, p.x, p.y),
            PathStep::Close => {
                builder.close();
                begun = false;
            }
        }
    }
    if let Some(path) = builder.finish() {
        surface.set_fill(fill);
        surface.set_stroke(stroke);
        surface.draw_path(&path);
    }
}
