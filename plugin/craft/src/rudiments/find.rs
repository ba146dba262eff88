//! Finding rudiments in a line.

use super::list::{Rudiment, Rudiments};
use super::run::{Heard, Run};
use crate::line::{Line, Place};
use barform_score::music::{Beats, BeatsError, Hand, Stroke};
use std::ops::Range;

/// Whether times between strokes matter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Rhythm {
    /// In the rudiment's proportions, at any speed.
    #[default]
    Proportional,
    /// Hands and ornaments alone: six stroke rolls in even sextuplets are
    /// found, and whatever else has the same hands.
    Any,
}

/// How closely to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Look {
    /// Accents must stand where the rudiment has them, and nowhere else.
    pub accents: bool,
    /// Whether the rhythm matters.
    pub rhythm: Rhythm,
}

/// A rudiment's name for some strokes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Its number.
    pub number: u32,
    /// Its name.
    pub name: String,
    /// The stroke of the rudiment that the first stroke is, from 0: 0 in place.
    pub rotation: usize,
    /// The hand that leads the rudiment in which the first stroke stands.
    pub lead: Hand,
}

/// A rudiment found in a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Find {
    /// What it is.
    pub named: Named,
    /// What else the very same strokes are.
    pub also: Vec<Named>,
    /// Indexes in [`Line::strokes`] of its hand strokes, in order.
    pub strokes: Vec<usize>,
    /// Where its first stroke is written.
    pub first: Place,
    /// Where its last stroke is written.
    pub last: Place,
    /// How many times over it stands there, one after the other.
    pub times: usize,
}

impl Find {
    /// A plain line: "single paradiddle, right hand leads: cell A, slots 1–8".
    pub fn sentence(&self, line: &Line) -> String {
        let Named {
            name,
            rotation,
            lead,
            ..
        } = &self.named;
        let lead = if *lead == Hand::Right {
            "right"
        } else {
            "left"
        };
        let turned = match rotation {
            0 => String::new(),
            _ => format!(" from its stroke {}", rotation + 1),
        };
        let times = if self.times > 1 {
            format!(", {} times", self.times)
        } else {
            String::new()
        };
        let (first, last) = (self.strokes.first(), self.strokes.last());
        let place = first
            .zip(last)
            .map_or(String::new(), |(a, b)| line.stretch(*a, *b));
        format!("{name}{turned}, {lead} hand leads{times}: {place}")
    }
}

/// A stretch of a line that is a rudiment, as indexes of what was heard.
struct Stretch<'r> {
    rudiment: &'r Rudiment,
    named: Named,
    heard: Range<usize>,
}

impl Rudiments {
    /// The rudiments of a line, by their first stroke. See the rules at the
    /// head of this folder.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if times between strokes do not fit.
    pub fn find(&self, line: &Line, look: Look) -> Result<Vec<Find>, BeatsError> {
        let heard = hear(line)?;
        let mut stretches = Vec::new();
        for rudiment in &self.list {
            stretches.extend(of_one(rudiment, &heard, look)?);
        }
        // Longest first, in place before rotated, then by number.
        stretches.sort_by_key(|s| {
            (
                std::cmp::Reverse(s.heard.len()),
                s.named.rotation > 0,
                s.named.number,
            )
        });
        let mut kept: Vec<(Stretch<'_>, Vec<Named>)> = Vec::new();
        for s in stretches {
            let within = |k: &Range<usize>| k.start <= s.heard.start && s.heard.end <= k.end;
            match kept.iter_mut().find(|(k, _)| within(&k.heard)) {
                Some((k, also)) if k.heard == s.heard => also.push(s.named),
                Some(_) => {}
                None => kept.push((s, Vec::new())),
            }
        }
        kept.sort_by_key(|(s, _)| (s.heard.start, s.heard.end));
        let finds = kept.into_iter().filter_map(|(s, also)| {
            let strokes: Vec<usize> = heard[s.heard.clone()].iter().map(|h| h.index).collect();
            let (first, last) = (*strokes.first()?, *strokes.last()?);
            Some(Find {
                named: s.named,
                also,
                first: *line.places.get(first)?,
                last: *line.places.get(last)?,
                times: strokes.len() / s.rudiment.strokes.len(),
                strokes,
            })
        });
        Ok(finds.collect())
    }
}

/// The hands of a line, one entry per time.
fn hear(line: &Line) -> Result<Vec<Heard>, BeatsError> {
    let mut heard: Vec<(Beats, Heard)> = Vec::new();
    for (index, (at, stroke)) in line.strokes.iter().enumerate() {
        if stroke.limb.is_foot() {
            continue;
        }
        match heard.last_mut() {
            Some((time, last)) if time == at => last.stroke = None,
            _ => heard.push((
                *at,
                Heard {
                    index,
                    stroke: Some(*stroke),
                    gap: Beats::ZERO,
                },
            )),
        }
    }
    let ends: Vec<Beats> = heard
        .iter()
        .skip(1)
        .map(|(at, _)| *at)
        .chain([line.length])
        .collect();
    let timed = heard.into_iter().zip(ends).map(|((at, mut h), end)| {
        h.gap = end.checked_sub(at)?;
        Ok(h)
    });
    timed.collect()
}

/// Every stretch of one rudiment that the rules let stand.
fn of_one<'r>(
    rudiment: &'r Rudiment,
    heard: &[Heard],
    look: Look,
) -> Result<Vec<Stretch<'r>>, BeatsError> {
    // Where the lead alternates, the left lead is the other half of the cycle.
    let leads: &[Hand] = if rudiment.alternates {
        &[Hand::Right]
    } else {
        &[Hand::Right, Hand::Left]
    };
    let cycle = rudiment.cycle();
    let mut runs: Vec<(Range<usize>, usize, Hand)> = Vec::new();
    for lead in leads {
        let wanted: Vec<Stroke> = (0..cycle)
            .map(|phase| rudiment.stroke(phase, *lead))
            .collect();
        for shift in 0..cycle {
            let mut from = 0;
            while from < heard.len() {
                let run = Run {
                    rudiment,
                    heard,
                    wanted: &wanted,
                    shift,
                    look,
                };
                let (range, next) = run.from(from)?;
                // Shorter ones cannot be complete; leaving them out keeps the
                // list short on long forms.
                if range.len() >= rudiment.least {
                    runs.push((range, shift, *lead));
                }
                from = next;
            }
        }
    }
    runs.sort_by_key(|(range, ..)| (range.start, std::cmp::Reverse(range.end)));
    let mut free = 0;
    let mut stretches = Vec::new();
    for (range, shift, lead) in runs {
        let range = range.start.max(free)..range.end;
        let Some((heard, phase)) = window(rudiment, heard, range, shift, look) else {
            continue;
        };
        free = heard.end;
        let unit = rudiment.strokes.len();
        let lead = if phase < unit { lead } else { lead.other() };
        let (number, name) = (rudiment.number, rudiment.name.clone());
        let named = Named {
            number,
            name,
            rotation: phase % unit,
            lead,
        };
        stretches.push(Stretch {
            rudiment,
            named,
            heard,
        });
    }
    Ok(stretches)
}

/// The longest complete part of a run, and the phase it begins with.
fn window(
    rudiment: &Rudiment,
    heard: &[Heard],
    range: Range<usize>,
    shift: usize,
    look: Look,
) -> Option<(Range<usize>, usize)> {
    let (unit, cycle) = (rudiment.strokes.len(), rudiment.cycle());
    let starts = range.start..range.end.min(range.start + cycle);
    let whole = starts.filter_map(|start| {
        let phase = (start + shift) % cycle;
        let in_place = phase.is_multiple_of(unit);
        let mut count = (range.end.checked_sub(start)?) / unit * unit;
        if in_place && rudiment.closes_long() && look.rhythm == Rhythm::Proportional {
            let last = (start + count).checked_sub(1)?;
            if count > 0 && heard[last].gap <= heard[last - 1].gap {
                count -= unit;
            }
        }
        let needed = if in_place {
            rudiment.least
        } else {
            rudiment.least.max(cycle)
        };
        (count >= needed).then_some((start..start + count, phase))
    });
    whole.min_by_key(|(r, phase)| {
        (
            std::cmp::Reverse(r.len()),
            !phase.is_multiple_of(unit),
            r.start,
        )
    })
}
