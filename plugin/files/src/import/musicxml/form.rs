//! The form: bars in playing order become sections, groups and letters.

use super::cells::Cells;
use super::flat::{Flat, Played, cuts, gather, lay, piece};
use super::hands::Hands;
use super::music::{Bar, MarkKind, Music};
use super::order::{Block, played};
use super::{Cut, Options};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Kit, Letter, Meter};
use barform_score::score::{FormItem, MAX_TERM, Overrides, Score, Section};
use barform_score::timeline::MAX_BARS;
use std::collections::HashSet;

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
        timing: barform_score::score::Timing::default(),
    };
    score.check()?;
    Ok(score)
}

fn title(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let line = text.chars().take(barform_score::score::MAX_NAME_CHARS);
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
        if let Some(channel) = barform_score::music::Channel::new(*channel) {
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
