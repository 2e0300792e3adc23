//! Robust statistics: median and spread that a minority of wild values cannot move.

use crate::geometry::Point;

/// The standard deviation of normal values as a multiple of the median of their absolute deviations (Hampel 1974).
pub(super) const SIGMA_PER_MAD: f64 = 1.4826;

/// The median, by selection in linear time; the mean of the two middle values of an even count.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let even = values.len().is_multiple_of(2);
    let (below, &mut upper, _) = values.select_nth_unstable_by(values.len() / 2, f64::total_cmp);
    if even {
        let lower = below.iter().copied().max_by(f64::total_cmp)?;
        return Some(f64::midpoint(lower, upper));
    }
    Some(upper)
}

/// How far a point lies off the straight line between its neighbours, and the factor by which that spreads more than
/// the noise of one point. Interpolating never blows noise up by more than √2.
pub(super) fn off_line(a: Point, b: Point, c: Point) -> (f64, f64) {
    let t = if c.x > a.x { (b.x - a.x) / (c.x - a.x) } else { 0.5 };
    (b.z - (a.z + (c.z - a.z) * t), (1.0 + t * t + (1.0 - t) * (1.0 - t)).sqrt())
}

/// The noise of single points, from how far each lies off the line between its neighbours: shape falls out, and fewer
/// than half of the points may be wild. The idea is the difference-based variance of Gasser, Sroka and Jennen-Steinmetz
/// (1986) with the median absolute deviation for the mean square. None for fewer than three points.
pub(super) fn noise(points: &[Point]) -> Option<f64> {
    let mut off: Vec<f64> = points
        .windows(3)
        .map(|w| {
            let (off, factor) = off_line(w[0], w[1], w[2]);
            (off / factor).abs()
        })
        .collect();
    median(&mut off).map(|m| m * SIGMA_PER_MAD)
}
