//! The passes of each tool in their order: in the air first, up to the stop (M00) at which somebody looks; then those that reach the metal,
//! with a stop between each two. A second pass in the air that no stop parts from the first is one that was raised: it is told.
//!
//! The same pass in the air once more, behind that stop, is one that was watched twice.
//!
//! A pass behind that stop which takes nothing is one of the schedule's spring passes, and runs along what stands. Any other was raised or is
//! there twice: the metal that it was to take stands, and whatever follows it takes that too. Where a program goes on after others, a pass that
//! goes where they may have left something is none of these.

use super::findings::{mm, note};
use super::metal::Metal;
use super::split::tool_of;
use super::{Contact, GatheredPass};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::job::{Job, Stops, Tool};
use crate::proof::Movement;

/// A pass that takes nothing may run so far above what stands, beside the tolerance of its path, millimetres: half of a thin finish cut.
const NEAR: f64 = 0.02;

/// What a pass is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It shows the path, before its tool cuts.
    Air,
    /// It reaches the metal.
    Work,
}

/// Stops passed before the first motion of a pass, and before its last, as (M00, M01).
fn stops(pass: &GatheredPass, movements: &[Movement]) -> Option<[(u32, u32); 2]> {
    let first = movements.get(pass.groups.first()?.movements.start)?;
    let last = movements.get(pass.groups.last()?.movements.end.checked_sub(1)?)?;
    Some([first.stops_before, last.stops_before])
}

/// Whether a pass runs motion for motion as another does, as fast: it is that pass, made again.
fn same_way(a: &GatheredPass, b: &GatheredPass, movements: &[Movement]) -> bool {
    let length = |pass: &GatheredPass| pass.groups.iter().map(|g| g.movements.len()).sum::<usize>();
    let alike = |(a, b): (&Movement, &Movement)| a.piece == b.piece && a.feed == b.feed;
    length(a) == length(b) && made_by(a, movements).zip(made_by(b, movements)).all(alike)
}

/// The motions of a pass.
fn made_by<'m>(pass: &'m GatheredPass, movements: &'m [Movement]) -> impl Iterator<Item = &'m Movement> {
    pass.groups.iter().filter_map(|g| movements.get(g.movements.clone())).flatten()
}

fn cuts(pass: &GatheredPass) -> bool {
    pass.contacts.iter().any(Contact::cuts)
}

/// What each pass is for.
pub fn roles(passes: &[GatheredPass], movements: &[Movement]) -> Vec<Role> {
    let of_tool = passes.chunk_by(|a, b| a.tool == b.tool);
    of_tool
        .flat_map(|of_tool| {
            let air = of_tool.first();
            let first = air.and_then(|p| stops(p, movements)).map(|[(m00, _), _]| m00);
            let mut cut = false;
            of_tool.iter().map(move |pass| {
                cut |= cuts(pass);
                let looked = stops(pass, movements).map(|[(m00, _), _]| m00) != first;
                let again = air.is_some_and(|air| same_way(air, pass, movements));
                if cut || (looked && !again) { Role::Work } else { Role::Air }
            })
        })
        .collect()
}

/// Judges the order of all passes. Where the wheel was measured again after a cut, more may be gone somewhere than any pass was told.
pub fn judge(
    job: &Job,
    metal: &Metal,
    (passes, roles): (&[GatheredPass], &[Role]),
    measured_since: bool,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    if !measured_since && job.rings.is_empty() {
        judge_idle(job, metal, (passes, roles), movements, findings);
    }
    let all: Vec<(&GatheredPass, Role)> = passes.iter().zip(roles.iter().copied()).collect();
    for (pass, _) in all.iter().filter(|(_, role)| *role == Role::Air) {
        if let Some(wet) = made_by(pass, movements).find(|m| m.coolant) {
            let what = format!("pass {}, in the air, runs under coolant", pass.number);
            findings.push(note(SweepRule::AirPassWet, Some(wet), what));
        }
    }
    for (i, pair) in all.windows(2).enumerate() {
        let [(before, role), (after, same)] = pair else { continue };
        let both = (stops(before, movements), stops(after, movements));
        let (Some([_, left]), Some([come, _])) = both else { continue };
        if before.tool != after.tool || left.0 != come.0 {
            continue;
        }
        let at = after.groups.first().and_then(|g| movements.get(g.movements.start));
        if role != same {
            // Behind the first pass in the air the stop is asked for elsewhere. That one was looked at does not show that it may be cut right behind the next.
            let again =
                i.checked_sub(1).and_then(|i| all.get(i)).is_some_and(|(first, _)| first.tool == before.tool);
            if again {
                let what = format!(
                    "no stop (M00) between pass {}, in the air again, and pass {}",
                    before.number, after.number
                );
                findings.push(note(SweepRule::NoStopAfterAir, at, what));
            }
            continue;
        }
        let what = match (job.control.stops, left.1 == come.1) {
            (Stops::Program, true) => "no stop (M00)",
            (Stops::Optional, true) => "no stop (M01 or M00)",
            (Stops::Program, false) => "only an optional stop (M01), and the shop file says M00,",
            (Stops::Optional, false) => continue,
        };
        let what = format!("{what} between pass {} and pass {}", before.number, after.number);
        findings.push(note(SweepRule::NoStopBetween, at, what));
    }
}

/// Judges passes behind the look that take nothing.
fn judge_idle(
    job: &Job,
    metal: &Metal,
    (passes, roles): (&[GatheredPass], &[Role]),
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let mut spring = job.schedule.finish.as_ref().map_or(0, |f| {
        let no_depth = if f.depth.as_mm() > 0.0 { 0 } else { f.passes };
        f.spring_passes.saturating_add(no_depth)
    });
    let finishes = |tool: &Tool| job.schedule.finish.as_ref().is_some_and(|f| f.tool == tool.name);
    for pass in passes.iter().zip(roles).filter(|(p, r)| **r == Role::Work && !cuts(p)).map(|(p, _)| p) {
        let Some(tool) = tool_of(job, pass.tool) else { continue };
        let Some(gap) = gap(pass, tool, metal, movements) else { continue };
        let at = pass.groups.first().and_then(|g| movements.get(g.movements.start));
        let most = NEAR + job.schedule.tolerance.as_mm();
        if pass.contacts.iter().any(|contact| metal.may_be_cut(contact)) {
            continue;
        }
        let what = if gap > most {
            format!("pass {} takes nothing: it runs {} above what stands", pass.number, mm(gap))
        } else if spring == 0 || !finishes(tool) {
            format!("pass {} takes nothing, and is no spring pass of the schedule", pass.number)
        } else {
            spring -= 1;
            continue;
        };
        findings.push(note(SweepRule::TakesNothing, at, what).measured(gap, Some(most), Unit::Mm));
    }
}

/// How far a pass runs above what stands, at half of the radii in the zones that it crosses further; none where it crosses none.
fn gap(pass: &GatheredPass, tool: &Tool, metal: &Metal, movements: &[Movement]) -> Option<f64> {
    let (dx, _) = tool.point_offset();
    let mut gaps = Vec::new();
    for (group, contact) in pass.groups.iter().zip(&pass.contacts) {
        let ends =
            movements.get(group.movements.clone())?.iter().flat_map(|m| [m.piece.from().x, m.piece.to().x]);
        let (from, to) =
            ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x - dx), b.max(x - dx)));
        let under = contact.lowest.each().zip(&contact.before);
        let crossed = |i: usize| metal.in_zone[i] && from <= metal.radii[i] && metal.radii[i] <= to;
        gaps.extend(under.filter(|((i, _), _)| crossed(*i)).map(|((_, point), before)| point.z - before));
    }
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).copied()
}
