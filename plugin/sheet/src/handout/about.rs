//! What is to be said about each letter.

use super::grid::{beats, shown, words};
use super::steps::{self, Ladder};
use super::{HandoutError, Options};
use barform_craft::line::Line;
use barform_craft::playable::{Ability, Playable};
use barform_craft::rudiments::{Look, Rhythm};
use barform_craft::sticking::Setup;
use barform_score::music::Cell;
use barform_score::score::Score;
use barform_score::timeline::Timeline;
use std::ops::RangeInclusive;

/// Most rudiments named; more are counted.
const MOST_RUDIMENTS: usize = 5;
/// Most neighbours named.
const MOST_NEIGHBOURS: usize = 4;
/// Most stretches of slots named that a variation changes.
const MOST_STRETCHES: usize = 5;

/// One letter's page in words.
pub struct About {
    /// What is written.
    pub cell: Cell,
    /// Index among the letters.
    pub index: u32,
    /// The letter as printed.
    pub letter: String,
    /// The letter it is a variation of, as printed.
    pub parent: Option<String>,
    /// What it is, sentence by sentence.
    pub facts: Vec<String>,
    /// Rudiments in it, a line each.
    pub rudiments: Vec<String>,
    /// Level, tempo, why.
    pub tops: Vec<[String; 3]>,
    /// How to practise it, step by step.
    pub steps: Vec<String>,
    /// Tempos to practise at.
    pub ladder: Ladder,
}

/// Where a letter stands in the form.
#[derive(Debug, Clone, Default)]
pub struct InForm {
    /// How often it is played.
    pub times: usize,
    /// Printed number of the bar where it first begins.
    pub bar: u32,
    /// Letters that it follows, each once.
    pub before: Vec<u32>,
    /// Letters that follow it, each once.
    pub after: Vec<u32>,
}

/// All letters of the score in the order written.
pub fn letters(
    score: &Score,
    timeline: &Timeline,
    options: &Options,
) -> Result<Vec<About>, HandoutError> {
    let setup = options.rules.sticking.setup(&options.setup, &score.kit)?;
    let levels = levels(options)?;
    let in_form = in_form(timeline);
    let cells = score.cells_resolved()?;
    let mut abouts = Vec::with_capacity(cells.len());
    for (i, cell) in cells.iter().enumerate() {
        let parent = score.cells.get(i).and_then(|c| c.like.as_ref());
        let parent = parent.and_then(|like| cells.iter().find(|c| c.letter == *like));
        let place = in_form.get(i).cloned().unwrap_or_default();
        let desk = Desk {
            score,
            timeline,
            options,
            setup: &setup,
            levels: &levels,
        };
        abouts.push(desk.about(cell, i, parent, &place)?);
    }
    Ok(abouts)
}

/// The levels asked for, from easy to hard.
fn levels(options: &Options) -> Result<Vec<&Ability>, HandoutError> {
    let all = options.rules.levels.all();
    for name in &options.levels {
        if options.rules.levels.get(name).is_none() {
            let known: Vec<&str> = all.iter().map(|level| level.name.as_str()).collect();
            return Err(HandoutError::Level {
                name: name.clone(),
                known: known.join(", "),
            });
        }
    }
    let wanted =
        |level: &&Ability| options.levels.is_empty() || options.levels.contains(&level.name);
    Ok(all.iter().filter(wanted).collect())
}

/// One pass over the form.
fn in_form(timeline: &Timeline) -> Vec<InForm> {
    let mut all = vec![InForm::default(); timeline.letters.len()];
    let add = |list: &mut Vec<u32>, letter: u32| {
        if list.len() < MOST_NEIGHBOURS && !list.contains(&letter) {
            list.push(letter);
        }
    };
    let places = &timeline.places;
    for (i, place) in places.iter().enumerate() {
        let Some(here) = all.get_mut(place.letter as usize) else {
            continue;
        };
        if here.times == 0 {
            let after = timeline
                .bars
                .partition_point(|bar| bar.start <= place.start);
            here.bar = timeline
                .bars
                .get(after.saturating_sub(1))
                .map_or(0, |bar| bar.number);
        }
        here.times += 1;
        if let Some(before) = i.checked_sub(1).and_then(|i| places.get(i)) {
            add(&mut here.before, before.letter);
        }
        if let Some(next) = places.get(i + 1) {
            add(&mut here.after, next.letter);
        }
    }
    all
}

/// What all letters share.
struct Desk<'a> {
    score: &'a Score,
    timeline: &'a Timeline,
    options: &'a Options,
    setup: &'a Setup,
    levels: &'a [&'a Ability],
}

impl Desk<'_> {
    fn about(
        &self,
        cell: &Cell,
        index: usize,
        parent: Option<&Cell>,
        place: &InForm,
    ) -> Result<About, HandoutError> {
        let line = Line::from_cell(cell)?;
        let letter = shown(&cell.letter);
        // The craft writes a letter as files do.
        let printed = |text: String| match cell.letter.primes() {
            0 => text,
            _ => text.replace(cell.letter.as_str(), &letter),
        };
        let rules = &self.options.rules;
        let playable = Playable::new(
            &line.strokes,
            Some(line.length),
            self.setup,
            &rules.sticking,
        );
        let mut tops = Vec::new();
        let mut bpms = Vec::new();
        for level in self.levels {
            let top = playable.top_tempo(level, &rules.levels)?;
            let bpm = top
                .bpm
                .map_or("no tempo".to_owned(), |b| format!("{b} bpm"));
            tops.push([level.name.clone(), bpm, printed(top.sentence(level, &line))]);
            bpms.push(top.bpm);
        }
        let ladder = Ladder::new(self.score.tempo, &bpms);
        let names = |list: &[u32]| -> Vec<String> {
            let letters = list
                .iter()
                .filter_map(|i| self.timeline.letters.get(*i as usize));
            letters.map(shown).collect()
        };
        let steps = steps::steps(&steps::Ask {
            cell,
            letter: &letter,
            parent: parent.map(|p| shown(&p.letter)),
            ostinatos: &self.score.ostinatos,
            before: names(&place.before),
            after: names(&place.after),
            ladder: &ladder,
        });
        Ok(About {
            index: index as u32,
            parent: parent.map(|p| shown(&p.letter)),
            facts: facts(cell, parent, place)?,
            rudiments: self.rudiments(&line)?.into_iter().map(printed).collect(),
            cell: cell.clone(),
            letter,
            tops,
            steps,
            ladder,
        })
    }

    fn rudiments(&self, line: &Line) -> Result<Vec<String>, HandoutError> {
        let rudiments = &self.options.rules.rudiments;
        let mut finds = rudiments.find(line, Look::default())?;
        let strict = !finds.is_empty();
        if !strict {
            let any = Look {
                rhythm: Rhythm::Any,
                ..Look::default()
            };
            finds = rudiments.find(line, any)?;
        }
        let mut lines: Vec<String> = finds
            .iter()
            .take(MOST_RUDIMENTS)
            .map(|find| {
                let sentence = find.sentence(line);
                if strict {
                    sentence
                } else {
                    format!("{sentence} (its hands, in another rhythm)")
                }
            })
            .collect();
        if finds.len() > MOST_RUDIMENTS {
            lines.push(format!("and {} more", finds.len() - MOST_RUDIMENTS));
        }
        if lines.is_empty() {
            lines.push("none".to_owned());
        }
        Ok(lines)
    }
}

/// What it is.
fn facts(cell: &Cell, parent: Option<&Cell>, place: &InForm) -> Result<Vec<String>, HandoutError> {
    let mut facts = vec![format!(
        "{}: {}.",
        beats(cell.grid.length()?),
        words(&cell.grid)?
    )];
    if let Some(parent) = parent {
        facts.push(differs(cell, parent));
    }
    let bar = match place.bar {
        0 => "the pickup bar".to_owned(),
        bar => format!("bar {bar}"),
    };
    facts.push(match place.times {
        0 => "Not in the form.".to_owned(),
        1 => format!("In the form once, in {bar}."),
        n => format!("In the form {n} times, first in {bar}."),
    });
    Ok(facts)
}

/// What a variation changes.
fn differs(cell: &Cell, parent: &Cell) -> String {
    let name = shown(&parent.letter);
    if cell.grid != parent.grid {
        return format!("A variation of {name}, on a grid of its own.");
    }
    let mut stretches: Vec<RangeInclusive<usize>> = Vec::new();
    for (i, (own, old)) in cell.slots.iter().zip(&parent.slots).enumerate() {
        if own == old {
            continue;
        }
        match stretches.last_mut() {
            Some(last) if *last.end() == i => *last = *last.start()..=i + 1,
            _ => stretches.push(i + 1..=i + 1),
        }
    }
    let told: Vec<String> = stretches
        .iter()
        .take(MOST_STRETCHES)
        .map(|s| match s.start() == s.end() {
            true => s.start().to_string(),
            false => format!("{}–{}", s.start(), s.end()),
        })
        .collect();
    let more = if stretches.len() > MOST_STRETCHES {
        " and others"
    } else {
        ""
    };
    match stretches.as_slice() {
        [] => format!("A variation of {name} that plays the same."),
        [one] if one.start() == one.end() => {
            format!("A variation of {name}: slot {} differs.", told.join(""))
        }
        _ => format!(
            "A variation of {name}: slots {}{more} differ.",
            told.join(", ")
        ),
    }
}
