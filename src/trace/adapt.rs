//! The filter that keeps real edges: at every place the widest Gaussian fit that the points do not contradict.
//!
//! Where a straight line under the filter's weights explains the points up to their noise, the result is that of the
//! Gaussian filter, to the bit. Where it does not, an edge would be rounded: then a fit from one side only is tried
//! (split linear fits: `McDonald` and Owen 1986), then half the cut-off and a quarter, from both sides and from one,
//! and the measured point as it stands comes last. Choosing the widest admissible window by its misfit is the idea of
//! Lepski (1991) and of Goldenshluger and Nemirovski (1997).
//!
//! Limit: an edge that rounding would move by less than the noise of a point is not seen, and is rounded by that little.

use super::local::{Fit, Local, Order, Side};
use crate::geometry::Point;

/// A fit is contradicted if its mean squared residual exceeds the noise's by this many of its standard deviations
/// (that of n squares of normal noise is √(2/n) of their mean).
const CONTRADICTED: f64 = 4.0;

/// The windows that are tried, as shares of the cut-off.
const SHARES: [f64; 3] = [1.0, 0.5, 0.25];

/// A place after the filter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Filtered {
    /// The height.
    pub z: f64,
    /// The height that the plain Gaussian filter gives.
    pub plain: f64,
    /// How many points the height rests on.
    pub support: f64,
}

/// Filters points in rising order of x; `sigma` is the noise of one point, above zero.
pub(super) fn filter(points: &[Point], cutoff: f64, sigma: f64) -> Vec<Filtered> {
    let windows = SHARES.map(|share| Local::new(points, share * cutoff, Order::Line));
    let agrees = |fit: &Fit, unknowns: f64| {
        // Fewer points than unknowns agree with anything; the fit then is the point itself.
        let free = (fit.effective - unknowns).max(0.0) / fit.effective;
        fit.misfit <= sigma * sigma * (free + CONTRADICTED * (2.0 / fit.effective).sqrt())
    };
    let at = |(i, p): (usize, &Point)| {
        let fit = |local: &Local, side| local.fit(i, side, |_| 1.0).filter(|f| agrees(f, local.unknowns()));
        let [wide, ..] = &windows;
        let plain = wide.fit(i, Side::Both, |_| 1.0);
        let plain_z = plain.map_or(p.z, |f| f.z);
        let chosen = plain.filter(|f| agrees(f, wide.unknowns())).or_else(|| {
            windows.iter().find_map(|local| {
                fit(local, Side::Both).or_else(|| {
                    let sides = [Side::Inner, Side::Outer].into_iter().filter_map(|side| fit(local, side));
                    // A fit of one or two points says nothing about them.
                    sides
                        .filter(|f| f.effective > local.unknowns())
                        .min_by(|a, b| a.misfit.total_cmp(&b.misfit))
                })
            })
        });
        let (z, support) = chosen.map_or((p.z, 1.0), |f| (f.z, f.effective));
        Filtered { z, plain: plain_z, support }
    };
    points.iter().enumerate().map(at).collect()
}
