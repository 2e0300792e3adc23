//! Local regression: a line or a parabola fitted around a place with Gaussian weights.
//!
//! This is the regression form of the Gaussian profile filter: over evenly spaced points far from the ends its
//! straight-line fit is the plain Gaussian mean of ISO 16610-21, and at the ends it needs no correction of its own,
//! since a straight line (or a parabola) is its own best fit there (ISO 16610-28, ISO 16610-31).
//!
//! Points stand for the stretch of radius around them, so a place that was measured densely does not outweigh its
//! surroundings. A fit costs as many steps as points lie within its reach.

use crate::geometry::Point;
use std::f64::consts::PI;
use std::ops::Range;

/// A point stands for at most this share of the cut-off on either side, so that the last point before a gap does not
/// stand for the gap.
const SHARE: f64 = 1.0 / 16.0;

/// A determinant this small against the product of its diagonal means that the points do not settle the polynomial.
const SINGULAR: f64 = 1e-12;

/// What is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// A straight line: the Gaussian filter of ISO 16610-21 away from the ends.
    Line,
    /// A parabola: keeps curvature too.
    Parabola,
}

impl Order {
    /// The width of the weights as a share of the cut-off, which lets half of a wave as long as the cut-off through.
    ///
    /// For a line √(ln 2/π) = 0.4697 (ISO 16610-21). The kernel of a parabola passes `(1 + q)·e^(−q)` with
    /// `q = π·α²·(λc/λ)²`; one half at q = 1.678347, so α = 0.7309 (ISO 16610-31).
    fn alpha(self) -> f64 {
        match self {
            Self::Line => (std::f64::consts::LN_2 / PI).sqrt(),
            Self::Parabola => (1.678_346_990_016_661 / PI).sqrt(),
        }
    }

    /// How far the weights reach, in cut-offs: one for a line. Beyond, they are below 1e-6 of that in the middle.
    fn reach(self) -> f64 {
        self.alpha() / Self::Line.alpha()
    }
}

/// Points with the stretch that each stands for, and the weights to fit with.
pub(super) struct Local<'a> {
    points: &'a [Point],
    stretch: Vec<f64>,
    order: Order,
    /// Distance at which the Gaussian weight is e^(−π).
    width: f64,
    reach: f64,
}

impl<'a> Local<'a> {
    /// For points in rising order of x and a cut-off above zero.
    pub fn new(points: &'a [Point], cutoff: f64, order: Order) -> Self {
        let most = cutoff * SHARE;
        let apart = |a: Option<&Point>, b: Option<&Point>| match (a, b) {
            (Some(a), Some(b)) => ((b.x - a.x) / 2.0).min(most),
            _ => 0.0,
        };
        let stretch = (0..points.len())
            .map(|i| {
                let before = i.checked_sub(1).and_then(|j| points.get(j));
                let inner = apart(before, points.get(i));
                let outer = apart(points.get(i), points.get(i + 1));
                // An end stands for as much outward as inward, so that the sum stays that of an even row.
                if inner == 0.0 {
                    2.0 * outer
                } else if outer == 0.0 {
                    2.0 * inner
                } else {
                    inner + outer
                }
            })
            .collect();
        Self { points, stretch, order, width: order.alpha() * cutoff, reach: order.reach() * cutoff }
    }

    /// The points that a fit at each point uses, in one run of two hands.
    pub fn windows(&self) -> Vec<Range<usize>> {
        let (mut lo, mut hi) = (0, 0);
        self.points
            .iter()
            .map(|p| {
                while self.points.get(lo).is_some_and(|q| q.x < p.x - self.reach) {
                    lo += 1;
                }
                while self.points.get(hi).is_some_and(|q| q.x <= p.x + self.reach) {
                    hi += 1;
                }
                lo..hi
            })
            .collect()
    }

    /// The fit at point `i` over its window; `extra` weighs each point beside its Gaussian weight.
    pub fn fit(&self, i: usize, window: Range<usize>, extra: impl Fn(usize) -> f64) -> Option<f64> {
        let here = *self.points.get(i)?;
        let mut m = Moments::default();
        for j in window {
            let (Some(p), Some(stretch)) = (self.points.get(j), self.stretch.get(j)) else { continue };
            let u = (p.x - here.x) / self.width;
            m.add(u, p.z - here.z, stretch * (-PI * u * u).exp() * extra(j));
        }
        Some(here.z + m.solve(self.order)?)
    }
}

/// Weighted sums of powers of the distance and of the heights.
#[derive(Default)]
struct Moments {
    s: [f64; 5],
    t: [f64; 3],
}

impl Moments {
    fn add(&mut self, u: f64, z: f64, w: f64) {
        let (u2, wz) = (u * u, w * z);
        self.s[0] += w;
        self.s[1] += w * u;
        self.s[2] += w * u2;
        self.s[3] += w * u2 * u;
        self.s[4] += w * u2 * u2;
        self.t[0] += wz;
        self.t[1] += wz * u;
        self.t[2] += wz * u2;
    }

    /// The height at u = 0; by a lower order where the points do not settle the one asked for.
    fn solve(&self, order: Order) -> Option<f64> {
        let [s0, s1, s2, s3, s4] = self.s;
        let [t0, t1, t2] = self.t;
        if s0 <= 0.0 {
            return None;
        }
        let d = s0 * s2 - s1 * s1;
        if d <= SINGULAR * s0 * s2 {
            return Some(t0 / s0);
        }
        if order == Order::Parabola {
            // Cramer's rule on the three normal equations.
            let c00 = s2 * s4 - s3 * s3;
            let c01 = s1 * s4 - s2 * s3;
            let c02 = s1 * s3 - s2 * s2;
            let det = s0 * c00 - s1 * c01 + s2 * c02;
            if det > SINGULAR * s0 * s2 * s4 {
                return Some((t0 * c00 - t1 * c01 + t2 * c02) / det);
            }
        }
        Some((t0 * s2 - t1 * s1) / d)
    }
}
