//! Strips on lines of a terminal.

use super::paint::Paint;
use super::strip::{Span, Strip, Tick, mark};
use barform_core::music::{Beats, Voice};

/// Columns left of a strip: the bar number and a space.
const MARGIN: usize = 5;

/// Fewest columns for a beat; a bar of quarters still looks like one.
const LEAST_PER_BEAT: usize = 6;

/// All strips, with headings and a legend.
pub fn draw(strips: &[Strip], width: usize, paint: &Paint) -> String {
    // The bar line and the end of a line take two columns.
    let room = width.saturating_sub(MARGIN + 2).max(10);
    let needs: Vec<usize> = strips.iter().map(per_beat).collect();
    // One scale for all bars that fit on a line at it.
    let common = strips
        .iter()
        .zip(&needs)
        .filter(|(s, n)| columns(s.length, **n) <= room);
    let common = common.map(|(_, n)| *n).max().unwrap_or(LEAST_PER_BEAT);
    let mut out = String::new();
    for (strip, need) in strips.iter().zip(needs) {
        let shared = need <= common && columns(strip.length, common) <= room;
        let per_beat = if shared { common } else { need };
        if !strip.heading.is_empty() {
            out += &format!("\n{}", strip.heading);
        }
        out.push('\n');
        draw_strip(&mut out, strip, per_beat, room, paint);
    }
    out += &legend(strips);
    out
}

/// Columns per beat at which no two words of the strip touch.
fn per_beat(strip: &Strip) -> usize {
    let ends = strip
        .ticks
        .iter()
        .skip(1)
        .map(|t| t.at)
        .chain([strip.length]);
    let words = strip.ticks.iter().zip(ends).map(|(tick, end)| {
        let chars = [&tick.count, &tick.sticking, &tick.voices].map(|w| w.chars().count());
        (chars.into_iter().max().unwrap_or(0), tick.at, end)
    });
    let letters = strip
        .spans
        .iter()
        .map(|s| (label(s).chars().count(), s.from, s.to));
    words
        .chain(letters)
        .fold(LEAST_PER_BEAT, |most, (chars, from, to)| {
            let needed = to
                .checked_sub(from)
                .and_then(|gap| Beats::whole(chars as i64 + 1).checked_div(gap))
                .map_or(0, |columns| {
                    usize::try_from(-neg_floor(columns)).unwrap_or(0)
                });
            most.max(needed)
        })
}

/// `floor` of the negative: `-neg_floor(x)` is the ceiling of `x`.
fn neg_floor(x: Beats) -> i64 {
    Beats::ZERO.checked_sub(x).map_or(0, Beats::floor)
}

/// The column of a time.
fn columns(at: Beats, per_beat: usize) -> usize {
    let exact = at.checked_mul(Beats::whole(per_beat as i64));
    exact.map_or(0, |c| usize::try_from(c.floor()).unwrap_or(0))
}

fn draw_strip(out: &mut String, strip: &Strip, per_beat: usize, room: usize, paint: &Paint) {
    let mut from = Beats::ZERO;
    let breaks = breaks(strip, per_beat, room);
    for (n, to) in breaks.iter().enumerate() {
        let number = if n == 0 && strip.number > 0 {
            strip.number.to_string()
        } else {
            String::new()
        };
        let last = n + 1 == breaks.len();
        let line = Line {
            from,
            to: *to,
            per_beat,
        };
        let end = if last { "|" } else { "" };
        *out += &format!("{number:>4} |{}{end}\n", line.letters(&strip.spans, paint));
        let ticks: Vec<&Tick> = strip
            .ticks
            .iter()
            .filter(|t| t.at >= from && t.at < *to)
            .collect();
        let mut before = "";
        let voices: Vec<(Beats, &str)> = ticks
            .iter()
            .map(|t| {
                let same = t.voices == before && t.voices != "-";
                if t.voices != "-" {
                    before = &t.voices;
                }
                (t.at, if same { "." } else { t.voices.as_str() })
            })
            .collect();
        for words in [
            ticks.iter().map(|t| (t.at, t.count.as_str())).collect(),
            ticks.iter().map(|t| (t.at, t.sticking.as_str())).collect(),
            voices,
        ] {
            let row = line.words(&words);
            *out += &format!(
                "     |{}",
                if last { format!("{row}|") } else { row }.trim_end()
            );
            out.push('\n');
        }
        from = *to;
    }
}

/// Where the strip's lines end: on pulses where that is possible, lines about
/// equally long.
fn breaks(strip: &Strip, per_beat: usize, room: usize) -> Vec<Beats> {
    let mut ends = Vec::new();
    let total = columns(strip.length, per_beat);
    let lines = total.div_ceil(room).max(1);
    // Lines of equal length if the pulses allow.
    let wanted = total.div_ceil(lines).max(1);
    let pulse_columns = columns(strip.pulse, per_beat).max(1);
    let target = (wanted.div_ceil(pulse_columns) * pulse_columns).min(room);
    let target = if target < pulse_columns { room } else { target };
    let mut from = Beats::ZERO;
    while from < strip.length {
        let reaches =
            |at: &Beats| *at > from && columns(*at, per_beat) <= columns(from, per_beat) + target;
        if reaches(&strip.length) {
            break;
        }
        let pulses = std::iter::successors(Some(strip.first_pulse), |at| {
            at.checked_add(strip.pulse)
                .ok()
                .filter(|at| *at < strip.length)
        });
        let pulse = pulses.filter(reaches).last();
        let slot = || strip.ticks.iter().map(|t| t.at).filter(reaches).next_back();
        // A slot wider than the screen still gets a line.
        let forced = || strip.ticks.iter().map(|t| t.at).find(|at| *at > from);
        let Some(to) = pulse.or_else(slot).or_else(forced) else {
            break;
        };
        ends.push(to);
        from = to;
    }
    ends.push(strip.length);
    ends
}

fn label(span: &Span) -> String {
    if span.goes_on {
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
        columns(at, self.per_beat).saturating_sub(columns(self.from, self.per_beat))
    }

    /// Words at their times, padded to the end of the line.
    fn words(&self, words: &[(Beats, &str)]) -> String {
        let mut row = String::new();
        let mut length = 0;
        for (at, word) in words {
            let column = self.column(*at);
            row += &" ".repeat(column.saturating_sub(length));
            row += word;
            length = length.max(column) + word.chars().count();
        }
        row += &" ".repeat(self.column(self.to).saturating_sub(length));
        row
    }

    /// Letters, each drawn out over its time.
    fn letters(&self, spans: &[Span], paint: &Paint) -> String {
        let mut row = String::new();
        let mut length = 0;
        for span in spans
            .iter()
            .filter(|s| s.to > self.from && s.from < self.to)
        {
            let (from, to) = (span.from.max(self.from), span.to.min(self.to));
            let text = if span.from < self.from {
                format!("({})", span.letter)
            } else {
                label(span)
            };
            let (start, end) = (self.column(from), self.column(to));
            row += &" ".repeat(start.saturating_sub(length));
            let fill = end.saturating_sub(start + text.chars().count() + 1);
            row += &paint.letter(&span.letter, &format!("{text}{}", "-".repeat(fill)));
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
        .map(|voice| format!("{} {}", mark(voice), voice.name()))
        .collect();
    if marks.is_empty() {
        String::new()
    } else {
        format!("\n{}\n", marks.join("  "))
    }
}
