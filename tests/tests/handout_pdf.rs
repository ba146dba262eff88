//! The hand-out as PDF, written by the command and read by Poppler's `pdfinfo`
//! and `pdftotext`.

use anyhow::{Context, Result};
use barform_app::DEMO_SCORE;
use barform_app::craft::line::Line;
use barform_app::craft::playable::Playable;
use barform_app::score::Score;
use barform_app::sheet::engrave::{Paper, Style, engrave};
use barform_app::sheet::handout::{Options, handout};
use barform_app::sheet::ink;
use barform_app::sheet::notate::{self, Fold};
use barform_app::timeline::Timeline;
use barform_tests::poppler::poppler;

/// Words as they are read, however lines were broken.
fn read(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_demo_hand_out_is_read_back() -> Result<()> {
    let score = Score::parse(DEMO_SCORE, "demo")?;
    let timeline = Timeline::compile(&score)?;
    for (paper, size) in [
        // ISO 216 and ANSI/ASME Y14.1, in points.
        (Paper::A4, "595.276 x 841.89 pts"),
        (Paper::LETTER, "612 x 792 pts"),
    ] {
        let style = Style {
            paper,
            ..Style::default()
        };
        let options = Options {
            style,
            ..Options::default()
        };
        let folder = tempfile::tempdir()?;
        let file = folder.path().join("handout.pdf");
        std::fs::write(&file, ink::pdf(&handout(&score, &timeline, &options)?)?)?;
        let told = poppler("pdfinfo", &[], &file, &[])?;
        assert!(told.contains(size), "{told}");
        assert!(told.contains("Lantern Street, solo spot"), "{told}");

        let notation = notate::Options {
            fold: Fold::Repeats,
            ..notate::Options::default()
        };
        let music = notate::written(&score, &timeline, &notation)?;
        let sheet = engrave(&music, &score.kit, &style)?.pages.len();
        let text = poppler("pdftotext", &["-layout"], &file, &["-"])?;
        let pages: Vec<&str> = text.trim_end_matches('\x0C').split('\x0C').collect();
        let cells = score.cells_resolved()?;
        assert_eq!(pages.len(), sheet + cells.len());

        let rules = &options.rules;
        let setup = rules.sticking.setup("right-handed", &score.kit)?;
        for (cell, page) in cells.iter().zip(&pages[sheet..]) {
            let letter = cell.letter.as_str().replace('\'', "′");
            let words: Vec<&str> = page.split_whitespace().collect();
            assert_eq!(words.first(), Some(&letter.as_str()), "{page}");
            // The count of a cell begins on "1": common practice.
            let counts = page
                .lines()
                .any(|line| line.trim_start().starts_with("1  "));
            assert!(counts, "no count: {page}");
            let page = read(page);
            assert!(
                page.contains("Start the monitor low: drums and clicks in headphones can damage"),
                "{page}"
            );
            assert!(
                page.contains("raise the tempo in small steps, stop at pain or numbness."),
                "{page}"
            );
            assert!(page.contains("ask a teacher or a physician."), "{page}");
            let line = Line::from_cell(cell)?;
            let playable = Playable::new(&line.strokes, Some(line.length), &setup, &rules.sticking);
            for level in rules.levels.all() {
                let top = playable.top_tempo(level, &rules.levels)?;
                let bpm = top.bpm.context("a tempo")?;
                let wanted = format!("{} {bpm} bpm", level.name);
                assert!(page.contains(&wanted), "{wanted}: {page}");
            }
            // The goal is the tempo of the score, 92, where the best can play it.
            assert!(
                page.contains("Goal: 92 bpm") && page.contains("Tempo steps: 46, "),
                "{page}"
            );
        }
    }
    Ok(())
}
