//! How deep, in how many passes, and what that leaves of the allowance.
//!
//! Depths are counted along the axis from the highest place of the turn: a tool touched off there
//! reaches the lowest undamaged place after the run-out, and the last damage after its depth below
//! that. On a slope a pass along the normal goes deeper along the axis than it says, so that a count
//! made here never falls short.

use super::{AllowanceUse, CurvePoint, Depth};
use crate::face::{Face, Restored};
use crate::job::{Job, PassCount, Schedule};
use crate::quantity::Length;
use serde::Serialize;

/// Passes of a schedule.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Passes {
    /// Rough passes.
    pub rough: u32,
    /// Depth of each, millimetres.
    pub rough_depth_mm: f64,
    /// Finish passes that go deeper.
    pub finish: u32,
    /// Depth of each, millimetres.
    pub finish_depth_mm: f64,
    /// Passes that go over the finished path again.
    pub spring: u32,
    /// What all of them take off the highest place, millimetres.
    pub removed_mm: f64,
}

/// Depths closer than this are equal: far below any control's step, far above rounding.
const SAME_DEPTH: f64 = 1e-9;

/// The passes that a schedule needs to bring the highest place down by at least `depth`; a schedule that
/// fixes its count is taken as it stands, though it may not suffice.
#[must_use]
pub fn passes_for(schedule: &Schedule, depth: Length) -> Passes {
    let (finish, spring, finish_depth) = schedule.finish.as_ref().map_or((0, 0, 0.0), |f| {
        let depth = f.depth.as_mm();
        // Finish passes of no depth go over the same path: spring passes by another name.
        if depth > 0.0 {
            (f.passes, f.spring_passes, depth)
        } else {
            (0, f.passes.saturating_add(f.spring_passes), 0.0)
        }
    });
    let by_finish = f64::from(finish) * finish_depth;
    let (rough, rough_depth) = schedule.rough.as_ref().map_or((0, 0.0), |r| {
        let each = r.depth.as_mm();
        let count = match r.passes {
            PassCount::Count(n) => n,
            PassCount::Auto => whole_passes((depth.as_mm() - by_finish - SAME_DEPTH) / each),
        };
        (count, each)
    });
    Passes {
        rough,
        rough_depth_mm: rough_depth,
        finish,
        finish_depth_mm: finish_depth,
        spring,
        removed_mm: f64::from(rough) * rough_depth + by_finish,
    }
}

/// The least whole number of passes, at least none.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held to the range of a count first"
)]
fn whole_passes(n: f64) -> u32 {
    n.ceil().clamp(0.0, f64::from(u32::MAX)) as u32
}

impl Passes {
    /// Depth of the last pass that goes deeper.
    #[must_use]
    pub fn last_depth_mm(&self) -> f64 {
        if self.finish > 0 {
            self.finish_depth_mm
        } else if self.rough > 0 {
            self.rough_depth_mm
        } else {
            0.0
        }
    }
}

/// Clean-up depth and passes.
pub(super) fn depth(job: &Job, face: &Face, restored: &Restored) -> Depth {
    let points: Vec<CurvePoint> = zone_points(job, face);
    let deepest = points.iter().copied().fold(
        CurvePoint { r_mm: 0.0, clean_up_mm: f64::NEG_INFINITY, run_out_mm: 0.0, damage_mm: 0.0 },
        |best, p| if p.clean_up_mm > best.clean_up_mm { p } else { best },
    );
    let bend = |r: f64| restored.turn.as_ref().map_or(0.0, |t| t.at(r, |ring| ring.bend));
    let mounted_true = points.iter().map(|p| bend(p.r_mm) + p.damage_mm).fold(0.0, f64::max);
    let passes = passes_for(&job.schedule, Length::mm(deepest.clean_up_mm));
    let remains = |removed: f64| {
        let left = deepest.clean_up_mm - removed;
        if left > SAME_DEPTH { left } else { 0.0 }
    };
    Depth {
        clean_up_mm: deepest.clean_up_mm,
        deepest_at_mm: deepest.r_mm,
        run_out_there_mm: deepest.run_out_mm,
        damage_there_mm: deepest.damage_mm,
        mounted_true_mm: mounted_true,
        remains_mm: remains(passes.removed_mm),
        remains_one_pass_early_mm: remains(passes.removed_mm - passes.last_depth_mm()),
        passes,
        curve: thinned(&points),
    }
}

fn zone_points(job: &Job, face: &Face) -> Vec<CurvePoint> {
    let at = |r: f64| {
        let (highest, lowest, damage) = (face.highest.at(r), face.lowest.at(r), face.damage.at(r));
        CurvePoint {
            r_mm: r,
            clean_up_mm: highest - lowest + damage,
            run_out_mm: highest - lowest,
            damage_mm: damage,
        }
    };
    let mut points = Vec::new();
    for zone in &job.zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        points.push(at(from));
        let inside = |x: &f64| *x > from && *x < to;
        let three = face.highest.points().iter().zip(face.lowest.points()).zip(face.damage.points());
        points.extend(three.filter(|((h, _), _)| inside(&h.x)).map(|((h, l), d)| CurvePoint {
            r_mm: h.x,
            clean_up_mm: h.z - l.z + d.z,
            run_out_mm: h.z - l.z,
            damage_mm: d.z,
        }));
        points.push(at(to));
    }
    points
}

/// The deepest point of each millimetre of radius.
fn thinned(points: &[CurvePoint]) -> Vec<CurvePoint> {
    let mut kept: Vec<CurvePoint> = Vec::new();
    for p in points {
        match kept.last_mut() {
            Some(last) if last.r_mm.floor() == p.r_mm.floor() => {
                if p.clean_up_mm > last.clean_up_mm {
                    *last = *p;
                }
            }
            _ => kept.push(*p),
        }
    }
    kept
}

/// The metal that the passes cost.
pub(super) fn allowance(job: &Job, passes: &Passes) -> AllowanceUse {
    let allowance = job.wheel.allowance;
    let (limit, taken) = (allowance.limit.as_mm(), allowance.taken.as_mm());
    let left = limit - taken - passes.removed_mm;
    let more = if passes.removed_mm > 0.0 { (left + SAME_DEPTH) / passes.removed_mm } else { 0.0 };
    AllowanceUse {
        limit_mm: limit,
        taken_mm: taken,
        this_job_mm: passes.removed_mm,
        left_mm: if left.abs() < SAME_DEPTH { 0.0 } else { left },
        more_such_jobs: whole_passes(more.floor()),
    }
}
