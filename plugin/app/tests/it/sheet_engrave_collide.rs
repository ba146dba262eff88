//! Nothing lies on what it must not, nothing leaves the margins, nothing is
//! lost: for scores at random on every paper.

use crate::sheet_engrave_support;

use barform_app::sheet::engrave::Style;
use barform_app::sheet::{Drawing, Role, Shape, Under, Written};
use proptest::prelude::*;
use sheet_engrave_support::touch::clashes;
use sheet_engrave_support::{draw, fold, music, of, score, strokes, styles, words};

/// A thousandth of a millimetre: rounding.
const HAIR: f32 = 0.001;

fn inside_the_margins(drawing: &Drawing, style: &Style) -> Result<(), TestCaseError> {
    let (m, hair) = (style.margins_mm, 0.01);
    for page in &drawing.pages {
        for item in &page.items {
            let b = item.bounds;
            let inside = b.left >= m - hair
                && b.top >= m - hair
                && b.right <= page.width - m + hair
                && b.bottom <= page.height - m + hair;
            prop_assert!(inside, "{item:?} on {} x {}", page.width, page.height);
        }
    }
    Ok(())
}

fn nothing_is_lost(written: &Written, drawing: &Drawing) -> Result<(), TestCaseError> {
    // Bars: each system goes on where the last ended, or inside the same bar.
    let mut next = 0;
    for system in &drawing.systems {
        prop_assert!(system.bars.start == next || system.bars.start + 1 == next);
        prop_assert!(system.bars.end > system.bars.start);
        next = system.bars.end;
    }
    prop_assert_eq!(next, written.bars.len());
    // Strokes: as many heads of each source as there are strokes.
    let key = |s: Option<barform_app::sheet::Source>| s.map(|s| (s.place, s.slot));
    let mut wanted: Vec<_> = strokes(written).iter().map(|s| key(s.source)).collect();
    let mut drawn: Vec<_> = of(drawing, Role::Head)
        .iter()
        .map(|i| key(i.source))
        .collect();
    wanted.sort_unstable();
    drawn.sort_unstable();
    prop_assert_eq!(wanted, drawn);
    // Words: every letter, count and sticking, as often as written.
    let marks = written.bars.iter().flat_map(|b| &b.marks);
    let letters = marks.filter(|m| m.letter.is_some()).count();
    let all = || drawing.pages.iter().flat_map(|p| &p.items);
    let boxed = all().filter(|i| matches!(i.role, Role::Letter(_)) && words(i).is_some());
    prop_assert_eq!(letters, boxed.count());
    let under = || written.bars.iter().flat_map(|b| &b.under);
    let counted = under().filter(|u| !u.count.is_empty()).count();
    // Small letters are drawn apart from those of strokes.
    let runs = |grace: bool| {
        let parts = |u: &Under| -> usize {
            let signs = u.sticking.as_bytes();
            let runs = signs.chunk_by(|a, b| a.is_ascii_lowercase() == b.is_ascii_lowercase());
            runs.filter(|r| r[0].is_ascii_lowercase() == grace).count()
        };
        under().map(parts).sum::<usize>()
    };
    let counts = all()
        .filter(|i| matches!(i.role, Role::Count | Role::LightCount))
        .count();
    prop_assert_eq!(counted, counts);
    prop_assert_eq!(runs(false), of(drawing, Role::Sticking).len());
    prop_assert_eq!(runs(true), of(drawing, Role::GraceSticking).len());
    Ok(())
}

/// Right ends of the staves, and all rows of a system on one base line.
fn lines_are_straight(drawing: &Drawing, style: &Style) -> Result<(), TestCaseError> {
    let right = style.page_mm().0 - style.margins_mm;
    for (i, system) in drawing.systems.iter().enumerate() {
        let items = &drawing.pages[system.page].items;
        let here = || {
            items.iter().filter(|s| {
                system.bounds.top <= s.bounds.top && s.bounds.bottom <= system.bounds.bottom
            })
        };
        if i + 1 < drawing.systems.len() {
            let ends: Vec<f32> = here()
                .filter(|s| s.role == Role::StaffLine)
                .map(|s| s.bounds.right)
                .collect();
            prop_assert_eq!(ends.len(), 5);
            for end in ends {
                prop_assert!(
                    (end - right).abs() < 0.02,
                    "system {i} ends at {end}, not {right}"
                );
            }
        }
        let counts = &[Role::Count, Role::LightCount][..];
        for row in [counts, &[Role::Sticking], &[Role::GraceSticking]] {
            let mut lines: Vec<f32> = here()
                .filter(|s| row.contains(&s.role))
                .filter_map(|s| match s.shape {
                    Shape::Text { at, .. } => Some(at.y),
                    _ => None,
                })
                .collect();
            lines.dedup_by(|a, b| (*a - *b).abs() < HAIR);
            prop_assert!(lines.len() <= 1, "{row:?} of system {i} on {lines:?}");
        }
    }
    Ok(())
}

fn spots_ascend(drawing: &Drawing) -> Result<(), TestCaseError> {
    for pair in drawing.spots.windows(2) {
        prop_assert!(pair[0].beats <= pair[1].beats);
        prop_assert!(pair[0].system <= pair[1].system);
        if pair[0].system == pair[1].system && pair[0].beats < pair[1].beats {
            prop_assert!(pair[0].x < pair[1].x, "{pair:?}");
        }
    }
    Ok(())
}

fn sound(written: &Written, style: &Style) -> Result<Drawing, TestCaseError> {
    let drawing = draw(written, style);
    inside_the_margins(&drawing, style)?;
    nothing_is_lost(written, &drawing)?;
    lines_are_straight(&drawing, style)?;
    spots_ascend(&drawing)?;
    for (i, page) in drawing.pages.iter().enumerate() {
        let clashes = clashes(&page.items);
        prop_assert!(
            clashes.is_empty(),
            "page {i}, {} clashes, first {:#?}",
            clashes.len(),
            clashes.first()
        );
    }
    Ok(drawing)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn any_score_is_drawn_clear_and_whole_on_every_paper(text in score(), fold in fold()) {
        let music = music(&text, fold);
        for style in styles() {
            sound(&music, &style)?;
        }
    }
}

#[test]
fn the_demo_is_drawn_clear_and_whole_on_every_paper() {
    for fold in [
        Default::default(),
        barform_app::sheet::notate::Fold::Repeats,
    ] {
        let music = music(barform_app::DEMO_SCORE, fold);
        for style in styles() {
            let drawing = sound(&music, &style).unwrap_or_else(|e| panic!("{style:?}: {e}"));
            assert!(drawing.systems.len() > 1);
        }
    }
}

#[test]
fn the_search_finds_what_is_laid_on_something_else() {
    let music = music(barform_app::DEMO_SCORE, Default::default());
    let drawing = draw(&music, &Style::default());
    let items = &drawing.pages[0].items;
    assert!(clashes(items).is_empty());
    let head = of(&drawing, Role::Head)[0].bounds;
    let beam = of(&drawing, Role::Beam)[0].bounds;
    // Each of these, moved onto a head or a beam, must be found.
    for role in [
        Role::Count,
        Role::Sticking,
        Role::Rest,
        Role::Accent,
        Role::TupletNumber,
    ] {
        for place in [head, beam] {
            let mut planted = of(&drawing, role)[0].clone();
            let size = (
                planted.bounds.right - planted.bounds.left,
                planted.bounds.bottom - planted.bounds.top,
            );
            planted.bounds.left = (place.left + place.right - size.0) / 2.0;
            planted.bounds.right = planted.bounds.left + size.0;
            planted.bounds.top = (place.top + place.bottom - size.1) / 2.0;
            planted.bounds.bottom = planted.bounds.top + size.1;
            let mut with = items.clone();
            with.push(planted);
            assert!(!clashes(&with).is_empty(), "{role:?}");
        }
    }
}
