//! Lines and arcs as graphs of functions, and where two of them differ most, in closed form.
//!
//! The difference of two such graphs has at most one place inside where its slope is zero, so its
//! extremes over a range are among the two ends and that place.

use crate::geometry::{Piece, Point, Turn};

/// A line, or the upper or lower half of a circle, as a function of x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Graph {
    /// Through a point with a slope.
    Line { through: Point, slope: f64 },
    /// Half a circle; `side` is 1 for the upper half and −1 for the lower.
    Arc { centre: Point, radius: f64, side: f64 },
}

impl Graph {
    /// The graph that a piece is part of. The piece must run to larger x.
    pub(super) fn of(piece: &Piece) -> Self {
        match piece {
            Piece::Line(l) => {
                Self::Line { through: l.from, slope: (l.to.z - l.from.z) / (l.to.x - l.from.x) }
            }
            Piece::Arc(a) => Self::Arc {
                centre: a.centre,
                radius: a.radius(),
                side: if a.turn == Turn::Clockwise { 1.0 } else { -1.0 },
            },
        }
    }

    /// The height at x.
    pub(super) fn at(&self, x: f64) -> f64 {
        match *self {
            Self::Line { through, slope } => through.z + slope * (x - through.x),
            Self::Arc { centre, radius, side } => {
                let dx = x - centre.x;
                centre.z + side * ((radius - dx) * (radius + dx)).max(0.0).sqrt()
            }
        }
    }

    /// The angle of the tangent at x, running to larger x.
    pub(super) fn heading(&self, x: f64) -> f64 {
        match *self {
            Self::Line { slope, .. } => slope.atan(),
            Self::Arc { centre, radius, side } => -side * ((x - centre.x) / radius).clamp(-1.0, 1.0).asin(),
        }
    }

    /// Where the two graphs have the same slope.
    fn level(&self, other: &Self) -> Option<f64> {
        match (*self, *other) {
            (Self::Line { .. }, Self::Line { .. }) => None,
            (Self::Line { slope, .. }, Self::Arc { centre, radius, side })
            | (Self::Arc { centre, radius, side }, Self::Line { slope, .. }) => {
                Some(centre.x - side * radius * slope / (1.0 + slope * slope).sqrt())
            }
            (
                Self::Arc { centre: c1, radius: r1, side: s1 },
                Self::Arc { centre: c2, radius: r2, side: s2 },
            ) => {
                let (k1, k2) = (s1 / r1, s2 / r2);
                (k1 != k2).then(|| (c1.x * k1 - c2.x * k2) / (k1 - k2))
            }
        }
    }

    /// The largest of `self − other` over a range, and where.
    pub(super) fn most_above(&self, other: &Self, from: f64, to: f64) -> (f64, f64) {
        let mut best = (self.at(from) - other.at(from), from);
        let mut take = |x: f64| {
            let d = self.at(x) - other.at(x);
            if d > best.0 {
                best = (d, x);
            }
        };
        take(to);
        if let Some(x) = self.level(other).filter(|x| *x > from && *x < to) {
            take(x);
        }
        best
    }
}
