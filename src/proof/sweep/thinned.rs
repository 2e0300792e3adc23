//! A curve of depths with no more points than it needs: each is kept only where a straight line past it would leave the others.

use super::DepthAt;

/// Points of a depth curve are left out where a straight line between the others is within this distance, millimetres.
const CURVE_TOLERANCE: f64 = 0.0002;

/// Leaves out points that a straight line from the last one kept passes within [`CURVE_TOLERANCE`] (the range of possible slopes narrows with every point).
pub(super) fn thinned(curve: &[DepthAt]) -> Vec<DepthAt> {
    let mut kept: Vec<DepthAt> = Vec::new();
    let mut open = (f64::NEG_INFINITY, f64::INFINITY);
    for pair in curve.windows(2) {
        let [here, next] = pair else { continue };
        let Some(&base) = kept.last() else {
            kept.push(*here);
            continue;
        };
        let width = here.radius - base.radius;
        if width <= 0.0 {
            continue;
        }
        open.0 = f64::max(open.0, (here.depth - CURVE_TOLERANCE - base.depth) / width);
        open.1 = f64::min(open.1, (here.depth + CURVE_TOLERANCE - base.depth) / width);
        let slope = (next.depth - base.depth) / (next.radius - base.radius);
        if slope < open.0 || slope > open.1 {
            kept.push(*here);
            open = (f64::NEG_INFINITY, f64::INFINITY);
        }
    }
    kept.extend(curve.last().copied());
    kept
}
