//! How well the face is known, as one row of readings that would leave the same waviness.
//!
//! Every line adds its readings to the local parabola that the face is. What noise leaves of waves depends on σ²·δ alone, σ the noise of
//! a reading and δ the distance to the next: lines side by side add as 1/(σ²·δ). Where the parabola is wide little is left, at edges
//! it is narrow and more is left: the parts of the row add up as their crossings do ([`crate::numeric::waviness::Band::expected_over`]).
//!
//! Limits: noise that hangs together from one reading to the next, as texture does, leaves more than is reckoned here.

use super::LineQuality;
use crate::face::model::WheelModel;
use crate::job::Job;
use crate::numeric::waviness::{Noise, RINGS};

/// Half-widths are of one kind where the widest is less than this share above the narrowest: a tenth to either side of the middle one, which
/// stands for all; what they leave above it and under it nearly cancels.
const SAME_WIDTH: f64 = 1.2;

/// Between these half-widths that of the one row is looked for, millimetres: no face is averaged over less or more.
const HALF_WIDTHS: [f64; 2] = [0.05, 50.0];

/// Halvings of that range: to less than a hundredth.
const HALVINGS: usize = 10;

/// The readings of all lines as one row; none where no line has noise, or the zones are too short to hold the longest wave of the band.
///
/// Its half-width is the one that leaves as much waviness, over all zones, as the face's own half-widths do, each where it serves.
pub(super) fn row(job: &Job, lines: &[LineQuality], model: &WheelModel) -> Option<Noise> {
    let spacings = lines.iter().map(|l| l.spacing_mm);
    let worth: f64 = spacings.clone().zip(&model.noise).map(|(d, s)| 1.0 / (s * s * d)).sum();
    let density: f64 = spacings.map(f64::recip).sum();
    if !(worth.is_finite() && worth > 0.0 && density.is_finite() && density > 0.0) {
        return None;
    }
    let (spacing, sigma) = (density.recip(), (density / worth).sqrt());
    let in_zones = |r: &f64| job.zones.iter().any(|z| z.from.as_mm() <= *r && *r <= z.to.as_mm());
    let widths = model.half_width.iter().enumerate().filter(|(i, _)| in_zones(&model.grid.at(*i)));
    let mut widths: Vec<f64> = widths.map(|(_, w)| *w).filter(|w| w.is_finite() && *w > 0.0).collect();
    widths.sort_by(f64::total_cmp);
    let length = widths.len() as f64 * model.grid.step;
    if length < RINGS.long {
        return None;
    }
    let mut parts: Vec<Noise> = Vec::new();
    let mut rest = widths.as_slice();
    while let Some(narrowest) = rest.first() {
        let (kind, wider) = rest.split_at(rest.partition_point(|w| *w <= narrowest * SAME_WIDTH));
        let half_width = kind.get(kind.len() / 2).copied().unwrap_or(*narrowest);
        let length = kind.len() as f64 * model.grid.step;
        parts.push(Noise { sigma, spacing, half_width, length });
        rest = wider;
    }
    let expected = RINGS.expected_over(&parts);
    let row = |half_width| Noise { sigma, spacing, half_width, length };
    let [mut narrow, mut wide] = HALF_WIDTHS;
    for _ in 0..HALVINGS {
        let middle = (narrow * wide).sqrt();
        // Wider windows leave less.
        if RINGS.expected(&row(middle)) > expected { narrow = middle } else { wide = middle }
    }
    Some(row((narrow * wide).sqrt()))
}
