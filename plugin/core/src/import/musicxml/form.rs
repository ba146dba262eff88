//! The form: bars in playing order become sections, groups and letters.

use super::cells::{Cells, Piece};
use super::hands::Hands;
use super::music::{Bar, Hit, MarkKind, Music, Tuplet};
use super::note::Time;
use super::order::{Block, played};
use super::part::MAX_BARS;
use super::{Cut, Options, brief};
use crate::import::{ImportError, RemarkKind, Remarks};
use crate::music::{Beats, Kit, Letter, Meter};
use crate::score::{FormItem, MAX_CELL_BEATS, MAX_PLACEMENTS, MAX_TERM, Overrides, Score, Section};
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// A bar as it is played; bars of a group stand once.
#[derive(Debug, Clone, Copy)]
struct Played {
    bar: usize,
    at: Beats,
    /// Index of the group's block, if it is played more than once.
    group: Option<usize>,
}

/// Everything with its time from the start of the form.
#[derive(Default)]
struct Flat<'a> {
    hits: Vec<(Beats, &'a Hit)>,
    tuplets: Vec<Tuplet>,
    letters: BTreeMap<Beats, Letter>,
    names: BTreeMap<Beats, String>,
    /// Meters from where they hold.
    meters: BTreeMap<Beats, Meter>,
    /// Where full bars end.
    lines: BTreeSet<Beats>,
    length: Time,
    pickup: Time,
}

/// The score of a part.
pub(super) fn score(
    music: &Music,
    options: &Options,
    remarks: &mut Remarks,
) -> Result<Score, ImportError> {
    let blocks = blocks(music)?;
    let use_marks = match options.cut {
        Cut::Auto => music.ours,
        Cut::Marks => true,
        Cut::Bars | Cut::Beats(_) => false,
    };
    let mut bars = Vec::new();
    for (index, block) in blocks.iter().enumerate() {
        let group = (block.times > 1).then_some(index);
        bars.extend(block.bars.iter().map(|bar| Played {
            bar: *bar,
            at: Beats::ZERO,
            group,
        }));
    }
    if bars.is_empty() {
        return Err(ImportError::Nothing("the part has no bars".to_owned()));
    }
    let mut flat = Flat::default();
    lay(music, &mut bars, &mut flat, remarks)?;
    gather(music, &bars, use_marks, &mut flat, remarks)?;
    let cuts = cuts(music, &bars, &flat, options, use_marks)?;

    let kit = kit(music, &options.kit);
    let tempo = tempo(music, remarks);
    let hands = Hands::new(&kit, tempo);
    let mut cells = Cells::new(flat.letters.values().cloned().collect::<HashSet<_>>());
    let mut sections: Vec<Section> = Vec::new();
    let first = flat.meters.values().next().copied();
    let meter = first.unwrap_or(Meter::FOUR_FOUR);
    let mut at_meter = meter;
    let mut group_at = None;
    let mut bar = 0;
    for pair in cuts.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        while bars.get(bar + 1).is_some_and(|b| b.at <= from) {
            bar += 1;
        }
        let new_meter = flat.meters.get(&from).copied();
        at_meter = new_meter.unwrap_or(at_meter);
        let name = flat.names.get(&from).cloned();
        if sections.is_empty() || new_meter.is_some() || name.is_some() {
            sections.push(Section {
                name: name.unwrap_or_default(),
                meter: (at_meter != meter).then_some(at_meter),
                overrides: Overrides::default(),
                items: Vec::new(),
            });
            group_at = None;
        }
        let piece = piece(&flat, from, to, at_meter, music.bars[bars[bar].bar].number)?;
        let letter = cells.letter(&piece, &hands, remarks)?;
        let Some(section) = sections.last_mut() else {
            continue;
        };
        let items = match bars[bar].group {
            None => {
                group_at = None;
                &mut section.items
            }
            Some(group) => {
                if group_at != Some(group) {
                    section.items.push(FormItem::Group {
                        items: Vec::new(),
                        times: blocks[group].times,
                        overrides: Overrides::default(),
                    });
                    group_at = Some(group);
                }
                match section.items.last_mut() {
                    Some(FormItem::Group { items, .. }) => items,
                    _ => continue,
                }
            }
        };
        items.push(FormItem::Letter {
            letter,
            overrides: Overrides::default(),
        });
        if flat.lines.contains(&to) {
            // The line at a group's end stands after the group.
            let next = bars.partition_point(|b| b.at < to);
            let next = bars.get(next).and_then(|b| b.group);
            if next == bars[bar].group {
                items.push(FormItem::BarLine);
            } else {
                section.items.push(FormItem::BarLine);
            }
        }
    }
    let score = Score {
        title: title(&music.title),
        tempo,
        meter,
        pickup: flat.pickup.0,
        sections,
        cells: cells.defs,
        ostinatos: Vec::new(),
        voicings: Vec::new(),
        kit,
    };
    score.check()?;
    Ok(score)
}

fn title(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let line = text.chars().take(crate::score::MAX_NAME_CHARS);
    line.map(plain).collect()
}

/// The tempo, within what a score may say.
fn tempo(music: &Music, remarks: &mut Remarks) -> Beats {
    let Some(stated) = music.tempo else {
        let what = "no tempo is stated: 120 quarter notes a minute were taken";
        remarks.add(RemarkKind::Assumed, None, what);
        return Beats::whole(120);
    };
    let (least, most) = (Beats::whole(20), Beats::whole(400));
    let fits = stated.numer() <= MAX_TERM && stated.denom() <= MAX_TERM;
    let tempo = if fits {
        stated
    } else {
        Beats::whole(stated.floor())
    };
    let tempo = tempo.clamp(least, most);
    if tempo != stated {
        let what = format!("the tempo {stated} cannot be kept: {tempo} was taken");
        remarks.add(RemarkKind::NotKept, None, what);
    }
    tempo
}

/// The kit with the keys of the instruments that are known by name.
fn kit(music: &Music, kit: &Kit) -> Kit {
    let mut kit = kit.clone();
    for (voice, how, key, channel) in &music.keys {
        if key.is_some() && kit.key(*voice, *how) != *key {
            kit.voice_mut(*voice).keys[how.index()] = *key;
        }
        if let Some(channel) = crate::music::Channel::new(*channel) {
            kit.voice_mut(*voice).channel = channel;
        }
    }
    kit
}

/// The blocks of the form; repeats that a group cannot hold are written out.
fn blocks(music: &Music) -> Result<Vec<Block>, ImportError> {
    let mut out: Vec<Block> = Vec::new();
    let mut total = 0_usize;
    for block in played(&music.bars)? {
        if block.times == 1 || plain(music, &block) {
            total += block.bars.len();
            out.push(block);
        } else {
            let bars = block.bars.len().saturating_mul(block.times as usize);
            total = total.saturating_add(bars);
            if total <= MAX_BARS {
                let bars = block.bars.repeat(block.times as usize);
                out.push(Block { bars, times: 1 });
            }
        }
        if total > MAX_BARS {
            let what = format!("more than {MAX_BARS} bars with all repeats");
            return Err(ImportError::TooMuch(what));
        }
    }
    Ok(out)
}

/// Whether a repeat is whole bars of one meter in one section.
fn plain(music: &Music, block: &Block) -> bool {
    let bars = || block.bars.iter().map(|b| &music.bars[*b]);
    let meter = bars().next().map(|b| b.meter);
    let named =
        |m: &super::music::MarkAt| m.kind == MarkKind::Words || Letter::new(&m.text).is_none();
    let whole = |b: &Bar| Some(b.meter) == meter && b.length == b.meter.bar();
    bars().all(whole)
        && bars().enumerate().all(|(i, b)| {
            let mut marks = b.marks.iter().filter(|m| named(m));
            marks.all(|m| i == 0 && m.at.is_zero())
        })
}

/// Gives every bar its time, and finds meters, bar lines and the pickup.
fn lay(
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
fn gather<'a>(
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
fn cuts(
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
fn piece<'a>(
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
