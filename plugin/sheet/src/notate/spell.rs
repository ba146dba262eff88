//! Writes one voice of one bar: values, dots, rests, tuplets.
//!
//! Common practice: a note lasts to the next one of its voice, at most to the
//! end of its beat, as far as one value with at most one dot says it; what is
//! left is rests, which start where values of their length start. Only a stroke
//! whose own slot is longer than a beat gets a value longer than a beat.

use super::beam;
use super::error::Fault;
use super::pieces::{Frame, Onset, Piece, pieces};
use super::plan::{Division, Node};
use super::value::{exact, long_values, longest, longest_rest};
use crate::{Element, Kind, Ratio, Tuplet, Value, VoiceLine};
use barform_score::music::Beats;

/// Writes a voice. `onsets` in order of time, each time once; `rows` are the
/// grids under the bar, the form's first.
pub(super) fn line(
    frame: Frame<'_>,
    onsets: &[Onset],
    rows: &[Vec<Division>],
) -> Result<VoiceLine, Fault> {
    if onsets.is_empty() {
        let rest = Element {
            at: Beats::ZERO,
            length: frame.to.checked_sub(frame.from)?,
            value: Value::WHOLE,
            dots: 0,
            ratio: Ratio::NONE,
            kind: Kind::Rest {
                hidden: frame.hide_empty,
                whole_bar: true,
            },
        };
        return Ok(VoiceLine {
            elements: vec![rest],
            ..VoiceLine::default()
        });
    }
    let pieces = pieces(frame, onsets, rows)?;
    let mut speller = Speller {
        frame,
        onsets,
        line: VoiceLine::default(),
    };
    speller.bar(&pieces)?;
    let mut line = speller.line;
    beam::join(&mut line, &beam::groups(frame, &pieces)?);
    Ok(line)
}

/// A time of its own: the bar's, or that of a tuplet.
#[derive(Clone, Copy)]
struct Time {
    /// Where it begins in the bar.
    origin: Beats,
    /// Beats of the bar to one of its own.
    scale: Beats,
    /// All tuplets around it.
    ratio: Ratio,
    depth: u8,
}

impl Time {
    const BAR: Time = Time {
        origin: Beats::ZERO,
        scale: Beats::ONE,
        ratio: Ratio::NONE,
        depth: 0,
    };

    fn own(self, bar: Beats) -> Result<Beats, Fault> {
        if self.depth == 0 {
            return Ok(bar);
        }
        Ok(bar.checked_sub(self.origin)?.checked_div(self.scale)?)
    }

    fn bar(self, own: Beats) -> Result<Beats, Fault> {
        if self.depth == 0 {
            return Ok(own);
        }
        Ok(own.checked_mul(self.scale)?.checked_add(self.origin)?)
    }
}

struct Speller<'a> {
    frame: Frame<'a>,
    onsets: &'a [Onset],
    line: VoiceLine,
}

impl<'a> Speller<'a> {
    fn bar(&mut self, pieces: &[Piece]) -> Result<(), Fault> {
        let mut i = 0;
        while let Some(piece) = pieces.get(i) {
            let taken = self.longer_than_a_beat(&pieces[i..])?;
            if taken > 0 {
                i += taken;
                continue;
            }
            self.node(Time::BAR, piece.beat, &piece.node)?;
            i += 1;
        }
        Ok(())
    }

    fn node(&mut self, time: Time, base: Beats, node: &Node) -> Result<(), Fault> {
        let (start, end, actual, normal, unit, inside) = match node {
            Node::Plain { start, end } => return self.plain(time, base, *start, *end),
            Node::Tuplet {
                start,
                end,
                actual,
                normal,
                unit,
                inside,
            } => (*start, *end, *actual, *normal, *unit, inside),
        };
        debug_assert!(start < end);
        let origin = time.bar(start)?;
        let term = |a: u32, b: i64| {
            let b = u32::try_from(b).ok()?;
            a.checked_mul(b)
        };
        let ratio = term(time.ratio.actual, actual).zip(term(time.ratio.normal, normal));
        let (actual_all, normal_all) = ratio.ok_or(Fault::NoTuplet(origin))?;
        let inner = Time {
            origin,
            scale: time.scale.checked_mul(Beats::new(normal, actual))?,
            ratio: Ratio {
                actual: actual_all,
                normal: normal_all,
            },
            depth: time.depth + 1,
        };
        let unit = exact(unit).map(|(value, _)| value);
        let (number, first) = (self.line.tuplets.len(), self.line.elements.len());
        self.line.tuplets.push(Tuplet {
            first,
            last: first,
            // Both at most MAX_TUPLET or twice that.
            ratio: Ratio {
                actual: actual as u32,
                normal: normal as u32,
            },
            unit: unit.ok_or(Fault::TooShort(origin))?,
            depth: time.depth,
            bracket: true,
        });
        for node in inside {
            self.node(inner, Beats::ZERO, node)?;
        }
        match self.line.elements.len().checked_sub(1) {
            Some(last) if last >= first => self.line.tuplets[number].last = last,
            // All of it lies outside of a bar cut short.
            _ => self.line.tuplets.truncate(number),
        }
        Ok(())
    }

    /// Plain values from `start` to `end` of a time; `base` is where its beat
    /// starts.
    fn plain(&mut self, time: Time, base: Beats, start: Beats, end: Beats) -> Result<(), Fault> {
        let start = start.max(time.own(self.frame.from)?);
        let end = end.min(time.own(self.frame.to)?);
        if start >= end {
            return Ok(());
        }
        let onsets = self.between(time.bar(start)?, time.bar(end)?);
        let mut now = start;
        for (i, onset) in onsets.iter().enumerate() {
            let at = time.own(onset.at)?;
            self.rests(time, base, now, at)?;
            let next = match onsets.get(i + 1) {
                Some(next) => time.own(next.at)?,
                None => end,
            };
            let length = longest(at.checked_sub(base)?, next.checked_sub(at)?)
                .ok_or(Fault::TooShort(onset.at))?;
            self.put(time, at, length, Kind::Notes(onset.strokes.clone()))?;
            now = at.checked_add(length)?;
        }
        self.rests(time, base, now, end)
    }

    fn between(&self, start: Beats, end: Beats) -> &'a [Onset] {
        let from = self.onsets.partition_point(|o| o.at < start);
        let to = self.onsets.partition_point(|o| o.at < end);
        &self.onsets[from..to.max(from)]
    }

    /// Rests from `start` to `end`, each starting where values of its length
    /// start.
    fn rests(
        &mut self,
        time: Time,
        base: Beats,
        mut start: Beats,
        end: Beats,
    ) -> Result<(), Fault> {
        while start < end {
            let (at, room) = (start.checked_sub(base)?, end.checked_sub(start)?);
            let whole_beat = self.dotted_beat(time, start, end);
            let length = match exact(room) {
                Some((_, 1)) if whole_beat => room,
                _ => longest_rest(at, room).ok_or(Fault::TooShort(time.bar(start)?))?,
            };
            self.put(time, start, length, rest())?;
            start = start.checked_add(length)?;
        }
        Ok(())
    }

    /// Whether this is all of a dotted beat.
    fn dotted_beat(&self, time: Time, start: Beats, end: Beats) -> bool {
        let at = self.frame.beats.binary_search(&start);
        time.depth == 0 && at.is_ok_and(|i| self.frame.beats.get(i + 1) == Some(&end))
    }

    fn put(&mut self, time: Time, at: Beats, length: Beats, kind: Kind) -> Result<(), Fault> {
        let bar = time.bar(at)?;
        let (value, dots) = exact(length).ok_or(Fault::TooShort(bar))?;
        self.line.elements.push(Element {
            at: bar.checked_sub(self.frame.from)?,
            length: length.checked_mul(time.scale)?,
            value,
            dots,
            ratio: time.ratio,
            kind,
        });
        Ok(())
    }

    /// A note or a rest over several beats at the start of `pieces`; says how
    /// many pieces it takes, 0 where custom has no such value here.
    fn longer_than_a_beat(&mut self, pieces: &[Piece]) -> Result<usize, Fault> {
        let Some(first) = pieces.first() else {
            return Ok(0);
        };
        let start = first.node.start();
        if start != first.beat || start < self.frame.from {
            return Ok(0);
        }
        let next = self.onsets.partition_point(|o| o.at < start);
        let (note, next) = match self.onsets.get(next) {
            Some(onset) if onset.at == start => (Some(onset), self.onsets.get(next + 1)),
            other => (None, other),
        };
        let beat = first.beat_end.checked_sub(first.beat)?;
        let free = next.map_or(self.frame.to, |o| o.at.min(self.frame.to));
        let mut room = free.checked_sub(start)?;
        if let Some(note) = note {
            room = room.min(note.long);
        }
        for length in long_values(self.frame, start, beat, note.is_some())? {
            if length > room || length <= beat {
                continue;
            }
            let end = start.checked_add(length)?;
            let taken = pieces.partition_point(|p| p.node.end() <= end);
            let ends_here = taken > 0 && pieces[taken - 1].node.end() == end;
            let plain = |p: &Piece| matches!(p.node, Node::Plain { .. });
            if !ends_here || !pieces[..taken].iter().all(plain) {
                continue;
            }
            let kind = note.map_or_else(rest, |o| Kind::Notes(o.strokes.clone()));
            self.put(Time::BAR, start, length, kind)?;
            return Ok(taken);
        }
        Ok(0)
    }
}

fn rest() -> Kind {
    Kind::Rest {
        hidden: false,
        whole_bar: false,
    }
}
