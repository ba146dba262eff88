//! Cuts a bar into pieces: tuplets that the grids name, and beats around them.

use super::error::Fault;
use super::plan::{self, Division, Node, is_plain, within};
use crate::WrittenStroke;
use barform_score::music::Beats;

/// What one voice plays at one time.
#[derive(Debug, Clone)]
pub(super) struct Onset {
    /// Beats from the bar line of a full bar.
    pub at: Beats,
    /// Lowest on the staff first.
    pub strokes: Vec<WrittenStroke>,
    /// The longest slot that a stroke here was written for.
    pub long: Beats,
}

/// The bar that a voice is written in. Times are beats from the bar line of a
/// full bar; a pickup starts late in it, a bar cut short ends early.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame<'a> {
    /// Starts of the beats, then the end of a full bar.
    pub beats: &'a [Beats],
    pub from: Beats,
    pub to: Beats,
    /// An empty bar of this voice is not printed.
    pub hide_empty: bool,
}

/// A stretch of the bar and the beat it stands in.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    /// Where its beat starts.
    pub beat: Beats,
    /// Where its beat ends.
    pub beat_end: Beats,
    pub node: Node,
}

/// Plans the whole bar: tuplets that the grids name, and beats around them.
pub(super) fn pieces(
    frame: Frame<'_>,
    onsets: &[Onset],
    rows: &[Vec<Division>],
) -> Result<Vec<Piece>, Fault> {
    let mut times: Vec<Beats> = onsets.iter().map(|o| o.at).collect();
    let mut named: Vec<Node> = Vec::new();
    for row in rows {
        for block in plan::blocks(row)? {
            for part in parted(block, frame.beats)? {
                let (start, end) = plan::extent(&part)?;
                let struck = within(&times, start, end);
                let at = named.partition_point(|n| n.start() < start);
                let free = at.checked_sub(1).is_none_or(|i| named[i].end() <= start)
                    && named.get(at).is_none_or(|n| end <= n.start());
                if free
                    && !struck.iter().all(|t| is_plain(*t))
                    && let Some(node @ Node::Tuplet { .. }) = plan::block(&part, struck)?
                {
                    named.insert(at, node);
                }
            }
        }
    }
    // Where a pickup starts or the form ends within a beat, its grid must hold
    // that time, too.
    for cut in [frame.from, frame.to] {
        let at = times.partition_point(|t| *t < cut);
        if times.get(at) != Some(&cut) {
            times.insert(at, cut);
        }
    }
    let mut pieces = Vec::new();
    let mut named = named.into_iter().peekable();
    let mut now = Beats::ZERO;
    for pair in frame.beats.windows(2) {
        let [beat, beat_end] = [pair[0], pair[1]];
        let piece = |node| Piece {
            beat,
            beat_end,
            node,
        };
        if beat_end <= frame.from {
            now = beat_end;
            continue;
        }
        if beat >= frame.to {
            break;
        }
        while let Some(next) = named.next_if(|n| n.start() < beat_end) {
            if now < next.start() {
                pieces.extend(
                    plan::beat(now, next.start(), &times)?
                        .into_iter()
                        .map(piece),
                );
            }
            now = next.end();
            pieces.push(piece(next));
        }
        if now < beat_end {
            pieces.extend(plan::beat(now, beat_end, &times)?.into_iter().map(piece));
            now = beat_end;
        }
    }
    Ok(pieces)
}

/// A single division is parted wherever one of its slots starts on a beat, so
/// that 6@2 is a triplet on each beat; a block of several stays.
fn parted(block: &[Division], beats: &[Beats]) -> Result<Vec<Vec<Division>>, Fault> {
    let [only] = block else {
        return Ok(vec![block.to_vec()]);
    };
    let slot = only
        .length
        .checked_div(Beats::whole(i64::from(only.slots)))?;
    let end = only.start.checked_add(only.length)?;
    let (mut parts, mut rest) = (Vec::new(), *only);
    for beat in within(beats, only.start, end) {
        let slots = beat.checked_sub(rest.start)?.checked_div(slot)?;
        if !slots.is_whole() || slots.is_zero() {
            continue;
        }
        let length = beat.checked_sub(rest.start)?;
        // Fewer than the division has, which is at most 64.
        let first = slots.numer() as u8;
        parts.push(vec![Division {
            length,
            slots: first,
            ..rest
        }]);
        rest = Division {
            start: *beat,
            length: rest.length.checked_sub(length)?,
            slots: rest.slots - first,
        };
    }
    parts.push(vec![rest]);
    Ok(parts)
}
