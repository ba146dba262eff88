//! One moment of a bar: the ink of both voices about it, x counted from the
//! middle of its heads, and how far it reaches to either side.

use super::canvas::{moved, sign};
use super::grace;
use super::heads::{self, Placed};
use super::metrics::{self, INK_GAP, STEM, STEM_LENGTH};
use super::signs::{HatState, signs};
use crate::{
    Bounds, Element, Glyph, Item, Kind, Role, Source, VoiceLine, WrittenBar, WrittenStroke,
};
use barform_score::music::Beats;

/// Index of the hands' voice, stems up.
pub const HANDS: usize = 0;
/// Index of the feet's voice, stems down.
pub const FEET: usize = 1;

/// Everything that sounds, rests or is said at one moment.
#[derive(Debug, Clone)]
pub struct Column {
    /// Beats from the start of the bar.
    pub at: Beats,
    /// Ink that does not depend on neighbours: heads, dots, rests, grace notes.
    pub items: Vec<Item>,
    /// Ink of notes to the left and right of the middle, both 0 or more; `None`
    /// where nothing stands on the staff.
    pub reach: Option<(f32, f32)>,
    /// Upper and lower edge of the items.
    pub edge: Option<(f32, f32)>,
    /// The note of each voice here.
    pub notes: [Option<NoteHere>; 2],
    /// Slots whose strokes stand here.
    pub sources: Vec<Source>,
}

/// What hangs on the stem of a note.
#[derive(Debug, Clone)]
pub struct NoteHere {
    /// Its element in the voice.
    pub element: usize,
    /// Middle of the stem.
    pub stem_x: f32,
    /// Where the stem begins, at the head farthest from its tip.
    pub root: f32,
    /// Middle of the head nearest to the tip.
    pub near: f32,
    /// Where the stem ends if no beam moves it; `None` for a whole note.
    pub tip: Option<f32>,
    /// Flags, if no beam replaces them.
    pub flags: u8,
    /// The stem must leave this free on its way: ink about the stem.
    pub clear: f32,
    /// Signs outside of the stem's tip, nearest first.
    pub signs: Vec<(Glyph, Role)>,
    /// Middle of the head on the stem's own side, for the signs.
    pub head_x: f32,
    /// The slot of its first stroke.
    pub source: Option<Source>,
}

/// Whether the element stands under a beam of level 1.
fn beamed(line: &VoiceLine) -> Vec<bool> {
    let mut under = vec![false; line.elements.len()];
    for beam in line
        .beams
        .iter()
        .filter(|b| b.level == 1 && b.first < b.last)
    {
        for (i, slot) in under[beam.first..=beam.last].iter_mut().enumerate() {
            let notes = matches!(line.elements[beam.first + i].kind, Kind::Notes(_));
            *slot = *slot || notes;
        }
    }
    under
}

/// Whether a voice prints anything in this bar.
pub fn speaks(line: &VoiceLine) -> bool {
    line.elements
        .iter()
        .any(|e| !matches!(e.kind, Kind::Rest { hidden: true, .. }))
}

/// The columns of a bar in order of time, and where each element stands.
pub fn columns(bar: &WrittenBar, hat: &mut HatState) -> (Vec<Column>, [Vec<usize>; 2]) {
    let lines = [&bar.hands, &bar.feet];
    let mut times: Vec<Beats> = lines
        .iter()
        .flat_map(|line| line.elements.iter().map(|e| e.at))
        .chain(bar.under.iter().map(|u| u.at))
        .chain(bar.marks.iter().map(|m| m.at))
        .collect();
    times.sort_unstable();
    times.dedup();
    let mut places = [Vec::new(), Vec::new()];
    for (line, places) in lines.iter().zip(&mut places) {
        // Elements are in order of time: one walk finds all.
        let mut from = 0;
        for element in &line.elements {
            from += times[from..].partition_point(|t| *t < element.at);
            places.push(from);
        }
    }
    let both = speaks(lines[HANDS]) && speaks(lines[FEET]);
    let under_beam = [beamed(lines[HANDS]), beamed(lines[FEET])];
    let mut here: Vec<[Vec<usize>; 2]> = vec![Default::default(); times.len()];
    for (voice, places) in places.iter().enumerate() {
        for (element, column) in places.iter().enumerate() {
            here[*column][voice].push(element);
        }
    }
    let columns = times
        .into_iter()
        .zip(here)
        .map(|(at, here)| {
            let of = |voice: usize| {
                let first = here[voice].first().copied();
                first.map(|i| (i, &lines[voice].elements[i], under_beam[voice][i]))
            };
            column(at, [of(HANDS), of(FEET)], both, hat)
        })
        .collect();
    (columns, places)
}

type ElementHere<'a> = Option<(usize, &'a Element, bool)>;

fn column(at: Beats, here: [ElementHere; 2], both: bool, hat: &mut HatState) -> Column {
    let strokes = |voice: usize| -> Option<(&Element, &[WrittenStroke])> {
        match here[voice] {
            Some((_, e, _)) => match &e.kind {
                Kind::Notes(strokes) if !strokes.is_empty() => Some((e, strokes)),
                _ => None,
            },
            None => None,
        }
    };
    let mut items = Vec::new();
    let mut sources: Vec<Source> = Vec::new();
    let halvings = |voice: usize| strokes(voice).map_or(2, |(e, _)| e.value.halvings());
    let placed = [HANDS, FEET].map(|voice| {
        strokes(voice).map_or_else(Vec::new, |(_, s)| heads::place(s, halvings(voice), voice))
    });
    let placed = heads::apart(placed);
    for stroke in [HANDS, FEET]
        .iter()
        .filter_map(|v| strokes(*v))
        .flat_map(|(_, s)| s)
    {
        if let Some(source) = stroke.source.filter(|s| !sources.contains(s)) {
            sources.push(source);
        }
    }
    for voice in &placed {
        items.extend(voice.iter().map(Placed::item));
    }
    let ledgers = heads::ledgers(placed.iter().flatten());
    heads::parentheses(&placed, &mut items);
    for (voice, placed) in placed.iter().enumerate() {
        let dots = strokes(voice).map_or(0, |(e, _)| e.dots);
        heads::dots(placed, dots, &mut items);
    }
    let notes = [HANDS, FEET].map(|voice| {
        let (element, e, beamed) = here[voice]?;
        let (_, strokes) = strokes(voice)?;
        let signs = signs(strokes, hat);
        note(voice, element, e, beamed, &placed[voice], signs, &mut items)
    });
    items.splice(0..0, ledgers);
    for voice in [HANDS, FEET] {
        if let Some((_, e, _)) = here[voice] {
            rest(voice, e, both, &mut items);
        }
    }
    grace::notes(&placed, &mut items);
    let mut column = Column {
        at,
        items,
        reach: None,
        edge: None,
        notes,
        sources,
    };
    column.measure();
    column
}

impl Column {
    /// Finds the edges of all ink, flags and signs included.
    fn measure(&mut self) {
        let ink = self.items.iter().map(|i| i.bounds).reduce(Bounds::with);
        self.edge = ink.map(|b| (b.top, b.bottom));
        let mut wide = ink;
        let mut add = |b: Bounds| wide = Some(wide.map_or(b, |w| w.with(b)));
        for (voice, note) in self.notes.iter().enumerate() {
            let Some(note) = note else { continue };
            if let (Some(tip), 1..) = (note.tip, note.flags) {
                add(flag_box(voice, note, tip));
            }
            for (glyph, _) in &note.signs {
                add(metrics::glyph_at(*glyph, note.head_x, note.near, 1.0));
            }
            // Beams end at the stems' outer edges.
            add(Bounds {
                left: note.stem_x - STEM / 2.0,
                right: note.stem_x + STEM / 2.0,
                top: note.near,
                bottom: note.near,
            });
        }
        self.reach = wide.map(|b| ((-b.left).max(0.0), b.right.max(0.0)));
    }
}

/// The glyph of the flags of a voice.
pub fn flag_glyph(voice: usize, flags: u8) -> Glyph {
    if voice == HANDS {
        Glyph::FlagsUp(flags.min(8))
    } else {
        Glyph::FlagsDown(flags.min(8))
    }
}

fn flag_box(voice: usize, note: &NoteHere, tip: f32) -> Bounds {
    metrics::glyph_at(
        flag_glyph(voice, note.flags),
        note.stem_x - STEM / 2.0,
        tip,
        1.0,
    )
}

/// Stem, flags and buzz of a voice's note.
fn note(
    voice: usize,
    element: usize,
    e: &Element,
    beamed: bool,
    placed: &[Placed],
    signs: Vec<(Glyph, Role)>,
    items: &mut Vec<Item>,
) -> Option<NoteHere> {
    let up = voice == HANDS;
    let dir = if up { -1.0 } else { 1.0 };
    let ys = placed.iter().map(|p| p.y);
    let (low, high) = ys.fold((f32::MIN, f32::MAX), |(l, h), y| (l.max(y), h.min(y)));
    let (far, near) = if up { (low, high) } else { (high, low) };
    let root_head = placed.iter().find(|p| p.y == far)?;
    let root = far + dir * metrics::stem_leaves(root_head.glyph, up);
    let main = placed.iter().find(|p| !p.displaced)?;
    let stemmed = e.value.halvings() > 0;
    let stem_x = if stemmed { main.stem_x(up) } else { main.x };
    let source = placed.iter().find_map(|p| p.stroke.source);
    // Ink that the stem's free part must pass, and that flags must keep off.
    let mut clear = near + dir * 0.5;
    if placed.iter().any(|p| p.stroke.stroke.buzz) {
        let y = near + dir * 1.25;
        items.push(sign(Glyph::Buzz, stem_x, y, 1.0, Role::Buzz, source));
        let z = metrics::glyph(Glyph::Buzz);
        clear = y + if up { z.top } else { z.bottom };
    }
    let flags = if beamed { 0 } else { e.value.flags() };
    let tip = stemmed.then(|| {
        let mut length = STEM_LENGTH.max((clear - near).abs() + 1.0);
        if flags > 0 {
            let b = metrics::glyph(flag_glyph(voice, flags));
            let (inward, right) = (if up { b.bottom } else { -b.top }, b.right);
            // Whatever stands right of the stem where the flags hang.
            let reach = stem_x + right + INK_GAP / 2.0;
            let in_way = items.iter().map(|i| i.bounds).filter(|i| {
                i.right > stem_x && i.left < reach && if up { i.top < far } else { i.bottom > far }
            });
            let edge = if up {
                in_way.map(|i| i.top).fold(clear, f32::min)
            } else {
                in_way.map(|i| i.bottom).fold(clear, f32::max)
            };
            length = length.max((edge - near) * dir + inward + 0.15);
        }
        near + dir * length
    });
    Some(NoteHere {
        element,
        stem_x,
        root,
        near,
        tip,
        flags: if stemmed { flags } else { 0 },
        clear,
        signs,
        head_x: main.x,
        source,
    })
}

/// A rest that has its own moment: in the middle if its voice is alone, else out
/// of the other voice's way.
fn rest(voice: usize, e: &Element, both: bool, items: &mut Vec<Item>) {
    let Kind::Rest {
        hidden: false,
        whole_bar: false,
    } = e.kind
    else {
        return;
    };
    let glyph = Glyph::Rest(e.value.halvings());
    let b = metrics::glyph(glyph);
    let x = -(b.left + b.right) / 2.0;
    let middle = 2.0;
    // Whole spaces only: rests hang on lines, and their dots stand in spaces.
    let mut y = match (both, voice) {
        (false, _) => middle,
        (true, HANDS) => middle - 1.0,
        (true, _) => middle + 2.0,
    };
    let (top, bottom) = items.iter().fold((f32::MAX, f32::MIN), |(t, b), i| {
        (t.min(i.bounds.top), b.max(i.bounds.bottom))
    });
    if voice == HANDS {
        while y + b.bottom > top - 0.2 && !items.is_empty() {
            y -= 1.0;
        }
    } else {
        while y + b.top < bottom + 0.2 && !items.is_empty() {
            y += 1.0;
        }
    }
    items.push(sign(glyph, x, y, 1.0, Role::Rest, None));
    let dot = metrics::glyph(Glyph::Dot);
    for i in 0..e.dots {
        let x = x + b.right + 0.3 - dot.left + f32::from(i) * 0.6;
        items.push(sign(Glyph::Dot, x, y - 0.5, 1.0, Role::Dot, None));
    }
}

/// The item moved sideways.
pub fn shifted(item: Item, dx: f32) -> Item {
    moved(item, 1.0, dx, 0.0)
}
