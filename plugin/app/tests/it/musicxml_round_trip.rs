//! Any score, to MusicXML and back: whole with the score that goes along, and
//! from its notes alone every stroke.

use crate::common;
use crate::musicxml_support;

use barform_app::export::musicxml::{Options, write};
use barform_app::import::ImportError;
use barform_app::import::musicxml::{self, read};
use barform_app::score::Score;
use barform_app::sheet::notate::{self, Fold};
use barform_app::timeline::Timeline;
use musicxml_support::{bare, strokes};
use proptest::prelude::*;
use proptest::sample::select;

const FOLDS: [Fold; 3] = [Fold::Full, Fold::Repeats, Fold::Letters];

/// The document of a score that is small enough for a test and has a notation.
fn document(score: &Score, fold: Fold, options: &Options) -> Option<String> {
    let timeline = Timeline::compile(score).ok()?;
    if timeline.bars.len() > 200 || timeline.places.len() > 500 {
        return None;
    }
    let how = notate::Options {
        fold,
        ..notate::Options::default()
    };
    let written = notate::written(score, &timeline, &how).ok()?;
    Some(write(&written, &timeline, score, options).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn the_way_there_and_back_is_the_identity(score in common::score(), fold in 0..3_usize) {
        let fold = FOLDS[fold];
        if let Some(text) = document(&score, fold, &Options::default()) {
            let back = read(text.as_bytes(), &musicxml::Options::default()).unwrap();
            prop_assert_eq!(&back.score, &score);
            prop_assert_eq!(document(&back.score, fold, &Options::default()), Some(text));
        }
    }

    /// What the notes alone say is all there after one way and does not change
    /// on the next, whatever fineness and however many layers there are.
    #[test]
    fn notes_alone_say_the_same_each_time(score in common::score()) {
        let options = musicxml::Options::default();
        let Some(first) = document(&score, Fold::Full, &bare()) else { return Ok(()) };
        // Bounds are no matter of this test: the readers', and the shortest slot
        // that a cell may have, where strokes of two layers lie closer.
        let bounded = |text: &str| match read(text.as_bytes(), &options) {
            Err(ImportError::TooLarge { .. } | ImportError::TooMuch(_)) => None,
            Err(ImportError::Score(error))
                if format!("{error:?}").contains("the shortest slot of cell") =>
            {
                None
            }
            read => Some(read.unwrap().score),
        };
        let Some(read_once) = bounded(&first) else { return Ok(()) };
        if let Some(second) = document(&read_once, Fold::Full, &bare()) {
            let Some(read_twice) = bounded(&second) else { return Ok(()) };
            prop_assert_eq!(strokes(&read_twice), strokes(&read_once));
        }
    }

    /// A score of plain cells needs no text of its own to come back: not a byte
    /// of its document changes.
    #[test]
    fn plain_cells_come_back_from_their_notes_alone(score in plain(), fold in 0..2_usize) {
        let first = document(&score, FOLDS[fold], &bare()).unwrap();
        let back = read(first.as_bytes(), &musicxml::Options::default()).unwrap();
        prop_assert_eq!(&back.notes, &[]);
        prop_assert_eq!(strokes(&back.score), strokes(&score));
        prop_assert_eq!(document(&back.score, FOLDS[fold], &bare()), Some(first));
    }
}

/// Scores without variations, overrides or ostinatos: cells of two beats on
/// grids that a drummer meets, in 4/4, some of them repeated.
fn plain() -> impl Strategy<Value = Score> {
    let spans = select(vec![
        "1 1",
        "2 1",
        "2 2",
        "3 2",
        "3 3",
        "4 4",
        "4 6",
        "6 6",
        "5 4",
        "7 2",
        "8 4",
        "9 3",
        "10 5",
        "11 4",
        "12 6",
        "3@2",
        "5@2",
        "6@2",
        "1@1/2 3@1/2 4",
        "3@1/2 2@1/2 6",
    ]);
    let stroke = select(vec![
        "R", "L>", "lR", "(L)", "Rz", "K", "H", "R+K", "L+H", "rrL>", "-",
    ]);
    let cell = (spans, proptest::collection::vec(stroke, 24));
    let groups = proptest::collection::vec((0..4_usize, 0..4_usize, 1..4_u32), 1..4);
    (proptest::collection::vec(cell, 4), groups).prop_map(|(cells, groups)| {
        let mut text = "barform = 1\ntempo = 100\nmeter = \"4/4\"\nform = \"".to_owned();
        let letter = |n: usize| ["A", "B2", "C'", "D"][n];
        for (a, b, times) in groups {
            text += &format!("({} {} |)x{times} ", letter(a), letter(b));
        }
        text += "\"\n";
        for (n, (grid, strokes)) in cells.iter().enumerate() {
            let count: usize = grid
                .split(' ')
                .map(|s| s.split('@').next().unwrap().parse::<usize>().unwrap())
                .sum();
            let line = strokes
                .iter()
                .cycle()
                .take(count)
                .copied()
                .collect::<Vec<_>>();
            text += &format!(
                "[cell.\"{}\"]\ngrid = \"{grid}\"\nsticking = \"{}\"\n",
                letter(n),
                line.join(" ")
            );
        }
        Score::parse(&text, "plain.barform").unwrap()
    })
}

/// The strokes alone would fit three slots to the beat; the tuplet of half a beat
/// that is written, with a rest in it, says otherwise.
#[test]
fn a_tuplet_keeps_its_division_where_part_of_it_rests() {
    let text = "barform = 1\ntempo = 100\nform = \"A\"\n[cell.A]\ngrid = \"1@1/2 3@1/2 1@3\"\n\
                sticking = \"R - R - L\"\n";
    let score = Score::parse(text, "tuplet.barform").unwrap();
    let first = document(&score, Fold::Full, &bare()).unwrap();
    let back = read(first.as_bytes(), &musicxml::Options::default()).unwrap();
    assert_eq!(document(&back.score, Fold::Full, &bare()), Some(first));
}
