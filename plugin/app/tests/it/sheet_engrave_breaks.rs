//! Even lines: how densely each system is set, measured on what is drawn
//! against the same bars drawn at their natural width.

use crate::sheet_engrave_support;

use barform_app::sheet::engrave::{Style, strip};
use barform_app::sheet::notate::Fold;
use barform_app::sheet::{Drawing, Role, System, Written};
use proptest::prelude::*;
use sheet_engrave_support::{draw, fold, music, one_cell, score, styles};

/// Room of the clef, in staff spaces.
const CLEF: f32 = 2.2;

/// Right edge of the last bar line, in staff spaces after the clef: a meter that
/// warns of a change stands behind it.
fn music_width(drawing: &Drawing, system: &System, left: f32) -> f32 {
    let items = drawing.pages[system.page].items.iter();
    let lines = items.filter(|i| i.role == Role::BarLine && system.bounds.holds(i.bounds));
    let right = lines.map(|i| i.bounds.right).fold(0.0, f32::max);
    (right - left) * 4.0 / (system.staff.1 - system.staff.0) - CLEF
}

/// Natural width over drawn width of each system; `None` if a bar is cut.
fn densities(written: &Written, drawing: &Drawing, style: &Style) -> Option<Vec<f32>> {
    let bars = |i: usize| drawing.systems[i].bars.clone();
    if (1..drawing.systems.len()).any(|i| bars(i).start < bars(i - 1).end) {
        return None;
    }
    let density = |system: &System| {
        let natural = strip(written, system.bars.clone(), style, None).expect("draws");
        let alone = &natural.systems[0];
        let lines = natural.pages[0].items.iter();
        let left = lines
            .filter(|i| i.role == Role::StaffLine)
            .map(|i| i.bounds.left)
            .fold(f32::MAX, f32::min);
        music_width(&natural, alone, left) / music_width(drawing, system, style.margins_mm)
    };
    Some(drawing.systems.iter().map(density).collect())
}

/// No system of several bars is over 1.4 times as dense as the mean.
fn even(written: &Written, drawing: &Drawing, style: &Style) -> Result<(), TestCaseError> {
    let Some(all) = densities(written, drawing, style) else {
        return Ok(());
    };
    let mean = all.iter().sum::<f32>() / all.len() as f32;
    for (system, density) in drawing.systems.iter().zip(&all) {
        prop_assert!(
            // A hundredth for signs that a line has only where it begins or ends.
            system.bars.len() == 1 || *density <= 1.41 * mean,
            "bars {:?}: {density} against {mean} of {all:?} on {style:?}",
            system.bars
        );
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn no_system_is_crammed_beside_the_others(text in score(), fold in fold()) {
        let music = music(&text, fold);
        for style in styles() {
            even(&music, &draw(&music, &style), &style)?;
        }
    }
}

fn bars_on_each_line(bars: usize, style: &Style) -> (Vec<usize>, Vec<f32>) {
    // Sixteenth-triplets: six to a quarter note.
    let voices = format!("snare{}", " .".repeat(23));
    let text = one_cell("6 6 6 6", "R L ".repeat(12).trim(), &voices)
        .replace("form = \"A\"", &format!("form = \"(A)x{bars}\""));
    let music = music(&text, Fold::Full);
    let drawing = draw(&music, style);
    let lines = drawing.systems.iter().map(|s| s.bars.len()).collect();
    let densities = densities(&music, &drawing, style).unwrap_or_default();
    (lines, densities)
}

#[test]
fn four_bars_of_sixteenth_triplets_break_evenly() {
    let (lines, densities) = bars_on_each_line(4, &Style::default());
    assert!(
        lines == [2, 2] || lines == [1; 4],
        "{lines:?} {densities:?}"
    );
}

#[test]
fn like_bars_fill_like_lines_on_every_paper() {
    for style in styles() {
        for bars in 1..=24 {
            let (lines, densities) = bars_on_each_line(bars, &style);
            let (last, full) = lines.split_last().expect("has lines");
            // Only the last may end short.
            let like = full.iter().all(|n| n == &full[0]) && full.iter().all(|n| last <= n);
            assert!(
                like || densities.is_empty(),
                "{lines:?} {densities:?} on {style:?}"
            );
        }
    }
}

#[test]
fn no_system_of_the_demo_is_crammed_beside_the_others() {
    for fold in [Fold::Full, Fold::Repeats, Fold::Letters] {
        let music = music(barform_app::DEMO_SCORE, fold);
        for style in styles() {
            even(&music, &draw(&music, &style), &style).unwrap_or_else(|e| panic!("{e}"));
        }
    }
}
