//! What the model is fitted to, from the job and its lines.

use super::quality;
use crate::face::estimate;
use crate::face::model::{FitError, ListedDamage, Measurement, Ring, Sector, WheelModel};
use crate::job::{Job, Zone};
use crate::scan::ring::RingReadings;
use crate::scan::{MeasuredLines, Stretch};

/// Fits the model of the wheel to the lines of a job.
///
/// # Errors
/// If there is no line, or one has too few readings.
pub(super) fn fitted(job: &Job, lines: &MeasuredLines) -> Result<WheelModel, FitError> {
    let listed: Vec<ListedDamage> = job
        .damage
        .iter()
        .map(|d| ListedDamage {
            stretch: Stretch { from: d.from.as_mm(), to: d.to.as_mm() },
            depth: d.depth.as_mm(),
            sector: d.sector.map(|s| Sector { at: s.at.as_rad(), width: s.over.as_rad() }),
        })
        .collect();
    let measured = lines.measured();
    let no_metal = stretches(&job.mending.no_metal);
    let (mend, leave) = (stretches(&job.mending.mend), stretches(&job.mending.leave));
    let zones = stretches(&job.zones);
    let ring = |r: &RingReadings| Ring { radius: r.radius, heights: r.heights.clone(), noise: r.noise };
    let rings: Vec<Ring> = lines.rings.iter().map(ring).collect();
    estimate::fit(&Measurement {
        lines: &measured,
        rings: &rings,
        listed: &listed,
        mend: &mend,
        leave: &leave,
        no_metal: &no_metal,
        zones: &zones,
        tolerated: Some(quality::NOISE_SHOWS * quality::last_cut(job)),
    })
}

/// Ranges of radius in millimetres.
pub(super) fn stretches(of: &[Zone]) -> Vec<Stretch> {
    of.iter().map(|z| Stretch { from: z.from.as_mm(), to: z.to.as_mm() }).collect()
}
