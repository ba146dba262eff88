//! A page as a picture: the SVG, painted on white, or as a mask of its ink for
//! a window that has colours of its own.

use super::super::Drawing;
use super::InkError;
use super::svg::svg;
use resvg::tiny_skia::{Color, Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// The most dots of a picture: 600 per inch on A3 fit. One takes four bytes
/// while painting, so this bounds memory to 300 MB.
pub const MAX_DOTS: u64 = 75_000_000;

/// Millimetres in an inch.
const INCH_MM: f32 = 25.4;

/// A page of a drawing (counted from 0) as PNG, black on white. The picture
/// says its own resolution, so that it prints in its size.
///
/// # Errors
/// If there is no such page, the page or the resolution has no size, or the
/// picture would have more than [`MAX_DOTS`].
pub fn png(drawing: &Drawing, page: usize, dots_per_inch: f32) -> Result<Vec<u8>, InkError> {
    let pixmap = painted(drawing, page, dots_per_inch, Color::WHITE)?;
    let bytes = pixmap.encode_png().map_err(|error| InkError::Write {
        format: "PNG",
        why: error.to_string(),
    })?;
    Ok(with_resolution(&bytes, dots_per_inch))
}

/// How much ink is on each dot of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mask {
    /// Dots across.
    pub width: u32,
    /// Dots down.
    pub height: u32,
    /// Ink from 0 to 255, row by row from the upper left.
    pub ink: Vec<u8>,
}

/// A page of a drawing (counted from 0) as a mask, to be painted in any colour
/// on any ground.
///
/// # Errors
/// As [`png`].
pub fn mask(drawing: &Drawing, page: usize, dots_per_mm: f32) -> Result<Mask, InkError> {
    let pixmap = painted(drawing, page, dots_per_mm * INCH_MM, Color::TRANSPARENT)?;
    Ok(Mask {
        width: pixmap.width(),
        height: pixmap.height(),
        ink: pixmap.pixels().iter().map(|dot| dot.alpha()).collect(),
    })
}

fn painted(
    drawing: &Drawing,
    page: usize,
    dots_per_inch: f32,
    ground: Color,
) -> Result<Pixmap, InkError> {
    let Some(sheet) = drawing.pages.get(page) else {
        return Err(InkError::NoPage {
            page: page + 1,
            pages: drawing.pages.len(),
        });
    };
    if !(dots_per_inch.is_finite() && dots_per_inch > 0.0) {
        return Err(InkError::Resolution(dots_per_inch));
    }
    // A floating number becomes the nearest integer there is; never zero dots.
    let dots = |length: f32| ((length / INCH_MM * dots_per_inch).round() as u64).max(1);
    let sized = |length: f32| length.is_finite() && length > 0.0;
    if !(sized(sheet.width) && sized(sheet.height)) {
        return Err(InkError::PageSize {
            page: page + 1,
            width: sheet.width,
            height: sheet.height,
            limit: f32::MAX,
        });
    }
    let (width, height) = (dots(sheet.width), dots(sheet.height));
    let too_many = InkError::TooManyDots {
        width,
        height,
        limit: MAX_DOTS,
    };
    let (Ok(across), Ok(down)) = (u32::try_from(width), u32::try_from(height)) else {
        return Err(too_many);
    };
    if width.saturating_mul(height) > MAX_DOTS {
        return Err(too_many);
    }
    let failed = |why: String| InkError::Write { format: "PNG", why };
    let tree = Tree::from_str(&svg(drawing, page), &Options::default())
        .map_err(|error| failed(error.to_string()))?;
    let mut pixmap = Pixmap::new(across, down).ok_or(too_many)?;
    pixmap.fill(ground);
    let size = tree.size();
    let scale = Transform::from_scale(across as f32 / size.width(), down as f32 / size.height());
    resvg::render(&tree, scale, &mut pixmap.as_mut());
    Ok(pixmap)
}

/// Puts a `pHYs` chunk (PNG specification, third edition, 11.3.4.3) behind the
/// header: dots per metre both ways.
fn with_resolution(png: &[u8], dots_per_inch: f32) -> Vec<u8> {
    // Signature and header have a fixed length.
    let (head, rest) = png.split_at(png.len().min(8 + 25));
    let per_metre = (dots_per_inch / INCH_MM * 1000.0).round() as u32;
    let mut chunk = b"pHYs".to_vec();
    chunk.extend(per_metre.to_be_bytes());
    chunk.extend(per_metre.to_be_bytes());
    chunk.push(1); // The unit is the metre.
    let mut out = head.to_vec();
    out.extend(9_u32.to_be_bytes());
    out.extend(&chunk);
    out.extend(crc(&chunk).to_be_bytes());
    out.extend(rest);
    out
}

/// The check sum of a PNG chunk (PNG specification, third edition, annex D).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            (crc >> 1) ^ (0xEDB8_8320 & (crc & 1).wrapping_neg())
        })
    })
}
