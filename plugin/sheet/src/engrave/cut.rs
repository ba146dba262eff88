//! A bar that no line can hold is cut into parts: at a beat, where nothing of
//! either voice goes across, without a bar line.

use super::piece::{Part, Piece};
use crate::{Beam, Kind, Tuplet, VoiceLine, WrittenBar};
use barform_score::music::Beats;
use std::borrow::Cow;

/// Where to cut a bar so that its parts fit a line: only where no note, tuplet
/// or beam of either voice goes across; on the pulse if one is near enough.
pub fn cuts(piece: &Piece, line: f32) -> Vec<Beats> {
    let bar = &piece.bar;
    let free = |voice: &VoiceLine, places: &[usize]| -> Vec<bool> {
        // A column is free if no element, tuplet or beam lies across it.
        let mut free = vec![true; piece.columns.len()];
        let mut close = |from: usize, to: usize| {
            for slot in free.iter_mut().take(to).skip(from + 1) {
                *slot = false;
            }
        };
        let end = |element: usize| {
            places
                .get(element + 1)
                .copied()
                .unwrap_or(piece.columns.len())
        };
        for (i, e) in voice.elements.iter().enumerate() {
            let silent = matches!(
                e.kind,
                Kind::Rest { hidden: true, .. }
                    | Kind::Rest {
                        whole_bar: true,
                        ..
                    }
            );
            if !silent {
                close(places[i], end(i));
            }
        }
        let groups = voice.tuplets.iter().map(|t| (t.first, t.last));
        for (first, last) in groups.chain(voice.beams.iter().map(|b| (b.first, b.last))) {
            close(places[first], end(last));
        }
        free
    };
    let hands = free(&bar.hands, &piece.places[0]);
    let feet = free(&bar.feet, &piece.places[1]);
    let (xs, _) = piece.positions(0.0);
    let pulse = bar.meter.pulse();
    let (mut cuts, mut from, mut best) = (Vec::new(), 0.0, None::<(usize, bool)>);
    for i in 1..piece.columns.len() {
        let reach = piece.reach(i - 1);
        // Two spaces for what a piece has about its first and last moment.
        if xs[i - 1] + reach - from + 4.0 > line
            && let Some((cut, _)) = best.take()
        {
            cuts.push(piece.columns[cut].at);
            from = xs[cut] - 4.0;
        }
        if hands[i] && feet[i] {
            let on_pulse = piece.columns[i]
                .at
                .checked_rem(pulse)
                .is_ok_and(|r| r.is_zero());
            // Off the pulse only where the line would else be half empty.
            let poor = best.is_none_or(|(b, good)| !good || xs[b] - from < line / 2.0);
            if on_pulse || poor {
                best = Some((i, on_pulse));
            }
        }
    }
    if let Some((cut, _)) = best.filter(|_| {
        let (_, width) = piece.positions(0.0);
        width - from + 2.0 > line
    }) {
        cuts.push(piece.columns[cut].at);
    }
    cuts
}

/// The part of a bar between two moments.
pub fn part(bar: &WrittenBar, from: Beats, to: Beats) -> Part<'static> {
    let inside = |at: Beats| from <= at && at < to;
    let voice = |line: &VoiceLine| -> VoiceLine {
        let skip = line.elements.iter().take_while(|e| e.at < from).count();
        let elements: Vec<_> = line
            .elements
            .iter()
            .filter(|e| inside(e.at))
            .cloned()
            .collect();
        let count = elements.len();
        let within = |first: usize, last: usize| first >= skip && last < skip + count;
        let tuplets = line.tuplets.iter().filter(|t| within(t.first, t.last));
        let beams = line.beams.iter().filter(|b| within(b.first, b.last));
        VoiceLine {
            tuplets: tuplets
                .map(|t| Tuplet {
                    first: t.first - skip,
                    last: t.last - skip,
                    ..*t
                })
                .collect(),
            beams: beams
                .map(|b| Beam {
                    first: b.first - skip,
                    last: b.last - skip,
                    ..*b
                })
                .collect(),
            elements,
        }
    };
    let (opens, closes) = (from.is_zero(), to == bar.length);
    Part {
        bar: Cow::Owned(WrittenBar {
            hands: voice(&bar.hands),
            feet: voice(&bar.feet),
            marks: bar.marks.iter().filter(|m| inside(m.at)).cloned().collect(),
            under: bar.under.iter().filter(|u| inside(u.at)).cloned().collect(),
            show_meter: bar.show_meter && opens,
            repeat_from: bar.repeat_from && opens,
            repeat_to: bar.repeat_to.filter(|_| closes),
            double_after: bar.double_after && closes,
            ..*bar
        }),
        span: (from, to),
        opens,
        closes,
    }
}
