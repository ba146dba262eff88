//! All of a part on one line of time: strokes, marks, meters, bar lines; and
//! where it is cut.

use super::cells::Piece;
use super::music::{Hit, MarkKind, Music, Tuplet};
use super::note::Time;
use super::{Cut, Options, brief};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Letter, Meter};
use barform_score::score::{MAX_CELL_BEATS, MAX_PLACEMENTS};
use std::collections::{BTreeMap, BTreeSet};

/// A bar as it is played; bars of a group stand once.
#[derive(Debug, Clone, Copy)]
pub(super) struct Played {
    pub bar: usize,
    pub at: Beats,
    /// Index of the group's block, if it is played more than once.
    pub group: Option<usize>,
}

/// Everything with its time from the start of the form.
#[derive(Default)]
pub(super) struct Flat<'a> {
    pub hits: Vec<(Beats, &'a Hit)>,
    pub tuplets: Vec<Tuplet>,
    pub letters: BTreeMap<Beats, Letter>,
    pub names: BTreeMap<Beats, String>,
    /// Meters from where they hold.
    pub meters: BTreeMap<Beats, Meter>,
    /// Where full bars end.
    pub lines: BTreeSet<Beats>,
    pub length: Time,
    pub pickup: Time,
}

/// Gives every bar its time, and finds meters, bar lines and the pickup.
pub(super) fn lay(
    music: &Music,
    bars: &mut [Played],
    flat: &mut Flat,
    remarks: &mut Remarks,
) -> Result<(), ImportError> {
    let mut at = Beats::ZERO;
    let mut current = None;
    let mut half_done = false;
    let count = bars.len();
    for i in 0..count {
        bars[i].at = at;
        let bar = &music.bars[bars[i].bar];
        let (length, full) = (bar.length, bar.meter.bar());
        let mut meter = bar.meter;
        let mut played = length;
        let mut line = true;
        if half_done {
            // The second part of a bar that is written as two.
            half_done = false;
        } else if length == full || (i + 1 == count && length < full) {
            line = length == full;
        } else if i == 0 && length < full {
            flat.pickup = Time(length);
        } else if let Some(next) = bars.get(i + 1).map(|b| (b.group, &music.bars[b.bar]))
            && bars[i].group.is_none()
            && next.0.is_none()
            && next.1.meter == meter
            && (bar.implicit || next.1.implicit)
            && length.checked_add(next.1.length)? == full
        {
            half_done = true;
            line = false;
        } else {
            (meter, played) = meter_of(length)?;
            let what = if played == length {
                "a bar that is not as long as its time signature has a meter of its own"
            } else {
                "a bar of a length that no meter has is filled up with a rest"
            };
            remarks.add(RemarkKind::NotKept, Some(bar.number), what);
        }
        if current != Some(meter) {
            flat.meters.insert(at, meter);
            current = Some(meter);
        }
        at = at.checked_add(played)?;
        if line {
            flat.lines.insert(at);
        }
    }
    flat.length = Time(at);
    Ok(())
}

/// The meter whose bar is `length`, or the least longer one, and its bar.
fn meter_of(length: Beats) -> Result<(Meter, Beats), ImportError> {
    let mut best: Option<(Beats, Meter)> = None;
    for unit in [4, 8, 16, 32, 64, 2, 1] {
        let units = length.checked_mul(Beats::new(unit, 4))?;
        let count = units.floor() + i64::from(!units.is_whole());
        let meter = u8::try_from(count).ok().zip(u8::try_from(unit).ok());
        if let Some(meter) = meter.and_then(|(c, u)| Meter::new(c, u))
            && best.is_none_or(|(bar, _)| meter.bar() < bar)
        {
            best = Some((meter.bar(), meter));
        }
    }
    let too_long = || ImportError::TooMuch(format!("a bar of {length} beats"));
    best.map(|(bar, meter)| (meter, bar)).ok_or_else(too_long)
}

/// Puts all bars' content on one line of time.
pub(super) fn gather<'a>(
    music: &'a Music,
    bars: &[Played],
    use_marks: bool,
    flat: &mut Flat<'a>,
    remarks: &mut Remarks,
) -> Result<(), ImportError> {
    for played in bars {
        let bar = &music.bars[played.bar];
        let start = played.at;
        for hit in &bar.hits {
            flat.hits.push((start.checked_add(hit.at)?, hit));
        }
        for tuplet in &bar.tuplets {
            flat.tuplets.push(Tuplet {
                at: start.checked_add(tuplet.at)?,
                end: start.checked_add(tuplet.end)?,
                ..*tuplet
            });
        }
        for mark in bar.marks.iter().filter(|m| m.at < bar.length) {
            let at = start.checked_add(mark.at)?;
            let letter = Letter::new(&mark.text).filter(|_| use_marks);
            match (mark.kind, letter) {
                (MarkKind::Rehearsal, Some(letter)) => {
                    flat.letters.insert(at, letter);
                }
                (MarkKind::Words, _) if !music.ours => {
                    let what = format!("the words '{}' were passed over", brief(&mark.text));
                    remarks.add(RemarkKind::NotUnderstood, Some(bar.number), what);
                }
                _ if mark.text.trim().is_empty() => {}
                _ => {
                    flat.names.insert(at, mark.text.clone());
                }
            }
        }
    }
    Ok(())
}

/// Where cells begin, and the end.
pub(super) fn cuts(
    music: &Music,
    bars: &[Played],
    flat: &Flat,
    options: &Options,
    use_marks: bool,
) -> Result<Vec<Beats>, ImportError> {
    let end = flat.length.0;
    let mut cuts = BTreeSet::from([Beats::ZERO, end]);
    cuts.extend(flat.meters.keys());
    cuts.extend(flat.names.keys());
    for (i, bar) in bars.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|i| bars[i].group);
        if bar.group != before {
            cuts.insert(bar.at);
        }
    }
    if use_marks {
        cuts.extend(flat.letters.keys());
        let starts: Vec<Beats> = cuts.iter().copied().collect();
        let mut lines = bars.iter().map(|b| b.at).peekable();
        for pair in starts.windows(2) {
            let long = pair[1].checked_sub(pair[0])? > Beats::whole(MAX_CELL_BEATS);
            let unnamed = !flat.letters.contains_key(&pair[0]);
            while let Some(line) = lines.next_if(|l| *l < pair[1]) {
                if (long || unnamed) && line > pair[0] {
                    cuts.insert(line);
                }
            }
        }
    } else {
        for bar in bars {
            cuts.insert(bar.at);
            let Cut::Beats(step) = options.cut else {
                continue;
            };
            let end = bar.at.checked_add(music.bars[bar.bar].length)?;
            let mut at = bar.at.checked_add(step)?;
            while at < end {
                cuts.insert(at);
                if cuts.len() as u64 > MAX_PLACEMENTS {
                    let what = format!("more than {MAX_PLACEMENTS} cells of {step} beats");
                    return Err(ImportError::TooMuch(what));
                }
                at = at.checked_add(step)?;
            }
        }
    }
    Ok(cuts.into_iter().collect())
}

/// What lies between two cuts.
pub(super) fn piece<'a>(
    flat: &Flat<'a>,
    from: Beats,
    to: Beats,
    meter: Meter,
    bar: u32,
) -> Result<Piece<'a>, ImportError> {
    let first = flat.hits.partition_point(|(at, _)| *at < from);
    let last = flat.hits.partition_point(|(at, _)| *at < to);
    let mut hits = Vec::with_capacity(last - first);
    for (at, hit) in &flat.hits[first..last] {
        hits.push((at.checked_sub(from)?, *hit));
    }
    let mut tuplets = Vec::new();
    // In order of their starts; those of a bar before may reach in.
    let reach = flat.tuplets.partition_point(|t| t.at < to);
    for tuplet in flat.tuplets[..reach].iter().rev() {
        // No tuplet is longer than a bar.
        if tuplet
            .at
            .checked_add(Beats::whole(super::MAX_BEATS_IN_BAR))?
            < from
        {
            break;
        }
        if tuplet.end > from {
            tuplets.push(Tuplet {
                at: tuplet.at.checked_sub(from)?,
                end: tuplet.end.checked_sub(from)?,
                ..*tuplet
            });
        }
    }
    tuplets.reverse();
    Ok(Piece {
        length: to.checked_sub(from)?,
        unit: if meter.is_compound() {
            meter.pulse()
        } else {
            Beats::ONE
        },
        hits,
        tuplets,
        letter: flat.letters.get(&from).cloned(),
        bar,
    })
}
