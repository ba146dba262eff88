//! Actions made from numbers, for property tests.

use super::{grid, items};
use barform_app::music::{
    Articulation, Beats, Graces, Hand, Letter, Level, Limb, Span, Stroke, Voice,
};
use barform_app::score::edit::{
    CellEdit, Edit, FormEdit, ItemPath, LetterEdit, Override, Owner, Paste, Run, SectionEdit,
    Target, Uses, Way, copy_cells, copy_run,
};
use barform_app::score::{FormItem, Rate, Score};
use proptest::prelude::*;

/// Numbers that an action is made from, whatever the score.
pub type Dice = (u8, u16, u16, u16);

/// Any numbers.
pub fn dice() -> impl Strategy<Value = Dice> {
    (0_u8..32, any::<u16>(), any::<u16>(), any::<u16>())
}

/// Some place of the form; mostly one that is there.
pub fn place(score: &Score, number: u16) -> ItemPath {
    let section = usize::from(number) % score.sections.len();
    let all: Vec<ItemPath> = (0..)
        .map_while(|n| ItemPath::of(score, section, n))
        .collect();
    all[usize::from(number / 7) % all.len()].clone()
}

fn run(score: &Score, number: u16) -> Run {
    let at = place(score, number);
    let count = 1 + usize::from(number) % 3;
    let run = Run {
        at: at.clone(),
        count,
    };
    if run.items(score).is_some() {
        run
    } else {
        at.into()
    }
}

/// One of the cells.
pub fn letter(score: &Score, number: u16) -> Letter {
    let i = usize::from(number) % score.cells.len();
    score.cells[i].letter.clone()
}

fn stroke(number: u16) -> Stroke {
    let n = usize::from(number);
    let limb = Limb::ALL[n % 4];
    let voice = Voice::ALL[n / 4 % Voice::ALL.len()];
    let ways = voice.articulations();
    let graces = [&[][..], &[Hand::Left], &[Hand::Right, Hand::Right]][n / 64 % 3];
    Stroke {
        limb,
        voice,
        articulation: ways[n / 192 % ways.len()],
        level: [Level::Normal, Level::Ghost, Level::Accent][n / 3 % 3],
        graces: if limb.is_foot() {
            Graces::NONE
        } else {
            Graces::from_hands(graces).unwrap()
        },
        buzz: !limb.is_foot() && n.is_multiple_of(11),
    }
}

fn span(number: u16) -> Span {
    let slots = [1, 2, 3, 4, 6, 8][usize::from(number) % 6];
    let length = [Beats::ONE, Beats::ONE, Beats::new(1, 2), Beats::whole(2)];
    Span::new(slots, length[usize::from(number / 8) % 4]).unwrap()
}

/// An edit of a cell of so many slots and spans.
pub fn cell_edit(kind: u8, slots: usize, spans: usize, a: u16, b: u16) -> CellEdit {
    let slot = usize::from(a) % slots;
    let limb = b.is_multiple_of(3).then(|| Limb::ALL[usize::from(b) % 4]);
    let way = [Way::Time, Way::Slot, Way::Refit, Way::Carry][usize::from(b) % 4];
    let at = usize::from(a) % spans;
    match kind % 16 {
        0 => CellEdit::Put {
            slot,
            stroke: stroke(b),
        },
        1 | 2 => CellEdit::Add {
            slot,
            stroke: stroke(b),
        },
        3 => CellEdit::Remove { slot, limb },
        4 => CellEdit::Accent { slot, limb },
        5 => CellEdit::Ghost { slot, limb },
        6 => CellEdit::Ornament { slot, limb },
        7 => CellEdit::Articulation {
            slot,
            limb,
            articulation: [Articulation::Plain, Articulation::Open, Articulation::Rim]
                [usize::from(b) % 3],
        },
        8 | 9 => CellEdit::Voice {
            slot,
            limb,
            voice: stroke(b).voice,
        },
        10 => CellEdit::SwapHand { slot },
        11 => CellEdit::Rotate(i64::from(b) - 30_000),
        12 => CellEdit::Span {
            span: at,
            to: span(b),
            way,
        },
        13 => CellEdit::AddSpan { at, span: span(b) },
        14 => CellEdit::RemoveSpan(at),
        _ if b.is_multiple_of(8) => CellEdit::Clear,
        _ => CellEdit::Voices(None),
    }
}

/// An action on the score as it is.
pub fn action(score: &Score, (kind, a, b, c): Dice) -> Edit {
    let at = place(score, a);
    let overridden = match at.item(score) {
        Some(FormItem::BarLine) => Target::Section(at.section),
        _ => Target::Item(at.clone()),
    };
    let section = usize::from(b) % score.sections.len();
    let named = || FormItem::Letter {
        letter: letter(score, b),
        overrides: Default::default(),
    };
    Edit::Form(match kind {
        0 => FormEdit::Insert {
            at,
            items: vec![named()],
        },
        1 => FormEdit::NewCell {
            at,
            grid: grid("4"),
        },
        2 => FormEdit::Duplicate(run(score, a)),
        3 | 4 => FormEdit::Delete(run(score, a)),
        5 | 6 => FormEdit::Move {
            run: run(score, a),
            to: place(score, b),
        },
        7 => FormEdit::Step {
            run: run(score, a),
            later: b.is_multiple_of(2),
        },
        8 => FormEdit::Group {
            run: run(score, a),
            times: u32::from(b % 3),
        },
        9 => FormEdit::Times {
            at,
            times: u32::from(b % 4),
        },
        10 => FormEdit::Ungroup(at),
        11 => FormEdit::Override(overridden, Override::Level(Some((b % 200) as u8))),
        12 => FormEdit::Override(
            overridden,
            Override::Rate((b % 2 == 0).then_some(Rate::Double)),
        ),
        13 => FormEdit::Play {
            at,
            letter: letter(score, b),
        },
        14 => FormEdit::Prime(at),
        15 => FormEdit::Insert {
            at,
            items: items("|"),
        },
        16 => {
            return Edit::Section(match b % 6 {
                0 => SectionEdit::Insert {
                    at: section,
                    name: String::new(),
                    items: vec![named()],
                },
                1 => SectionEdit::Duplicate(section),
                2 => SectionEdit::Remove(section),
                3 => SectionEdit::Move {
                    from: usize::from(a) % score.sections.len(),
                    to: section,
                },
                4 => SectionEdit::Split {
                    at,
                    name: "part".into(),
                },
                _ => SectionEdit::Meter {
                    section,
                    meter: (c % 2 == 0).then(|| "3/4".parse().unwrap()),
                },
            });
        }
        17 => {
            return Edit::Letter(LetterEdit::Delete {
                letter: letter(score, a),
                uses: [Uses::Refuse, Uses::Remove][usize::from(b % 2)],
            });
        }
        18 => {
            return Edit::Letter(LetterEdit::Rename {
                from: letter(score, a),
                to: Letter::new(&format!("Z{}", b % 100)).unwrap(),
            });
        }
        19 => {
            let text = if b % 2 == 0 {
                copy_cells(score, &[letter(score, b)])
            } else {
                copy_run(score, &run(score, c), c % 2 == 0)
            };
            return Edit::Paste(Paste {
                text: text.unwrap(),
                at: Some(at),
            });
        }
        kind => {
            let letter = letter(score, c);
            let cell = score.cell(&letter).unwrap();
            let spans = cell.grid.spans().len();
            let edit = cell_edit(kind - 20, cell.slots.len(), spans, a, b);
            return Edit::Cell(Owner::Cell(letter), edit);
        }
    })
}
