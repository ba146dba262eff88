//! Closed contours in staff spaces, from which the signs of music are built.

use super::super::{Path, PathStep, Point};

/// How far the handles of a quarter of a circle stand from its ends, in radii.
const ARC: f32 = 0.552_284_8;

/// A closed line, begun at its first point.
#[derive(Debug, Clone)]
pub(super) struct Contour {
    start: Point,
    steps: Vec<PathStep>,
}

/// A place in staff spaces.
pub(super) fn at(x: f32, y: f32) -> Point {
    Point { x, y }
}

impl Contour {
    /// Begins at a point.
    pub(super) fn from(x: f32, y: f32) -> Self {
        Self {
            start: at(x, y),
            steps: Vec::new(),
        }
    }

    /// Corners joined by straight lines.
    pub(super) fn polygon(corners: &[(f32, f32)]) -> Self {
        let mut corners = corners.iter();
        let (x, y) = corners.next().copied().unwrap_or_default();
        corners.fold(Self::from(x, y), |contour, &(x, y)| contour.line(x, y))
    }

    /// An ellipse round the origin, from its half axes.
    pub(super) fn ellipse(across: f32, along: f32) -> Self {
        let (handle_x, handle_y) = (across * ARC, along * ARC);
        Self::from(across, 0.0)
            .curve(across, handle_y, handle_x, along, 0.0, along)
            .curve(-handle_x, along, -across, handle_y, -across, 0.0)
            .curve(-across, -handle_y, -handle_x, -along, 0.0, -along)
            .curve(handle_x, -along, across, -handle_y, across, 0.0)
    }

    /// A straight line.
    pub(super) fn line(mut self, x: f32, y: f32) -> Self {
        self.steps.push(PathStep::Line(at(x, y)));
        self
    }

    /// A curve: two handles, then the end.
    pub(super) fn curve(mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) -> Self {
        self.steps
            .push(PathStep::Curve(at(x1, y1), at(x2, y2), at(x, y)));
        self
    }

    fn map(mut self, f: impl Fn(Point) -> Point) -> Self {
        self.start = f(self.start);
        for step in &mut self.steps {
            *step = map_step(*step, &f);
        }
        self
    }

    /// Turned about the origin, counter-clockwise as seen.
    pub(super) fn turned(self, degrees: f32) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        self.map(|p| at(p.x * cos + p.y * sin, p.y * cos - p.x * sin))
    }

    /// Moved.
    pub(super) fn moved(self, x: f32, y: f32) -> Self {
        self.map(|p| at(p.x + x, p.y + y))
    }

    /// Stretched from the origin; a negative factor mirrors.
    pub(super) fn scaled(self, x: f32, y: f32) -> Self {
        self.map(|p| at(p.x * x, p.y * y))
    }

    /// Twice the area of the polygon of ends and handles; its sign is the
    /// direction. Enough for contours that do not cross themselves.
    fn turn(&self) -> f32 {
        let mut points = vec![self.start];
        for step in &self.steps {
            match *step {
                PathStep::Move(p) | PathStep::Line(p) => points.push(p),
                PathStep::Curve(a, b, p) => points.extend([a, b, p]),
                PathStep::Close => {}
            }
        }
        let next = points.iter().cycle().skip(1);
        points
            .iter()
            .zip(next)
            .map(|(a, b)| a.x * b.y - b.x * a.y)
            .sum()
    }

    fn reversed(self) -> Self {
        let mut ends = vec![self.start];
        ends.extend(self.steps.iter().map(|step| match *step {
            PathStep::Move(p) | PathStep::Line(p) | PathStep::Curve(_, _, p) => p,
            PathStep::Close => self.start,
        }));
        let start = ends.last().copied().unwrap_or(self.start);
        let steps = self.steps.iter().zip(&ends).rev();
        Self {
            start,
            steps: steps
                .map(|(step, &end)| match *step {
                    PathStep::Curve(a, b, _) => PathStep::Curve(b, a, end),
                    _ => PathStep::Line(end),
                })
                .collect(),
        }
    }

    fn directed(self, clockwise: bool) -> Self {
        if (self.turn() > 0.0) == clockwise {
            self
        } else {
            self.reversed()
        }
    }
}

/// A step with every point of it moved.
pub(super) fn map_step(step: PathStep, f: impl Fn(Point) -> Point) -> PathStep {
    match step {
        PathStep::Move(p) => PathStep::Move(f(p)),
        PathStep::Line(p) => PathStep::Line(f(p)),
        PathStep::Curve(a, b, p) => PathStep::Curve(f(a), f(b), f(p)),
        PathStep::Close => PathStep::Close,
    }
}

/// Collects contours: black ones all turn one way and may overlap, holes turn
/// the other way.
#[derive(Debug, Default)]
pub(super) struct Pen(Vec<PathStep>);

impl Pen {
    /// Nothing drawn.
    pub(super) fn new() -> Self {
        Self::default()
    }

    /// Black inside.
    pub(super) fn solid(self, contour: Contour) -> Self {
        self.add(contour.directed(true))
    }

    /// White inside.
    pub(super) fn hole(self, contour: Contour) -> Self {
        self.add(contour.directed(false))
    }

    fn add(mut self, contour: Contour) -> Self {
        self.0.push(PathStep::Move(contour.start));
        self.0.extend(contour.steps);
        self.0.push(PathStep::Close);
        self
    }

    /// What was drawn.
    pub(super) fn path(self) -> Path {
        Path(self.0)
    }
}
