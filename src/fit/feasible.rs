//! What is feasible: all lines and circles through one start point, as a polygon in a plane of two numbers.
//!
//! Let the start be the origin, m the slope of the tangent there, κ the curvature (positive where
//! the arc bulges upward) and k = κ·√(1 + m²). The circle is `z = m·x − k·(x² + z²)/2`: put in the
//! centre (m, −1)/k and expand. For a circle with k > 0 the points below its upper half lie inside, for
//! k < 0 the points below its lower half lie outside, for k = 0 it is the line, and in all three
//! cases "passes above the point v" reads `m·x − k·|v|²/2 ≥ z`: linear in (m, k). So the circles that pass
//! above some points and below others are a convex polygon, and those that end in a point Q are
//! what a straight line cuts out of it.

use crate::geometry::Point;

/// A tangent's slope at the start and a curvature: one line or circle through the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ArcParameter {
    pub(super) m: f64,
    pub(super) k: f64,
}

impl ArcParameter {
    /// The height of this piece at x, both given from the start; none where its circle ends before.
    pub(super) fn height(&self, x: f64) -> Option<f64> {
        // The root near the start of k·z²/2 + z = m·x − k·x²/2, in the form that loses no digits.
        let right = x * (self.m - self.k * x / 2.0);
        // A line, and to the bit what the root below gives for it.
        if self.k == 0.0 {
            return Some(right);
        }
        let root = 1.0 + 2.0 * self.k * right;
        (root >= 0.0).then(|| 2.0 * right / (1.0 + root.sqrt()))
    }

    /// How far this piece passes a point, given from the start, on a side of it: below zero where it passes on the other.
    pub(super) fn room(&self, v: Point, side: Side) -> f64 {
        let half = half_square(v);
        let above = self.m * v.x - self.k * half - v.z;
        if side == Side::Above { above } else { -above }
    }
}

/// Half the square of a point's distance from the start, |v|²/2.
fn half_square(v: Point) -> f64 {
    0.5 * (v.x * v.x + v.z * v.z)
}

/// On which side of a point a piece must pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Above it or through it.
    Above,
    /// Below it or through it.
    Below,
}

/// The corners of a convex polygon of arc parameters, in order; empty when nothing is left.
#[derive(Debug, Clone, Default)]
pub(super) struct FeasibleArcs {
    corners: Vec<ArcParameter>,
    spare: Vec<ArcParameter>,
}

impl FeasibleArcs {
    /// All arc parameters with slope and curvature in the two ranges.
    pub(super) fn open(&mut self, m: (f64, f64), k: (f64, f64)) {
        self.corners.clear();
        self.corners.push(ArcParameter { m: m.0, k: k.0 });
        self.corners.push(ArcParameter { m: m.1, k: k.0 });
        if k.0 < k.1 {
            self.corners.push(ArcParameter { m: m.1, k: k.1 });
            self.corners.push(ArcParameter { m: m.0, k: k.1 });
        }
    }

    pub(super) fn corners(&self) -> &[ArcParameter] {
        &self.corners
    }

    /// The corners as they were before the last of them went.
    pub(super) fn last(&self) -> &[ArcParameter] {
        if self.corners.is_empty() { &self.spare } else { &self.corners }
    }

    /// The corner that comes nearest to passing a point on a side, and its room.
    pub(super) fn nearest(&self, v: Point, side: Side) -> Option<(ArcParameter, f64)> {
        self.last().iter().map(|r| (*r, r.room(v, side))).max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Keeps the parameters whose arcs pass a point, given from the start, on a side of it. True if the polygon changed.
    pub(super) fn clip(&mut self, v: Point, side: Side) -> bool {
        let half = half_square(v);
        let sign = if side == Side::Above { 1.0 } else { -1.0 };
        let room = |r: &ArcParameter| sign * (r.m * v.x - r.k * half - v.z);
        if self.corners.iter().all(|r| room(r) >= 0.0) {
            return false;
        }
        self.spare.clear();
        let Some(&last) = self.corners.last() else { return false };
        let mut before = (last, room(&last));
        for &r in &self.corners {
            let here = (r, room(&r));
            match (before.1 >= 0.0, here.1 >= 0.0) {
                (true, true) => self.spare.push(r),
                (true, false) => keep(&mut self.spare, crossing(before, here)),
                (false, true) => {
                    keep(&mut self.spare, crossing(before, here));
                    keep(&mut self.spare, r);
                }
                (false, false) => {}
            }
            before = here;
        }
        std::mem::swap(&mut self.corners, &mut self.spare);
        true
    }
}

/// Adds a corner to a polygon unless it is the one added last.
fn keep(corners: &mut Vec<ArcParameter>, corner: ArcParameter) {
    if corners.last() != Some(&corner) {
        corners.push(corner);
    }
}

/// Where the room on an edge is zero, reckoned from the corner with room so that both directions give the same bits.
fn crossing(a: (ArcParameter, f64), b: (ArcParameter, f64)) -> ArcParameter {
    let (with, without) = if a.1 >= 0.0 { (a, b) } else { (b, a) };
    let t = with.1 / (with.1 - without.1);
    ArcParameter { m: with.0.m + t * (without.0.m - with.0.m), k: with.0.k + t * (without.0.k - with.0.k) }
}

/// The range of k among a polygon's parameters whose arcs end in a point, given from the start.
pub(super) fn ending_in(corners: &[ArcParameter], q: Point) -> Option<(f64, f64)> {
    let half = half_square(q);
    let room = |r: &ArcParameter| r.m * q.x - r.k * half - q.z;
    let mut range: Option<(f64, f64)> = None;
    let mut take = |k: f64| {
        range = Some(range.map_or((k, k), |(lo, hi)| (lo.min(k), hi.max(k))));
    };
    let last = corners.last()?;
    let mut before = (*last, room(last));
    for &r in corners {
        let here = (r, room(&r));
        if (before.1 >= 0.0) != (here.1 >= 0.0) {
            take(crossing(before, here).k);
        }
        if here.1 == 0.0 {
            take(here.0.k);
        }
        before = here;
    }
    range
}

/// The slope at the start of the circle with k that ends in a point.
pub(super) fn slope_to(q: Point, k: f64) -> f64 {
    (q.z + k * half_square(q)) / q.x
}

/// The k of the circle that starts with a slope and ends in a point.
pub(super) fn bend_to(q: Point, m: f64) -> f64 {
    2.0 * (m * q.x - q.z) / (q.x * q.x + q.z * q.z)
}

/// The k at which a circle that ends in q passes through v, a point between start and q; none where v bounds nothing.
pub(super) fn bend_through(q: Point, v: Point) -> Option<f64> {
    let share = v.x / q.x;
    let room = share * (q.x * q.x + q.z * q.z) - (v.x * v.x + v.z * v.z);
    (room > 0.0).then(|| 2.0 * (v.z - share * q.z) / room)
}
