//! The Gaussian profile filter of ISO 16610-21, with the end correction of ISO 16610-28, on uneven spacing, and the
//! robust Gaussian regression of ISO 16610-31.
//!
//! Both pass `2^−(λc/λ)²` of a wave of length λ and need no points beyond the ends: a straight line (and with
//! [`Order::Parabola`] a parabola) comes out as it went in. Both round edges; conditioning keeps them (`adapt`).
//!
//! The cost is the number of points times that within reach of one: linear on a grid of fixed step.

pub use super::local::{Fit, Order};
use super::local::{Local, Side};
use super::robust::median;
use crate::geometry::Point;

/// Residuals beyond this many medians of their absolute values weigh nothing: three standard deviations of normal
/// noise (ISO 16610-31).
const CUT: f64 = 4.4478;

/// The robust regression ends when the cut changes by less than this share (ISO 16610-31).
pub const SETTLED: f64 = 0.05;

/// The robust regression ends after this many rounds at the latest; it settles within five as a rule.
const ROUNDS: usize = 100;

/// The heights of points in rising order of x after a filter of this cut-off, in millimetres, above zero.
#[must_use]
pub fn gaussian(points: &[Point], cutoff: f64, order: Order) -> Vec<f64> {
    fit_all(points, &Local::new(points, cutoff, order), |_| 1.0)
}

/// Fits at the radii `x`, whatever they are, to points in rising order of x: the filter between its points.
#[must_use]
pub fn fits_at(points: &[Point], cutoff: f64, order: Order, x: &[f64]) -> Vec<Option<Fit>> {
    let local = Local::new(points, cutoff, order);
    x.iter().map(|&x| local.fit_at(x)).collect()
}

/// A robust regression's result.
#[derive(Debug, Clone, PartialEq)]
pub struct Regression {
    /// The height at each point.
    pub heights: Vec<f64>,
    /// How much each point counted in the end, zero to one.
    pub weights: Vec<f64>,
    /// Residuals from here on count nothing, millimetres.
    pub cut: f64,
}

/// Robust Gaussian regression (ISO 16610-31): the filter again and again, each point weighed by the biweight of its
/// residual (Beaton and Tukey 1974), until the cut changes by less than the share `settled`.
#[must_use]
pub fn robust(points: &[Point], cutoff: f64, order: Order, settled: f64) -> Regression {
    let local = Local::new(points, cutoff, order);
    let mut heights = fit_all(points, &local, |_| 1.0);
    let mut weights = vec![1.0; points.len()];
    let mut cut = f64::INFINITY;
    for _ in 0..ROUNDS {
        let next =
            CUT * median(&mut residuals(points, &heights).map(f64::abs).collect::<Vec<_>>()).unwrap_or(0.0);
        if next <= 0.0 || (cut - next).abs() < settled * next {
            break;
        }
        cut = next;
        weights = residuals(points, &heights).map(|r| biweight(r / cut)).collect();
        heights = fit_all(points, &local, |j| weights.get(j).copied().unwrap_or(0.0));
    }
    Regression { heights, weights, cut }
}

/// The biweight: one in the middle, nothing from 1 outward.
fn biweight(u: f64) -> f64 {
    let inside = (1.0 - u * u).max(0.0);
    inside * inside
}

fn fit_all(points: &[Point], local: &Local, weight: impl Fn(usize) -> f64) -> Vec<f64> {
    let at = |(i, p): (usize, &Point)| local.fit(i, Side::Both, &weight).map_or(p.z, |f| f.z);
    points.iter().enumerate().map(at).collect()
}

fn residuals<'a>(points: &'a [Point], heights: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
    points.iter().zip(heights).map(|(p, z)| p.z - z)
}
