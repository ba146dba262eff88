//! The score of a form that was found.

use crate::form::Form;
use crate::letters::{Content, Mark, fits};
use crate::reading::{Lifted, Reading};
use crate::strokes::foot;
use crate::{TakeError, timing};
use barform_craft::sticking::{Ask, Rules, stick_cell};
use barform_score::music::{
    Beats, Cell, Graces, Grid, Hand, Kit, Letter, Limb, Slot, Span, Stroke,
};
use barform_score::score::{
    CellDef, FormItem, MAX_REPEATS, Ostinato, Overrides, Score, Section, VoiceSlot, VoiceToken,
};

/// A score and what could not be put into it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The score; it passes [`Score::check`].
    pub score: Score,
    /// What a drummer with two hands and two feet cannot play at once and is left
    /// out, a line each.
    pub told: Vec<String>,
}

fn refused(error: impl std::fmt::Display) -> TakeError {
    TakeError::Score(error.to_string())
}

impl Reading {
    /// The score of one of the forms.
    ///
    /// # Errors
    /// [`TakeError::Option`] if there is no such form, [`TakeError::Score`] if a
    /// score cannot hold it.
    pub fn score(&self, form: usize, kit: &Kit) -> Result<Written, TakeError> {
        let none = || TakeError::Option(format!("there is no form {}", form + 1));
        let form = self.forms.get(form).ok_or_else(none)?;
        let mut told = Vec::new();
        let tempo = self.tempo();
        let cells = self.cells(form, tempo, kit, &mut told)?;
        let timing = timing::summed(self, form, &cells);
        let defs = form.cells.iter().zip(&cells).map(|(found, cell)| {
            let mut def = CellDef::of(cell);
            if let Some(like) = found.like {
                def.like = Some(form.cells[like].letter.clone());
                def.grid = (cell.grid != cells[like].grid).then(|| cell.grid.clone());
                // A parent's voices would hold where nothing is said.
                def.voices = def
                    .voices
                    .or_else(|| Some(cell.slots.iter().map(named).collect()));
            }
            def
        });
        let mut score = Score {
            title: self.title.clone(),
            tempo,
            meter: self.meter,
            pickup: Beats::ZERO,
            sections: vec![Section {
                name: String::new(),
                meter: None,
                overrides: Overrides::default(),
                items: items(form, crate::reading::pulses(self.meter)),
            }],
            cells: defs.collect(),
            ostinatos: Vec::new(),
            voicings: Vec::new(),
            kit: kit.clone(),
            timing,
        };
        for lifted in &self.lifted {
            score
                .ostinatos
                .push(ostinato(lifted, self.meter.pulse()).ok_or_else(none)?);
        }
        score.check().map_err(refused)?;
        Ok(Written { score, told })
    }

    /// Quarter-note beats a minute, on the mean, to a hundredth.
    pub fn tempo(&self) -> Beats {
        let seconds = self.map.seconds(self.pulses as f64) - self.map.seconds(0.0);
        let quarters = self.pulses as f64 * self.meter.pulse().to_f64();
        let bpm = (60.0 * quarters / seconds.max(1e-6)).clamp(20.0, 400.0);
        Beats::new((bpm * 100.0).round() as i64, 100)
    }

    /// The cells with hands.
    fn cells(
        &self,
        form: &Form,
        tempo: Beats,
        kit: &Kit,
        told: &mut Vec<String>,
    ) -> Result<Vec<Cell>, TakeError> {
        let rules = Rules::builtin();
        let setup = rules.setup("right-handed", kit).map_err(refused)?;
        let ask = Ask::new(tempo, setup);
        let stick = |cell: Cell| {
            let stuck = stick_cell(&cell, |_, _| true, false, &ask, &rules);
            let mut cell = stuck.map(|(cell, _)| cell).map_err(refused)?;
            cell.slots
                .iter_mut()
                .for_each(|slot| slot.sort_by_key(|s| s.limb));
            Ok(cell)
        };
        let one =
            |found: &crate::form::FormCell| stick(self.cell(&found.letter, &found.beats, told)?);
        form.cells.iter().map(one).collect()
    }

    fn cell(
        &self,
        letter: &Letter,
        beats: &[Content],
        told: &mut Vec<String>,
    ) -> Result<Cell, TakeError> {
        let pulse = self.meter.pulse();
        let mut spans: Vec<Span> = Vec::new();
        let mut slots: Vec<Slot> = Vec::new();
        let mut at = 0;
        while at < beats.len() {
            let shape = &self.shapes[beats[at].shape];
            let whole = shape.pulses == 1 && fits(shape, 0, &beats[at].marks);
            let both = shape.pulses == 2
                && beats[at].part == 0
                && beats
                    .get(at + 1)
                    .is_some_and(|b| b.shape == beats[at].shape && b.part == 1);
            let (grid, starts, taken) = if whole || both {
                let grid = shape.grid(pulse);
                (grid, shape.slots.clone(), shape.pulses)
            } else {
                // What is left of a grid over two beats.
                let slots = beats[at].marks.iter().fold(1_i64, |n, m| lcm(n, m.slot.1));
                let n = u8::try_from(slots).ok().filter(|n| *n <= 64).unwrap_or(12);
                let span = Span::new(n, pulse);
                let starts = (0..i64::from(n)).map(|i| (i, i64::from(n))).collect();
                (span.and_then(|s| Grid::new(vec![s])), starts, 1)
            };
            let grid = grid.ok_or_else(|| refused("a grid that no score has"))?;
            spans.extend(grid.spans());
            let first = slots.len();
            slots.resize(first + starts.len(), Slot::new());
            for part in 0..taken {
                for mark in &beats[at + part].marks {
                    let num = mark.slot.0 + part as i64 * mark.slot.1;
                    let here = |(n, d): &(i64, i64)| n * mark.slot.1 == num * d;
                    let slot = starts.iter().position(here).unwrap_or(0);
                    if !put(&mut slots[first + slot], mark) {
                        told.push(format!(
                            "{} in beat {} of cell {letter}: no hand or foot is free for it",
                            mark.voice.name(),
                            at + part + 1
                        ));
                    }
                }
            }
            at += taken;
        }
        Ok(Cell {
            letter: letter.clone(),
            grid: Grid::new(spans).ok_or_else(|| refused("a cell of no length"))?,
            slots,
        })
    }
}

fn lcm(a: i64, b: i64) -> i64 {
    let (mut x, mut y) = (a, b);
    while y != 0 {
        (x, y) = (y, x % y);
    }
    a / x.max(1) * b
}

/// Puts a stroke on a slot; whether there was a limb for it.
fn put(slot: &mut Slot, mark: &Mark) -> bool {
    let hands = slot.iter().filter(|s| !s.limb.is_foot()).count();
    let limb = match foot(mark.voice) {
        Some(foot) if slot.iter().any(|s| s.limb == foot) => return false,
        Some(foot) => foot,
        None if slot.iter().any(|s| s.voice == mark.voice) => return false,
        None => match hands {
            0 => Limb::RightHand,
            1 => Limb::LeftHand,
            _ => return false,
        },
    };
    let grace = limb.hand().map_or(Hand::Left, Hand::other);
    let graces = if limb.is_foot() {
        0
    } else {
        usize::from(mark.graces.min(3))
    };
    slot.push(Stroke {
        limb,
        voice: mark.voice,
        articulation: mark.articulation,
        level: mark.level,
        graces: Graces::from_hands(&vec![grace; graces]).unwrap_or(Graces::NONE),
        buzz: mark.buzz && !limb.is_foot(),
    });
    true
}

fn named(slot: &Slot) -> VoiceSlot {
    if slot.is_empty() {
        return VoiceSlot::Rest;
    }
    let token = |s: &Stroke| VoiceToken {
        voice: s.voice,
        articulation: s.articulation,
    };
    VoiceSlot::Voices(slot.iter().map(token).collect())
}

/// A form with its bar lines; like bars in a row are a group.
fn items(form: &Form, per_bar: usize) -> Vec<FormItem> {
    let letter = |step: &crate::form::Step| FormItem::Letter {
        letter: form.cells[step.cell].letter.clone(),
        overrides: Overrides::default(),
    };
    let mut bars: Vec<Vec<FormItem>> = vec![Vec::new()];
    for step in &form.steps {
        if let Some(bar) = bars.last_mut() {
            bar.push(letter(step));
            if (step.start + step.length).is_multiple_of(per_bar) {
                bar.push(FormItem::BarLine);
                bars.push(Vec::new());
            }
        }
    }
    let mut items = Vec::new();
    for run in bars
        .chunk_by(|a, b| a == b)
        .flat_map(|run| run.chunks(MAX_REPEATS as usize))
    {
        if run.len() > 1 && !run[0].is_empty() {
            items.push(FormItem::Group {
                items: run[0].clone(),
                times: run.len() as u32,
                overrides: Overrides::default(),
            });
        } else {
            items.extend(run.iter().flatten().cloned());
        }
    }
    items
}

fn ostinato(lifted: &Lifted, pulse: Beats) -> Option<Ostinato> {
    let slots = lifted.slots.iter().fold(1, |n, (_, (_, d))| lcm(n, *d)) * lifted.cycle;
    let n = u8::try_from(slots).ok()?;
    let length = pulse.checked_mul(Beats::whole(lifted.cycle)).ok()?;
    let grid = Grid::new(vec![Span::new(n, length)?])?;
    let foot = foot(lifted.voice)?;
    let mut played = vec![Slot::new(); usize::from(n)];
    for (beat, (num, den)) in &lifted.slots {
        let at = (beat * den + num) * slots / (den * lifted.cycle);
        let slot = played.get_mut(usize::try_from(at).ok()?)?;
        slot.push(Stroke {
            voice: lifted.voice,
            ..Stroke::plain(foot)
        });
    }
    let letter = Letter::new("A")?;
    let cell = Cell {
        letter,
        grid: grid.clone(),
        slots: played,
    };
    let def = CellDef::of(&cell);
    Some(Ostinato {
        name: lifted.voice.name().to_owned(),
        grid,
        sticking: def.sticking?,
        voices: def.voices,
    })
}
