//! What is done to a cell or an ostinato as a whole: made, varied, named,
//! deleted, copied.

use barform_app::music::{Graces, Grid, Letter, Level, Limb};
use barform_app::score::edit::{Edit, LetterEdit, Owner, Paste, Uses, copy_cells, next_prime};
use barform_app::score::{CellDef, Ostinato, Score, ScoreError, StickSlot, StickToken};
use egui::Ui;

use super::super::desk::{Desk, Spot};
use super::act::problem;
use super::known::Known;

/// Adds a cell of rests.
pub fn new_cell(desk: &mut Desk, grid: Option<Grid>) {
    let Some(grid) = grid else { return };
    let edit = Edit::Letter(LetterEdit::Add { letter: None, grid });
    if desk.edit(Spot::Bench, &edit, None).is_some() {
        desk.chosen.slot = 0;
    }
}

/// Adds a variation that states nothing of its own yet.
pub fn vary(desk: &mut Desk, letter: &Letter) {
    let Some(prime) = next_prime(desk.score(), letter) else {
        desk.refuse(
            Spot::Bench,
            problem(format!(
                "All primes of {letter} are taken; a letter has up to eight"
            )),
        );
        return;
    };
    let def = CellDef {
        letter: prime.clone(),
        like: Some(letter.clone()),
        grid: None,
        sticking: None,
        voices: None,
    };
    let family = |l: &Letter| l.as_str().trim_end_matches('\'').to_owned();
    let own = family(letter);
    let label = format!("New cell {prime}");
    let done = desk.change(Spot::Bench, &label, None, |score: &mut Score| {
        let last = score.cells.iter().rposition(|c| family(&c.letter) == own);
        score
            .cells
            .insert(last.map_or(score.cells.len(), |i| i + 1), def);
        Ok(())
    });
    if done.is_some() {
        desk.chosen.owner = Some(Owner::Cell(prime));
        desk.chosen.slot = 0;
    }
}

/// Takes a cell out of the score.
pub fn delete_cell(desk: &mut Desk, letter: &Letter, uses: Uses) {
    let letter = letter.clone();
    let edit = Edit::Letter(LetterEdit::Delete { letter, uses });
    desk.edit(Spot::Bench, &edit, None);
}

/// Gives a cell another letter or an ostinato another name; whether it was done.
pub fn rename(desk: &mut Desk, owner: &Owner, to: &str) -> bool {
    match owner {
        Owner::Cell(from) => {
            let Some(letter) = Letter::new(to) else {
                let why = "A letter is a capital with up to two digits and up to eight primes, \
                           as A, B2 or C'";
                desk.refuse(Spot::Bench, problem(why));
                return false;
            };
            let (from, to) = (from.clone(), letter.clone());
            let edit = Edit::Letter(LetterEdit::Rename { from, to });
            let done = desk.edit(Spot::Bench, &edit, None).is_some();
            if done {
                desk.chosen.owner = Some(Owner::Cell(letter));
            }
            done
        }
        Owner::Ostinato(from) => {
            let label = format!("Rename ostinato {from}");
            let (from, name) = (from.clone(), to.to_owned());
            let done = desk.change(Spot::Bench, &label, None, |score| {
                let named = score.ostinatos.iter_mut().find(|o| o.name == from);
                if let Some(ostinato) = named {
                    ostinato.name = name;
                }
                Ok::<(), ScoreError>(())
            });
            if done.is_some() {
                desk.chosen.owner = Some(Owner::Ostinato(to.to_owned()));
            }
            done.is_some()
        }
    }
}

/// Adds the hi-hat foot on every second eighth.
pub fn new_ostinato(desk: &mut Desk) {
    let taken = |name: &str| desk.score().ostinatos.iter().any(|o| o.name == name);
    let names = ["feet".to_owned()]
        .into_iter()
        .chain((2..100).map(|n| format!("feet{n}")));
    let Some(name) = names.into_iter().find(|name| !taken(name)) else {
        return;
    };
    let Some(grid) = Grid::per_beat(2) else {
        return;
    };
    let hat = StickToken {
        limb: Limb::HatFoot,
        level: Level::Normal,
        graces: Graces::NONE,
        buzz: false,
    };
    let new = Ostinato {
        name: name.clone(),
        grid,
        sticking: vec![StickSlot::new(), vec![hat]],
        voices: None,
    };
    let label = format!("New ostinato {name}");
    let done = desk.change(Spot::Bench, &label, None, |score| {
        score.ostinatos.push(new);
        Ok(())
    });
    if done.is_some() {
        desk.chosen.owner = Some(Owner::Ostinato(name));
        desk.chosen.slot = 0;
    }
}

/// The cell as text of a score file.
fn text_of(desk: &Desk, known: &Known) -> Option<String> {
    match &known.owner {
        Owner::Cell(letter) => copy_cells(desk.score(), std::slice::from_ref(letter)),
        Owner::Ostinato(name) => {
            // As a cell: an ostinato's lines are written the same.
            let ostinato = desk.score().ostinatos.iter().find(|o| o.name == *name)?;
            let letter = Letter::new("O")?;
            let mut score = desk.score().clone();
            score.cells = vec![CellDef {
                letter: letter.clone(),
                like: None,
                grid: Some(ostinato.grid.clone()),
                sticking: Some(ostinato.sticking.clone()),
                voices: ostinato.voices.clone(),
            }];
            copy_cells(&score, &[letter])
        }
    }
}

/// Copies the cell.
pub fn copy(ui: &Ui, desk: &mut Desk, known: &Known) {
    if let Some(text) = text_of(desk, known) {
        ui.ctx().copy_text(text);
        desk.tell(format!("Copied {} as text.", known.owner));
    }
}

/// Copies the cell and takes it out of the score, where the form does not play it.
pub fn cut(ui: &Ui, desk: &mut Desk, known: &Known) {
    let Owner::Cell(letter) = &known.owner else {
        copy(ui, desk, known);
        return;
    };
    if let Some(text) = text_of(desk, known) {
        ui.ctx().copy_text(text);
        delete_cell(desk, letter, Uses::Refuse);
    }
}

/// Puts cells in that were copied as text.
pub fn paste(desk: &mut Desk, text: String) {
    let edit = Edit::Paste(Paste { text, at: None });
    if desk.edit(Spot::Bench, &edit, None).is_some() {
        desk.chosen.slot = 0;
    }
}
