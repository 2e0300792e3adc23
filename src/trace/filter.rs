//! The Gaussian profile filter of ISO 16610-21, with the end correction of ISO 16610-28, on uneven spacing.
//!
//! It passes `2^−(λc/λ)²` of a wave of length λ and needs no points beyond the ends: a straight line (and with
//! [`Order::Parabola`] a parabola) comes out as it went in. It rounds edges.

use super::local::Local;
pub use super::local::Order;
use crate::geometry::Point;

/// The heights of points in rising order of x after a filter of this cut-off, in millimetres, above zero.
///
/// The cost is the number of points times that within one cut-off: linear on a grid of fixed step.
#[must_use]
pub fn gaussian(points: &[Point], cutoff: f64, order: Order) -> Vec<f64> {
    let local = Local::new(points, cutoff, order);
    let windows = local.windows();
    points
        .iter()
        .zip(windows)
        .enumerate()
        .map(|(i, (p, window))| local.fit(i, window, |_| 1.0).unwrap_or(p.z))
        .collect()
}
