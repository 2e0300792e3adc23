//! The depth of a dent as it was before the filter: a filter that quiets noise also fills furrows.
//!
//! Twicing (J. W. Tukey, Exploratory Data Analysis, 1977): what one more pass of the filter takes off
//! is about what the first took off, and is given back. A wave of transmission t comes out with
//! `1 − (1 − t)²`: with a cut-off of 0.8 mm a furrow of 1.3 mm loses 6 % of its depth instead of 24 %.

use crate::geometry::Point;
use crate::trace::filter::{Order, gaussian};

/// The filter reaches this many cut-offs to each side; beyond it nothing enters a dent.
const REACH: f64 = 2.0;

/// Depths over the radii `x`, in the stretch `from..=to` of indices, with the filter's loss given back once.
#[must_use]
pub fn sharpened(x: &[f64], depth: &[f64], from: usize, to: usize, cutoff: f64) -> Vec<f64> {
    let (Some(&a), Some(&b)) = (x.get(from), x.get(to)) else { return Vec::new() };
    let start = x.partition_point(|&r| r < a - REACH * cutoff);
    let end = x.partition_point(|&r| r <= b + REACH * cutoff);
    let known = (start..end).filter(|&i| depth[i].is_finite());
    let (index, points): (Vec<usize>, Vec<Point>) = known.map(|i| (i, Point::new(x[i], depth[i]))).unzip();
    if points.len() < 2 {
        return depth[from..=to].to_vec();
    }
    let again = gaussian(&points, cutoff, Order::Line);
    let mut out = depth[from..=to].to_vec();
    for ((i, p), smoothed) in index.into_iter().zip(points).zip(again) {
        if (from..=to).contains(&i) {
            out[i - from] = 2.0 * p.z - smoothed;
        }
    }
    out
}
