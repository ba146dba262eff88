//! A page as SVG: nothing but outlines, so that it looks the same everywhere;
//! words are kept in titles, so that they can be found and read aloud.

use super::super::{Drawing, Face, Item, Path, PathStep, Point, Shape};
use super::face::{Line, letters};
use super::outline::outline;
use super::paint::{MITER_LIMIT, can_be_painted, text_start};
use super::words::printable;
use std::collections::BTreeMap;
use std::fmt::Write;

/// A page of a drawing (counted from 0) as an SVG document, sizes in
/// millimetres, black on nothing. The same drawing gives the same text. A page
/// that is not there is an empty document of one millimetre.
pub fn svg(drawing: &Drawing, page: usize) -> String {
    let (width, height, items) = match drawing.pages.get(page) {
        Some(page) => (page.width, page.height, page.items.as_slice()),
        None => (1.0, 1.0, [].as_slice()),
    };
    let mut writer = Writer::default();
    for item in items.iter().filter(|item| can_be_painted(&item.shape)) {
        writer.item(item);
    }
    let (width, height) = (number(width), number(height));
    let title = escaped(&printable(&drawing.title));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" \
         version=\"1.1\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\" xml:lang=\"en\" role=\"graphics-document document\" \
         aria-labelledby=\"title desc\">\n\
         <title id=\"title\">{title}</title>\n\
         <desc id=\"desc\">Page {} of {}: {}</desc>\n<defs>\n",
        page + 1,
        drawing.pages.len(),
        writer.words,
    );
    for (id, path) in &writer.outlines {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "<path id=\"{id}\" d=\"{}\"/>", data(path, 4));
    }
    out.push_str("</defs>\n");
    let _ = writeln!(out, "<g fill=\"#000\" stroke-miterlimit=\"{MITER_LIMIT}\">");
    out.push_str(&writer.body);
    out.push_str("</g>\n</svg>\n");
    out
}

#[derive(Default)]
struct Writer<'a> {
    /// Outlines used on this page, by name.
    outlines: BTreeMap<String, &'a Path>,
    body: String,
    words: String,
}

impl Writer<'_> {
    fn item(&mut self, item: &Item) {
        let body = &mut self.body;
        let _ = match &item.shape {
            Shape::Line { from, to, width } => writeln!(
                body,
                "<path d=\"M{} {}L{} {}\" stroke=\"#000\" stroke-width=\"{}\"/>",
                number(from.x),
                number(from.y),
                number(to.x),
                number(to.y),
                number(*width),
            ),
            Shape::Fill(path) => writeln!(
                body,
                "<path fill-rule=\"evenodd\" d=\"{}\"/>",
                data(path, 3)
            ),
            Shape::Stroke { path, width } => writeln!(
                body,
                "<path fill=\"none\" stroke=\"#000\" stroke-width=\"{}\" d=\"{}\"/>",
                number(*width),
                data(path, 3),
            ),
            Shape::Glyph { glyph, at, space } => {
                let id = format!("{glyph:?}").replace('(', "-").replace(')', "");
                let written = placed(body, &id, *at, *space);
                self.outlines.insert(id, outline(*glyph));
                written
            }
            Shape::Text {
                text,
                at,
                size,
                face,
                anchor,
            } => {
                let line = letters(*face).set(text);
                let start = text_start(*at, *anchor, line.width * size);
                self.text(&line, *face, start, *size)
            }
        };
    }

    fn text(&mut self, line: &Line, face: Face, start: Point, size: f32) -> std::fmt::Result {
        let words = escaped(&line.text);
        if !words.trim().is_empty() {
            if !self.words.is_empty() {
                self.words.push(' ');
            }
            self.words.push_str(words.trim());
        }
        writeln!(
            self.body,
            "<g role=\"img\" aria-label=\"{words}\"><title>{words}</title>"
        )?;
        for glyph in &line.glyphs {
            let Some(letter) = letters(face).letter(glyph.id) else {
                continue;
            };
            if letter.bounds.is_none() {
                continue;
            }
            let id = format!("{face:?}-{}", glyph.id.0);
            let at = Point {
                x: start.x + glyph.x * size,
                y: start.y,
            };
            placed(&mut self.body, &id, at, size)?;
            self.outlines.insert(id, &letter.path);
        }
        writeln!(self.body, "</g>")
    }
}

fn placed(body: &mut String, id: &str, at: Point, scale: f32) -> std::fmt::Result {
    writeln!(
        body,
        "<use xlink:href=\"#{id}\" transform=\"translate({} {}) scale({})\"/>",
        number(at.x),
        number(at.y),
        rounded(scale, 4),
    )
}

/// Path data.
fn data(path: &Path, decimals: usize) -> String {
    let pair = |p: Point| format!("{} {}", rounded(p.x, decimals), rounded(p.y, decimals));
    path.0
        .iter()
        .map(|step| match *step {
            PathStep::Move(p) => format!("M{}", pair(p)),
            PathStep::Line(p) => format!("L{}", pair(p)),
            PathStep::Curve(a, b, p) => format!("C{} {} {}", pair(a), pair(b), pair(p)),
            PathStep::Close => "Z".to_owned(),
        })
        .collect()
}

/// Millimetres to a thousandth.
fn number(value: f32) -> String {
    rounded(value, 3)
}

fn rounded(value: f32, decimals: usize) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.decimals$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" | "" => "0".to_owned(),
        _ => text.to_owned(),
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
