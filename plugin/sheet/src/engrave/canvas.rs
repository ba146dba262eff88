//! Where one system is drawn: items in staff spaces, and the outline of what
//! stands above and below so far, to put the next thing clear of it.

use super::metrics::{STAFF, glyph_at, text_at};
use crate::{Anchor, Bounds, Face, Glyph, Item, Path, PathStep, Point, Role, Shape, Source};

/// Width of a step of the outline, in staff spaces.
const CELL: f32 = 0.125;

/// The outer edge of ink over a system, upward or downward.
#[derive(Debug, Clone)]
pub struct Skyline {
    up: bool,
    cells: Vec<f32>,
}

impl Skyline {
    fn new(width: f32, up: bool) -> Skyline {
        let count = (width / CELL).ceil().max(0.0) as usize + 2;
        let cells = vec![if up { 0.0 } else { STAFF }; count];
        Skyline { up, cells }
    }

    fn range(&self, left: f32, right: f32) -> std::ops::Range<usize> {
        let last = self.cells.len();
        let from = ((left / CELL).floor().max(0.0) as usize).min(last - 1);
        let to = ((right / CELL).ceil().max(0.0) as usize).clamp(from + 1, last);
        from..to
    }

    /// The outermost ink between two places.
    pub fn over(&self, left: f32, right: f32) -> f32 {
        let cells = self.cells[self.range(left, right)].iter().copied();
        if self.up {
            cells.fold(f32::INFINITY, f32::min)
        } else {
            cells.fold(f32::NEG_INFINITY, f32::max)
        }
    }

    fn add(&mut self, b: Bounds) {
        let range = self.range(b.left, b.right);
        for cell in &mut self.cells[range] {
            *cell = if self.up {
                cell.min(b.top)
            } else {
                cell.max(b.bottom)
            };
        }
    }
}

/// A system being drawn.
#[derive(Debug, Clone)]
pub struct Canvas {
    /// What is drawn, in order of painting.
    pub items: Vec<Item>,
    /// Ink above.
    pub top: Skyline,
    /// Ink below.
    pub bottom: Skyline,
}

impl Canvas {
    /// An empty system of a width.
    pub fn new(width: f32) -> Canvas {
        Canvas {
            items: Vec::new(),
            top: Skyline::new(width, true),
            bottom: Skyline::new(width, false),
        }
    }

    /// Adds an item.
    pub fn put(&mut self, item: Item) {
        self.top.add(item.bounds);
        self.bottom.add(item.bounds);
        self.items.push(item);
    }

    /// Counts an area as taken, without ink of its own.
    pub fn take(&mut self, area: Bounds) {
        self.top.add(area);
        self.bottom.add(area);
    }
}

/// A glyph at a place.
pub fn sign(glyph: Glyph, x: f32, y: f32, scale: f32, role: Role, source: Option<Source>) -> Item {
    Item {
        shape: Shape::Glyph {
            glyph,
            at: Point { x, y },
            space: scale,
        },
        bounds: glyph_at(glyph, x, y, scale),
        role,
        source,
    }
}

/// An upright or level line.
pub fn line(from: (f32, f32), to: (f32, f32), width: f32, role: Role) -> Item {
    let half = width / 2.0;
    // Square ends that do not reach beyond the points: the box grows sideways only.
    let (out_x, out_y) = if from.0 == to.0 {
        (half, 0.0)
    } else {
        (0.0, half)
    };
    Item {
        shape: Shape::Line {
            from: Point {
                x: from.0,
                y: from.1,
            },
            to: Point { x: to.0, y: to.1 },
            width,
        },
        bounds: Bounds {
            left: from.0.min(to.0) - out_x,
            top: from.1.min(to.1) - out_y,
            right: from.0.max(to.0) + out_x,
            bottom: from.1.max(to.1) + out_y,
        },
        role,
        source: None,
    }
}

/// A filled polygon.
pub fn polygon(points: &[(f32, f32)], role: Role) -> Item {
    let mut steps = Vec::with_capacity(points.len() + 1);
    let mut bounds: Option<Bounds> = None;
    for (i, (x, y)) in points.iter().copied().enumerate() {
        let p = Point { x, y };
        steps.push(if i == 0 {
            PathStep::Move(p)
        } else {
            PathStep::Line(p)
        });
        let at = Bounds {
            left: x,
            top: y,
            right: x,
            bottom: y,
        };
        bounds = Some(bounds.map_or(at, |b| b.with(at)));
    }
    steps.push(PathStep::Close);
    Item {
        shape: Shape::Fill(Path(steps)),
        bounds: bounds.unwrap_or_default(),
        role,
        source: None,
    }
}

/// An outlined box; `b` is its outer edge.
pub fn frame(b: Bounds, width: f32, role: Role) -> Item {
    let h = width / 2.0;
    let p = |x, y| Point { x, y };
    Item {
        shape: Shape::Stroke {
            path: Path(vec![
                PathStep::Move(p(b.left + h, b.top + h)),
                PathStep::Line(p(b.right - h, b.top + h)),
                PathStep::Line(p(b.right - h, b.bottom - h)),
                PathStep::Line(p(b.left + h, b.bottom - h)),
                PathStep::Close,
            ]),
            width,
        },
        bounds: b,
        role,
        source: None,
    }
}

/// Words at a place; the text must be printable already.
pub fn words(
    text: &str,
    (x, y): (f32, f32),
    (face, size): (Face, f32),
    anchor: Anchor,
    role: Role,
) -> Item {
    Item {
        shape: Shape::Text {
            text: text.to_owned(),
            at: Point { x, y },
            size,
            face,
            anchor,
        },
        bounds: text_at(text, x, y, size, face, anchor),
        role,
        source: None,
    }
}

/// The item scaled about the origin, then moved.
pub fn moved(mut item: Item, scale: f32, dx: f32, dy: f32) -> Item {
    let go = |p: Point| Point {
        x: p.x * scale + dx,
        y: p.y * scale + dy,
    };
    let follow = |path: &mut Path| {
        for step in &mut path.0 {
            *step = match *step {
                PathStep::Move(p) => PathStep::Move(go(p)),
                PathStep::Line(p) => PathStep::Line(go(p)),
                PathStep::Curve(a, b, p) => PathStep::Curve(go(a), go(b), go(p)),
                PathStep::Close => PathStep::Close,
            };
        }
    };
    match &mut item.shape {
        Shape::Line { from, to, width } => {
            (*from, *to) = (go(*from), go(*to));
            *width *= scale;
        }
        Shape::Fill(path) => follow(path),
        Shape::Stroke { path, width } => {
            follow(path);
            *width *= scale;
        }
        Shape::Glyph { at, space, .. } => {
            *at = go(*at);
            *space *= scale;
        }
        Shape::Text { at, size, .. } => {
            *at = go(*at);
            *size *= scale;
        }
    }
    item.bounds = moved_box(item.bounds, scale, dx, dy);
    item
}

/// The box scaled about the origin, then moved.
pub fn moved_box(b: Bounds, scale: f32, dx: f32, dy: f32) -> Bounds {
    Bounds {
        left: b.left * scale + dx,
        top: b.top * scale + dy,
        right: b.right * scale + dx,
        bottom: b.bottom * scale + dy,
    }
}
