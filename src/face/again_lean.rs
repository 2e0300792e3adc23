//! A tool that wore and a wheel that was seated anew, told apart where the lines can.
//!
//! An edge that wears takes less toward the end of its cut, all round. A wheel that sits otherwise than before leans: along a line at the angle
//! θ its metal stands higher by a slope times the radius times `cos(θ − τ)`. Lines well spread round the wheel show which it is, for a lean
//! has two sides; one line, or two that do not lie opposite, show the same for both. There metal that was not cut may tell, where the lines cross
//! some on both sides of the zones: a tool does not move it.

use super::again::{Known, Measured, STAYED};
use super::again_bins::Bin;
use super::again_fit::robust;
use crate::numeric::cholesky::{Symmetric, dot};

/// Lines whose leans take more than this of what is the same on all of them do not tell the two apart. Three lines a third of a turn apart
/// leave all of it, three a quarter of a turn apart two thirds, two that are not opposite nothing.
const SPREAD: f64 = 0.3;
/// Uncut metal tells of a lean where it lies at least this share of the zones' width apart.
const LEVER: f64 = 1.0;
/// What is added to each sum of squares, for each line.
const HELD: f64 = 1e-9;
/// So many standard errors are plain.
const PLAIN: f64 = 2.0;

/// What grows with the radius, and may be a lean of the wheel as well as the tool's doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lean {
    /// How far metal that was not cut leans over the width of the zones, outward higher above nothing, millimetres; none where the lines do not cross
    /// enough of it on both sides.
    pub uncut: Option<Known>,
}

impl Lean {
    /// The doubt whether a part that grows outward is the tool's or the wheel's; none where the lines, or metal that was not cut, tell.
    pub(super) fn may_be(measured: &Measured<'_>, uncut: &[&Bin], outward: Known) -> Option<Self> {
        let size = outward.value.abs();
        let angles: Vec<f64> = measured.lines.iter().map(|l| l.at).collect();
        if size <= STAYED.max(PLAIN * outward.error) || spread(&angles) > SPREAD {
            return None;
        }
        let uncut = lean_of(measured, uncut);
        let stands = |k: &Known| k.value.abs() + PLAIN * k.error < size / 2.0;
        (!uncut.as_ref().is_some_and(stands)).then_some(Self { uncut })
    }
}

/// The share, from 0 to 1, of what is the same on all lines that no lean can look like: what a fit by a cosine and a sine of their angles leaves of one.
fn spread(angles: &[f64]) -> f64 {
    let n = angles.len().max(1) as f64;
    let (mut normal, mut right) = (Symmetric::zeros(2), vec![0.0; 2]);
    for angle in angles {
        let row = [angle.cos(), angle.sin()];
        normal.add_outer(1.0, &row);
        right.iter_mut().zip(row).for_each(|(sum, x)| *sum += x);
    }
    normal.mirror();
    // A little beside the sums of squares keeps lines that all lie on one diameter solvable.
    (0..2).for_each(|i| normal.add_diagonal(i, HELD * n));
    let explained = normal.factor().map_or(0.0, |f| dot(&right, &f.solve(right.clone())));
    (1.0 - explained / n).clamp(0.0, 1.0)
}

/// How far metal that was not cut leans over the width of the zones; none where it lies on one side of them only.
fn lean_of(measured: &Measured<'_>, uncut: &[&Bin]) -> Option<Known> {
    let ends = measured.zones.iter().map(|z| [z.from.as_mm(), z.to.as_mm()]);
    let [from, to] = ends.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])?;
    let (width, middle) = ((to - from).max(1.0), f64::midpoint(from, to));
    let apart =
        uncut.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), bin| (a.min(bin.x), b.max(bin.x)));
    if apart.1 - apart.0 < LEVER * width {
        return None;
    }
    let row = |b: &&Bin| (vec![1.0, (b.x - middle) / width], b.over, b.error.hypot(b.round));
    let solved = robust(&uncut.iter().map(row).collect::<Vec<_>>(), &[])?;
    let error = solved.covariance.get(1, 1).max(0.0).sqrt() * solved.scale;
    Some(Known { value: *solved.values.get(1)?, error })
}

#[cfg(test)]
mod tests {
    use super::*;
    use float_cmp::assert_approx_eq;

    /// Plane trigonometry: of 1 at angles 0, 90 and 180 degrees a sine takes a third; opposite lines cancel; two others are both met.
    #[test]
    fn lines_are_spread_as_far_as_no_lean_looks_like_the_same_on_all() {
        let of = |degrees: &[f64]| spread(&degrees.iter().map(|d| d.to_radians()).collect::<Vec<_>>());
        for (degrees, expected) in [
            (&[40.0][..], 0.0),
            (&[0.0, 120.0], 0.0),
            (&[0.0, 90.0], 0.0),
            (&[10.0, 190.0], 1.0),
            (&[0.0, 120.0, 240.0], 1.0),
            (&[0.0, 90.0, 180.0], 2.0 / 3.0),
            (&[77.0, 167.0, 257.0, 347.0], 1.0),
        ] {
            assert_approx_eq!(f64, of(degrees), expected, epsilon = 1e-6);
        }
    }
}
