//! A sheet laid out: shapes in millimetres on pages, each with the box it takes
//! and the part it plays. Every output paints this and decides nothing.

use super::Source;
use std::ops::Range;

/// A place on a page in millimetres, from its upper left corner, y downward.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// To the right.
    pub x: f32,
    /// Downward.
    pub y: f32,
}

/// An upright box in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bounds {
    /// Left edge.
    pub left: f32,
    /// Upper edge.
    pub top: f32,
    /// Right edge, at or right of `left`.
    pub right: f32,
    /// Lower edge, at or below `top`.
    pub bottom: f32,
}

/// A whole sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    /// Title, for the file's own data.
    pub title: String,
    /// Pages in order.
    pub pages: Vec<Page>,
    /// Systems in order, over all pages.
    pub systems: Vec<System>,
    /// Where the slots of the form stand, in order of time: for a cursor, and
    /// to find what was clicked.
    pub spots: Vec<Spot>,
}

/// One page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// Width in millimetres.
    pub width: f32,
    /// Height in millimetres.
    pub height: f32,
    /// What is on it, in the order it is painted.
    pub items: Vec<Item>,
}

/// One line of music.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    /// Page, as an index into [`Drawing::pages`].
    pub page: usize,
    /// Everything that belongs to it.
    pub bounds: Bounds,
    /// Upper and lower line of its staff.
    pub staff: (f32, f32),
    /// Bars on it, as indices into [`Written::bars`](super::Written::bars).
    pub bars: Range<usize>,
}

/// Where a moment of the form stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Beats from the start of the form.
    pub beats: f64,
    /// The slot, if a cell has one here.
    pub source: Option<Source>,
    /// System, as an index into [`Drawing::systems`].
    pub system: usize,
    /// Middle of the note head.
    pub x: f32,
}

/// A shape on a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What is painted.
    pub shape: Shape,
    /// The box it takes, ink only.
    pub bounds: Bounds,
    /// What it is.
    pub role: Role,
    /// The slot it was drawn for, if any.
    pub source: Option<Source>,
}

/// What is painted. Lengths in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A straight line with square ends.
    Line {
        /// One end.
        from: Point,
        /// The other.
        to: Point,
        /// Thickness.
        width: f32,
    },
    /// A filled area, even-odd.
    Fill(Path),
    /// An outlined area or a curve.
    Stroke {
        /// What is followed.
        path: Path,
        /// Thickness.
        width: f32,
    },
    /// A sign of music drawn from its outline.
    Glyph {
        /// Which.
        glyph: Glyph,
        /// Its origin; see [`Glyph`].
        at: Point,
        /// Size of a staff space.
        space: f32,
    },
    /// Words. Never wrapped; every sign is one the face has.
    Text {
        /// What is written.
        text: String,
        /// Where the anchor is, on the base line.
        at: Point,
        /// Size of the face's em square.
        size: f32,
        /// Which face.
        face: Face,
        /// Which end of the words is at `at`.
        anchor: Anchor,
    },
}

/// Lines and curves, closed or not.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Path(pub Vec<PathStep>);

/// A step of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PathStep {
    /// Begin elsewhere.
    Move(Point),
    /// A straight line.
    Line(Point),
    /// A cubic Bézier curve: two handles and the end.
    Curve(Point, Point, Point),
    /// Back to where this part began.
    Close,
}

/// A face of the embedded fonts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Face {
    /// Words: tempo, key, running text.
    Serif,
    /// Title, letters, section names, meter is a [`Glyph`].
    SerifBold,
    /// Counts, notes in small type.
    Sans,
    /// Sticking.
    SansBold,
}

/// Which end of the words is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Anchor {
    /// The left end.
    Start,
    /// The middle.
    Middle,
    /// The right end.
    End,
}

/// A sign of music. Origins: note heads and everything that is centred on a
/// note, their middle; rests, the middle of the staff at their left edge; flags,
/// the end of the stem at its left edge; clef and digits, the middle of the
/// staff (of the digit) at the left edge; the rest says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Glyph {
    /// Two upright bars: the clef of unpitched percussion.
    PercussionClef,
    /// Filled oval head.
    HeadFilled,
    /// Open oval head of a half note.
    HeadHalf,
    /// Open oval head of a whole note.
    HeadWhole,
    /// x head.
    HeadCross,
    /// x head for a half note and longer: open.
    HeadCrossOpen,
    /// x in a circle.
    HeadCircledCross,
    /// Filled diamond.
    HeadDiamond,
    /// Open diamond.
    HeadDiamondOpen,
    /// Filled triangle, point up.
    HeadTriangle,
    /// Open triangle.
    HeadTriangleOpen,
    /// Left parenthesis of a ghost note; origin at the middle of its head.
    ParenLeft,
    /// Right parenthesis of a ghost note; origin at the middle of its head.
    ParenRight,
    /// `n` flags on a stem that points up, `1 ..= 8`.
    FlagsUp(u8),
    /// `n` flags on a stem that points down, `1 ..= 8`.
    FlagsDown(u8),
    /// Rest of a value given in halvings of a whole note, `0 ..= 10`.
    Rest(u8),
    /// Augmentation dot.
    Dot,
    /// Accent `>`.
    Accent,
    /// Open hi-hat: a small circle.
    Open,
    /// Half-open hi-hat: a circle with a stroke through it.
    HalfOpen,
    /// Closed hi-hat: a plus.
    Closed,
    /// Choked: a short comma above.
    Choke,
    /// Buzz: a z across the stem.
    Buzz,
    /// Digit of a meter, `0 ..= 9`, two spaces high.
    MeterDigit(u8),
    /// Digit of a tuplet in bold italics, `0 ..= 9`, about one space high.
    TupletDigit(u8),
    /// Colon between the numbers of a tuplet.
    TupletColon,
    /// Slash through the stem of a grace note; origin where it crosses.
    GraceSlash,
}

/// The part an item plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// Title, subtitle.
    Title,
    /// Tempo.
    Tempo,
    /// Which head is which voice.
    Key,
    /// Page number and running title.
    Folio,
    /// A staff line.
    StaffLine,
    /// A ledger line.
    Ledger,
    /// Bar line, thin or thick, and dots of a repeat.
    BarLine,
    /// How often a repeat is played.
    RepeatText,
    /// Clef.
    Clef,
    /// Meter.
    Meter,
    /// Bar number.
    BarNumber,
    /// Section name.
    Section,
    /// A boxed letter: the words and the box. The number is the letter's index.
    Letter(u32),
    /// Note head.
    Head,
    /// Parenthesis of a ghost.
    Paren,
    /// Stem.
    Stem,
    /// Flag.
    Flag,
    /// Beam.
    Beam,
    /// Dot of a note or a rest.
    Dot,
    /// Rest.
    Rest,
    /// Grace note: head, stem, beam, slash.
    Grace,
    /// Slur of a grace note.
    Slur,
    /// Accent.
    Accent,
    /// Sign of an articulation: open, half-open, choke.
    Articulation,
    /// Buzz sign.
    Buzz,
    /// Number of a tuplet.
    TupletNumber,
    /// Bracket of a tuplet.
    TupletBracket,
    /// Count under the staff.
    Count,
    /// Count of a slot without a stroke.
    LightCount,
    /// Sticking under the staff: letters of strokes.
    Sticking,
    /// Sticking under the staff: letters of grace notes.
    GraceSticking,
    /// Running text of a hand-out.
    Words,
    /// A rule or a box of a hand-out.
    Rule,
}

impl Bounds {
    /// Whether two boxes share an area; edges that touch do not.
    pub fn overlaps(self, other: Bounds) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// The box around both.
    #[must_use]
    pub fn with(self, other: Bounds) -> Bounds {
        Bounds {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// Whether another box lies inside, edges included.
    pub fn holds(self, other: Bounds) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && self.right >= other.right
            && self.bottom >= other.bottom
    }
}
