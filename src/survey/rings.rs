//! How the wheel runs at a row of radii inside the zones: run-out, bend, and how well both are known.
//!
//! Run-out is highest less lowest place of one turn at a radius (ISO 1101, circular axial run-out). Where the face slopes it is told
//! across the face: on a wall an eccentric wheel differs by much along the axis and by little in metal.

use crate::face::model::WheelModel;
use crate::face::round::Round;
use crate::job::Job;

/// From one radius to the next, millimetres: bend and tilt change by micrometres over it.
const STEP: f64 = 1.0;

/// The turn at one radius, all in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ring {
    pub r: f64,
    /// Highest less lowest place, across the face.
    pub run_out: f64,
    /// The same along the axis with the tilt and the eccentricity taken off.
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
            all.push(ring(model, &round, r));
            r += STEP;
        }
        all.push(ring(model, &round, to));
    }
    all
}

fn ring(model: &WheelModel, round: &Round<'_>, r: f64) -> Ring {
    let turn = round.at(r);
    let step = model.grid.step;
    let slope = (model.face_at(r + step) - model.face_at(r - step)) / (2.0 * step);
    let run_out = (turn.highest - turn.lowest) / slope.hypot(1.0);
    Ring { r, run_out, bend: round.bend_at(r), uncertainty: turn.uncertainty }
}

/// The ring with the largest value of something.
pub(super) fn worst(rings: &[Ring], of: fn(&Ring) -> f64) -> Option<Ring> {
    rings.iter().copied().max_by(|a, b| of(a).total_cmp(&of(b)))
}
