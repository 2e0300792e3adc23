//! How well the face is known, as one row of readings that would leave the same waviness.
//!
//! Every line adds its readings to the local parabola that the face is. What noise leaves of waves depends on σ²·δ alone, σ the noise of
//! a reading and δ the distance to the next: lines side by side add as 1/(σ²·δ). Where the parabola is wide little is left, at edges
//! it is narrow and more is left.
//!
//! Limits: noise that hangs together from one reading to the next, as texture does, leaves more than is reckoned here.

use super::LineQuality;
use crate::face::model::WheelModel;
use crate::job::Job;
use crate::numeric::waviness::{Noise, RINGS};

/// Two half-widths are of one kind where one is less than this share above the other: the widths that the face chooses from lie further apart.
const SAME_WIDTH: f64 = 1.2;

/// The readings of all lines as one row, with the half-width inside the zones that leaves the most waviness; none where no line has noise.
///
/// Only widths that serve at least the longest wave of the band count: over less no ring of it can be seen.
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
    let kinds = widths.chunk_by(|a, b| *b < a * SAME_WIDTH);
    let rows = kinds.filter_map(|kind| {
        let length = kind.len() as f64 * model.grid.step;
        let half_width = *kind.first()?;
        (length >= RINGS.long).then_some(Noise { sigma, spacing, half_width, length })
    });
    rows.max_by(|a, b| RINGS.expected(a).total_cmp(&RINGS.expected(b)))
}
