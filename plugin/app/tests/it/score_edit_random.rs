//! Random edits: nothing panics, everything can be undone, cells play what a
//! small model of them says.

use crate::common;
use crate::score_edit_support;

use barform_app::music::{Articulation, Graces, Hand, Letter, Level, Limb, Slot, Stroke};
use barform_app::score::edit::{
    BarLines, CellEdit, Edit, History, Lines, Owner, Paste, copy_cells,
};
use barform_app::score::{Document, FormItem, Score, read_sticking, read_voices};
use proptest::collection::vec;
use proptest::prelude::*;
use score_edit_support::actions::{action, cell_edit, dice, letter, place};

/// Cells in a form that a drummer would write, with room to spare.
const FORM_PLACES: usize = 500;

fn places(score: &Score) -> usize {
    score.placements().map_or(0, |all| all.places.len())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3, max_shrink_iters: 20, ..Default::default() })]

    #[test]
    fn a_thousand_actions_are_undone_and_done_again(
        score in common::score(),
        all in vec(dice(), 1000),
    ) {
        // Every action checks the whole form: a drummer's is not a thousand
        // bars long.
        prop_assume!(places(&score) < FORM_PLACES);
        let start = format!("# by hand\n{}", score.to_toml());
        let mut history = History::new(Document::parse(&start, "").unwrap());
        let mut done = 0;
        for dice in all {
            if dice.1 % 50 == 0 {
                history.undo();
                continue;
            }
            // Keeps the form to a size that a drummer would write.
            let large = history.text().len() > 8_000 || places(history.score()) > FORM_PLACES;
            let edit = action(history.score(), dice);
            let grows = matches!(dice.0, 0 | 1 | 2 | 14 | 16 | 19);
            if large && grows {
                continue;
            }
            let bar_lines = [BarLines::Hold, BarLines::Loosen, BarLines::LoosenMeters];
            let before = history.text().to_owned();
            match history.edit(&edit, bar_lines[usize::from(dice.3 % 3)], None) {
                Ok(made) => {
                    done += 1;
                    prop_assert_eq!(&made.score, history.score());
                    prop_assert!(made.score.check().is_ok());
                    // What is said to be there is there.
                    if let Some(run) = &made.run {
                        prop_assert!(run.items(&made.score).is_some(), "{:?} {:?}", edit, run);
                    }
                    prop_assert!(!made.label.is_empty());
                }
                Err(_) => prop_assert_eq!(history.text(), before),
            }
        }
        prop_assert!(done > 300, "only {} were made", done);
        // The last action may have been an undo.
        while history.redo().is_some() {}
        let (end, last) = (history.text().to_owned(), history.score().clone());
        let steps = history.labels().count();
        while history.undo().is_some() {}
        prop_assert_eq!(history.text(), start);
        prop_assert_eq!(history.score(), &score);
        for _ in 0..steps {
            prop_assert!(history.redo().is_some());
        }
        prop_assert_eq!(history.redo(), None);
        prop_assert_eq!(history.text(), end);
        prop_assert_eq!(history.score(), &last);
    }
}

/// What a slot plays after an edit of it, worked out anew; `None` where that
/// cannot be done.
fn model(slots: &[Slot], edit: &CellEdit) -> Option<Vec<Slot>> {
    let mut all = slots.to_vec();
    // Limbs that are picked on a slot; none is a refusal.
    let pick = |slot: &Slot, limb: &Option<Limb>, hands: bool| -> Option<Vec<usize>> {
        let fits = |s: &Stroke| limb.is_none_or(|l| l == s.limb) && !(hands && s.limb.is_foot());
        let found: Vec<usize> = (0..slot.len()).filter(|i| fits(&slot[*i])).collect();
        (!found.is_empty()).then_some(found)
    };
    match edit {
        CellEdit::Put { slot, stroke } => all[*slot] = vec![*stroke],
        CellEdit::Add { slot, stroke } => {
            all[*slot].retain(|s| s.limb != stroke.limb);
            all[*slot].push(*stroke);
        }
        CellEdit::Remove { slot, limb } => match limb {
            Some(limb) => all[*slot].retain(|s| s.limb != *limb),
            None => all[*slot].clear(),
        },
        CellEdit::Accent { slot, limb } | CellEdit::Ghost { slot, limb } => {
            let level = if matches!(edit, CellEdit::Accent { .. }) {
                Level::Accent
            } else {
                Level::Ghost
            };
            let picked = pick(&all[*slot], limb, false)?;
            let off = picked.iter().all(|i| all[*slot][*i].level == level);
            for i in picked {
                all[*slot][i].level = if off { Level::Normal } else { level };
            }
        }
        CellEdit::Ornament { slot, limb } => {
            let picked = pick(&all[*slot], limb, true)?;
            let first = all[*slot][picked[0]];
            let (graces, buzz) = match (first.graces.len(), first.buzz) {
                (_, true) => ("", false),
                (0, _) => ("o", false),
                (1, _) => ("oo", false),
                (2, _) => ("oho", false),
                _ => ("", true),
            };
            for i in picked {
                let hand = all[*slot][i].limb.hand()?;
                let hands: Vec<Hand> = graces
                    .chars()
                    .map(|c| if c == 'o' { hand.other() } else { hand })
                    .collect();
                all[*slot][i].graces = Graces::from_hands(&hands)?;
                all[*slot][i].buzz = buzz;
            }
        }
        CellEdit::Articulation {
            slot,
            limb,
            articulation,
        } => {
            let mut picked = pick(&all[*slot], limb, false)?;
            picked.retain(|i| all[*slot][*i].voice.articulations().contains(articulation));
            for i in &picked {
                all[*slot][*i].articulation = *articulation;
            }
            return (!picked.is_empty()).then_some(all);
        }
        CellEdit::Voice { slot, limb, voice } => {
            for i in pick(&all[*slot], limb, false)? {
                let stroke = &mut all[*slot][i];
                stroke.voice = *voice;
                if !voice.articulations().contains(&stroke.articulation) {
                    stroke.articulation = Articulation::Plain;
                }
            }
        }
        CellEdit::SwapHand { slot } => {
            for i in pick(&all[*slot], &None, true)? {
                let stroke = &mut all[*slot][i];
                stroke.limb = stroke.limb.hand()?.other().into();
                let hands: Vec<Hand> = stroke.graces.iter().map(|h| h.other()).collect();
                stroke.graces = Graces::from_hands(&hands)?;
            }
        }
        CellEdit::Rotate(by) => {
            let count = slots.len() as i64;
            for (i, slot) in slots.iter().enumerate() {
                all[((i as i64 + by).rem_euclid(count)) as usize] = slot.clone();
            }
        }
        CellEdit::Clear => all.iter_mut().for_each(Vec::clear),
        _ => return None,
    }
    Some(all)
}

/// Strokes at once have no order.
fn sorted(slots: &[Slot]) -> Vec<Slot> {
    let mut slots = slots.to_vec();
    slots.iter_mut().for_each(|s| s.sort_by_key(|s| s.limb));
    slots
}

/// The text of a cell and what it plays say the same.
fn views_agree(score: &Score, letter: &Letter) -> Result<(), TestCaseError> {
    let cell = score.cell(letter).unwrap();
    let lines = Lines::of(score, &Owner::Cell(letter.clone())).unwrap();
    prop_assert_eq!(&lines.grid, &cell.grid);
    let sticking = read_sticking(&lines.sticking).unwrap();
    prop_assert_eq!(sticking.len(), cell.slots.len());
    for (sticks, strokes) in sticking.iter().zip(&cell.slots) {
        let seen = sticks.iter().map(|t| (t.limb, t.level, t.graces, t.buzz));
        let played = strokes.iter().map(|s| (s.limb, s.level, s.graces, s.buzz));
        prop_assert!(seen.eq(played));
    }
    if lines.own[1] && lines.own[2] {
        // A cell of these lines and nothing else plays the same.
        let mut alone = score.clone();
        alone.cells.retain(|c| c.letter == *letter);
        alone.cells[0].like = None;
        alone.cells[0].grid = Some(lines.grid.clone());
        alone.cells[0].sticking = Some(sticking);
        alone.cells[0].voices = Some(read_voices(&lines.voices).unwrap());
        prop_assert_eq!(&alone.cell(letter).unwrap().slots, &cell.slots);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..Default::default() })]

    #[test]
    fn cells_play_what_a_model_of_them_says(
        mut score in common::score(),
        all in vec(dice(), 60),
    ) {
        for (kind, a, b, c) in all {
            let letter = letter(&score, c);
            let before = score.cell(&letter).unwrap();
            let spans = before.grid.spans().len();
            let edit = cell_edit(kind, before.slots.len(), spans, a, b);
            let owner = Owner::Cell(letter.clone());
            let known = !matches!(edit, CellEdit::Span { .. } | CellEdit::AddSpan { .. }
                | CellEdit::RemoveSpan(_) | CellEdit::Voices(_));
            let expected = model(&before.slots, &edit);
            let done = Edit::Cell(owner, edit.clone()).apply_with(&score, BarLines::LoosenMeters);
            let Ok(done) = done else {
                prop_assert!(!known || expected.is_none(), "{:?}: {:?}", edit, done);
                continue;
            };
            let after = done.score.cell(&letter).unwrap();
            if known {
                prop_assert_eq!(&after.grid, &before.grid);
                let expected = expected.expect("what the model refuses is refused");
                prop_assert_eq!(sorted(&after.slots), sorted(&expected), "{:?}", edit);
            }
            // Only variations of it may have changed with it.
            for def in &done.score.cells {
                views_agree(&done.score, &def.letter)?;
                let mut like = Some(&def.letter);
                let mut akin = false;
                while let Some(up) = like {
                    akin |= *up == letter;
                    like = done.score.cells.iter().find(|c| c.letter == *up).unwrap().like.as_ref();
                }
                if !akin {
                    prop_assert_eq!(done.score.cell(&def.letter), score.cell(&def.letter));
                }
            }
            // A variation states no line that is its parent's.
            let def = done.score.cells.iter().find(|c| c.letter == letter).unwrap();
            if let Some(like) = &def.like
                && !matches!(edit, CellEdit::Voices(_))
            {
                let parent = Lines::of(&done.score, &Owner::Cell(like.clone())).unwrap();
                let own = Lines::of(&done.score, &Owner::Cell(letter.clone())).unwrap();
                prop_assert!(!own.own[0] || own.grid != parent.grid);
                prop_assert!(!own.own[1] || own.sticking != parent.sticking);
            }
            score = done.score;
        }
    }

    #[test]
    fn what_is_copied_and_pasted_elsewhere_plays_the_same(
        score in common::score(),
        other in common::score(),
        number in any::<u16>(),
    ) {
        let letter = letter(&score, number);
        let text = copy_cells(&score, std::slice::from_ref(&letter)).unwrap();
        let at = place(&other, number);
        let paste = Paste { text, at: Some(at) };
        // The cell may be longer than a refit around it allows.
        let Ok(done) = Edit::Paste(paste).apply_with(&other, BarLines::LoosenMeters) else {
            return Ok(());
        };
        let items = done.run.as_ref().unwrap().items(&done.score).unwrap();
        let [FormItem::Letter { letter: pasted, .. }] = items else {
            return Err(TestCaseError::fail(format!("{items:?}")));
        };
        let (was, is) = (score.cell(&letter).unwrap(), done.score.cell(pasted).unwrap());
        prop_assert_eq!((was.grid, was.slots), (is.grid, is.slots));
        // What was there plays on.
        for def in &other.cells {
            prop_assert_eq!(done.score.cell(&def.letter), other.cell(&def.letter));
        }
    }
}
