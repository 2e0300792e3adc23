//! Checks whether a program does what the job asks for; a deviation is not unsafe by itself.

use super::allowed_depth::AllowedDepth;
use super::cut::SLACK;
use super::findings::{mm, note, radius};
use super::metal::Metal;
use super::{PassKind, SweptPass};
use crate::diagnostics::{Finding, Place, SweepRule, Unit};
use crate::face::Face;
use crate::job::{Counted, Job, Only, PassCount, RoughPass, passes};
use crate::proof::Movement;
use crate::units::Length;

/// Depth by which the allowance may be exceeded, millimetres: the smallest step of a control's words.
const ALLOWANCE_SLACK: f64 = 0.001;

/// Metal that remains above where it should be, and the radius there, millimetres.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct RemainingMetal {
    /// Height of the metal.
    pub amount: f64,
    /// Radius.
    pub radius: f64,
}

/// Passes that earlier parts of a divided program made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(in crate::proof) struct PassesBefore {
    /// Rough passes.
    pub(in crate::proof) rough: u32,
    /// Finish passes; the most there can be, where only spring passes are left to do.
    pub(in crate::proof) finish: u32,
    /// Rest passes; the most there can be, where only the finish is left to do.
    pub(in crate::proof) rest: u32,
}

/// Compares the depth of the finished face with the allowance and with the depth that the job needs.
pub fn judge_total(
    metal: &Metal,
    allowed: &AllowedDepth,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let deepest =
        (0..metal.len()).map(|i| (metal.depth_at(i, metal.now[i]), i)).max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((depth, i)) = deepest else { return };
    let at = movements.get(metal.by[i]);
    if depth > allowed.allowance + ALLOWANCE_SLACK {
        let what = format!(
            "takes {} off the highest place at {}; the wheel may lose {}",
            mm(depth),
            radius(metal.radii[i]),
            mm(allowed.allowance)
        );
        findings.push(note(SweepRule::Allowance, at, what).measured(
            depth,
            Some(allowed.allowance),
            Unit::Mm,
        ));
    } else if depth > allowed.total + SLACK {
        let what = format!(
            "takes {} at {}; the job comes to {}",
            mm(depth),
            radius(metal.radii[i]),
            mm(allowed.total)
        );
        findings.push(note(SweepRule::MoreThanNeeded, at, what).measured(
            depth,
            Some(allowed.total),
            Unit::Mm,
        ));
    }
}

/// The most damage that remains in the zones after the program, except where the nose climbs out at their ends.
#[must_use]
pub fn damage_left(metal: &Metal, job: &Job, face: &Face, climb: f64) -> Option<RemainingMetal> {
    let depths = face.damage.at_each(&metal.radii);
    let bottom: Vec<f64> =
        face.lowest.at_each(&metal.radii).zip(depths).map(|(z, depth)| z - depth).collect();
    most(metal, |i, u| if near_zone_end(job, u, climb) { 0.0 } else { metal.now[i] - bottom[i] })
}

/// The most metal that remains in the zones above the face lowered by `total`, except where the nose climbs out at their ends.
#[must_use]
pub fn rest(metal: &Metal, job: &Job, total: &dyn Fn(f64) -> f64, climb: f64) -> Option<RemainingMetal> {
    most(
        metal,
        |i, u| if near_zone_end(job, u, climb) { 0.0 } else { total(u) - metal.depth_at(i, metal.now[i]) },
    )
}

/// How much metal a correct path may leave, millimetres: the tolerance.
#[must_use]
pub fn path_tolerance(job: &Job) -> f64 {
    job.schedule.tolerance.as_mm() + SLACK
}

/// The most metal above what the last tool could have left, except where the nose climbs out at the ends of the zones: index of the radius and amount.
#[must_use]
pub fn left(metal: &Metal, job: &Job, reachable: &[f64], climb: f64) -> Option<(usize, f64)> {
    let inside = |&i: &usize| metal.in_zone[i] && !near_zone_end(job, metal.radii[i], climb);
    let over = |i: usize| Some((i, (metal.now[i] - reachable.get(i)?) * metal.cosine[i]));
    (0..metal.len()).filter(inside).filter_map(over).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Warns of metal that the tool could have removed, by more than a correct path within the tolerance may leave.
pub fn judge_left(
    job: &Job,
    metal: &Metal,
    left: Option<(usize, f64)>,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let tolerance = path_tolerance(job);
    if let Some((i, amount)) = left.filter(|l| l.1 > tolerance) {
        let what =
            format!("{} of metal stays at {} that the tool could take", mm(amount), radius(metal.radii[i]));
        findings.push(note(SweepRule::MetalLeft, movements.get(metal.by[i]), what).measured(
            amount,
            Some(tolerance),
            Unit::Mm,
        ));
    }
}

/// Whether a radius lies within a distance of any end of a zone.
pub fn near_any_end(job: &Job, u: f64, within: f64) -> bool {
    job.zones.iter().any(|z| (u - z.from.as_mm()).abs() < within || (u - z.to.as_mm()).abs() < within)
}

/// Whether a radius is where the nose climbs out of a zone; where a zone runs off the metal it does not.
fn near_zone_end(job: &Job, u: f64, climb: f64) -> bool {
    job.zones.iter().enumerate().any(|(i, z)| {
        let [inner, outer] = job.zone_runs_off(i);
        !inner && (u - z.from.as_mm()).abs() < climb || !outer && (u - z.to.as_mm()).abs() < climb
    })
}

fn most(metal: &Metal, amount: impl Fn(usize, f64) -> f64) -> Option<RemainingMetal> {
    (0..metal.len())
        .filter(|&i| metal.in_zone[i])
        .map(|i| RemainingMetal { amount: amount(i, metal.radii[i]), radius: metal.radii[i] })
        .max_by(|a, b| a.amount.total_cmp(&b.amount))
}

/// Checks which zones were cut, in which direction, and in how many passes.
pub fn judge_job(
    job: &Job,
    metal: &Metal,
    (allowed, before): (&AllowedDepth, PassesBefore),
    (passes, goes_on): (&[SweptPass], bool),
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    // Nothing but spring passes was left to do, and nothing else is done.
    let spring = job.schedule.finish.as_ref().is_some_and(|f| f.spring_passes > 0 || f.depth.as_mm() <= 0.0);
    let cuts = passes.iter().any(|p| matches!(p.kind, PassKind::Cut | PassKind::Rest));
    let only_spring = spring && !cuts && allowed.all_taken();
    if !only_spring {
        zones(job, metal, allowed, findings);
    }
    for pass in passes.iter().filter(|p| matches!(p.kind, PassKind::Cut | PassKind::Rest)) {
        if pass.direction.is_some_and(|d| d != job.schedule.direction) {
            findings.push(note(
                SweepRule::Direction,
                movements.iter().find(|m| m.line == pass.from_line),
                format!("pass {} runs against the direction of the schedule", pass.number),
            ));
            break;
        }
    }
    other_kind(job, passes, movements, findings);
    let goes_on = goes_on && cuts;
    counts(job, passes, CountFrom { allowed, before, only_spring, goes_on }, findings);
}

/// Only rough passes were asked for: a pass of another tool than theirs is none.
fn other_kind(job: &Job, passes: &[SweptPass], movements: &[Movement], findings: &mut Vec<Finding>) {
    let rough = job.schedule.rough.as_ref().filter(|_| job.schedule.counted.passes() == Only::Rough);
    let Some(tool) = rough.and_then(|rough| job.tool(&rough.tool)) else { return };
    let cuts = |p: &&SweptPass| matches!(p.kind, PassKind::Cut | PassKind::Rest);
    if let Some(pass) = passes.iter().filter(cuts).find(|p| p.tool != Some(tool.number)) {
        let what = format!(
            "pass {} is cut by another tool than tool {}, which makes the rough passes that were asked for",
            pass.number, tool.number
        );
        findings.push(note(SweepRule::Tool, movements.iter().find(|m| m.line == pass.from_line), what));
    }
}

fn zones(job: &Job, metal: &Metal, allowed: &AllowedDepth, findings: &mut Vec<Finding>) {
    let widest = job.tools.iter().map(|t| t.nose_radius.as_mm()).fold(0.0, f64::max);
    let mut from: Option<f64> = None;
    let mut gaps: Vec<(f64, f64)> = Vec::new();
    for i in 0..metal.len() {
        let bare = metal.in_zone[i] && metal.allowed[i] <= allowed.already;
        match (bare, from) {
            (true, None) => from = Some(metal.radii[i]),
            (false, Some(start)) => {
                gaps.push((start, metal.radii[i]));
                from = None;
            }
            _ => {}
        }
    }
    if let (Some(start), Some(&end)) = (from, metal.radii.last()) {
        gaps.push((start, end));
    }
    for (a, b) in gaps.into_iter().filter(|(a, b)| b - a > 2.0 * widest) {
        let what = format!("nothing is cut from {} to {}, inside a zone", radius(a), radius(b));
        findings.push(
            Finding::new(SweepRule::ZoneNotCut, Place::Radius { from_mm: a, to_mm: b }, what).measured(
                b - a,
                None,
                Unit::Mm,
            ),
        );
    }
}

/// What is known of the passes that a program should have.
#[derive(Clone, Copy)]
struct CountFrom<'a> {
    /// What earlier programs took, and how deep this one may go.
    allowed: &'a AllowedDepth,
    /// The passes of the parts before this one.
    before: PassesBefore,
    /// Whether nothing but spring passes was left to do.
    only_spring: bool,
    /// Whether another program goes on: a tool that cuts nothing in this one comes in that.
    goes_on: bool,
}

fn counts(job: &Job, swept: &[SweptPass], from: CountFrom<'_>, findings: &mut Vec<Finding>) {
    let CountFrom { allowed, before, only_spring, goes_on } = from;
    let mut to_come = passes::to_come(&job.schedule, Length::mm(allowed.already), Length::mm(SLACK));
    let counts_itself = job.schedule.counted == Counted::FromMeasured;
    let is_counted = |r: &RoughPass| matches!(r.passes, PassCount::Count(_));
    if !counts_itself {
        // What is gone does not say what of it the parts before this one took.
        to_come.rough = to_come.rough.saturating_sub(before.rough);
    }
    if !counts_itself || job.schedule.rough.as_ref().is_some_and(|r| !is_counted(r)) {
        to_come.finish = to_come.finish.saturating_sub(before.finish);
    }
    if only_spring {
        // Where the number of rough passes is not set, the depth that is gone does not tell them from the finish: all of it does.
        to_come.finish = 0;
    }
    let rough = job.schedule.rough.as_ref().map(|r| (&r.tool, to_come.rough));
    let rings = u32::try_from(job.rings.len()).unwrap_or(u32::MAX);
    // A finish of no depth may find nothing to cut.
    let finishes = |depth: Length| if depth.as_mm() > 0.0 { to_come.finish } else { 0 };
    let finish = job.schedule.finish.as_ref().map(|f| (&f.tool, rings.max(finishes(f.depth))));
    for tool in &job.tools {
        let wanted: u32 = [rough, finish]
            .into_iter()
            .flatten()
            .filter(|(name, _)| **name == tool.name)
            .map(|(_, n)| n)
            .sum();
        let cut = swept.iter().filter(|p| p.kind == PassKind::Cut && p.tool == Some(tool.number)).count();
        if cut < wanted as usize && (cut > 0 || !goes_on) {
            let what = format!(
                "tool {} cuts {cut} {}; the schedule asks for {wanted}",
                tool.number,
                if cut == 1 { "pass" } else { "passes" }
            );
            findings.push(Finding::new(SweepRule::PassesMissing, Place::Whole, what).measured(
                cut as f64,
                Some(f64::from(wanted)),
                Unit::Count,
            ));
        }
    }
}

/// Warns of damage and rest that remain.
pub fn judge_remaining(
    job: &Job,
    damage: Option<RemainingMetal>,
    rest: Option<RemainingMetal>,
    findings: &mut Vec<Finding>,
) {
    let tolerance = path_tolerance(job);
    if let Some(s) = damage.filter(|s| s.amount > tolerance) {
        let what =
            format!("{} of metal stands over the bottom of the damage at {}", mm(s.amount), radius(s.radius));
        findings.push(Finding::new(SweepRule::DamageRemains, Place::radius(s.radius), what).measured(
            s.amount,
            Some(tolerance),
            Unit::Mm,
        ));
    }
    if let Some(s) = rest.filter(|s| s.amount > job.schedule.rest_limit.as_mm()) {
        let what =
            format!("{} of metal stays at {} that this tool does not reach", mm(s.amount), radius(s.radius));
        findings.push(Finding::new(SweepRule::Rest, Place::radius(s.radius), what).measured(
            s.amount,
            Some(job.schedule.rest_limit.as_mm()),
            Unit::Mm,
        ));
    }
}
