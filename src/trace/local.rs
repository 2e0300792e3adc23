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

    /// How many numbers the fit settles.
    const fn unknowns(self) -> f64 {
        match self {
            Self::Line => 2.0,
            Self::Parabola => 3.0,
        }
    }
}

/// Which points a fit may use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// All around.
    Both,
    /// The place itself and what lies inward.
    Inner,
    /// The place itself and what lies outward.
    Outer,
}

/// A fit at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fit {
    /// The fitted height there.
    pub z: f64,
    /// Weighted mean of the squared residuals.
    pub misfit: f64,
    /// How many points of equal weight would weigh as much: (Σw)²/Σw² (Kish 1965).
    pub effective: f64,
}

/// Points with the stretch that each stands for, and the weights to fit with.
pub(super) struct Local<'a> {
    points: &'a [Point],
    stretch: Vec<f64>,
    windows: Vec<Range<usize>>,
    order: Order,
    /// Distance at which the Gaussian weight is e^(−π).
    width: f64,
}

impl<'a> Local<'a> {
    /// For points in rising order of x and a cut-off above zero.
    pub fn new(points: &'a [Point], cutoff: f64, order: Order) -> Self {
        Self {
            points,
            stretch: stretches(points, cutoff * SHARE),
            windows: windows(points, order.reach() * cutoff),
            order,
            width: order.alpha() * cutoff,
        }
    }

    /// The fit at point `i`; `extra` weighs each point beside its Gaussian weight. None where nothing weighs.
    pub fn fit(&self, i: usize, side: Side, extra: impl Fn(usize) -> f64) -> Option<Fit> {
        let here = *self.points.get(i)?;
        let window = self.windows.get(i)?.clone();
        let range = match side {
            Side::Both => window,
            Side::Inner => window.start..i + 1,
            Side::Outer => i..window.end,
        };
        let mut m = Moments::default();
        for (j, (p, stretch)) in
            range.clone().zip(self.points.get(range.clone())?.iter().zip(self.stretch.get(range)?))
        {
            let u = (p.x - here.x) / self.width;
            m.add(u, p.z - here.z, stretch * (-PI * u * u).exp() * extra(j));
        }
        let (height, squares) = m.solve(self.order)?;
        Some(Fit { z: here.z + height, misfit: squares / m.s[0], effective: m.s[0] * m.s[0] / m.squared })
    }

    /// How many numbers a fit settles.
    pub const fn unknowns(&self) -> f64 {
        self.order.unknowns()
    }
}

/// The stretch that each point stands for: half the way to its neighbours, `most` at the most either way.
fn stretches(points: &[Point], most: f64) -> Vec<f64> {
    let steps: Vec<f64> = points.windows(2).map(|w| ((w[1].x - w[0].x) / 2.0).min(most)).collect();
    let step = |i: usize| steps.get(i).copied();
    (0..points.len())
        .map(|i| {
            let (inner, outer) = (i.checked_sub(1).and_then(step), step(i));
            // An end stands for as much outward as inward, so that the sum stays that of an even row.
            match (inner.or(outer), outer.or(inner)) {
                (Some(a), Some(b)) => a + b,
                _ => 1.0,
            }
        })
        .collect()
}

/// The points within reach of each point, in one run of two hands.
fn windows(points: &[Point], reach: f64) -> Vec<Range<usize>> {
    let (mut lo, mut hi) = (0, 0);
    points
        .iter()
        .map(|p| {
            while points.get(lo).is_some_and(|q| q.x < p.x - reach) {
                lo += 1;
            }
            while points.get(hi).is_some_and(|q| q.x <= p.x + reach) {
                hi += 1;
            }
            lo..hi
        })
        .collect()
}

/// Weighted sums of powers of the distance and of the heights.
#[derive(Default)]
struct Moments {
    s: [f64; 5],
    t: [f64; 3],
    zz: f64,
    squared: f64,
}

impl Moments {
    #[inline]
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
        self.zz += wz * z;
        self.squared += w * w;
    }

    /// The height at u = 0 and the weighted sum of squared residuals, by a lower order where the points do not settle
    /// the one asked for.
    fn solve(&self, order: Order) -> Option<(f64, f64)> {
        let [s0, s1, s2, s3, s4] = self.s;
        let [t0, t1, t2] = self.t;
        if s0 <= 0.0 {
            return None;
        }
        let with = |a: f64, explained: f64| Some((a, (self.zz - explained).max(0.0)));
        let d = s0 * s2 - s1 * s1;
        if d <= SINGULAR * s0 * s2 {
            let a = t0 / s0;
            return with(a, a * t0);
        }
        if order == Order::Parabola {
            // Cramer's rule on the three normal equations.
            let c00 = s2 * s4 - s3 * s3;
            let c01 = s2 * s3 - s1 * s4;
            let c02 = s1 * s3 - s2 * s2;
            let c11 = s0 * s4 - s2 * s2;
            let c12 = s1 * s2 - s0 * s3;
            let det = s0 * c00 + s1 * c01 + s2 * c02;
            if det > SINGULAR * s0 * s2 * s4 {
                let a = (t0 * c00 + t1 * c01 + t2 * c02) / det;
                let b = (t0 * c01 + t1 * c11 + t2 * c12) / det;
                let c = (t0 * c02 + t1 * c12 + t2 * d) / det;
                return with(a, a * t0 + b * t1 + c * t2);
            }
        }
        let a = (t0 * s2 - t1 * s1) / d;
        let b = (t1 * s0 - t0 * s1) / d;
        with(a, a * t0 + b * t1)
    }
}
