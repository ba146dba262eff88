//! Cuts a bar into plain time and tuplets.
//!
//! First the spans of the cells are asked, since they say what the writer
//! meant: `3@2` is one triplet over two beats. Where they do not help (a span
//! cut by a bar line, strokes of an ostinato between its slots), each beat gets
//! the simplest tuplet that holds its strokes. A tuplet's inside is planned the
//! same way in its own time, where one unit is a plain note value.

use super::MAX_TUPLET;
use super::error::Fault;
use barform_score::music::Beats;
use num_integer::Integer;

/// An even division of time by a grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Division {
    pub start: Beats,
    pub length: Beats,
    pub slots: u8,
}

/// A stretch of time and how it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Node {
    /// Note values without a tuplet.
    Plain { start: Beats, end: Beats },
    /// `actual` units of a plain value in the time of `normal`.
    Tuplet {
        start: Beats,
        end: Beats,
        actual: i64,
        normal: i64,
        /// The value counted, in quarter-note beats of its own time.
        unit: Beats,
        /// What is inside, in its own time, which begins at 0.
        inside: Vec<Node>,
    },
}

impl Node {
    /// Start in the time around it.
    pub fn start(&self) -> Beats {
        match self {
            Node::Plain { start, .. } | Node::Tuplet { start, .. } => *start,
        }
    }

    /// End in the time around it.
    pub fn end(&self) -> Beats {
        match self {
            Node::Plain { end, .. } | Node::Tuplet { end, .. } => *end,
        }
    }
}

/// Whether a time can be reached with plain values.
pub(super) fn is_plain(time: Beats) -> bool {
    time.denom().count_ones() == 1
}

/// Of how many units a tuplet of `actual` takes the time, and which value that
/// is; `None` where no ratio between 1:2 and 2:1 has a value that is written.
fn share(actual: i64, length: Beats) -> Option<(i64, Beats)> {
    if !is_plain(length) || !length.is_positive() {
        return None;
    }
    // The odd part of the length: 1 for a quarter or a half, 3 if it is dotted.
    let mut normal = length.numer() >> length.numer().trailing_zeros();
    while normal.checked_mul(2)? <= actual {
        normal *= 2;
    }
    let whole = Beats::whole(4);
    let unit = |normal| length.checked_div(Beats::whole(normal)).ok();
    while unit(normal)? > whole {
        normal = normal.checked_mul(2)?;
    }
    let sensible = normal < 2 * actual && actual < 2 * normal;
    let written = unit(normal)? >= Beats::new(1, 256);
    (sensible && written).then_some((normal, unit(normal)?))
}

/// The least number of even parts of `start .. end` on which all times fall;
/// `None` above [`MAX_TUPLET`].
fn parts(start: Beats, end: Beats, times: &[Beats]) -> Result<Option<i64>, Fault> {
    let length = end.checked_sub(start)?;
    let mut parts = 1_i64;
    for time in times {
        let denom = time.checked_sub(start)?.checked_div(length)?.denom();
        if denom > MAX_TUPLET {
            return Ok(None);
        }
        // Both at most MAX_TUPLET.
        parts = parts.lcm(&denom);
        if parts > MAX_TUPLET {
            return Ok(None);
        }
    }
    Ok(Some(parts))
}

/// The times within `start .. end`; both inclusive-exclusive, sorted.
pub(super) fn within(times: &[Beats], start: Beats, end: Beats) -> &[Beats] {
    let from = times.partition_point(|t| *t < start);
    let to = times.partition_point(|t| *t < end);
    &times[from..to.max(from)]
}

/// One tuplet of `actual` even parts with plain values inside.
fn even(start: Beats, end: Beats, actual: i64) -> Result<Option<Node>, Fault> {
    let Some((normal, unit)) = share(actual, end.checked_sub(start)?) else {
        return Ok(None);
    };
    let inner_end = unit.checked_mul(Beats::whole(actual))?;
    Ok(Some(Node::Tuplet {
        start,
        end,
        actual,
        normal,
        unit,
        inside: vec![Node::Plain {
            start: Beats::ZERO,
            end: inner_end,
        }],
    }))
}

/// Cuts a row of divisions without gaps where its boundaries are plain times.
pub(super) fn blocks(row: &[Division]) -> Result<Vec<&[Division]>, Fault> {
    let mut blocks = Vec::new();
    let mut first = None;
    for (i, division) in row.iter().enumerate() {
        if first.is_none() && is_plain(division.start) {
            first = Some(i);
        }
        let end = division.start.checked_add(division.length)?;
        if let Some(from) = first.filter(|_| is_plain(end)) {
            blocks.push(&row[from..=i]);
            first = None;
        }
    }
    Ok(blocks)
}

/// Start and end of a row that is not empty.
pub(super) fn extent(row: &[Division]) -> Result<(Beats, Beats), Fault> {
    let (Some(first), Some(last)) = (row.first(), row.last()) else {
        return Ok((Beats::ZERO, Beats::ZERO));
    };
    Ok((first.start, last.start.checked_add(last.length)?))
}

/// Plans a block as its divisions say; `None` where `times` do not fit them.
/// The block begins and ends on plain times.
pub(super) fn block(row: &[Division], times: &[Beats]) -> Result<Option<Node>, Fault> {
    let (start, end) = extent(row)?;
    let times = within(times, start, end);
    if times.iter().all(|t| is_plain(*t)) {
        return Ok(Some(Node::Plain { start, end }));
    }
    let needed = parts(start, end, times)?;
    if let [only] = row {
        // Fewer strokes may need less than all slots: every second of six is a
        // triplet.
        return match needed.filter(|n| i64::from(only.slots) % n == 0) {
            Some(actual) => even(start, end, actual),
            None => Ok(None),
        };
    }
    let bounds: Vec<Beats> = row.iter().skip(1).map(|d| d.start).collect();
    let Some(outer) = parts(start, end, &bounds)? else {
        return Ok(None);
    };
    if let Some(actual) = needed.filter(|n| outer % n == 0)
        && let Some(node) = even(start, end, actual)?
    {
        return Ok(Some(node));
    }
    let length = end.checked_sub(start)?;
    for actual in 3..=outer {
        if outer % actual != 0 || actual.count_ones() == 1 {
            continue;
        }
        let step = length.checked_div(Beats::whole(actual))?;
        let on = |t: &Beats| -> Result<bool, Fault> {
            Ok(t.checked_sub(start)?.checked_div(step)?.is_whole())
        };
        let mut any = false;
        for bound in &bounds {
            any |= on(bound)?;
        }
        let Some((normal, unit)) = share(actual, length).filter(|_| any) else {
            continue;
        };
        let factor = Beats::new(actual, normal);
        let inner =
            |t: Beats| -> Result<Beats, Fault> { Ok(t.checked_sub(start)?.checked_mul(factor)?) };
        let mut inner_row = Vec::with_capacity(row.len());
        for division in row {
            inner_row.push(Division {
                start: inner(division.start)?,
                length: division.length.checked_mul(factor)?,
                slots: division.slots,
            });
        }
        let inner_times: Vec<Beats> = times.iter().map(|t| inner(*t)).collect::<Result<_, _>>()?;
        let mut inside = Vec::new();
        for part in blocks(&inner_row)? {
            match block(part, &inner_times)? {
                Some(node) => push(&mut inside, node),
                None => {
                    inside.clear();
                    break;
                }
            }
        }
        if !inside.is_empty() {
            return Ok(Some(Node::Tuplet {
                start,
                end,
                actual,
                normal,
                unit,
                inside,
            }));
        }
    }
    Ok(None)
}

/// Adds a node; plain time after plain time is one stretch.
pub(super) fn push(nodes: &mut Vec<Node>, node: Node) {
    if let (Some(Node::Plain { end, .. }), Node::Plain { end: later, .. }) =
        (nodes.last_mut(), &node)
    {
        *end = *later;
    } else {
        nodes.push(node);
    }
}

/// How often a beat may be halved to find two simpler tuplets than one.
const MAX_HALVINGS: u32 = 4;

/// Plans a beat, or a piece of one, from its strokes alone: the simplest way
/// that holds `times`. The piece begins and ends on plain times.
pub(super) fn beat(start: Beats, end: Beats, times: &[Beats]) -> Result<Vec<Node>, Fault> {
    let mut nodes = Vec::new();
    match cheapest(start, end, times, MAX_HALVINGS)? {
        Some((_, best)) => best.into_iter().for_each(|node| push(&mut nodes, node)),
        None => return Err(Fault::NoTuplet(start)),
    }
    Ok(nodes)
}

/// What one more tuplet or cut costs, in notes of a tuplet: one sextuplet is
/// easier to read than two triplets, an eighth and a triplet easier than a
/// sextuplet. Common practice.
const TUPLET_COST: i64 = 2;
const CUT_COST: i64 = 1;

fn cheapest(
    start: Beats,
    end: Beats,
    times: &[Beats],
    halvings: u32,
) -> Result<Option<(i64, Vec<Node>)>, Fault> {
    let times = within(times, start, end);
    if times.iter().all(|t| is_plain(*t)) {
        return Ok(Some((0, vec![Node::Plain { start, end }])));
    }
    let mut best = match parts(start, end, times)? {
        Some(actual) => even(start, end, actual)?.map(|n| (actual + TUPLET_COST, vec![n])),
        None => None,
    };
    if halvings > 0 {
        let length = end.checked_sub(start)?;
        // Dotted time falls in three, other time in halves.
        let cuts = if length.numer() % 3 == 0 { 3 } else { 2 };
        let step = length.checked_div(Beats::whole(cuts))?;
        let (mut cost, mut nodes, mut from) = (CUT_COST, Vec::new(), start);
        for i in 1..=cuts {
            let to = if i == cuts {
                end
            } else {
                from.checked_add(step)?
            };
            match cheapest(from, to, times, halvings - 1)? {
                Some((more, part)) => {
                    cost += more;
                    nodes.extend(part);
                }
                None => return Ok(best),
            }
            from = to;
        }
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, nodes));
        }
    }
    Ok(best)
}
