//! Curves of lines and arcs: tool paths and swept surfaces.

use super::{Point, Profile};

/// The sense of an arc, seen with x to the right and z upward.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// Clockwise: from left to right, the arc bulges upward.
    Clockwise,
    /// Counter-clockwise: from left to right, the arc bulges downward.
    CounterClockwise,
}

impl Turn {
    /// The opposite sense.
    #[must_use]
    pub const fn reversed(self) -> Self {
        match self {
            Self::Clockwise => Self::CounterClockwise,
            Self::CounterClockwise => Self::Clockwise,
        }
    }
}

/// A straight line from point to point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Where it starts.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
}

/// An arc of a circle, of less than half a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Where it starts.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// The circle's centre.
    pub centre: Point,
    /// Its sense.
    pub turn: Turn,
}

/// One piece of a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piece {
    /// A straight line.
    Line(Line),
    /// An arc of a circle.
    Arc(Arc),
}

impl Arc {
    /// The circle's radius, as the distance of the start from the centre.
    #[must_use]
    pub fn radius(&self) -> f64 {
        self.from.distance(self.centre)
    }
}

impl Piece {
    /// A straight piece.
    #[must_use]
    pub const fn line(from: Point, to: Point) -> Self {
        Self::Line(Line { from, to })
    }

    /// Where it starts.
    #[must_use]
    pub const fn from(&self) -> Point {
        match self {
            Self::Line(l) => l.from,
            Self::Arc(a) => a.from,
        }
    }

    /// Where it ends.
    #[must_use]
    pub const fn to(&self) -> Point {
        match self {
            Self::Line(l) => l.to,
            Self::Arc(a) => a.to,
        }
    }

    /// The same piece with its ends exchanged.
    #[must_use]
    pub const fn reversed(&self) -> Self {
        match *self {
            Self::Line(Line { from, to }) => Self::Line(Line { from: to, to: from }),
            Self::Arc(Arc { from, to, centre, turn }) => {
                Self::Arc(Arc { from: to, to: from, centre, turn: turn.reversed() })
            }
        }
    }

    /// The piece moved by `dx` and `dz`.
    #[must_use]
    pub const fn shifted(&self, dx: f64, dz: f64) -> Self {
        match *self {
            Self::Line(Line { from, to }) => {
                Self::Line(Line { from: from.shifted(dx, dz), to: to.shifted(dx, dz) })
            }
            Self::Arc(Arc { from, to, centre, turn }) => Self::Arc(Arc {
                from: from.shifted(dx, dz),
                to: to.shifted(dx, dz),
                centre: centre.shifted(dx, dz),
                turn,
            }),
        }
    }

    /// The piece upside down: z becomes −z.
    #[must_use]
    pub fn flipped(&self) -> Self {
        let over = |p: Point| Point::new(p.x, -p.z);
        match *self {
            Self::Line(Line { from, to }) => Self::Line(Line { from: over(from), to: over(to) }),
            Self::Arc(Arc { from, to, centre, turn }) => {
                Self::Arc(Arc { from: over(from), to: over(to), centre: over(centre), turn: turn.reversed() })
            }
        }
    }

    /// The piece mirrored, x becoming −x, with its ends exchanged: a piece that ran to larger x still does.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let across = |p: Point| Point::new(-p.x, p.z);
        match *self {
            Self::Line(Line { from, to }) => Self::Line(Line { from: across(to), to: across(from) }),
            Self::Arc(Arc { from, to, centre, turn }) => {
                Self::Arc(Arc { from: across(to), to: across(from), centre: across(centre), turn })
            }
        }
    }

    /// The height at a radius inside the piece's range, for a piece that is the graph of a function.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        // At its ends a piece has exactly the heights of its end points, however steep it is.
        if x == self.from().x && x == self.to().x {
            return self.from().z.max(self.to().z);
        } else if x == self.from().x {
            return self.from().z;
        } else if x == self.to().x {
            return self.to().z;
        }
        match self {
            Self::Line(Line { from, to }) => from.z + (to.z - from.z) * ((x - from.x) / (to.x - from.x)),
            Self::Arc(a) => {
                let r = a.radius();
                let dx = x - a.centre.x;
                // (r − dx)(r + dx) is accurate near the circle's sides, where r² − dx² would cancel.
                let rise = ((r - dx) * (r + dx)).max(0.0).sqrt();
                let up = (a.turn == Turn::Clockwise) == (a.to.x >= a.from.x);
                if up { a.centre.z + rise } else { a.centre.z - rise }
            }
        }
    }

    /// The slope at a radius inside the piece's own range, for a piece that is the graph of a function; infinite at the side of a circle.
    #[must_use]
    pub fn slope_at(&self, x: f64) -> f64 {
        match self {
            Self::Line(Line { from, to }) => (to.z - from.z) / (to.x - from.x),
            Self::Arc(a) => -(x - a.centre.x) / (self.at(x) - a.centre.z),
        }
    }

    /// The part of a piece that runs to larger x between two radii inside its range.
    #[must_use]
    fn between(&self, start: f64, end: f64) -> Self {
        let place = |x: f64| {
            if x <= self.from().x {
                self.from()
            } else if x >= self.to().x {
                self.to()
            } else {
                Point::new(x, self.at(x))
            }
        };
        match *self {
            Self::Line(_) => Self::line(place(start), place(end)),
            Self::Arc(a) => Self::Arc(Arc { from: place(start), to: place(end), ..a }),
        }
    }

    /// The length along the piece.
    #[must_use]
    pub fn length(&self) -> f64 {
        match self {
            Self::Line(l) => l.from.distance(l.to),
            Self::Arc(a) => {
                let half_chord = a.from.distance(a.to) / 2.0;
                let r = a.radius();
                2.0 * r * (half_chord / r).min(1.0).asin()
            }
        }
    }
}

/// The graph of a continuous function z(x) as lines and arcs, each running to larger x and starting where the one before it ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    pieces: Vec<Piece>,
}

impl Curve {
    /// A curve of pieces that already join and run to larger x; at least one.
    ///
    /// # Panics
    /// In debug builds, if there is no piece, or one does not run to larger x or starts elsewhere than the one before it ends.
    #[must_use]
    pub fn from_pieces(pieces: Vec<Piece>) -> Self {
        debug_assert!(!pieces.is_empty(), "a curve needs a piece");
        debug_assert!(pieces.iter().all(|p| p.to().x > p.from().x), "a piece runs backward");
        debug_assert!(pieces.windows(2).all(|w| w[0].to() == w[1].from()), "pieces do not join");
        Self { pieces }
    }

    /// The pieces from small x to large.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// The smallest x.
    #[must_use]
    pub fn start(&self) -> f64 {
        self.pieces[0].from().x
    }

    /// The largest x.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.pieces[self.pieces.len() - 1].to().x
    }

    /// The height at x; the end heights outside.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        let x = x.clamp(self.start(), self.end());
        let i = self.pieces.partition_point(|p| p.to().x < x).min(self.pieces.len() - 1);
        self.pieces[i].at(x)
    }

    /// The curve moved along the spindle.
    #[must_use]
    pub fn raised(&self, dz: f64) -> Self {
        Self { pieces: self.pieces.iter().map(|p| p.shifted(0.0, dz)).collect() }
    }

    /// The slope at x: where two pieces meet, that of the one to the right; at the end and beyond, that of the last piece.
    #[must_use]
    pub fn slope_at(&self, x: f64) -> f64 {
        let x = x.clamp(self.start(), self.end());
        let i = self.pieces.partition_point(|p| p.to().x <= x).min(self.pieces.len() - 1);
        self.pieces[i].slope_at(x)
    }

    /// The part of the curve between two radii; none where that has no width.
    #[must_use]
    pub fn slice(&self, start: f64, end: f64) -> Option<Self> {
        let first = self.pieces.partition_point(|p| p.to().x <= start);
        let beyond = self.pieces.partition_point(|p| p.from().x < end);
        let inside = self.pieces.get(first..beyond).filter(|p| !p.is_empty() && start < end)?;
        Some(Self { pieces: inside.iter().map(|p| p.between(start, end)).collect() })
    }

    /// The curve upside down: z becomes −z.
    #[must_use]
    pub fn flipped(&self) -> Self {
        Self { pieces: self.pieces.iter().map(Piece::flipped).collect() }
    }

    /// The curve mirrored: x becomes −x.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self { pieces: self.pieces.iter().rev().map(Piece::mirrored).collect() }
    }

    /// Points on the curve: its joints, and on arcs so many that no chord is farther from its arc than `tolerance`.
    #[must_use]
    pub fn chords(&self, tolerance: f64) -> Vec<Point> {
        let mut points = vec![self.pieces[0].from()];
        for piece in &self.pieces {
            if let Piece::Arc(a) = piece {
                // A chord over the angle s leaves its arc by r·(1 − cos(s/2)).
                let r = a.radius();
                let step = 2.0 * (1.0 - tolerance / r).max(0.0).acos();
                let count = (piece.length() / (r * step)).ceil().max(1.0);
                let angle = |p: Point| (p.x - a.centre.x).atan2(p.z - a.centre.z);
                let (start, sweep) = (angle(a.from), piece.length() / r);
                let way = if a.turn == Turn::Clockwise { sweep } else { -sweep };
                let mut i = 1.0;
                while i < count {
                    let phi = start + way * i / count;
                    let p = Point::new(a.centre.x + r * phi.sin(), a.centre.z + r * phi.cos());
                    if points.last().is_some_and(|l| p.x > l.x) && p.x < a.to.x {
                        points.push(p);
                    }
                    i += 1.0;
                }
            }
            points.push(piece.to());
        }
        points
    }
}

impl From<&Profile> for Curve {
    fn from(profile: &Profile) -> Self {
        Self { pieces: profile.points().windows(2).map(|w| Piece::line(w[0], w[1])).collect() }
    }
}
