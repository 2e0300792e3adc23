//! The floor of a dent: its depth with the readings' own noise quieted.
//!
//! The conditioning keeps edges, so where metal is torn its fits are narrow and leave more noise than elsewhere, and
//! the deepest of many noisy readings lies deeper than the metal. A Gaussian filter of a quarter of the trace's
//! cut-off (ISO 16610-21) quiets them; of a furrow of 1.3 mm it takes 2 % at a cut-off of 0.8 mm.

use crate::geometry::Point;
use crate::trace::filter::{Order, gaussian};

/// The share of the trace's cut-off at which the floor is filtered.
const SHARE: f64 = 0.25;
/// The filter reaches this many of its cut-offs to each side; beyond it nothing enters a dent.
const REACH: f64 = 2.0;

/// Depths over the radii `x`, in the stretch `from..=to` of indices, filtered.
#[must_use]
pub fn floor(x: &[f64], depth: &[f64], from: usize, to: usize, cutoff: f64) -> Vec<f64> {
    let cutoff = SHARE * cutoff;
    let (Some(&a), Some(&b)) = (x.get(from), x.get(to)) else { return Vec::new() };
    let start = x.partition_point(|&r| r < a - REACH * cutoff);
    let end = x.partition_point(|&r| r <= b + REACH * cutoff);
    let known = (start..end).filter(|&i| depth[i].is_finite());
    let (index, points): (Vec<usize>, Vec<Point>) = known.map(|i| (i, Point::new(x[i], depth[i]))).unzip();
    let mut out = depth[from..=to].to_vec();
    if points.len() < 2 {
        return out;
    }
    let filtered = gaussian(&points, cutoff, Order::Line);
    for (i, f) in index.into_iter().zip(filtered).filter(|(i, _)| (from..=to).contains(i)) {
        out[i - from] = f;
    }
    out
}
