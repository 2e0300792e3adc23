//! A trial: every ring planned as a job of its own, then put together under one air pass over all of them.
//!
//! Each ring keeps its own feed, depth and speed, runs from park to park and carries its name into the program. Rings share a tool, so they
//! share its touch-off and its air pass, which runs at the slowest of their surface speeds.

use super::figures::Conditions;
use super::finished::{FinishedFace, GreatestJoint};
use super::passes::{another_zero, number, plan};
use super::spindle::SpindleLaw;
use super::{Operation, Options, Pass, PassKind, Plan, PlanError};
use crate::diagnostics::{Finding, Place, PlanRule, Unit};
use crate::face::Face;
use crate::job::{Direction, Job, ScheduleError, TrialRing};
use crate::units::{FeedPerRev, Length, SurfaceSpeed};

/// Plans the rings of a trial.
pub(super) fn plan_rings(job: &Job, face: &Face, options: Options) -> Result<Plan, PlanError> {
    let mut rings: Vec<&TrialRing> = job.rings.iter().collect();
    if job.schedule.direction == Direction::Inward {
        rings.reverse();
    }
    let plans = rings.iter().map(|ring| {
        let mut plan = plan(&job.for_ring(ring), face, options)?;
        for pass in plan.operations.iter_mut().flat_map(|o| &mut o.passes) {
            pass.ring = Some(ring.name.clone());
        }
        for finding in &mut plan.findings {
            finding.what = format!("ring {}: {}", ring.name, finding.what);
        }
        // On a scrap wheel damage may stay, but what is to be looked at must be the ring.
        // Whose zero it is holds for all rings, and is told once.
        let not_here = [PlanRule::DamageStays, PlanRule::AnotherZero].map(Into::into);
        plan.findings.retain(|f| !not_here.contains(&f.rule));
        plan.findings.extend(not_all_round(ring, face));
        Ok(plan)
    });
    let plans: Vec<Plan> = plans.collect::<Result<_, PlanError>>()?;
    let nothing = || PlanError::Schedule(ScheduleError::NothingToDo);
    let first = plans.first().ok_or_else(nothing)?;
    let operation = first.operations.first().ok_or_else(nothing)?;
    let passes = || plans.iter().flat_map(|p| p.operations.iter().flat_map(|o| &o.passes));
    let dry: Vec<&Pass> = passes().filter(|p| p.kind == PassKind::Air).collect();
    let air = air_pass(job, operation, &dry).ok_or_else(nothing)?;
    let cuts = passes().filter(|p| p.kind != PassKind::Air).cloned();
    let mut operations = vec![Operation {
        tool: operation.tool.clone(),
        touch_off: operation.touch_off,
        ground: operation.ground.clone(),
        check: None,
        check_leaves: None,
        passes: std::iter::once(air).chain(cuts).collect(),
    }];
    number(&mut operations);
    let most = |of: &dyn Fn(&Plan) -> Length| plans.iter().map(of).fold(Length::mm(0.0), greater);
    let left = plans.iter().map(|p| p.left).fold(first.left, |a, b| if b < a { b } else { a });
    let rest = plans.iter().map(|p| p.rest).fold(first.rest, |a, b| if b.amount > a.amount { b } else { a });
    Ok(Plan {
        operations,
        spindle_limit: first.spindle_limit,
        already: first.already,
        needed: most(&|p| p.needed),
        removed: most(&|p| p.removed),
        left,
        rest,
        finished: together(&plans),
        spare: None,
        which_face: None,
        cut_along: None,
        findings: another_zero(job)
            .into_iter()
            .chain(plans.iter().flat_map(|p| p.findings.clone()))
            .collect(),
    })
}

/// A ring so shallow that it leaves part of the turn as it is.
fn not_all_round(ring: &TrialRing, face: &Face) -> Option<Finding> {
    let (need, depth) = (face.need(&[ring.zone]), ring.finish.depth);
    (need.depth > depth).then(|| {
        let what = format!(
            "ring {} takes {:.3}, but is cut all round only {:.3} deep, by radius {:.1}",
            ring.name, depth, need.depth, need.at
        );
        let place = Place::radius(need.at.as_mm());
        Finding::new(PlanRule::RingNotAllRound, place, what).measured(
            need.depth.as_mm(),
            Some(depth.as_mm()),
            Unit::Mm,
        )
    })
}

fn greater(a: Length, b: Length) -> Length {
    if b > a { b } else { a }
}

/// The air passes of all rings as one.
fn air_pass(job: &Job, operation: &Operation, dry: &[&Pass]) -> Option<Pass> {
    let first = *dry.first()?;
    let slowest = dry.iter().map(|p| p.surface_speed).fold(first.surface_speed, least::<SurfaceSpeed>);
    let feed = dry.iter().map(|p| p.feed).fold(first.feed, least::<FeedPerRev>);
    let motions: Vec<_> = dry.iter().flat_map(|p| p.motions.iter().copied()).collect();
    let conditions = Conditions {
        tool: &operation.tool,
        law: SpindleLaw { surface_speed: slowest, limit: first.spindle_limit },
        feed,
        rapid: job.machine.rapid,
    };
    let figures = conditions.figures(&motions);
    Some(Pass { ring: None, surface_speed: slowest, feed, figures, motions, ..first.clone() })
}

fn least<T: PartialOrd>(a: T, b: T) -> T {
    if b < a { b } else { a }
}

/// What all rings leave to be seen: the most of each.
fn together(plans: &[Plan]) -> FinishedFace {
    let mut all = FinishedFace::default();
    for FinishedFace { waviness, greatest_joint, zones, .. } in plans.iter().map(|p| &p.finished) {
        all.waviness.path = greater(all.waviness.path, waviness.path);
        all.waviness.face = waviness.face.or(all.waviness.face);
        let turn = |j: &GreatestJoint| j.turn.as_rad();
        let both = all.greatest_joint.into_iter().chain(*greatest_joint);
        all.greatest_joint = both.max_by(|a, b| turn(a).total_cmp(&turn(b)));
        all.zones.extend_from_slice(zones);
    }
    all
}
