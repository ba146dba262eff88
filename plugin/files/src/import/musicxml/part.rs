//! Walks a part, bar by bar.

use super::instruments::{Instrument, instruments};
use super::music::{Bar, Music, Tuplet};
use super::note::{RawNote, Time, text};
use super::parts::{child, choose, clef, elements, measures, software, title};
use super::strokes::Reader;
use super::{Options, brief, damaged};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Channel, Meter};
use barform_score::timeline::MAX_BARS;
use roxmltree::{Document, Node};
use std::collections::HashMap;
use std::str::FromStr;

/// Longest bar, in beats.
pub const MAX_BEATS_IN_BAR: i64 = 256;

/// Largest number of divisions of a quarter note: whole numbers are exact in
/// every program up to here.
const MAX_DIVISIONS: i64 = 1 << 53;

/// The music of the part that is asked for, or of the first percussion part.
pub(super) fn music(
    document: &Document,
    options: &Options,
    remarks: &mut Remarks,
) -> Result<Music, ImportError> {
    let root = document.root_element();
    let by_time = match root.tag_name().name() {
        "score-partwise" => false,
        "score-timewise" => true,
        other => {
            let what = format!("its root is '{}', not a score", brief(other));
            return Err(damaged(what));
        }
    };
    let part = choose(root, by_time, options, remarks)?;
    let id = part.attribute("id").unwrap_or("");
    let instruments = instruments(part, &options.kit);
    let measures = measures(root, by_time, id);
    if measures.len() > MAX_BARS {
        return Err(ImportError::TooMuch(format!("more than {MAX_BARS} bars")));
    }
    let percussion = instruments
        .values()
        .any(|i| i.channel == Channel::PERCUSSION.number())
        || measures.iter().any(|(_, m)| clef(*m));
    let mut walk = Walk {
        reader: Reader {
            instruments: &instruments,
            percussion,
        },
        divisions: 1,
        meter: Meter::FOUR_FOUR,
        passes: Vec::new(),
        number: 0,
        tempo: None,
        remarks,
    };
    let mut bars = Vec::with_capacity(measures.len());
    for (attributes, content) in &measures {
        bars.push(walk.bar(*attributes, *content, bars.len())?);
    }
    let tempo = walk.tempo;
    Ok(Music {
        title: title(root),
        ours: software(root).is_some_and(|s| s.starts_with("Barform ")),
        tempo,
        bars,
        keys: keys(&instruments),
    })
}

fn keys(instruments: &HashMap<String, Instrument>) -> Vec<super::music::OwnKey> {
    let named = instruments.values().filter(|i| i.named);
    let mut keys: Vec<_> = named
        .filter_map(|i| {
            let (voice, how) = i.voice?;
            Some((voice, how, i.key, i.channel))
        })
        .collect();
    keys.sort_unstable();
    keys
}

/// What holds from bar to bar.
pub(super) struct Walk<'a> {
    reader: Reader<'a>,
    pub(super) divisions: i64,
    meter: Meter,
    pub(super) passes: Vec<u32>,
    pub(super) number: u32,
    pub(super) tempo: Option<Beats>,
    remarks: &'a mut Remarks,
}

/// What a bar gathers on the way.
pub(super) struct Gathered {
    pub(super) bar: Bar,
    notes: Vec<RawNote>,
    pub(super) at: Beats,
    /// Where the last note that is not of a chord began.
    onset: Beats,
    end: Beats,
    /// An ending stops with this bar.
    pub(super) ending_stops: bool,
}

impl Walk<'_> {
    fn bar(&mut self, measure: Node, content: Node, index: usize) -> Result<Bar, ImportError> {
        let implicit = measure.attribute("implicit") == Some("yes");
        let stated = measure.attribute("number").and_then(|n| n.parse().ok());
        self.number = match stated {
            Some(number) => number,
            None if index == 0 => 1,
            None => self.number.saturating_add(u32::from(!implicit)),
        };
        let mut g = Gathered {
            bar: Bar {
                number: self.number,
                meter: self.meter,
                length: Beats::ZERO,
                implicit,
                hits: Vec::new(),
                marks: Vec::new(),
                tuplets: Vec::new(),
                repeat_from: false,
                repeat_to: None,
                passes: Vec::new(),
            },
            notes: Vec::new(),
            at: Beats::ZERO,
            onset: Beats::ZERO,
            end: Beats::ZERO,
            ending_stops: false,
        };
        for node in elements(content) {
            self.element(node, &mut g)?;
        }
        g.bar.meter = self.meter;
        g.bar.passes = self.passes.clone();
        if g.ending_stops {
            self.passes.clear();
        }
        g.bar.length = if g.end.is_positive() {
            g.end
        } else {
            self.meter.bar()
        };
        g.bar.hits = self.reader.bar(&g.notes, self.number, self.remarks);
        // A grace note or a tied end has no length; a stroke at the very end
        // would belong to the next bar.
        let length = g.bar.length;
        g.bar.hits.retain(|h| h.at < length);
        g.bar.marks.sort_by_key(|m| m.at);
        g.bar.tuplets = outermost(&g.notes)?;
        Ok(g.bar)
    }

    /// Remarks on the bar at hand.
    pub(super) fn say(&mut self, kind: RemarkKind, what: impl Into<String>) {
        self.remarks.add(kind, Some(self.number), what);
    }

    fn element(&mut self, node: Node, g: &mut Gathered) -> Result<(), ImportError> {
        match node.tag_name().name() {
            "note" => self.note(node, g)?,
            "backup" => {
                let back = self.duration(node)?;
                g.at = g.at.checked_sub(back)?;
                if g.at < Beats::ZERO {
                    let bar = self.number;
                    return Err(damaged(format!("bar {bar}: a backup before its start")));
                }
            }
            "forward" => {
                g.at = g.at.checked_add(self.duration(node)?)?;
                self.reach(g)?;
            }
            "attributes" => self.attributes(node)?,
            "direction" => self.direction(node, g)?,
            "sound" => self.sound(node),
            "barline" => self.barline(node, g),
            "print" | "bookmark" | "link" | "listening" => {}
            other => {
                let what = format!("'{}' was passed over", brief(other));
                self.say(RemarkKind::NotUnderstood, what);
            }
        }
        Ok(())
    }

    /// The bar is as long as the furthest point that anything in it reaches.
    fn reach(&self, g: &mut Gathered) -> Result<(), ImportError> {
        g.end = g.end.max(g.at);
        if g.end > Beats::whole(MAX_BEATS_IN_BAR) {
            let what = format!("bar {} has more than {MAX_BEATS_IN_BAR} beats", self.number);
            return Err(ImportError::TooMuch(what));
        }
        Ok(())
    }

    fn note(&mut self, node: Node, g: &mut Gathered) -> Result<(), ImportError> {
        let mut note = RawNote::read(node);
        if note.grace {
            note.at = Time(g.at);
        } else {
            note.length = Time(self.duration(node)?);
            note.at = Time(if note.chord { g.onset } else { g.at });
            if !note.chord {
                g.onset = g.at;
                g.at = g.at.checked_add(note.length.0)?;
                self.reach(g)?;
            }
        }
        g.notes.push(note);
        Ok(())
    }

    /// A duration in beats.
    fn duration(&mut self, node: Node) -> Result<Beats, ImportError> {
        let bar = self.number;
        let read = child(node, "duration").map_or("", text);
        let bad = || damaged(format!("bar {bar}: the duration '{}'", brief(read)));
        let length = decimal(read).ok_or_else(bad)?;
        if length < Beats::ZERO {
            return Err(bad());
        }
        Ok(length.checked_div(Beats::whole(self.divisions))?)
    }

    fn attributes(&mut self, node: Node) -> Result<(), ImportError> {
        for node in elements(node) {
            match node.tag_name().name() {
                "divisions" => {
                    let read = text(node);
                    let divisions = read.parse::<i64>().ok().or_else(|| {
                        let decimal = decimal(read).filter(|d| d.is_whole());
                        decimal.map(Beats::numer)
                    });
                    let fits = |d: &i64| (1..=MAX_DIVISIONS).contains(d);
                    self.divisions = divisions.filter(fits).ok_or_else(|| {
                        let what = format!(
                            "bar {}: '{}' divisions of a quarter note; 1 to {MAX_DIVISIONS} are read",
                            self.number,
                            brief(read)
                        );
                        damaged(what)
                    })?;
                }
                "time" => self.time(node),
                "transpose" | "for-part" | "measure-style" => {
                    let what = format!("'{}' was passed over", node.tag_name().name());
                    self.say(RemarkKind::NotUnderstood, what);
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn time(&mut self, node: Node) {
        let value = |name: &str| child(node, name).map(text);
        let meter = value("beats")
            .zip(value("beat-type"))
            .and_then(|(beats, unit)| {
                // 3+2 over 8 is five eighths.
                let count = beats
                    .split('+')
                    .try_fold(0_u8, |sum, part| sum.checked_add(part.trim().parse().ok()?))?;
                Meter::new(count, unit.parse().ok()?)
            });
        let several = elements(node).filter(|n| n.has_tag_name("beats")).count() > 1;
        match meter {
            Some(meter) if !several => self.meter = meter,
            _ => {
                let what = "a time signature that is not one count over one unit was passed over";
                self.say(RemarkKind::NotUnderstood, what);
            }
        }
    }
}

/// A decimal number, exact; more than nine places are too fine to be meant.
pub(super) fn decimal(text: &str) -> Option<Beats> {
    let text = text.trim();
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.len() + part.len() == 0 || !plain(whole) || !plain(part) {
        return None;
    }
    let part = part.trim_end_matches('0');
    if part.len() > 9 || whole.len() > 16 {
        return None;
    }
    let scale = 10_i64.pow(part.len() as u32);
    let number = |s: &str| {
        if s.is_empty() {
            Some(0)
        } else {
            i64::from_str(s).ok()
        }
    };
    let numer = number(whole)?
        .checked_mul(scale)?
        .checked_add(number(part)?)?;
    Some(Beats::new(sign * numer, scale))
}

/// Tuplets that stand in no other, of all voices.
fn outermost(notes: &[RawNote]) -> Result<Vec<Tuplet>, ImportError> {
    // Per voice: numbers of open tuplets, and the outermost one.
    let mut open: HashMap<&str, (Vec<&str>, Beats, u32)> = HashMap::new();
    let mut all = Vec::new();
    for note in notes.iter().filter(|n| !n.grace) {
        let entry = open.entry(&note.voice);
        let (numbers, from, actual) = entry.or_insert((Vec::new(), Beats::ZERO, 0));
        // One that starts again without an end cannot be told from its like.
        for (number, notes) in &note.tuplets_from {
            if numbers.is_empty() {
                (*from, *actual) = (note.at.0, *notes);
            }
            if !numbers.contains(&number.as_str()) {
                numbers.push(number);
            }
        }
        for number in &note.tuplets_to {
            let before = numbers.len();
            numbers.retain(|n| n != number);
            if before == 1 && numbers.is_empty() {
                all.push(Tuplet {
                    at: *from,
                    end: note.at.0.checked_add(note.length.0)?,
                    actual: *actual,
                });
            }
        }
    }
    all.sort_unstable_by_key(|t| (t.at, t.end));
    all.dedup();
    Ok(all)
}
