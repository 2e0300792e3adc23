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

/// So many points are weighed before they are summed: a weight is a call, over which the processor keeps no sum at hand.
const BATCH: usize = 32;

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
pub struct Fit {
    /// The fitted height there.
    pub z: f64,
    /// Weighted mean of the squared residuals.
    pub misfit: f64,
    /// How many points of equal weight would weigh as much: (Σw)²/Σw² (Kish 1965).
    pub effective: f64,
    /// The share of them that is left over after settling the fit; none or less if they only just settle it.
    pub free: f64,
    /// Variance of the height as a share of that of one point: what the fit leaves of the noise.
    pub variance: f64,
}

/// A point as a fit uses it.
#[derive(Debug, Clone, Copy, Default)]
struct Weighed {
    /// Distance from the place in widths.
    u: f64,
    /// Height above the place.
    z: f64,
    /// Weight.
    w: f64,
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
        let weighed = self.weighed(i, side)?;
        self.fitted(weighed.map(|(j, p)| Weighed { w: p.w * extra(j), ..p }), here.z)
    }

    /// The fit to weighed points whose heights are counted from `base`.
    fn fitted(&self, weighed: impl Iterator<Item = Weighed>, base: f64) -> Option<Fit> {
        let m = match self.order {
            Order::Line => Moments::of::<1>(weighed),
            Order::Parabola => Moments::of::<2>(weighed),
        };
        let Solved { height, squares, variance } = m.solve(self.order)?;
        let effective = m.s[0] * m.s[0] / m.q[0];
        let free = (1.0 - self.order.unknowns() / effective).max(0.0);
        Some(Fit { z: base + height, misfit: squares / m.s[0], effective, free, variance })
    }

    /// The fit at any x, points on both sides of it; its height is that of the fit. None where nothing weighs.
    pub fn fit_at(&self, x: f64) -> Option<Fit> {
        let reach = self.order.reach() / self.order.alpha() * self.width;
        let from = self.points.partition_point(|p| p.x < x - reach);
        let to = self.points.partition_point(|p| p.x <= x + reach);
        let near = self.points.get(from..to)?;
        // Heights are counted from one of them, which keeps the sums small.
        let base = near.get(near.len() / 2)?.z;
        self.fitted(self.weights(from..to, Point::new(x, base))?.map(|(_, p)| p), base)
    }

    /// The points that a fit at point `i` uses, with their indices.
    fn weighed(&self, i: usize, side: Side) -> Option<impl Iterator<Item = (usize, Weighed)> + '_> {
        let here = *self.points.get(i)?;
        let window = self.windows.get(i)?.clone();
        let range = match side {
            Side::Both => window,
            Side::Inner => window.start..i + 1,
            Side::Outer => i..window.end,
        };
        self.weights(range, here)
    }

    /// The points of a range as a fit at `here` uses them.
    fn weights(
        &self,
        range: Range<usize>,
        here: Point,
    ) -> Option<impl Iterator<Item = (usize, Weighed)> + '_> {
        let points = self.points.get(range.clone())?.iter().zip(self.stretch.get(range.clone())?);
        Some(range.zip(points).map(move |(j, (p, stretch))| {
            let u = (p.x - here.x) / self.width;
            (j, Weighed { u, z: p.z - here.z, w: stretch * (-PI * u * u).exp() })
        }))
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
    /// Σ w·uᵏ.
    s: [f64; 5],
    /// Σ w·z·uᵏ.
    t: [f64; 3],
    /// Σ w²·uᵏ.
    q: [f64; 5],
    /// Σ w·z².
    zz: f64,
}

/// What moments settle at u = 0.
struct Solved {
    height: f64,
    /// Weighted sum of the squared residuals.
    squares: f64,
    variance: f64,
}

impl Moments {
    /// The sums that a polynomial of this degree needs.
    fn of<const DEGREE: usize>(points: impl Iterator<Item = Weighed>) -> Self {
        let mut sums = Self::default();
        let mut points = points.peekable();
        let mut batch = [Weighed::default(); BATCH];
        while points.peek().is_some() {
            let taken = batch.iter_mut().zip(&mut points).map(|(place, p)| *place = p).count();
            batch.iter().take(taken).for_each(|p| sums.add::<DEGREE>(*p));
        }
        sums
    }

    #[inline]
    fn add<const DEGREE: usize>(&mut self, Weighed { u, z, w }: Weighed) {
        let powers = [1.0, u, u * u, u * u * u, u * u * u * u];
        for (k, power) in powers.into_iter().enumerate().take(2 * DEGREE + 1) {
            self.s[k] += w * power;
            self.q[k] += w * w * power;
        }
        for (t, power) in self.t.iter_mut().zip(powers).take(DEGREE + 1) {
            *t += w * z * power;
        }
        self.zz += w * z * z;
    }

    /// The polynomial of the order asked for, or of a lower one where the points do not settle it.
    fn solve(&self, order: Order) -> Option<Solved> {
        let [s0, s1, s2, s3, s4] = self.s;
        if s0 <= 0.0 {
            return None;
        }
        let d = s0 * s2 - s1 * s1;
        if d <= SINGULAR * s0 * s2 {
            return Some(self.with([[1.0 / s0, 0.0, 0.0], [0.0; 3], [0.0; 3]]));
        }
        if order == Order::Parabola {
            // The inverse of the three normal equations by cofactors.
            let (c00, c01, c02) = (s2 * s4 - s3 * s3, s2 * s3 - s1 * s4, s1 * s3 - s2 * s2);
            let (c11, c12) = (s0 * s4 - s2 * s2, s1 * s2 - s0 * s3);
            let det = s0 * c00 + s1 * c01 + s2 * c02;
            if det > SINGULAR * s0 * s2 * s4 {
                let cofactors = [[c00, c01, c02], [c01, c11, c12], [c02, c12, d]];
                return Some(self.with(cofactors.map(|row| row.map(|c| c / det))));
            }
        }
        Some(self.with([[s2 / d, -s1 / d, 0.0], [-s1 / d, s0 / d, 0.0], [0.0; 3]]))
    }

    /// The answer, given the inverse of the normal equations.
    fn with(&self, inverse: [[f64; 3]; 3]) -> Solved {
        let times = |row: [f64; 3]| row.iter().zip(self.t).map(|(a, t)| a * t).sum::<f64>();
        let polynomial = inverse.map(times);
        let explained: f64 = polynomial.iter().zip(self.t).map(|(p, t)| p * t).sum();
        // The height is Σ g·(1, u, u²)·w·z with g the first row: its variance is that of a sum of independent values.
        let g = inverse[0];
        let variance =
            (0..3).flat_map(|a| (0..3).map(move |b| (a, b))).map(|(a, b)| g[a] * g[b] * self.q[a + b]).sum();
        Solved { height: polynomial[0], squares: (self.zz - explained).max(0.0), variance }
    }
}
