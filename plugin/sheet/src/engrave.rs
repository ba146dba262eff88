//! Layout: everything that is written gets a place on paper.
//!
//! In: a [`Written`], the [`Kit`] for its key, a [`Style`]. Out: a [`Drawing`],
//! every shape in millimetres with its box. Bars become `piece`s of `column`s
//! (`heads`, `grace`, `signs`) at the distances of `spacing`; `breaks` shares
//! them out among lines, `system` draws a line from the staff outward (`stems`,
//! `tuplets`, `rows`), `page` stacks lines between title, `key` and foot. A bar
//! too wide for the paper is `cut` at a beat where nothing sounds across, without
//! a bar line; a part that is still too wide is drawn smaller. Never here: a
//! spelling of rhythm (what is written stays so), an outline or a font, a colour.

mod breaks;
pub(super) mod canvas;
mod column;
mod cut;
mod grace;
mod heads;
mod key;
pub(super) mod metrics;
mod page;
mod piece;
pub(super) mod rows;
mod signs;
mod spacing;
mod stems;
mod style;
mod system;
mod tuplets;

use super::{Drawing, Page, Spot, System, Written};
use barform_score::music::Kit;
use piece::{Piece, Shown, pieces};
use std::ops::Range;
use system::{CLEF_ROOM, Fill};

pub use style::{EngraveError, Paper, Style};
pub use tuplets::is_customary;

/// How loosely a line is set that is the only one and short.
const ALONE: f32 = 1.3;

/// Lays out a whole sheet.
///
/// # Errors
/// [`EngraveError::StaffHeight`] and [`EngraveError::Paper`] for a style that
/// cannot be printed, [`EngraveError::NoSuchElement`] for beams or tuplets over
/// notes that are not there.
pub fn engrave(written: &Written, kit: &Kit, style: &Style) -> Result<Drawing, EngraveError> {
    style.check()?;
    check(written)?;
    let (width, _) = style.page_mm();
    let line = (width - 2.0 * style.margins_mm) / style.space_mm();
    let pieces = pieces(written, 0..written.bars.len(), shown(style, line));
    let mut pages = page::Pages::new(written, kit, style);
    let lines = break_lines(&pieces, line);
    let mut densities = Vec::with_capacity(lines.len());
    for (i, range) in lines.iter().enumerate() {
        let on_line = &pieces[range.clone()];
        let natural = on_line.iter().map(|p| p.natural).sum::<f32>();
        let last = i + 1 == lines.len();
        let fill = match breaks::mean(&densities) {
            None if last => Fill::Loose(ALONE),
            // As dense as the others, or full.
            Some(mean) if last => Fill::Wide(natural / mean),
            _ => Fill::Justified,
        };
        let warn = pieces
            .get(range.end)
            .filter(|p| p.opens && p.bar.show_meter);
        densities.push(natural / (line - CLEF_ROOM - warn.map_or(0.0, system::warning_width)));
        let drawn = system::draw(on_line, line, fill, warn, true);
        pages.system(drawn, bars_of(on_line));
    }
    Ok(pages.finish())
}

/// Lays out a few bars as one system without title, key or page: for a window.
/// The page is as large as the music; `width_mm` is how wide the staff is to
/// be: wider where the bars need more, natural if `None`.
///
/// # Errors
/// As [`engrave`], and [`EngraveError::NoSuchBars`].
pub fn strip(
    written: &Written,
    bars: Range<usize>,
    style: &Style,
    width_mm: Option<f32>,
) -> Result<Drawing, EngraveError> {
    style.check()?;
    check(written)?;
    if bars.start > bars.end || bars.end > written.bars.len() {
        return Err(EngraveError::NoSuchBars {
            from: bars.start,
            to: bars.end,
            count: written.bars.len(),
        });
    }
    let space = style.space_mm();
    // No line is too short: nothing is cut.
    let pieces = pieces(written, bars, shown(style, f32::MAX));
    let least = pieces.iter().map(|p| p.least).sum::<f32>() + CLEF_ROOM;
    let drawn = match width_mm.filter(|w| w.is_finite()) {
        Some(w) => system::draw(
            &pieces,
            (w / space).max(least + 0.01),
            Fill::Justified,
            None,
            false,
        ),
        None => system::draw(&pieces, f32::MAX, Fill::Loose(1.0), None, false),
    };
    let (dx, dy) = (
        -drawn.bounds.left.min(0.0) * space,
        -drawn.bounds.top * space,
    );
    let spots = drawn.spots.into_iter().map(|s| Spot {
        x: s.x * space + dx,
        ..s
    });
    let bounds = canvas::moved_box(drawn.bounds, space, dx, dy);
    Ok(Drawing {
        title: written.title.clone(),
        spots: spots.collect(),
        systems: vec![System {
            page: 0,
            bounds,
            staff: (dy, dy + metrics::STAFF * space),
            bars: bars_of(&pieces),
        }],
        pages: vec![Page {
            width: bounds.right,
            height: bounds.bottom,
            items: drawn
                .items
                .into_iter()
                .map(|i| canvas::moved(i, space, dx, dy))
                .collect(),
        }],
    })
}

fn shown(style: &Style, line: f32) -> Shown {
    Shown {
        under: [style.show_counts, style.show_sticking],
        letters: true,
        line: line - CLEF_ROOM,
    }
}

fn bars_of(pieces: &[Piece]) -> Range<usize> {
    match (pieces.first(), pieces.last()) {
        (Some(first), Some(last)) => first.index..last.index + 1,
        _ => 0..0,
    }
}

/// The pieces of each line.
fn break_lines(pieces: &[Piece], line: f32) -> Vec<Range<usize>> {
    let known: Vec<breaks::Piece> = pieces
        .iter()
        .map(|p| breaks::Piece {
            natural: p.natural,
            least: p.least,
            warning: if p.opens && p.bar.show_meter {
                system::warning_width(p)
            } else {
                0.0
            },
            section: !p.sections.is_empty(),
            torn: !p.closes,
        })
        .collect();
    let starts = breaks::lines(&known, line - CLEF_ROOM);
    let ends = starts.iter().skip(1).copied().chain([pieces.len()]);
    starts
        .iter()
        .copied()
        .zip(ends)
        .map(|(a, b)| a..b)
        .collect()
}

/// Beams and tuplets must name notes that are there.
fn check(written: &Written) -> Result<(), EngraveError> {
    for (bar, b) in written.bars.iter().enumerate() {
        for line in [&b.hands, &b.feet] {
            let count = line.elements.len();
            let tuplets = line.tuplets.iter().map(|t| (t.first, t.last));
            for (first, last) in tuplets.chain(line.beams.iter().map(|b| (b.first, b.last))) {
                if first > last || last >= count {
                    let element = first.max(last);
                    return Err(EngraveError::NoSuchElement { bar, element });
                }
            }
        }
    }
    Ok(())
}
