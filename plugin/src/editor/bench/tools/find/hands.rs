//! Sticking: several ways, and what each costs.

use barform_app::craft::sticking::{Ask, Sticking, StickingError, stick_cell};
use barform_app::craft::variation::inverted;
use barform_app::music::{Cell, Hand, Limb};

use super::super::answer::{Answer, Proposal};
use super::super::question::{Subject, rules};
use super::super::wishes::Wishes;
use super::super::words::{hand_strokes, sticking_lines};

/// Ways to stick a cell.
pub fn answer(wishes: &Wishes, subject: &Subject) -> Result<Answer, String> {
    let cell = &subject.cell;
    let strokes = hand_strokes(cell);
    if strokes.is_empty() {
        return Ok(Answer::only(
            "No hand plays here, so there is no sticking to find.",
        ));
    }
    let kit = &subject.score.kit;
    let setup = rules().sticking.setup(&wishes.setup, kit);
    let setup = setup.map_err(|e| e.problem.to_string())?;
    let mut ask = Ask::new(subject.score.tempo, setup);
    ask.pulse = subject.score.meter.pulse();
    let told = |e: StickingError| e.to_string();
    let written = given(cell, &ask).map_err(told)?;
    let mut answer = Answer::default();
    answer.head.push(format!(
        "At {} bpm, looped. As written it costs {}{}; less is easier.",
        subject.score.tempo.to_f64(),
        written.total,
        cannot(&written)
    ));

    let (best, least) = found(cell, &ask).map_err(told)?;
    propose(&mut answer, cell, "At the least cost", best, &least);
    let mut led = ask.clone();
    led.lead = ask.lead.other();
    let (other, cost) = found(cell, &led).map_err(told)?;
    let name = format!("Led by the {}", Limb::from(led.lead).said());
    propose(&mut answer, cell, &name, other, &cost);
    let mut single = ask.clone();
    single.doubles = false;
    let (singles, cost) = found(cell, &single).map_err(told)?;
    propose(
        &mut answer,
        cell,
        "Without doubles at speed",
        singles,
        &cost,
    );
    for (name, stuck) in [
        ("Hand to hand", hand_to_hand(cell, ask.lead)),
        (
            "By place: the lead hand on every other slot, rests counted",
            by_place(cell, ask.lead),
        ),
        ("Hands exchanged", inverted(cell)),
    ] {
        let cost = given(&stuck, &ask).map_err(told)?;
        propose(&mut answer, cell, name, stuck, &cost);
    }
    answer.foot.push(
        "A cost is what the rule set asks for repeats, speed, ways and crossings; what sounds \
         and feels right is yours to say."
            .to_owned(),
    );
    Ok(answer)
}

fn propose(answer: &mut Answer, written: &Cell, name: &str, mut cell: Cell, cost: &Sticking) {
    cell.letter = written.letter.clone();
    let mut proposal = Proposal::of(name, cell);
    // Only the hands are new.
    proposal.lines = sticking_lines(&proposal.cell);
    proposal.said = format!("costs {}{}", cost.total, cannot(cost));
    proposal.why = reasons(&proposal.cell, cost);
    proposal.audible = false;
    answer.propose(written, proposal);
}

fn cannot(cost: &Sticking) -> &'static str {
    match cost.impossible().next() {
        Some(_) => " and cannot be played at this tempo",
        None => "",
    }
}

/// The best hands for all strokes, and what they cost.
fn found(cell: &Cell, ask: &Ask) -> Result<(Cell, Sticking), StickingError> {
    stick_cell(cell, |_, _| true, true, ask, &rules().sticking)
}

/// What the hands cost as they are.
fn given(cell: &Cell, ask: &Ask) -> Result<Sticking, StickingError> {
    Ok(stick_cell(cell, |_, _| false, true, ask, &rules().sticking)?.1)
}

/// The slots whose strokes cost something, and why.
fn reasons(cell: &Cell, cost: &Sticking) -> Vec<String> {
    let mut lines: Vec<(usize, Vec<String>)> = Vec::new();
    for (stroke, (slot, _)) in hand_strokes(cell).into_iter().enumerate() {
        let why = cost.reasons(stroke);
        match lines.last_mut() {
            Some((last, whys)) if *last == slot => whys.extend(why),
            _ if why.is_empty() => {}
            _ => lines.push((slot, why)),
        }
    }
    let line = |(slot, why): (usize, Vec<String>)| format!("slot {}: {}", slot + 1, why.join("; "));
    lines.into_iter().map(line).collect()
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
    let mut stuck = cell.clone();
    for (number, slot) in stuck.slots.iter_mut().enumerate() {
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
    stuck
}
