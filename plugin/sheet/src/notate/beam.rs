//! Joins flagged notes by beams, and tells which tuplets need a bracket.
//!
//! Common practice (Gould, "Behind Bars", 2011, from memory): beams stay inside
//! a beat of the meter, or inside a tuplet that crosses beats; rests between
//! notes of a beat are bridged; a lone short value gets a hook towards the note
//! it shares its time with; a tuplet that is exactly one beam needs no bracket.

use super::error::Fault;
use super::pieces::{Frame, Piece};
use super::plan::Node;
use crate::{Beam, Element, Kind, VoiceLine};
use barform_score::music::Beats;

/// Times from the start of the written bar at which a beam ends at the latest.
pub(super) fn groups(frame: Frame<'_>, pieces: &[Piece]) -> Result<Vec<Beats>, Fault> {
    let mut cuts = Vec::new();
    let mut across = Beats::ZERO;
    let mut beat = None;
    for piece in pieces {
        if beat != Some(piece.beat) && piece.node.start() >= across {
            cuts.push(piece.node.start());
        }
        beat = Some(piece.beat);
        let Node::Tuplet {
            start,
            end,
            actual,
            normal,
            unit,
            inside,
        } = &piece.node
        else {
            continue;
        };
        if *end <= piece.beat_end {
            continue;
        }
        // A tuplet across beats: one beam where it has eighths and is no longer
        // than a half note, else one for each quarter of its own time and one
        // for each tuplet inside.
        cuts.extend([*start, *end]);
        across = *end;
        let long = end.checked_sub(*start)? > Beats::whole(2) || *unit >= Beats::ONE;
        if long {
            let scale = Beats::new(*normal, *actual);
            for own in inner_cuts(inside)? {
                cuts.push(own.checked_mul(scale)?.checked_add(*start)?);
            }
        }
    }
    for cut in &mut cuts {
        *cut = cut.checked_sub(frame.from)?;
    }
    cuts.sort_unstable();
    cuts.dedup();
    Ok(cuts)
}

/// Quarters of a tuplet's own time, and the ends of tuplets inside it.
fn inner_cuts(inside: &[Node]) -> Result<Vec<Beats>, Fault> {
    let mut cuts = Vec::new();
    let mut quarter = Beats::ZERO;
    for node in inside {
        cuts.push(node.start());
        while quarter < node.end() {
            let whole = matches!(node, Node::Tuplet { .. });
            if !whole && quarter > node.start() {
                cuts.push(quarter);
            }
            quarter = quarter.checked_add(Beats::ONE)?;
        }
    }
    Ok(cuts)
}

fn is_note(element: &Element) -> bool {
    matches!(element.kind, Kind::Notes(_))
}

/// Adds beams, then takes brackets away where a beam shows the tuplet.
pub(super) fn join(line: &mut VoiceLine, cuts: &[Beats]) {
    let group = |e: &Element| cuts.partition_point(|cut| *cut <= e.at);
    let mut beams: Vec<Beam> = Vec::new();
    let mut start = 0;
    while start < line.elements.len() {
        // A row of flagged notes and rests in one group.
        let number = group(&line.elements[start]);
        let joins = |e: &&Element| e.value.flags() > 0 && group(e) == number;
        let count = line.elements[start..].iter().take_while(joins).count();
        if let Some((first, last)) = notes(&line.elements, start, start + count)
            && first < last
        {
            level(&line.elements, first, last, 1, &mut beams);
        }
        start += count.max(1);
    }
    beams.sort_by_key(|beam| (beam.level, beam.first));
    for tuplet in &mut line.tuplets {
        let exact = |b: &Beam| b.level == 1 && (b.first, b.last) == (tuplet.first, tuplet.last);
        let from = beams.partition_point(|b| b.level == 1 && b.first < tuplet.first);
        tuplet.bracket = !beams.get(from).is_some_and(exact);
    }
    line.beams = beams;
}

/// First and last note of a row.
fn notes(elements: &[Element], from: usize, to: usize) -> Option<(usize, usize)> {
    let row = elements.get(from..to)?;
    let first = row.iter().position(is_note)?;
    let last = row.iter().rposition(is_note)?;
    Some((from + first, from + last))
}

/// The beam of a level from note to note, and those inside it.
fn level(elements: &[Element], first: usize, last: usize, number: u8, beams: &mut Vec<Beam>) {
    beams.push(Beam {
        level: number,
        first,
        last,
        backward: false,
    });
    let next = number + 1;
    let mut at = first;
    while at <= last {
        let joins = |e: &&Element| e.value.flags() >= next;
        let count = elements[at..=last].iter().take_while(joins).count();
        match notes(elements, at, at + count) {
            Some((a, b)) if a < b => level(elements, a, b, next, beams),
            Some((only, _)) => {
                let backward = only == last || (only > first && off(&elements[only]));
                let flags = next..=elements[only].value.flags();
                beams.extend(flags.map(|level| Beam {
                    level,
                    first: only,
                    last: only,
                    backward,
                }));
            }
            None => {}
        }
        at += count.max(1);
    }
}

/// Whether a note starts off the times of values twice as long: then it belongs
/// to the note before it.
fn off(element: &Element) -> bool {
    element
        .length
        .checked_mul(Beats::whole(2))
        .and_then(|two| element.at.checked_rem(two))
        .is_ok_and(|rest| !rest.is_zero())
}
