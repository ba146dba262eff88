//! Strips on lines as wide as a terminal.

use super::Paint;
use super::strip::{Span, Strip};
use crate::music::{Beats, Voice};

/// Columns left of a strip: the bar number and a space.
const MARGIN: usize = 5;

/// Fewest columns for a beat; a bar of quarters still looks like one.
const LEAST_PER_BEAT: usize = 6;

/// All strips, with headings and a legend.
pub fn draw(strips: &[Strip], width: usize, paint: &Paint) -> String {
    // The bar line and the end of a line take two columns.
    let room = width.saturating_sub(MARGIN + 2).max(10);
    let needs: Vec<usize> = strips
        .iter()
        .map(|s| per_beat(s, Beats::ZERO, s.length))
        .collect();
    // One scale for all bars that fit on a line at it.
    let fits = |strip: &Strip, scale| columns(strip.length, scale) <= room;
    let common = strips
        .iter()
        .zip(&needs)
        .filter(|(strip, need)| fits(strip, **need));
    let common = common
        .map(|(_, need)| *need)
        .max()
        .unwrap_or(LEAST_PER_BEAT);
    let mut out = String::new();
    for (strip, need) in strips.iter().zip(needs) {
        if !strip.heading.is_empty() {
            out += &format!("\n{}", strip.heading);
        }
        out.push('\n');
        let scale = if need <= common && fits(strip, common) {
            common
        } else {
            need
        };
        if fits(strip, scale) {
            let line = Line {
                from: Beats::ZERO,
                to: strip.length,
                per_beat: scale,
            };
            line.draw(&mut out, strip, paint);
        } else {
            for line in lines(strip, room) {
                line.draw(&mut out, strip, paint);
            }
        }
    }
    out += &legend(strips);
    out
}

/// Columns per beat at which no two words between two times of the strip touch.
fn per_beat(strip: &Strip, from: Beats, to: Beats) -> usize {
    let ticks = strip.ticks_in(from, to);
    let ends = ticks.iter().skip(1).map(|t| t.at).chain([to]);
    let words = ticks.iter().zip(ends).map(|(tick, end)| {
        let chars = [&tick.count, &tick.sticking, &tick.voices].map(|w| w.chars().count());
        (chars.into_iter().max().unwrap_or(0), tick.at, end)
    });
    let spans = strip.spans_in(from, to);
    let letters = spans.map(|s| {
        (
            label(s, from).chars().count(),
            s.from.max(from),
            s.to.min(to),
        )
    });
    words
        .chain(letters)
        .fold(LEAST_PER_BEAT, |most, (chars, from, to)| {
            let needed = to
                .checked_sub(from)
                .and_then(|gap| Beats::whole(chars as i64 + 1).checked_div(gap))
                .map_or(0, ceiling);
            most.max(needed)
        })
}

fn ceiling(x: Beats) -> usize {
    let whole = if x.is_whole() {
        x.floor()
    } else {
        x.floor().saturating_add(1)
    };
    usize::try_from(whole).unwrap_or(0)
}

/// The column of a time.
fn columns(at: Beats, per_beat: usize) -> usize {
    let exact = at.checked_mul(Beats::whole(per_beat as i64));
    exact.map_or(usize::MAX, |c| usize::try_from(c.floor()).unwrap_or(0))
}

/// A strip on several lines that end on pulses where that is possible, about
/// equally long, each at its own scale.
fn lines(strip: &Strip, room: usize) -> Vec<Line> {
    let fewest = wrap(strip, room, strip.length);
    let pulses = strip.length.checked_div(strip.pulse).map_or(1, ceiling);
    let even = Beats::whole(pulses.div_ceil(fewest.len().max(1)) as i64);
    let Ok(even) = even.checked_mul(strip.pulse) else {
        return fewest;
    };
    let balanced = wrap(strip, room, even);
    if balanced.len() > fewest.len() {
        fewest
    } else {
        balanced
    }
}

/// Lines as long as the screen and `most` beats allow.
fn wrap(strip: &Strip, room: usize, most: Beats) -> Vec<Line> {
    let pulses: Vec<Beats> = std::iter::successors(Some(strip.first_pulse), |at| {
        at.checked_add(strip.pulse)
            .ok()
            .filter(|at| *at < strip.length)
    })
    .collect();
    let mut lines = Vec::new();
    let mut from = Beats::ZERO;
    while from < strip.length {
        let fits = |to: &Beats| {
            let Ok(length) = to.checked_sub(from) else {
                return false;
            };
            length <= most && columns(length, per_beat(strip, from, *to)) <= room
        };
        let later = |to: &Beats| *to > from;
        let slots = || {
            strip
                .ticks
                .iter()
                .map(|t| t.at)
                .chain([strip.length])
                .filter(later)
        };
        let pulse = pulses.iter().copied().chain([strip.length]).filter(later);
        let to = pulse
            .take_while(fits)
            .last()
            .or_else(|| slots().take_while(fits).last())
            // A slot wider than the screen still gets a line.
            .or_else(|| slots().next())
            .unwrap_or(strip.length);
        lines.push(Line {
            from,
            to,
            per_beat: per_beat(strip, from, to),
        });
        from = to;
    }
    lines
}

fn label(span: &Span, line_from: Beats) -> String {
    if span.goes_on || span.from < line_from {
        format!("({})", span.letter)
    } else {
        span.letter.clone()
    }
}

/// One line of a strip.
struct Line {
    from: Beats,
    to: Beats,
    per_beat: usize,
}

impl Line {
    fn column(&self, at: Beats) -> usize {
        at.checked_sub(self.from)
            .map_or(0, |at| columns(at, self.per_beat))
    }

    /// Letters, counts, sticking, voices.
    fn draw(&self, out: &mut String, strip: &Strip, paint: &Paint) {
        let first = self.from.is_zero() && strip.number > 0;
        let number = if first {
            strip.number.to_string()
        } else {
            String::new()
        };
        let end = if self.to == strip.length { "|" } else { "" };
        let mut push = |number: &str, row: String| {
            let row = format!("{number:>4} |{row}{end}");
            *out += row.trim_end();
            out.push('\n');
        };
        push(&number, self.letters(strip, paint));
        let ticks = strip.ticks_in(self.from, self.to);
        push(
            "",
            self.words(ticks.iter().map(|t| (t.at, t.count.as_str()))),
        );
        push(
            "",
            self.words(ticks.iter().map(|t| (t.at, t.sticking.as_str()))),
        );
        let mut before = "";
        let voices = ticks.iter().map(|t| {
            let same = t.voices == before && t.voices != "-";
            if t.voices != "-" {
                before = &t.voices;
            }
            (t.at, if same { "." } else { t.voices.as_str() })
        });
        push("", self.words(voices));
    }

    /// Words at their times, padded to the end of the line.
    fn words<'w>(&self, words: impl Iterator<Item = (Beats, &'w str)>) -> String {
        let mut row = String::new();
        let mut length = 0;
        for (at, word) in words {
            let column = self.column(at);
            row += &" ".repeat(column.saturating_sub(length));
            row += word;
            length = length.max(column) + word.chars().count();
        }
        row += &" ".repeat(self.column(self.to).saturating_sub(length));
        row
    }

    /// Letters, each drawn out over its time.
    fn letters(&self, strip: &Strip, paint: &Paint) -> String {
        let mut row = String::new();
        let mut length = 0;
        for span in strip.spans_in(self.from, self.to) {
            let text = label(span, self.from);
            let start = self.column(span.from.max(self.from));
            let end = self.column(span.to.min(self.to));
            row += &" ".repeat(start.saturating_sub(length));
            let fill = end.saturating_sub(start + text.chars().count() + 1);
            row += &paint(&span.letter, &format!("{text}{}", "-".repeat(fill)));
            length = length.max(start) + text.chars().count() + fill;
        }
        row += &" ".repeat(self.column(self.to).saturating_sub(length));
        row
    }
}

/// What the abbreviations mean.
fn legend(strips: &[Strip]) -> String {
    let used = |voice: &Voice| strips.iter().any(|s| s.used.contains(voice));
    let marks: Vec<String> = Voice::ALL
        .into_iter()
        .filter(used)
        .map(|voice| format!("{} {}", voice.mark(), voice.name()))
        .collect();
    if marks.is_empty() {
        String::new()
    } else {
        format!("\n{}\n", marks.join("  "))
    }
}
