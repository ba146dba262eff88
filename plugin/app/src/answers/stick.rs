//! Which hand plays which stroke, and what that costs.

use super::{Answer, AnswerError, Proposal, Subject, ToolSettings, cell_lines, rules, setup};
use crate::craft::rules::Rules;
use crate::craft::sticking::{self, Ask, Sticking, StickingError, stick_cell};
use crate::craft::variation::inverted;
use crate::music::{Beats, Cell, Hand, Limb};
use crate::score::Score;

/// How hands are found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StickOptions {
    /// How the kit stands, by its name in the rules.
    pub setup: String,
    /// The hand that leads; as the set-up has it if none.
    pub lead: Option<Hand>,
    /// Beats a minute; the score's if none.
    pub tempo: Option<Beats>,
    /// Whether a hand may play twice in a row at speed.
    pub doubles: bool,
    /// Whether the cell is played round and round.
    pub looped: bool,
}

impl Default for StickOptions {
    /// A right-handed player, at the score's tempo, looped.
    fn default() -> Self {
        StickOptions {
            setup: "right-handed".to_owned(),
            lead: None,
            tempo: None,
            doubles: true,
            looped: true,
        }
    }
}

/// A cell with its hands, and what they cost.
#[derive(Debug, Clone)]
pub struct CellSticking {
    /// The cell.
    pub cell: Cell,
    /// What it costs in all; less is easier.
    pub cost: i64,
    /// The slots whose strokes cost something, from 0, and why.
    pub reasons: Vec<(usize, Vec<String>)>,
    /// Whether it can be played at the tempo.
    pub possible: bool,
}

/// A player, a tempo and the rules: what all cells of a score are asked by.
#[derive(Debug, Clone)]
pub struct StickQuestion<'r> {
    ask: Ask,
    looped: bool,
    rules: &'r sticking::Rules,
}

impl<'r> StickQuestion<'r> {
    /// For a score.
    ///
    /// # Errors
    /// [`AnswerError::Question`] for a set-up that the rules do not have.
    pub fn new(
        rules: &'r Rules,
        score: &Score,
        options: &StickOptions,
    ) -> Result<StickQuestion<'r>, AnswerError> {
        let setup = setup(rules, &options.setup, &score.kit)?;
        let mut ask = Ask::new(options.tempo.unwrap_or(score.tempo), setup);
        ask.pulse = score.meter.pulse();
        ask.doubles = options.doubles;
        ask.lead = options.lead.unwrap_or(ask.lead);
        Ok(StickQuestion {
            ask,
            looped: options.looped,
            rules: &rules.sticking,
        })
    }

    /// The hands as written.
    ///
    /// # Errors
    /// See [`AnswerError`].
    pub fn as_written(&self, cell: &Cell) -> Result<CellSticking, AnswerError> {
        let (_, sticking) = self.stick(cell, false)?;
        Ok(costed(cell.clone(), &sticking))
    }

    /// The hands that cost least.
    ///
    /// # Errors
    /// See [`AnswerError`].
    pub fn cheapest(&self, cell: &Cell) -> Result<CellSticking, AnswerError> {
        let (best, sticking) = self.stick(cell, true)?;
        Ok(costed(best, &sticking))
    }

    fn stick(&self, cell: &Cell, open: bool) -> Result<(Cell, Sticking), AnswerError> {
        let failed =
            |error: StickingError| AnswerError::Question(format!("cell {}: {error}", cell.letter));
        stick_cell(cell, |_, _| open, self.looped, &self.ask, self.rules).map_err(failed)
    }
}

fn costed(cell: Cell, sticking: &Sticking) -> CellSticking {
    // Strokes of hands in the order of the cell, feet left out.
    let slots = cell.slots.iter().enumerate();
    let hands = slots.flat_map(|(slot, strokes)| {
        let hands = strokes.iter().filter(|s| !s.limb.is_foot());
        hands.map(move |_| slot)
    });
    let mut reasons: Vec<(usize, Vec<String>)> = Vec::new();
    for (stroke, slot) in hands.enumerate() {
        let why = sticking.reasons(stroke);
        match reasons.last_mut() {
            Some((last, whys)) if *last == slot => whys.extend(why),
            _ if why.is_empty() => {}
            _ => reasons.push((slot, why)),
        }
    }
    CellSticking {
        cost: sticking.total,
        possible: sticking.impossible().next().is_none(),
        reasons,
        cell,
    }
}

/// Several ways to stick a cell.
pub(super) fn proposals(settings: &ToolSettings, subject: &Subject) -> Result<Answer, AnswerError> {
    let (cell, score) = (&subject.cell, &subject.score);
    let mut strokes = cell.slots.iter().flatten();
    if strokes.all(|stroke| stroke.limb.is_foot()) {
        let line = "No hand plays here, so there is no sticking to find.";
        return Ok(Answer::only(line));
    }
    let options = StickOptions {
        setup: settings.setup.clone(),
        ..StickOptions::default()
    };
    let question = StickQuestion::new(rules(), score, &options)?;
    let lead = question.ask.lead;
    let written = question.as_written(cell)?;
    let mut answer = Answer::only(format!(
        "At {} bpm, looped. As written it costs {}{}; less is easier.",
        score.tempo.to_f64(),
        written.cost,
        impossible(&written)
    ));
    propose(
        &mut answer,
        cell,
        "At the least cost",
        question.cheapest(cell)?,
    );
    let mut other = question.clone();
    other.ask.lead = lead.other();
    let name = format!("Led by the {}", Limb::from(lead.other()).said());
    propose(&mut answer, cell, &name, other.cheapest(cell)?);
    let mut singles = question.clone();
    singles.ask.doubles = false;
    let name = "Without doubles at speed";
    propose(&mut answer, cell, name, singles.cheapest(cell)?);
    for (name, hands) in [
        ("Hand to hand", hand_to_hand(cell, lead)),
        (
            "By place: the lead hand on every other slot, rests counted",
            by_place(cell, lead),
        ),
        ("Hands exchanged", inverted(cell)),
    ] {
        propose(&mut answer, cell, name, question.as_written(&hands)?);
    }
    answer.foot.push(
        "A cost is what the rule set asks for repeats, speed, ways and crossings; what sounds \
         and feels right is yours to say."
            .to_owned(),
    );
    Ok(answer)
}

fn propose(answer: &mut Answer, written: &Cell, name: &str, found: CellSticking) {
    let summary = format!("costs {}{}", found.cost, impossible(&found));
    let line =
        |(slot, why): &(usize, Vec<String>)| format!("slot {}: {}", slot + 1, why.join("; "));
    let reasons = found.reasons.iter().map(line).collect();
    let cell = Cell {
        letter: written.letter.clone(),
        ..found.cell
    };
    answer.propose(
        written,
        Proposal {
            summary,
            reasons,
            // Only the hands are new.
            lines: cell_lines(&cell, false),
            audible: false,
            ..Proposal::of(name, cell)
        },
    );
}

fn impossible(found: &CellSticking) -> &'static str {
    match found.possible {
        true => "",
        false => " and cannot be played at this tempo",
    }
}

/// Slots that one hand plays, by turns.
fn hand_to_hand(cell: &Cell, lead: Hand) -> Cell {
    let mut hand = lead;
    with_hands(cell, |_| {
        let now = hand;
        hand = hand.other();
        now
    })
}

/// The hand of a slot by its place: the one that would play it if there were no
/// rests. On a long line of even slots the beat then always has the same hand.
fn by_place(cell: &Cell, lead: Hand) -> Cell {
    with_hands(cell, |slot| if slot % 2 == 0 { lead } else { lead.other() })
}

/// Other hands on the slots that one hand plays; two at once stay.
fn with_hands(cell: &Cell, mut hand: impl FnMut(usize) -> Hand) -> Cell {
    let mut changed = cell.clone();
    for (number, slot) in changed.slots.iter_mut().enumerate() {
        let mut hands = slot.iter_mut().filter(|s| !s.limb.is_foot());
        if let (Some(stroke), None) = (hands.next(), hands.next()) {
            let to = hand(number);
            if stroke.limb.hand() != Some(to) {
                let other = inverted(&Cell {
                    slots: vec![vec![*stroke]],
                    ..cell.clone()
                });
                if let Some(turned) = other.slots.first().and_then(|s| s.first()) {
                    *stroke = *turned;
                }
            }
            stroke.limb = Limb::from(to);
        }
    }
    changed
}
