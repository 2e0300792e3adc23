//! The exact path of every pass before any is fitted, each lowering what the one before it left, and the surfaces between the tools.

use super::PlanError;
use super::passes::{ROOM, cutting};
use super::rest::{RestPasses, rest_passes};
use super::run_off;
use super::surface::{self, Span};
use crate::face::Taken;
use crate::geometry::Curve;
use crate::job::{self, Job, PassDepth, Step, Tool, Zone};
use crate::plan::PassKind;
use crate::units::Length;

/// All passes of a plan, before any of them is fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct PassPaths<'j> {
    /// The passes of each tool in a row, in order.
    pub tools: Vec<ToolPasses<'j>>,
    /// The surface that the last of them leaves.
    pub left: Curve,
    /// Between which radii an earlier program of this job has touched the floor of each zone.
    pub floors: Vec<Span>,
}

/// Passes with one tool in a row.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolPasses<'j> {
    /// The tool.
    pub tool: &'j Tool,
    /// The surface that it meets.
    pub met: Curve,
    /// Its passes, at least one.
    pub passes: Vec<PassPath>,
    /// A path over all zones that its air pass lifts, where that is not its first pass.
    pub shown: Option<Curve>,
}

/// One pass.
#[derive(Debug, Clone, PartialEq)]
pub struct PassPath {
    /// How deep it goes, and what for.
    pub depth: PassDepth,
    /// How deep the face lies after it below the surface that passes follow, as measured.
    pub total: Length,
    /// The lowest path of the front point that cuts nothing below what the pass aims at, with room beyond the face at both ends.
    pub path: Curve,
    /// The radii between which it cuts, where that is not every zone.
    pub only_at: Option<Vec<Span>>,
    /// Volume of its chips, cubic millimetres, where that is not a ring of its depth over the zones.
    pub chips: Option<f64>,
}

/// The paths of these passes over a face of which earlier programs of this job have taken `already`, and really `taken` where that was
/// measured. The passes follow the face as measured at first, whatever was really taken: that only says what the first tool meets.
///
/// # Errors
/// If the schedule lacks what a pass needs.
pub fn pass_paths<'j>(
    job: &'j Job,
    face: &Curve,
    passes: &[PassDepth],
    already: Length,
    taken: Option<&Taken>,
) -> Result<PassPaths<'j>, PlanError> {
    let Earlier { mut left, floors } = earlier(job, face, already)?;
    let stands = taken.map(|taken| standing(job, face, taken, already)).transpose()?;
    let mut total = already;
    let mut tools: Vec<ToolPasses> = Vec::new();
    for &depth in passes {
        let tool = cutting(job, depth.kind)?.tool;
        let outline = tool.outline();
        if tools.last().is_none_or(|s| s.tool != tool) {
            if let Some(before) = tools.last() {
                left = before.left(face, job)?.unwrap_or(left);
            }
            let met = stands.as_ref().filter(|_| tools.is_empty()).unwrap_or(&left).clone();
            let rest = rest_before(job, face, &left, (tool, depth, total), &tools, &floors)?;
            let (passes, shown) = match rest {
                Some(rest) => {
                    left = rest.left;
                    (rest.passes, Some(rest.shown))
                }
                None => (Vec::new(), None),
            };
            tools.push(ToolPasses { tool, met, passes, shown });
        }
        total = Length::mm(total.as_mm() + depth.depth.as_mm());
        let before = tools.last().and_then(|s| s.passes.last()).filter(|p| p.only_at.is_none());
        let path = match before {
            Some(before) if job.schedule.step == Step::Axial => {
                surface::deeper(&before.path, depth.depth.as_mm(), &job.zones, &outline, face)
            }
            Some(before) => {
                left = run_off::left(&before.path, tool, face, job)?;
                surface::path(&left, depth, job.schedule.step, &job.zones, &outline, ROOM)
            }
            None => surface::path(&left, depth, job.schedule.step, &job.zones, &outline, ROOM),
        };
        if let Some(of_tool) = tools.last_mut() {
            of_tool.passes.push(PassPath { depth, total, path, only_at: None, chips: None });
        }
    }
    left = tools.last().map(|s| s.left(face, job)).transpose()?.flatten().unwrap_or(left);
    Ok(PassPaths { tools, left, floors })
}

impl ToolPasses<'_> {
    /// The surface over a face that its last pass leaves.
    fn left(&self, face: &Curve, job: &Job) -> Result<Option<Curve>, PlanError> {
        self.passes.last().map(|pass| run_off::left(&pass.path, self.tool, face, job)).transpose()
    }
}

/// The rest passes before the first pass of a tool, where it is the finish that comes after another tool.
fn rest_before(
    job: &Job,
    face: &Curve,
    standing: &Curve,
    (tool, depth, total): (&Tool, PassDepth, Length),
    before: &[ToolPasses],
    floors: &[Span],
) -> Result<Option<RestPasses>, PlanError> {
    let rough = job.schedule.rough.as_ref().and_then(|r| job.tool(&r.tool));
    let Some(rough) = rough.filter(|rough| *rough != tool) else { return Ok(None) };
    let asked = depth.kind == PassKind::Finish && job.schedule.rest_passes == job::RestPasses::Auto;
    if !asked || total.as_mm() <= 0.0 {
        return Ok(None);
    }
    let outline = rough.outline();
    let inset = job.control.resolution.as_mm();
    let last = before.last().and_then(|s| s.passes.last());
    let free = |(i, (zone, floor)): (usize, (&Zone, &Span))| {
        let zone = surface::span_of(zone);
        let own = last
            .and_then(|pass| run_off::floor_of(&pass.path, &outline, (inset, zone), job.zone_runs_off(i)));
        own.map_or(*floor, |own| Span { from: own.from.max(floor.from), to: own.to.min(floor.to) })
    };
    let floors: Vec<Span> = job.zones.iter().zip(floors).enumerate().map(free).collect();
    rest_passes(job, face, standing, (tool, depth.depth, total), &floors)
}

/// What earlier programs of this job have left.
struct Earlier {
    left: Curve,
    /// Between which radii every tool so far has touched the floor of each zone.
    floors: Vec<Span>,
}

/// The face as it stands after what was really taken, with the fillets of the tool that the schedule begins with.
fn standing(job: &Job, face: &Curve, taken: &Taken, already: Length) -> Result<Curve, PlanError> {
    let tool = cutting(job, first_kind(job))?.tool;
    let depth = |x: f64| taken.at(x, already.as_mm());
    run_off::left(&surface::path_over(face, &depth, &job.zones, &tool.outline(), ROOM), tool, face, job)
}

/// The kind of pass that the schedule begins with.
const fn first_kind(job: &Job) -> PassKind {
    if job.schedule.rough.is_some() { PassKind::Rough } else { PassKind::Finish }
}

/// The face after an earlier program of this job, run with the tool that the schedule begins with.
fn earlier(job: &Job, face: &Curve, already: Length) -> Result<Earlier, PlanError> {
    if already.as_mm() <= 0.0 {
        let all = Span { from: f64::NEG_INFINITY, to: f64::INFINITY };
        return Ok(Earlier { left: face.clone(), floors: vec![all; job.zones.len()] });
    }
    let kind = first_kind(job);
    let tool = cutting(job, kind)?.tool;
    let outline = tool.outline();
    let pass = PassDepth { kind, depth: already };
    let path = surface::path(face, pass, job.schedule.step, &job.zones, &outline, ROOM);
    let left = run_off::left(&path, tool, face, job)?;
    let floor = |(i, zone): (usize, &Zone)| {
        let zone = surface::span_of(zone);
        let inset = job.control.resolution.as_mm();
        run_off::floor_of(&path, &outline, (inset, zone), job.zone_runs_off(i)).unwrap_or(zone)
    };
    let floors = job.zones.iter().enumerate().map(floor).collect();
    Ok(Earlier { left, floors })
}
