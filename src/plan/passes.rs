//! The plan itself: operations, passes and their motions, put together from depths, surfaces and leads.

use super::depths::{self, DepthOfPass, Need, Only};
use super::site::{Rest, Site, Stroke};
use super::surface::{self, Span, Swept};
use super::{Operation, Pass, PassKind, Plan, Refusal, TouchOff};
use crate::face::Face;
use crate::geometry::tube::Fitted;
use crate::geometry::{Curve, envelope};
use crate::job::{FinishPass, Job, RoughPass, Tool, Zone};
use crate::quantity::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed};
use crate::side_by_side;

/// Room beyond the face in which leads run, millimetres: the longest lead and a wide nose, and then some.
pub(super) const ROOM: f64 = 8.0;

/// What a person may ask of a plan beyond the job.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Options {
    /// Only the passes of one kind.
    pub only: Only,
    /// What an earlier program of this job has taken off already.
    pub already: Length,
}

/// How a pass is cut: the share of the schedule that its kind has.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cutting<'a> {
    pub tool: &'a Tool,
    pub surface_speed: SurfaceSpeed,
    pub feed: FeedPerRev,
}

/// Plans a job on a face.
///
/// # Errors
/// Everything that makes the job unsafe or impossible as asked, with its numbers: see [`Refusal`].
pub fn plan(job: &Job, face: &Face, options: Options) -> Result<Plan, Refusal> {
    within_measured(job, face)?;
    let need = depths::clean_up(face, &job.zones);
    let passes =
        depths::lay_out(&job.schedule, job.control.resolution, need.depth, options.already, options.only)?;
    let left = depths::within_allowance(job, options.already, &passes, need)?;
    let spindle_limit = least(job.machine.spindle_limit, job.wheel.speed_limit);

    let as_measured = Curve::from(&face.highest);
    let sites = sites(job, &as_measured, &passes, spindle_limit)?;
    let Earlier { mut surface, mut floors } = earlier(job, &as_measured, options.already)?;
    // Each exact path needs what the one before it leaves; their fits need nothing of each other.
    let mut total = options.already;
    let mut turns: Vec<Turn> = Vec::new();
    for &depth in &passes {
        let (_, site) = sites.iter().find(|s| s.0 == has_finish(depth.kind)).ok_or(Refusal::NothingToDo)?;
        let swept = surface::sweep(&surface, depth, job.schedule.step, &job.zones, &site.outline, ROOM);
        let before = std::mem::replace(&mut surface, swept.left.clone());
        total = Length::mm(total.as_mm() + depth.depth.as_mm());
        turns.push(Turn { depth, total, site, before, swept });
    }

    let mut operations: Vec<Operation> = Vec::new();
    let mut written: Vec<Stroke> = Vec::new();
    for (turn, strokes) in turns.iter().zip(strokes(&turns)) {
        let Turn { depth, total, site, before, swept } = turn;
        let strokes = strokes?;
        // The floor of a zone is where every pass so far has touched it: beside it stand the noses' own fillets.
        for (floor, stroke) in floors.iter_mut().zip(&strokes) {
            *floor = Span { from: floor.from.max(stroke.touches.from), to: floor.to.min(stroke.touches.to) };
        }
        let ideal = surface::lowered(&as_measured, total.as_mm(), job.schedule.step);
        let rest = rest(&floors, &swept.left, &ideal);
        let pass = site.pass(&strokes, rest, *depth, *total)?;
        let tool = site.cutting.tool;
        match operations.last_mut() {
            Some(operation) if operation.tool == *tool => operation.passes.push(pass),
            _ => operations.push(Operation {
                tool: tool.clone(),
                touch_off: touch_off(job, before, &written, site),
                passes: vec![site.air_pass(&strokes, &pass)?, pass],
            }),
        }
        written = strokes;
    }
    number(&mut operations);
    let removed = Length::mm(total.as_mm() - options.already.as_mm());
    let warnings = warnings(job, need, total, options.only, &operations);
    Ok(Plan { operations, spindle_limit, removed, left, warnings })
}

/// One pass on its way: what it meets and what it leaves.
struct Turn<'s, 'j> {
    depth: DepthOfPass,
    /// How deep the face lies after it below the highest place as measured.
    total: Length,
    site: &'s Site<'j>,
    before: Curve,
    swept: Swept,
}

/// The strokes of each pass. The first pass of each tool is fitted from nothing; the others of that tool go on from its fit, since
/// their paths are that path moved down, but for the ends.
fn strokes(turns: &[Turn]) -> Vec<Result<Vec<Stroke>, Refusal>> {
    let same_tool = |a: &Turn, b: &Turn| a.site.cutting.tool == b.site.cutting.tool;
    let mut firsts: Vec<&Turn> = Vec::new();
    for turn in turns {
        if firsts.iter().all(|first| !same_tool(first, turn)) {
            firsts.push(turn);
        }
    }
    let of_firsts = side_by_side::map(&firsts, |turn| turn.site.strokes(&turn.swept.path, None));
    side_by_side::map(turns, |turn| {
        let first = firsts.iter().zip(&of_firsts).find(|(first, _)| same_tool(first, turn));
        match first {
            Some((first, Ok(known))) if !std::ptr::eq(*first, turn) => {
                let deeper = Length::mm(turn.total.as_mm() - first.total.as_mm());
                turn.site.strokes(&turn.swept.path, Some((known, deeper)))
            }
            Some((_, known)) => known.clone(),
            None => turn.site.strokes(&turn.swept.path, None),
        }
    })
}

/// What surrounds the tool of the rough passes and that of the finish and spring passes, as far as there are any.
fn sites<'j>(
    job: &'j Job,
    face: &Curve,
    passes: &[DepthOfPass],
    limit: SpindleSpeed,
) -> Result<Vec<(bool, Site<'j>)>, Refusal> {
    let mut sites: Vec<(bool, Site)> = Vec::new();
    for pass in passes {
        if sites.iter().all(|s| s.0 != has_finish(pass.kind)) {
            sites.push((has_finish(pass.kind), Site::new(job, face, cutting(job, pass.kind)?, limit)?));
        }
    }
    Ok(sites)
}

/// Whether a pass has the schedule's share of the finish.
const fn has_finish(kind: PassKind) -> bool {
    matches!(kind, PassKind::Finish | PassKind::Spring)
}

/// What earlier programs of this job have left.
struct Earlier {
    surface: Curve,
    /// Between which radii every tool so far has touched the floor of each zone.
    floors: Vec<Span>,
}

/// The face after an earlier program of this job, run with the tool that the schedule begins with.
fn earlier(job: &Job, face: &Curve, already: Length) -> Result<Earlier, Refusal> {
    if already.as_mm() <= 0.0 {
        let all = Span { from: f64::NEG_INFINITY, to: f64::INFINITY };
        return Ok(Earlier { surface: face.clone(), floors: vec![all; job.zones.len()] });
    }
    let kind = if job.schedule.rough.is_some() { PassKind::Rough } else { PassKind::Finish };
    let tool = cutting(job, kind)?.tool.outline();
    let pass = DepthOfPass { kind, depth: already };
    let swept = surface::sweep(face, pass, job.schedule.step, &job.zones, &tool, ROOM);
    let floor = |zone: &Zone| {
        let zone = Span { from: zone.from.as_mm(), to: zone.to.as_mm() };
        let window = surface::window(&swept.path, &tool, zone).unwrap_or(zone);
        surface::floor(&swept.path, &tool, window, job.control.resolution.as_mm(), zone)
    };
    let floors = job.zones.iter().map(floor).collect();
    Ok(Earlier { surface: swept.left, floors })
}

fn least(a: SpindleSpeed, b: SpindleSpeed) -> SpindleSpeed {
    if a < b { a } else { b }
}

/// Refuses zones that reach beyond what was measured, and a touch-off beside it or in a keep-out.
fn within_measured(job: &Job, face: &Face) -> Result<(), Refusal> {
    let (start, end) = (Length::mm(face.highest.start()), Length::mm(face.highest.end()));
    if let Some(zone) = job.zones.iter().find(|z| z.from < start || z.to > end) {
        return Err(Refusal::NotMeasured { from: zone.from, to: zone.to, start, end });
    }
    let at = job.touch_off_radius();
    let kept_out = job.keep_out.iter().any(|k| k.x[0] <= at && at <= k.x[1]);
    if at < start || at > end || kept_out {
        return Err(Refusal::TouchOff { at, start, end });
    }
    Ok(())
}

/// The tool, speed and feed of a pass.
fn cutting(job: &Job, kind: PassKind) -> Result<Cutting<'_>, Refusal> {
    let rough = job
        .schedule
        .rough
        .as_ref()
        .map(|RoughPass { tool, surface_speed, feed, .. }| (tool, surface_speed, feed));
    let finish = job
        .schedule
        .finish
        .as_ref()
        .map(|FinishPass { tool, surface_speed, feed, .. }| (tool, surface_speed, feed));
    let wanted = if has_finish(kind) { finish } else { rough };
    let (name, &surface_speed, feed) = wanted.ok_or(Refusal::NothingToDo)?;
    let tool = job.tool(name).ok_or(Refusal::NothingToDo)?;
    let feed = super::texture::feed_of(*feed, tool.nose_radius, job.control.unit_word)?;
    Ok(Cutting { tool, surface_speed, feed })
}

/// Where a tool touches the highest place of the face: on the face as measured, or on what the strokes before have left.
fn touch_off(job: &Job, surface: &Curve, written: &[Stroke], site: &Site) -> TouchOff {
    let wanted = job.touch_off_radius().as_mm();
    let at = site.grid.nearest_x(wanted);
    let runs_over = |s: &&Stroke| s.fitted.fit.start() < at && at < s.fitted.fit.end();
    let on = written.iter().find(runs_over).map(|Stroke { fitted: Fitted { fit, .. }, outline, .. }| {
        envelope::erode(fit, outline, [fit.start(), fit.end()])
    });
    let on = on.as_ref().unwrap_or(surface);
    let path = envelope::dilate(on, &site.outline, [on.start(), on.end()]);
    TouchOff {
        at: Length::mm(at),
        z: Length::mm(path.at(at)),
        contact: Length::mm(surface::contact_at(&path, &site.outline, at)),
    }
}

/// The most metal left above the ideal surface on the floors of the zones, and where.
fn rest(floors: &[Span], left: &Curve, ideal: &Curve) -> Rest {
    let floors = floors.iter().filter(|s| s.from < s.to);
    let most = floors
        .filter_map(|s| envelope::greatest_excess(&left.slice(s.from, s.to)?, ideal))
        .max_by(|a, b| a.height.total_cmp(&b.height));
    let (amount, at) = most.map_or((0.0, 0.0), |e| (e.height.max(0.0), e.x));
    Rest { amount: Length::mm(amount), at: Length::mm(at) }
}

/// Counts the passes of each kind through the whole plan.
fn number(operations: &mut [Operation]) {
    for kind in [PassKind::Air, PassKind::Rough, PassKind::Finish, PassKind::Spring] {
        let mut of_kind: Vec<&mut Pass> =
            operations.iter_mut().flat_map(|o| &mut o.passes).filter(|p| p.kind == kind).collect();
        let of = u32::try_from(of_kind.len()).unwrap_or(u32::MAX);
        for (number, pass) in (1..).zip(&mut of_kind) {
            (pass.number, pass.of) = (number, of);
        }
    }
}

/// What a person should know that does not stop the plan.
fn warnings(job: &Job, need: Need, total: Length, only: Only, operations: &[Operation]) -> Vec<String> {
    let mut warnings = Vec::new();
    let short = need.depth.as_mm() - total.as_mm();
    if short > Length::mm(1e-6).as_mm() && only != Only::Rough {
        warnings.push(format!(
            "the passes end {:.3} above what clean-up needs: damage of that depth stays at radius {:.1}",
            Length::mm(short),
            need.at
        ));
    }
    let last = operations.last().and_then(|o| o.passes.last());
    if let Some(figures) = last.map(|p| p.figures).filter(|f| f.rest > job.schedule.rest_limit) {
        warnings.push(format!(
            "the tool cannot reach up to {:.3} of metal at radius {:.1}: the nose is too round or the edges too flat for the face there",
            figures.rest, figures.rest_at
        ));
    }
    warnings
}
