//! A thousand things done in the window, taken back one by one and done again:
//! each text on the way is the one that was there.

#[path = "../app/tests/it/score_edit_support/mod.rs"]
mod score_edit_support;
mod window;

use barform::editor::{Desk, Spot};
use barform_app::music::Beats;
use proptest::collection::vec;
use proptest::prelude::*;
use score_edit_support::actions::{Dice, action, dice};
use score_edit_support::file;
use window::Window;

/// Cells in a form that a drummer would write.
const FORM_PLACES: usize = 300;

/// Bytes of a file that a drummer would write.
const FILE_BYTES: usize = 8_000;

/// Does what the dice say on the desk, as the pages do.
fn go(desk: &mut Desk, dice: Dice, number: usize) {
    match dice.1 % 10 {
        0 => {
            let title = format!("Lesson {}", dice.2 % 50);
            desk.change(Spot::Top, "Title", None, |score| {
                score.title = title;
                Ok(())
            });
        }
        1 => {
            // Some of them are no tempo, and are refused.
            let tempo = Beats::new(i64::from(dice.2 % 900), 2);
            desk.change(Spot::Top, "Tempo", None, |score| {
                score.tempo = tempo;
                Ok(())
            });
        }
        2 => {
            // Typed on the Score page: a remark, or another title.
            let text = if dice.2.is_multiple_of(2) {
                format!("{}# remark {number}\n", desk.typed.text)
            } else {
                let typed = format!("tempo = {} # typed", 60 + dice.2 % 90);
                let lines = desk.typed.text.lines();
                let lines = lines.map(|line| match line.starts_with("tempo") {
                    true => typed.clone(),
                    false => line.to_owned(),
                });
                lines.collect::<Vec<_>>().join("\n") + "\n"
            };
            desk.typed.text = text;
            desk.typed.edited(desk.now_s);
        }
        _ => {
            let score = desk.score();
            let large = score.to_toml().len() > FILE_BYTES
                || desk.shown.checked.timeline.places.len() > FORM_PLACES;
            let grows = matches!(dice.0, 0 | 1 | 2 | 8 | 9 | 14 | 16 | 19);
            if large && grows {
                return;
            }
            let edit = action(score, dice);
            desk.edit(Spot::Strip, &edit, None);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1, max_shrink_iters: 0, ..Default::default() })]

    #[test]
    fn a_thousand_actions_are_taken_back_and_done_again(all in vec(dice(), 1_000)) {
        let mut window = Window::with_score(&file("A B | C C | (A B')x2 |"));
        let start = window.text();
        let mut texts = vec![start.clone()];
        for (number, dice) in all.into_iter().enumerate() {
            let desk = window.harness.state_mut().desk_mut();
            go(desk, dice, number);
            // The window takes notice: what was typed is checked, then plays.
            if dice.1 % 10 == 2 {
                window.settle();
                window.harness.state().desk().seal();
            } else if number % 20 == 0 {
                window.harness.run_steps(1);
            }
            let text = window.text();
            if texts.last() != Some(&text) {
                texts.push(text);
            }
        }
        prop_assert!(texts.len() > 400, "only {} changed something", texts.len());
        // As the buttons and keys do: through the desk.
        for expected in texts.iter().rev().skip(1) {
            window.harness.state_mut().desk_mut().undo();
            let text = window.text();
            prop_assert_eq!(&text, expected);
            prop_assert_eq!(&window.harness.state().desk().typed.text, expected);
        }
        let first = window.params.session.steps().0;
        prop_assert_eq!(first.as_deref(), Some("Test"), "nothing else to undo");
        prop_assert_eq!(window.text(), start);
        for expected in texts.iter().skip(1) {
            window.harness.state_mut().desk_mut().redo();
            prop_assert_eq!(&window.text(), expected);
        }
        prop_assert_eq!(&window.params.session.steps().1, &None);
        // The host saves what plays.
        prop_assert_eq!(&window.params.session.document().score, texts.last().unwrap());
        window.settle();
    }
}
