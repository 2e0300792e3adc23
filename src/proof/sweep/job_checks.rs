//! Where a program does something else than the job asked for, without being unsafe by that alone.

use super::allowed_depth::AllowedDepth;
use super::cut::SLACK;
use super::metal::Metal;
use super::notes::{mm, note, radius};
use super::{PassKind, SweptPass};
use crate::face::Face;
use crate::job::{Job, passes};
use crate::proof::{Finding, Movement, Rank};
use crate::units::Length;

/// The allowance is kept to this, millimetres: the least step of a control's words.
const ALLOWANCE_SLACK: f64 = 0.001;

/// Metal that stands over where it should be, millimetres, and the radius there.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct RemainingMetal {
    /// How much.
    pub amount: f64,
    /// Where.
    pub radius: f64,
}

/// Judges the finished face against the allowance and the depth that the job needs.
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
        findings.push(note(
            Rank::Stop,
            "allowance",
            at,
            format!(
                "takes {} off the highest place at {}; the wheel may lose {}",
                mm(depth),
                radius(metal.radii[i]),
                mm(allowed.allowance)
            ),
            "a wheel thinner than its maker allows can break on the road",
            "take fewer passes, or do not cut this wheel",
        ));
    } else if depth > allowed.total + SLACK {
        findings.push(note(
            Rank::Warning,
            "more-than-needed",
            at,
            format!(
                "takes {} at {}; the job comes to {}",
                mm(depth),
                radius(metal.radii[i]),
                mm(allowed.total)
            ),
            "metal that goes now is missing at the next repair",
            "look whether a pass is there twice",
        ));
    }
}

/// The most damage that stands in the zones after the program, beside the climb at the zones' ends.
#[must_use]
pub fn damage_left(metal: &Metal, job: &Job, face: &Face, climb: f64) -> Option<RemainingMetal> {
    let depths = face.damage.at_each(&metal.radii);
    let bottom: Vec<f64> =
        face.lowest.at_each(&metal.radii).zip(depths).map(|(z, depth)| z - depth).collect();
    most(metal, |i, u| if at_end(job, u, climb) { 0.0 } else { metal.now[i] - bottom[i] })
}

/// The most metal that stands in the zones over the face lowered by what the last pass took, beside the climb at the zones' ends.
#[must_use]
pub fn rest(metal: &Metal, job: &Job, total: f64, climb: f64) -> Option<RemainingMetal> {
    most(metal, |i, u| if at_end(job, u, climb) { 0.0 } else { total - metal.depth_at(i, metal.now[i]) })
}

/// How high a right path may leave metal, millimetres: it lies within the tolerance.
#[must_use]
pub fn path_tolerance(job: &Job) -> f64 {
    job.schedule.tolerance.as_mm() + SLACK
}

/// Where the most metal stands over what the last tool could have left, beside the climb at the zones' ends: index of the radius and amount.
#[must_use]
pub fn left(metal: &Metal, job: &Job, reachable: &[f64], climb: f64) -> Option<(usize, f64)> {
    let inside = |&i: &usize| metal.in_zone[i] && !at_end(job, metal.radii[i], climb);
    let over = |i: usize| Some((i, (metal.now[i] - reachable.get(i)?) * metal.cosine[i]));
    (0..metal.len()).filter(inside).filter_map(over).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Warns of metal that the tool could have taken, and that a right path, which lies within the tolerance, would have.
pub fn judge_left(
    job: &Job,
    metal: &Metal,
    left: Option<(usize, f64)>,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let tolerance = path_tolerance(job);
    if let Some((i, amount)) = left.filter(|l| l.1 > tolerance) {
        findings.push(note(
            Rank::Warning,
            "metal-left",
            movements.get(metal.by[i]),
            format!("{} of metal stays at {} that the tool could take", mm(amount), radius(metal.radii[i])),
            "a block may be missing or wrong there, and the face shows it",
            "look at the blocks near this radius, or write the program anew",
        ));
    }
}

/// Whether a radius lies where the nose climbs out of a zone.
fn at_end(job: &Job, u: f64, climb: f64) -> bool {
    job.zones.iter().any(|z| (u - z.from.as_mm()).abs() < climb || (u - z.to.as_mm()).abs() < climb)
}

fn most(metal: &Metal, amount: impl Fn(usize, f64) -> f64) -> Option<RemainingMetal> {
    (0..metal.len())
        .filter(|&i| metal.in_zone[i])
        .map(|i| RemainingMetal { amount: amount(i, metal.radii[i]), radius: metal.radii[i] })
        .max_by(|a, b| a.amount.total_cmp(&b.amount))
}

/// Judges which zones were gone over, which way, and how often.
pub fn judge_job(
    job: &Job,
    metal: &Metal,
    allowed: &AllowedDepth,
    passes: &[SweptPass],
    movements: &[Movement],
    undone: Rank,
    findings: &mut Vec<Finding>,
) {
    zones(job, metal, allowed, undone, findings);
    for pass in passes.iter().filter(|p| p.kind == PassKind::Cut) {
        if pass.direction.is_some_and(|d| d != job.schedule.direction) {
            findings.push(note(
                Rank::Warning,
                "direction",
                movements.iter().find(|m| m.line == pass.from_line),
                format!("pass {} runs against the direction of the schedule", pass.number),
                "the face looks otherwise, and a tool may be made for one way",
                "turn the pass round, or the schedule",
            ));
            break;
        }
    }
    counts(job, passes, allowed.already, undone, findings);
}

fn zones(job: &Job, metal: &Metal, allowed: &AllowedDepth, undone: Rank, findings: &mut Vec<Finding>) {
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
        findings.push(note(
            undone,
            "zone-not-cut",
            None,
            format!("nothing is cut from {} to {}, inside a zone", radius(a), radius(b)),
            "a step stays in the face",
            "look for a pass cut short",
        ));
    }
}

fn counts(job: &Job, swept: &[SweptPass], already: f64, undone: Rank, findings: &mut Vec<Finding>) {
    let to_come = passes::to_come(&job.schedule, Length::mm(already), Length::mm(SLACK));
    let rough = job.schedule.rough.as_ref().map(|r| (&r.tool, to_come.rough));
    let finish = job.schedule.finish.as_ref().map(|f| (&f.tool, to_come.finish));
    for tool in &job.tools {
        let wanted: u32 = [rough, finish]
            .into_iter()
            .flatten()
            .filter(|(name, _)| **name == tool.name)
            .map(|(_, n)| n)
            .sum();
        let cut = swept.iter().filter(|p| p.kind == PassKind::Cut && p.tool == Some(tool.number)).count();
        if cut < wanted as usize {
            findings.push(note(
                undone,
                "passes-missing",
                None,
                format!(
                    "tool {} cuts {cut} {}; the schedule asks for {wanted}",
                    tool.number,
                    if cut == 1 { "pass" } else { "passes" }
                ),
                "damage may stay, or the texture be another",
                "write the program anew, or change the schedule",
            ));
        }
    }
}

/// Warns of damage and rest that stay.
pub fn judge_remaining(
    job: &Job,
    damage: Option<RemainingMetal>,
    rest: Option<RemainingMetal>,
    undone: Rank,
    findings: &mut Vec<Finding>,
) {
    let tolerance = path_tolerance(job);
    if let Some(s) = damage.filter(|s| s.amount > tolerance) {
        findings.push(note(
            undone,
            "damage-remains",
            None,
            format!("{} of metal stands over the bottom of the damage at {}", mm(s.amount), radius(s.radius)),
            "the damage will still be seen",
            "take another pass, if the allowance holds",
        ));
    }
    if let Some(s) = rest.filter(|s| s.amount > job.schedule.rest_limit.as_mm()) {
        findings.push(note(
            undone,
            "rest",
            None,
            format!("{} of metal stays at {} that this tool does not reach", mm(s.amount), radius(s.radius)),
            "a ridge or an unworked corner stays",
            "a smaller nose or a steeper edge reaches further",
        ));
    }
}
