//! How the wheel runs at a row of radii inside the zones: run-out, bend, and how well both are known.
//!
//! Run-out is highest less lowest place of one turn at a radius (ISO 1101, circular axial run-out). Where the face slopes it is told
//! across the face: on a wall an eccentric wheel differs by much along the axis and by little in metal.

use crate::face::model::WheelModel;
use crate::job::Job;

/// From one radius to the next, millimetres: bend and tilt change by micrometres over it.
const STEP: f64 = 1.0;

/// Directions of the turn that are looked at for the bend; three lobes hide 0.3 % of their height between two.
const DIRECTIONS: u32 = 120;

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
    let mut all = Vec::new();
    for zone in &job.zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        let mut r = from;
        while r < to {
            all.push(ring(model, r));
            r += STEP;
        }
        all.push(ring(model, to));
    }
    all
}

fn ring(model: &WheelModel, r: f64) -> Ring {
    let turn = model.turn_at(r);
    let step = model.grid.step;
    let slope = (model.face_at(r + step) - model.face_at(r - step)) / (2.0 * step);
    let run_out = (turn.highest - turn.lowest) / slope.hypot(1.0);
    Ring { r, run_out, bend: bend(model, r), uncertainty: turn.uncertainty }
}

/// Highest less lowest of what is neither tilt nor eccentricity.
fn bend(model: &WheelModel, r: f64) -> f64 {
    let tilt = model.tilt;
    let (low, high) = (0..DIRECTIONS)
        .map(|i| std::f64::consts::TAU * f64::from(i) / f64::from(DIRECTIONS))
        .map(|a| model.departure_at(r, a) - tilt.slope * r * (a - tilt.high_side).cos())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
    high - low
}

/// The ring with the largest value of something.
pub(super) fn worst(rings: &[Ring], of: fn(&Ring) -> f64) -> Option<Ring> {
    rings.iter().copied().max_by(|a, b| of(a).total_cmp(&of(b)))
}
