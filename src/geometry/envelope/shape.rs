//! The line or half circle that a piece is part of, as a function of x, and where two of them meet.

use crate::geometry::{Arc, Line, Piece, Point, Turn};

/// A line, or the upper or lower half of a circle, as a function of x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Shape {
    /// The line through two points of different x.
    Line { from: Point, to: Point },
    /// Half a circle.
    Arc {
        centre: Point,
        radius: f64,
        /// 1 for the upper half (a cap), −1 for the lower (a cup).
        side: f64,
    },
}

impl Shape {
    /// The shape that a piece, running to larger x, is part of.
    pub fn of(piece: &Piece) -> Self {
        match *piece {
            Piece::Line(Line { from, to }) => Self::Line { from, to },
            Piece::Arc(a) => Self::Arc {
                centre: a.centre,
                radius: a.radius(),
                side: if a.turn == Turn::Clockwise { 1.0 } else { -1.0 },
            },
        }
    }

    /// The upper half of the circle around a point.
    pub const fn cap(centre: Point, radius: f64) -> Self {
        Self::Arc { centre, radius, side: 1.0 }
    }

    /// The height at x; beyond a circle's sides, the height of its centre.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        match *self {
            Self::Line { from, to } => from.z + (to.z - from.z) * ((x - from.x) / (to.x - from.x)),
            Self::Arc { centre, radius, side } => {
                let dx = x - centre.x;
                // (r − dx)(r + dx) is accurate near the circle's sides, where r² − dx² would cancel.
                centre.z + side * ((radius - dx) * (radius + dx)).max(0.0).sqrt()
            }
        }
    }

    /// The slope at x, where the height is z; infinite at a circle's sides.
    pub fn slope(&self, x: f64, z: f64) -> f64 {
        match *self {
            Self::Line { from, to } => (to.z - from.z) / (to.x - from.x),
            Self::Arc { centre, .. } => -(x - centre.x) / (z - centre.z),
        }
    }

    /// The piece of this shape between two of its points.
    pub const fn piece(&self, from: Point, to: Point) -> Piece {
        match *self {
            Self::Line { .. } => Piece::line(from, to),
            Self::Arc { centre, side, .. } => {
                let turn = if side > 0.0 { Turn::Clockwise } else { Turn::CounterClockwise };
                Piece::Arc(Arc { from, to, centre, turn })
            }
        }
    }

    /// The x at which the slope is `slope`; none for a line.
    pub fn with_slope(&self, slope: f64) -> Option<f64> {
        match *self {
            Self::Line { .. } => None,
            Self::Arc { centre, radius, side } => {
                Some(centre.x - side * radius * slope / (1.0 + slope * slope).sqrt())
            }
        }
    }

    /// The x at which two shapes have the same slope, where their difference may have an extreme; there is at most one.
    pub fn same_slope(&self, other: &Self) -> Option<f64> {
        match (*self, *other) {
            (Self::Line { .. }, Self::Line { .. }) => None,
            (Self::Line { from, to }, arc) | (arc, Self::Line { from, to }) => {
                arc.with_slope((to.z - from.z) / (to.x - from.x))
            }
            // The slope of an arc is −t/√(1−t²) with t = (x − centre)/(side·radius): equal slopes have equal t.
            (
                Self::Arc { centre: c1, radius: r1, side: s1 },
                Self::Arc { centre: c2, radius: r2, side: s2 },
            ) => {
                let t = (c2.x - c1.x) / (s1 * r1 - s2 * r2);
                (t.abs() < 1.0).then_some(c1.x + t * s1 * r1)
            }
        }
    }
}

/// Most steps of the search for a crossing: every second step at least halves the bracket, so 100 reduce it to two neighbouring numbers.
const MOST_STEPS: usize = 110;

/// The x at which two shapes cross between `lo` and `hi`, given that one is higher at `lo` and the other at `hi`.
///
/// Two lines, and two caps of one radius (the two commonest pairs), have a closed form. The others are found by
/// regula falsi with the Illinois correction, with a bisection every second step where the bracket shrinks slowly.
/// Evaluating the shapes inside the bracket is accurate; a closed form would
/// extrapolate a line of a tenth of a micrometre over metres.
pub(super) fn crossing(a: &Shape, b: &Shape, lo: f64, hi: f64) -> f64 {
    let gap = |x: f64| b.at(x) - a.at(x);
    if let (
        Shape::Arc { centre: p, radius: r, side: 1.0 },
        Shape::Arc { centre: q, radius: other, side: 1.0 },
    ) = (a, b)
        && r == other
    {
        return caps_meet(*p, *q, *r).clamp(lo, hi);
    }
    let (mut x0, mut x1) = (lo, hi);
    let (mut g0, mut g1) = (gap(x0), gap(x1));
    if g0 == 0.0 || (g0 > 0.0) == (g1 > 0.0) {
        return if g0.abs() <= g1.abs() { lo } else { hi };
    }
    let straight = matches!((a, b), (Shape::Line { .. }, Shape::Line { .. }));
    let mut last_kept_low = None;
    let mut width = x1 - x0;
    for step in 0..MOST_STEPS {
        let mut x = x0 - g0 * ((x1 - x0) / (g1 - g0));
        if step % 2 == 1 {
            if x1 - x0 > 0.5 * width {
                x = f64::midpoint(x0, x1);
            }
            width = x1 - x0;
        }
        if straight {
            return x.clamp(lo, hi);
        }
        if !(x > x0 && x < x1) {
            break;
        }
        let g = gap(x);
        if g == 0.0 {
            return x;
        }
        if (g > 0.0) == (g1 > 0.0) {
            (x1, g1) = (x, g);
            if last_kept_low == Some(true) {
                g0 *= 0.5;
            }
            last_kept_low = Some(true);
        } else {
            (x0, g0) = (x, g);
            if last_kept_low == Some(false) {
                g1 *= 0.5;
            }
            last_kept_low = Some(false);
        }
    }
    if gap(x0).abs() <= gap(x1).abs() { x0 } else { x1 }
}

/// Where the caps of one radius around two points cross: on the perpendicular bisector, upward.
pub(super) fn caps_meet(p: Point, q: Point, r: f64) -> f64 {
    let (p, q) = if p.x <= q.x { (p, q) } else { (q, p) };
    let d = p.distance(q);
    let rise = (r * r - d * d / 4.0).max(0.0).sqrt();
    if d == 0.0 { p.x } else { f64::midpoint(p.x, q.x) - rise * ((q.z - p.z) / d) }
}
