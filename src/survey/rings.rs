//! How the wheel is bent at a row of radii inside the zones, and how well the turn is known there.

use crate::face::model::WheelModel;
use crate::face::round::Round;
use crate::job::Job;

/// From one radius to the next, millimetres: bend and tilt change by micrometres over it.
const STEP: f64 = 1.0;

/// The turn at one radius, all in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ring {
    pub r: f64,
    /// Highest less lowest place along the axis, with the tilt and the eccentricity taken off.
    pub bend: f64,
    /// How far highest and lowest place may be off.
    pub uncertainty: f64,
}

/// The turn at radii a millimetre apart inside the zones, with the zones' ends.
pub(super) fn rings(job: &Job, model: &WheelModel) -> Vec<Ring> {
    let round = model.round();
    let mut all = Vec::new();
    for zone in &job.zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        let mut r = from;
        while r < to {
            all.push(ring(&round, r));
            r += STEP;
        }
        all.push(ring(&round, to));
    }
    all
}

fn ring(round: &Round<'_>, r: f64) -> Ring {
    Ring { r, bend: round.bend_at(r), uncertainty: round.at(r).uncertainty }
}

/// The ring with the largest value of something.
pub(super) fn worst(rings: &[Ring], of: fn(&Ring) -> f64) -> Option<Ring> {
    rings.iter().copied().max_by(|a, b| of(a).total_cmp(&of(b)))
}
