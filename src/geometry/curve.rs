//! Curves of lines and arcs: tool paths and swept surfaces.

use super::Point;

/// Which way an arc is run through, seen with x to the right and z upward.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// With the hands of a clock: run from left to right, the arc bulges upward.
    Clockwise,
    /// Against the hands of a clock: run from left to right, the arc bulges downward.
    CounterClockwise,
}

impl Turn {
    /// The other way.
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
    /// Which way it runs.
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

    /// The same piece run the other way.
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

    /// The height at a radius inside the piece's own range, for a piece that is the graph of a function.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        match self {
            Self::Line(Line { from, to }) => {
                if to.x == from.x {
                    return from.z.max(to.z);
                }
                from.z + (to.z - from.z) * ((x - from.x) / (to.x - from.x))
            }
            Self::Arc(a) => {
                let r = a.radius();
                let dx = x - a.centre.x;
                let rise = (r * r - dx * dx).max(0.0).sqrt();
                let up = (a.turn == Turn::Clockwise) == (a.to.x >= a.from.x);
                if up { a.centre.z + rise } else { a.centre.z - rise }
            }
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
}
