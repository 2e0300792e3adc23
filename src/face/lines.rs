//! The measured lines on one common set of radii.
//!
//! The set is the union of the lines' own radii: no vertex of any line is lost, and lines that
//! share one grid keep exactly that grid.

use crate::geometry::{Point, Profile};
use crate::scan::Trace;

/// Heights of every line at every radius.
#[derive(Debug, Clone, PartialEq)]
pub struct Lines {
    /// Radii, rising, millimetres.
    pub x: Vec<f64>,
    /// Angle of the wheel for each line, radians.
    pub angle: Vec<f64>,
    /// Heights, one row a line; not a number where the line does not reach.
    pub z: Vec<Vec<f64>>,
    /// The places of every line that its heights were filtered from, radii rising.
    pub places: Vec<Vec<Point>>,
    /// Noise of one such place in every line, standard deviation, millimetres.
    pub noise: Vec<f64>,
}

/// Radii nearer than this are one: far below any sensor's step, far above rounding.
const SAME_RADIUS: f64 = 1e-6;

/// Lines nearer than this count as measured at one angle: a hand-turned wheel stands no truer.
const SAME_ANGLE: f64 = 1.0_f64.to_radians();

impl Lines {
    /// The lines at the union of their radii and the `extra` radii that lie between their ends.
    #[must_use]
    pub fn new(traces: &[Trace], extra: impl Iterator<Item = f64>) -> Self {
        let mut x: Vec<f64> = traces.iter().flat_map(|t| t.profile.points().iter().map(|p| p.x)).collect();
        let start = x.iter().copied().fold(f64::INFINITY, f64::min);
        let end = x.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        x.extend(extra.filter(|&x| x > start && x < end));
        x.sort_by(f64::total_cmp);
        x.dedup_by(|b, a| *b - *a < SAME_RADIUS);
        let row = |t: &Trace| x.iter().map(|&x| height_where_reached(&t.profile, x)).collect();
        Self {
            angle: traces.iter().map(|t| t.at.as_rad()).collect(),
            z: traces.iter().map(row).collect(),
            places: traces.iter().map(|t| t.places.clone()).collect(),
            noise: traces.iter().map(|t| t.noise).collect(),
            x,
        }
    }

    /// The number of lines.
    #[must_use]
    pub fn count(&self) -> usize {
        self.z.len()
    }

    /// The number of lines at different angles, and the widest angle between neighbours (a whole turn for one line).
    #[must_use]
    pub fn spread(&self) -> (usize, f64) {
        use std::f64::consts::TAU;
        let mut angles: Vec<f64> = self.angle.iter().map(|a| a.rem_euclid(TAU)).collect();
        angles.sort_by(f64::total_cmp);
        let Some(&first) = angles.first() else { return (0, TAU) };
        let next = angles.iter().skip(1).copied().chain([first + TAU]);
        let gaps: Vec<f64> = angles.iter().zip(next).map(|(a, b)| b - a).collect();
        let distinct = gaps.iter().filter(|&&g| g > SAME_ANGLE).count().max(1);
        (distinct, gaps.into_iter().fold(0.0, f64::max))
    }
}

fn height_where_reached(p: &Profile, x: f64) -> f64 {
    if x < p.start() - SAME_RADIUS || x > p.end() + SAME_RADIUS { f64::NAN } else { p.at(x) }
}

/// The median of the numbers that are numbers; none if there are none. Reorders the slice.
pub fn median(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Some(upper);
    }
    Some(f64::midpoint(below.iter().copied().fold(f64::NEG_INFINITY, f64::max), upper))
}

/// From the median of absolute values to the standard deviation of a normal distribution: 1 / Φ⁻¹(3/4).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;
