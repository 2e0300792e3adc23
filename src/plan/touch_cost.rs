//! What a tool set wrong would do to the wheel, and whether it may go on.
//!
//! A tool that stands `dx` farther out and `dz` higher than shown cuts the face `f(r − dx) + dz` where `f(r)` was meant; on a wheel that leans by t
//! more it cuts `t·r` deeper on the high side. Against what was meant it takes too much where it goes lower and leaves metal
//! standing where it goes higher, both counted along the normal of the face. Errors go through the answer's covariance.

use crate::face::touch_check::Found;
use crate::geometry::Profile;
use crate::job::Job;
use crate::units::Length;

/// Radii are looked at this far apart, millimetres.
const STEP: f64 = 0.5;

/// Slopes are those of a chord this far to either side, millimetres.
const CHORD: f64 = 0.25;

/// Standard errors within which a decision must hold.
const SURE: f64 = 2.0;

/// An amount of metal at a radius, with its standard error.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Amount {
    /// How much, along the normal; zero where nothing is.
    pub most: Length,
    /// Its standard error.
    pub error: Length,
    /// Where.
    pub at: Length,
}

/// Whether the tool may go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// It cuts within the limit of what was meant.
    Go,
    /// It does not, or not for sure: enter the offsets.
    SetAnew,
    /// The wheel leans otherwise than when it was surveyed, beyond the limit: no offset mends that.
    SurveyAgain,
    /// The readings contradict each other, or tell too little to decide.
    TouchAgain,
}

/// What a tool set as found would do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Whether it may go on.
    pub decision: Decision,
    /// The most metal it takes beyond what was meant.
    pub takes: Amount,
    /// The most it leaves standing above what was meant.
    pub leaves: Amount,
    /// What the wheel may still lose after the plan and that; below zero where it is too much.
    pub allowance_left: Length,
    /// What the wheel may lose after the plan.
    pub spare: Length,
    /// The most that may be cut too deep, with what the readings leave open.
    pub deepest: Length,
    /// The most that it may be off its plan, with what the readings leave open.
    pub may: Length,
    /// What readings at these places leave open where they tell least: two standard errors, whatever they are.
    pub open: Length,
}

impl Judged {
    /// Whether readings at these places leave so much open that none of them could let the tool go on.
    #[must_use]
    pub fn never_go(&self, job: &Job) -> bool {
        self.open > job.touching.limit
    }

    /// Whether it may take more than the wheel may still lose, though it is within the limit.
    #[must_use]
    pub fn too_dear(&self, job: &Job) -> bool {
        self.may <= job.touching.limit && self.deepest > self.spare
    }
}

/// Judges what was found of a tool, on the highest place of the face; `left` is what the wheel may lose after the plan.
#[must_use]
pub fn judge(job: &Job, highest: &Profile, found: &Found, left: Length) -> Judged {
    let (mut takes, mut leaves) = (Amount::default(), Amount::default());
    // The most that it may be off its plan anywhere, and the most that it is for sure.
    let (mut may, mut surely) = (0.0_f64, 0.0_f64);
    // The most that may be cut too deep.
    let mut deepest = 0.0_f64;
    let mut open = 0.0_f64;
    let (dx, dz, tilt) = (found.x.map_or(0.0, |x| x.value), found.z.value, found.tilt.value);
    for zone in &job.zones {
        let [from, to] = [zone.from, zone.to].map(Length::as_mm);
        let steps = ((to - from) / STEP).ceil().max(1.0);
        let mut i = 0.0;
        while i <= steps {
            // Both ends, where a tilt is worst.
            let r = (from + i * STEP).min(to);
            let slope = (highest.at(r + CHORD) - highest.at(r - CHORD)) / (2.0 * CHORD);
            let normal = slope.hypot(1.0);
            let too_deep = (highest.at(r) - highest.at(r - dx) - dz + tilt * r) / normal;
            let error = found.covariance.quadratic(&[slope, -1.0, r]).max(0.0).sqrt() / normal;
            may = may.max(too_deep.abs() + SURE * error);
            surely = surely.max(too_deep.abs() - SURE * error);
            deepest = deepest.max(too_deep + SURE * error);
            open = open.max(SURE * error);
            let amount =
                Amount { most: Length::mm(too_deep.abs()), error: Length::mm(error), at: Length::mm(r) };
            let greatest = if too_deep > 0.0 { &mut takes } else { &mut leaves };
            if amount.most > greatest.most {
                *greatest = amount;
            }
            i += 1.0;
        }
    }
    let allowance_left = left - takes.most;
    let limit = job.touching.limit.as_mm();
    let within = may <= limit && left.as_mm() >= deepest;
    // Between the two nobody can tell; where both lie far apart, or nothing is off for sure, more touches would.
    let vague = surely <= limit && may - surely > 2.0 * limit || surely <= 0.0;
    let decision = match (found.fits(), within, vague) {
        (false, ..) | (true, false, true) => Decision::TouchAgain,
        (true, false, false) if leans(job, found) => Decision::SurveyAgain,
        (true, true, _) => Decision::Go,
        (true, false, false) => Decision::SetAnew,
    };
    let [deepest, may, open] = [deepest, may, open].map(Length::mm);
    Judged { decision, takes, leaves, allowance_left, spare: left, deepest, may, open }
}

/// Whether the wheel leans so much more that a tool set right where it is touched off would leave the limit elsewhere.
fn leans(job: &Job, found: &Found) -> bool {
    let touched = job.touch_off_radius().as_mm();
    let ends = job.zones.iter().flat_map(|z| [z.from.as_mm(), z.to.as_mm()]);
    let farthest = ends.map(|r| (r - touched).abs()).fold(0.0, f64::max);
    let surely = found.tilt.value.abs() - SURE * found.tilt.error;
    surely * farthest > job.touching.limit.as_mm()
}
