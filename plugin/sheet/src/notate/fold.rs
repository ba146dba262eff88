//! Shorter sheets: repeats between signs, or each letter once.

use super::Options;
use super::bar::alone;
use super::error::{NotateError, Whereabouts};
use crate::{Kind, Mark, Repeat, Written, WrittenBar};
use barform_score::music::Beats;
use barform_score::score::{FormItem, Score, form_text};
use barform_score::timeline::Timeline;

/// Places that are played again.
#[derive(Debug, Clone, Copy)]
struct Again {
    /// The first place of the first time.
    first: usize,
    /// Places of one time.
    count: usize,
    times: usize,
}

/// Passes of a group that are put together at most, to find passes that repeat
/// whole bars over the same place of every ostinato.
const MAX_TOGETHER: usize = 64;

/// Puts groups and sections that come again between repeat signs, the outermost
/// first; repeats are not put inside of repeats. `alike` numbers the bars.
pub(super) fn repeats(
    score: &Score,
    timeline: &Timeline,
    written: Written,
    alike: &[usize],
) -> Written {
    let mut all = Vec::new();
    collect(score, timeline, &mut all);
    // First bar, bars of one time, times.
    let mut folds: Vec<(usize, usize, usize)> = Vec::new();
    let mut covered = 0;
    for again in all {
        if let Some(fold) = fold(timeline, alike, again, covered) {
            covered = fold.0 + fold.1 * fold.2;
            folds.push(fold);
        }
    }
    let mut bars: Vec<WrittenBar> = Vec::with_capacity(written.bars.len());
    let mut folds = folds.into_iter().peekable();
    for (number, mut bar) in written.bars.into_iter().enumerate() {
        let Some((first, count, times)) = folds.peek().copied().filter(|f| f.0 <= number) else {
            bars.push(bar);
            continue;
        };
        if number < first + count {
            bar.repeat_from = number == first;
            if number + 1 == first + count {
                bar.repeat_to = u32::try_from(times).ok().map(|times| Repeat { times });
            }
            bars.push(bar);
        } else if number + 1 == first + count * times {
            // The last time tells what stands after all of them.
            if let Some(last) = bars.last_mut() {
                last.double_after = bar.double_after;
            }
            folds.next();
        }
    }
    Written { bars, ..written }
}

/// Everything the form plays again, outer before inner, in order of time.
fn collect(score: &Score, timeline: &Timeline, all: &mut Vec<Again>) {
    let counts = |section: usize| {
        let places = &timeline.places;
        let from = places.partition_point(|p| (p.section as usize) < section);
        let to = places.partition_point(|p| (p.section as usize) <= section);
        to - from
    };
    let mut first = 0;
    let mut known_run = 0;
    for (number, section) in score.sections.iter().enumerate() {
        if number >= known_run {
            let rest = &score.sections[number..];
            let times = rest.iter().take_while(|other| *other == section).count();
            known_run = number + times;
            let count = counts(number);
            all.extend((times > 1).then_some(Again {
                first,
                count,
                times,
            }));
        }
        walk(&section.items, &mut first, all);
    }
}

fn walk(items: &[FormItem], first: &mut usize, all: &mut Vec<Again>) {
    for item in items {
        match item {
            FormItem::BarLine => {}
            FormItem::Letter { .. } => *first += 1,
            FormItem::Group { items, times, .. } => {
                let start = *first;
                let number = all.len();
                walk(items, first, all);
                let count = *first - start;
                let again = Again {
                    first: start,
                    count,
                    times: *times as usize,
                };
                if *times > 1 {
                    all.insert(number, again);
                }
                // The groups inside come again with each pass.
                let inner = all[number + usize::from(*times > 1)..].to_vec();
                for pass in 1..*times as usize {
                    *first += count;
                    all.extend(inner.iter().map(|again| Again {
                        first: again.first + pass * count,
                        ..*again
                    }));
                }
            }
        }
    }
}

/// First bar, bars of one time and times of what can stand between repeat
/// signs, if anything can.
fn fold(
    timeline: &Timeline,
    alike: &[usize],
    again: Again,
    covered: usize,
) -> Option<(usize, usize, usize)> {
    let start = |pass: usize| match timeline.places.get(again.first + pass * again.count) {
        Some(place) => place.start,
        None => timeline.length,
    };
    let bar_at = |time: Beats| {
        let bar = timeline.bars.partition_point(|bar| bar.start < time);
        match timeline.bars.get(bar) {
            Some(found) => (found.start == time).then_some(bar),
            // The end of the form, if its last bar is a whole one: else it is
            // not alike to any.
            None => (time == timeline.length).then_some(bar),
        }
    };
    let first = bar_at(start(0)).filter(|bar| *bar >= covered)?;
    for together in 1..=(again.times / 2).min(MAX_TOGETHER) {
        let Some(next) = bar_at(start(together)).filter(|next| *next > first) else {
            continue;
        };
        let count = next - first;
        let one = &alike[first..next];
        let passes = again.times / together;
        let more = alike[next..].chunks_exact(count).take(passes - 1);
        let times = 1 + more.take_while(|other| *other == one).count();
        if times > 1 {
            return Some((first, count, times));
        }
    }
    None
}

/// Each letter once, then each ostinato once.
pub(super) fn letters(score: &Score, options: &Options) -> Result<Written, NotateError> {
    let mut bars: Vec<WrittenBar> = Vec::new();
    for (number, cell) in score.cells_resolved()?.into_iter().enumerate() {
        let place = Whereabouts::Cell(cell.letter.clone());
        let mut own = alone(&cell.grid, &cell.slots, score.meter, options, place)?;
        // The strokes stand at no place of the form.
        own.iter_mut().for_each(forget);
        mark(
            &mut own,
            Mark {
                at: Beats::ZERO,
                section: None,
                letter: Some(cell.letter),
                letter_index: number as u32,
                note: String::new(),
            },
        );
        bars.extend(own);
    }
    for ostinato in &score.ostinatos {
        let place = Whereabouts::Ostinato(ostinato.name.clone());
        let mut own = alone(
            &ostinato.grid,
            &ostinato.slots(),
            score.meter,
            options,
            place,
        )?;
        own.iter_mut().for_each(forget);
        mark(
            &mut own,
            Mark {
                at: Beats::ZERO,
                section: Some(ostinato.name.clone()),
                letter: None,
                letter_index: 0,
                note: "ostinato".to_owned(),
            },
        );
        bars.extend(own);
    }
    // Meters are printed once, where the first whole bar stands.
    let mut shown = false;
    let mut start = Beats::ZERO;
    for bar in &mut bars {
        bar.show_meter &= !shown;
        shown |= bar.show_meter;
        bar.start = start;
        start = start.checked_add(bar.length)?;
    }
    let forms = score.sections.iter().map(|section| {
        let form = form_text(&section.items);
        let form = form.split_whitespace().collect::<Vec<_>>().join(" ");
        if section.name.is_empty() {
            form
        } else {
            format!("{}: {form}", section.name)
        }
    });
    Ok(Written {
        title: score.title.clone(),
        subtitle: forms.collect::<Vec<_>>().join("; "),
        tempo: score.tempo,
        bars,
    })
}

fn mark(bars: &mut [WrittenBar], mark: Mark) {
    if let Some(first) = bars.first_mut() {
        first.marks.push(mark);
    }
}

fn forget(bar: &mut WrittenBar) {
    for element in bar.hands.elements.iter_mut().chain(&mut bar.feet.elements) {
        if let Kind::Notes(strokes) = &mut element.kind {
            strokes.iter_mut().for_each(|stroke| stroke.source = None);
        }
    }
}
