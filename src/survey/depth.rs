//! How deep, in how many passes, and what that leaves of the allowance. The passes are laid out where plan and proof ask too.
//!
//! Depths are counted along the axis from the surface that the passes follow, which nothing of the turn stands above ([`super::along`]): a
//! tool reaches the lowest undamaged place after the run-out, and the last damage after its depth below
//! that. On a slope a pass along the normal goes deeper along the axis than it says, so that a count
//! made here never falls short.

use super::rings::Ring;
use super::{AllowanceUse, Along, CurvePoint, Depth};
use crate::face::Face;
use crate::geometry::Point;
use crate::job::{Job, PassKind, ScheduleError, passes as schedule};
use crate::units::Length;
use serde::Serialize;

/// One pass that goes deeper.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Pass {
    /// Rough or finish.
    pub kind: Kind,
    /// How much deeper it goes, millimetres.
    pub depth_mm: f64,
}

/// What a pass is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Takes metal off.
    Rough,
    /// Takes the last metal off and leaves the texture.
    Finish,
}

/// The passes of a schedule as they would be laid out; spring passes, which go no deeper, left out.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Passes {
    /// The passes in their order.
    pub each: Vec<Pass>,
    /// What all of them take off the highest place, millimetres.
    pub removed_mm: f64,
}

/// Depths closer than this are equal: far below any control's step, far above rounding.
const SAME_DEPTH: f64 = 1e-9;

/// The passes that a job's schedule needs to bring the highest place down by `need`, by the rule that plan and proof go by too.
///
/// # Errors
/// Why there are none.
pub fn passes_for(job: &Job, need: Length) -> Result<Passes, ScheduleError> {
    passes_from(job, need, Length::mm(0.0))
}

/// The passes still to come where the face stands at a depth below the highest place already.
fn passes_from(job: &Job, need: Length, begins: Length) -> Result<Passes, ScheduleError> {
    let asked = job.schedule.counted.passes();
    let laid_out = schedule::lay_out(&job.schedule, job.control.resolution, need, begins, asked)?;
    let each: Vec<Pass> = laid_out
        .iter()
        .filter_map(|p| {
            let kind = match p.kind {
                PassKind::Rough => Kind::Rough,
                PassKind::Finish => Kind::Finish,
                PassKind::Air | PassKind::Rest | PassKind::Spring => return None,
            };
            Some(Pass { kind, depth_mm: p.depth.as_mm() })
        })
        .collect();
    let removed_mm = schedule::removed(&laid_out).as_mm();
    Ok(Passes { each, removed_mm })
}

/// Clean-up depth and passes, where the face stands at a depth below the surface that passes follow already.
pub(super) fn depth(job: &Job, face: &Face, rings: &[Ring], along: Along, begins: Length) -> Depth {
    let points: Vec<CurvePoint> = zone_points(job, face);
    let need = face.need(&job.zones);
    let deepest = point_at(face, need.at.as_mm());
    // The bend changes by micrometres from one ring to the next.
    let bend = |r: f64| {
        let after = rings.partition_point(|ring| ring.r < r);
        rings.get(after).or(rings.last()).map_or(0.0, |ring| ring.bend)
    };
    let runs_out = |r: f64| face.highest.at(r) - face.lowest.at(r);
    let mounted_true =
        points.iter().map(|p| bend(p.r_mm).min(runs_out(p.r_mm)) + p.damage_mm).fold(0.0, f64::max);
    let (passes, refused) = match passes_from(job, need.depth, begins) {
        Ok(passes) => (passes, None),
        Err(refusal) => (Passes::default(), Some(refusal.to_string())),
    };
    let last = passes.each.last().map_or(0.0, |p| p.depth_mm);
    let remains = |removed: f64| {
        let left = need.depth.as_mm() - begins.as_mm() - removed;
        if left > SAME_DEPTH { left } else { 0.0 }
    };
    Depth {
        clean_up_mm: need.depth.as_mm(),
        deepest_at_mm: deepest.r_mm,
        run_out_there_mm: deepest.run_out_mm,
        damage_there_mm: deepest.damage_mm,
        mounted_true_mm: mounted_true,
        begins_mm: begins.as_mm(),
        remains_mm: remains(passes.removed_mm),
        remains_one_pass_early_mm: remains(passes.removed_mm - last),
        passes,
        refused,
        along,
        curve: thinned(&points),
    }
}

fn point_at(face: &Face, r: f64) -> CurvePoint {
    let (from, lowest, damage) = (face.follows().at(r), face.lowest.at(r), face.damage.at(r));
    CurvePoint {
        r_mm: r,
        clean_up_mm: face.clean_up_at(r).as_mm(),
        run_out_mm: from - lowest,
        damage_mm: damage,
    }
}

/// Clean-up depth at every radius of the profiles inside the zones, with the zones' ends.
pub(super) fn zone_points(job: &Job, face: &Face) -> Vec<CurvePoint> {
    let at = |r: f64| point_at(face, r);
    let mut points = Vec::new();
    for zone in &job.zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        points.push(at(from));
        let inside = |p: &&Point| p.x > from && p.x < to;
        let radii: Vec<f64> = face.follows().points().iter().filter(inside).map(|p| p.x).collect();
        let runs_out = face.follows().at_each(&radii).zip(face.lowest.at_each(&radii)).map(|(h, l)| h - l);
        let three = face.clean_up_at_each(&radii).zip(runs_out).zip(face.damage.at_each(&radii));
        points.extend(radii.iter().zip(three).map(|(&r_mm, ((clean_up, run_out_mm), damage_mm))| {
            CurvePoint { r_mm, clean_up_mm: clean_up.as_mm(), run_out_mm, damage_mm }
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

/// The metal that the passes cost, beside what this job took already: at least what is `gone` somewhere.
pub(super) fn allowance(job: &Job, passes: &Passes, [begins, gone]: [Length; 2]) -> AllowanceUse {
    let allowance = job.wheel.allowance;
    let (limit, taken) = (allowance.limit.as_mm(), allowance.taken.as_mm());
    let this_job = (begins.as_mm() + passes.removed_mm).max(gone.as_mm());
    let left = schedule::left_after(&job.wheel, Length::mm(this_job)).as_mm();
    let more = if this_job > 0.0 { (left + SAME_DEPTH) / this_job } else { 0.0 };
    AllowanceUse {
        limit_mm: limit,
        taken_mm: taken,
        this_job_mm: this_job,
        left_mm: left,
        more_such_jobs: whole(more),
    }
}

/// The whole part of a number of jobs, at least none.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held to the range of a count first"
)]
fn whole(n: f64) -> u32 {
    n.floor().clamp(0.0, f64::from(u32::MAX)) as u32
}
