//! Walks a part, bar by bar.

use super::instruments::{Instrument, instruments};
use super::music::{Bar, MarkAt, MarkKind, Music, Tuplet};
use super::note::{RawNote, Time, text};
use super::strokes::Reader;
use super::{Options, brief, damaged};
use crate::export::musicxml::TYPES;
use crate::import::{ImportError, RemarkKind, Remarks};
use crate::music::{Beats, Channel, Meter};
use roxmltree::{Document, Node};
use std::collections::HashMap;
use std::str::FromStr;

/// Most bars of a part, and of it with all repeats written out.
pub const MAX_BARS: usize = 100_000;

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

fn elements<'a, 'i>(node: Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children().filter(|n| n.is_element())
}

fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    elements(node).find(|n| n.has_tag_name(name))
}

fn title(root: Node) -> String {
    let work = child(root, "work").and_then(|w| child(w, "work-title"));
    let title = work
        .filter(|t| !text(*t).is_empty())
        .or_else(|| child(root, "movement-title"));
    // Our own titles come back as they are, with the space around them.
    title.and_then(|t| t.text()).unwrap_or("").to_owned()
}

fn software(root: Node) -> Option<String> {
    let encoding = child(child(root, "identification")?, "encoding")?;
    child(encoding, "software").map(|s| text(s).to_owned())
}

/// The `score-part` to read.
fn choose<'a, 'i>(
    root: Node<'a, 'i>,
    by_time: bool,
    options: &Options,
    remarks: &mut Remarks,
) -> Result<Node<'a, 'i>, ImportError> {
    let list = child(root, "part-list").ok_or_else(|| damaged("it has no list of parts"))?;
    let parts: Vec<Node> = elements(list)
        .filter(|n| n.has_tag_name("score-part"))
        .collect();
    if let Some(wanted) = options.part {
        let range = format!("part {wanted}; the file has {}, from 0", parts.len());
        return parts.get(wanted).copied().ok_or(ImportError::Option(range));
    }
    let drums: Vec<Node> = parts
        .iter()
        .copied()
        .filter(|p| {
            let measures = measures(root, by_time, p.attribute("id").unwrap_or(""));
            measures
                .iter()
                .any(|(_, m)| clef(*m) || elements(*m).any(|n| child(n, "unpitched").is_some()))
        })
        .collect();
    let Some(first) = drums.first() else {
        let what = "no part of the file is for percussion";
        return Err(ImportError::Nothing(what.to_owned()));
    };
    for other in &drums[1..] {
        let name = child(*other, "part-name").map_or("", text);
        let what = format!("a second percussion part, '{}', was not read", brief(name));
        remarks.add(RemarkKind::NotKept, None, what);
    }
    let rest = parts.len() - drums.len();
    if rest > 0 {
        let what = format!("{rest} parts that are not for percussion were not read");
        remarks.add(RemarkKind::NotKept, None, what);
    }
    Ok(*first)
}

fn clef(measure: Node) -> bool {
    elements(measure)
        .filter(|n| n.has_tag_name("attributes"))
        .flat_map(elements)
        .filter(|n| n.has_tag_name("clef"))
        .filter_map(|n| child(n, "sign"))
        .any(|sign| text(sign) == "percussion")
}

/// A part's measures: the element with the attributes, and the one with the
/// content.
fn measures<'a, 'i>(
    root: Node<'a, 'i>,
    by_time: bool,
    id: &str,
) -> Vec<(Node<'a, 'i>, Node<'a, 'i>)> {
    let (outer, inner) = if by_time {
        ("measure", "part")
    } else {
        ("part", "measure")
    };
    let mut all = Vec::new();
    for o in elements(root).filter(|n| n.has_tag_name(outer)) {
        for i in elements(o).filter(|n| n.has_tag_name(inner)) {
            let (part, measure) = if by_time { (i, o) } else { (o, i) };
            if part.attribute("id") == Some(id) {
                all.push((measure, i));
            }
        }
    }
    all
}

/// What holds from bar to bar.
struct Walk<'a> {
    reader: Reader<'a>,
    divisions: i64,
    meter: Meter,
    passes: Vec<u32>,
    number: u32,
    tempo: Option<Beats>,
    remarks: &'a mut Remarks,
}

/// What a bar gathers on the way.
struct Gathered {
    bar: Bar,
    notes: Vec<RawNote>,
    at: Beats,
    /// Where the last note that is not of a chord began.
    onset: Beats,
    end: Beats,
    /// An ending stops with this bar.
    ending_stops: bool,
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

    fn say(&mut self, kind: RemarkKind, what: impl Into<String>) {
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

    fn direction(&mut self, node: Node, g: &mut Gathered) -> Result<(), ImportError> {
        let mut at = g.at;
        if let Some(offset) = child(node, "offset") {
            let offset = decimal(text(offset)).unwrap_or(Beats::ZERO);
            at = at.checked_add(offset.checked_div(Beats::whole(self.divisions))?)?;
        }
        let at = at.max(Beats::ZERO);
        for sign in elements(node)
            .filter(|n| n.has_tag_name("direction-type"))
            .flat_map(elements)
        {
            let words = || brief_name(sign.text().unwrap_or(""));
            match sign.tag_name().name() {
                "rehearsal" => g.bar.marks.push(MarkAt {
                    at,
                    kind: MarkKind::Rehearsal,
                    text: words(),
                }),
                "words" if sign.attribute("font-weight") == Some("bold") => {
                    g.bar.marks.push(MarkAt {
                        at,
                        kind: MarkKind::Words,
                        text: words(),
                    });
                }
                // In our own documents what is special about a place, which its
                // strokes show.
                "words" if sign.attribute("font-style") == Some("italic") => {}
                "words" => {
                    let what = format!("the words '{}' were passed over", brief(&words()));
                    self.say(RemarkKind::NotUnderstood, what);
                }
                "metronome" => self.metronome(sign),
                "dynamics" | "wedge" => {
                    self.say(RemarkKind::NotKept, "dynamics are not kept");
                }
                other => {
                    let what = format!("'{}' was passed over", brief(other));
                    self.say(RemarkKind::NotUnderstood, what);
                }
            }
        }
        if let Some(sound) = child(node, "sound") {
            self.sound(sound);
        }
        Ok(())
    }

    /// Quarter notes a minute of a metronome mark such as ♩. = 60.
    fn metronome(&mut self, node: Node) {
        let unit = child(node, "beat-unit").map(text);
        let halvings = unit.and_then(|u| TYPES.iter().position(|t| *t == u));
        let dots = elements(node)
            .filter(|n| n.has_tag_name("beat-unit-dot"))
            .count();
        let minute = child(node, "per-minute").and_then(|n| decimal(text(n)));
        let tempo = halvings.zip(minute).and_then(|(halvings, minute)| {
            let unit = Beats::new(4, 1 << halvings);
            let dotted = [unit, unit.checked_mul(Beats::new(3, 2)).ok()?];
            dotted.get(dots)?.checked_mul(minute).ok()
        });
        match tempo {
            Some(tempo) => self.tempo(tempo),
            None => self.say(
                RemarkKind::NotUnderstood,
                "a metronome mark was passed over",
            ),
        }
    }

    fn sound(&mut self, node: Node) {
        if let Some(tempo) = node.attribute("tempo").and_then(decimal) {
            self.tempo(tempo);
        }
        for jump in ["dacapo", "dalsegno", "tocoda", "fine", "coda", "segno"] {
            if node.attribute(jump).is_some() {
                let what = format!("'{jump}' was not followed: bars are played as they stand");
                self.say(RemarkKind::NotKept, what);
            }
        }
    }

    fn tempo(&mut self, tempo: Beats) {
        match self.tempo {
            None => self.tempo = Some(tempo),
            Some(known) if known == tempo => {}
            Some(_) => self.say(RemarkKind::NotKept, "a change of tempo is not kept"),
        }
    }

    fn barline(&mut self, node: Node, g: &mut Gathered) {
        for sign in elements(node) {
            match (sign.tag_name().name(), sign.attribute("direction")) {
                ("repeat", Some("forward")) => g.bar.repeat_from = true,
                ("repeat", Some("backward")) => {
                    let times = sign.attribute("times").and_then(|t| t.parse().ok());
                    let most = crate::score::MAX_REPEATS;
                    g.bar.repeat_to = Some(times.unwrap_or(2).clamp(1, most));
                }
                ("ending", _) => match sign.attribute("type") {
                    Some("start") => {
                        let numbers = sign.attribute("number").unwrap_or("");
                        let passes = numbers.split([',', ' ']).filter_map(|n| n.parse().ok());
                        self.passes = passes.take(64).collect();
                    }
                    _ => g.ending_stops = true,
                },
                ("fermata" | "coda" | "segno" | "wavy-line", _) => {
                    let what = format!("'{}' was passed over", sign.tag_name().name());
                    self.say(RemarkKind::NotUnderstood, what);
                }
                _ => {}
            }
        }
    }
}

/// Text of a mark as a name may be: one line, not too long.
fn brief_name(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let line = text.chars().take(crate::score::MAX_NAME_CHARS);
    line.map(plain).collect()
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
