//! The plan itself: operations, passes and their motions, put together from depths, surfaces and leads.

use super::approach::InflatedFace;
use super::finished;
use super::fitted::{FittedTool, fitted_tools};
use super::pass_paths::PassPaths;
use super::run_off;
use super::surface::{self, Aim, Span};
use super::tool_context::{Stroke, ToolContext};
use super::touching::TouchGround;
use super::{Operation, Pass, PassKind, Plan, PlanError, Rest, TouchOff};
use crate::diagnostics::{Finding, Place, PlanRule, Unit};
use crate::face::touch_check::Ground;
use crate::face::{Face, StandardErrors, Taken, Touch};
use crate::fit::Fitted;
use crate::geometry::{Curve, envelope};
use crate::job::passes::{self, Need, PassDepth};
use crate::job::{Job, Only, RestPasses, RoughPass, ScheduleError, Tool};
use crate::numeric::waviness::Noise;
use crate::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed, name_as_written};
use rayon::prelude::*;

/// Room beyond the face in which leads run, millimetres: the longest lead and a wide nose, and then some.
pub(super) const ROOM: f64 = 8.0;

/// What a person may ask of a plan beyond the job.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Options {
    /// Only the passes of one kind.
    pub only: Only,
    /// What an earlier program of this job has taken off already.
    pub already: Length,
    /// The noise that the face was measured with, where it is known: by it the waviness of the finished face is expected.
    pub noise: Option<Noise>,
}

/// How a pass is cut: the share of the schedule that its kind has.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cutting<'a> {
    pub tool: &'a Tool,
    pub surface_speed: SurfaceSpeed,
    pub feed: FeedPerRev,
    /// Where a person says that a fixed spindle speed changes; nothing where the plan may choose.
    pub speed_changes: &'a [Length],
}

/// Plans a job on a face.
///
/// # Errors
/// Everything that makes the job unsafe or impossible as asked, with its numbers: see [`PlanError`].
pub fn plan(job: &Job, face: &Face, options: Options) -> Result<Plan, PlanError> {
    let refused = match attempt(job, face, options, None) {
        Err(refused) if has_two_tools(job) && job.schedule.rest_passes == RestPasses::Auto => refused,
        planned => return planned,
    };
    // Rest passes are an offer: what stands in the way of theirs alone leaves the rest standing, told as such.
    let mut without = job.clone();
    without.schedule.rest_passes = RestPasses::Off;
    attempt(&without, face, options, Some(&refused)).map_err(|_| refused)
}

/// Whether the finish comes with another tool than the rough passes.
fn has_two_tools(job: &Job) -> bool {
    let schedule = &job.schedule;
    schedule.rough.as_ref().zip(schedule.finish.as_ref()).is_some_and(|(r, f)| r.tool != f.tool)
}

/// Plans a job as asked, or without its rest passes where those were refused.
fn attempt(
    job: &Job,
    face: &Face,
    options: Options,
    rest_refused: Option<&PlanError>,
) -> Result<Plan, PlanError> {
    within_measured(job, face)?;
    if !job.rings.is_empty() {
        return super::trial::plan_rings(job, face, options);
    }
    let need = face.need(&job.zones);
    let passes =
        passes::lay_out(&job.schedule, job.control.resolution, need.depth, options.already, options.only)?;
    // Where lines measured again show that a tool went deeper than these passes will, that is what counts.
    let gone = Length::mm(face.taken.as_ref().map_or(0.0, |taken| taken.most(&job.zones).0));
    let left = passes::within_allowance(&job.wheel, [options.already, gone], &passes, need)?;
    let spindle_limit =
        job.control.nameable_spindle_speed(least(job.machine.spindle_limit, job.wheel.speed_limit));

    let as_measured = Curve::from(face.follows());
    // What a tool stands on where nothing has been cut: the highest place, whatever the passes follow.
    let uncut = Curve::from(&face.highest);
    let deepest = Length::mm(options.already.as_mm() + passes::removed(&passes).as_mm());
    let (contexts, begun) = rayon::join(
        || {
            // Rapids keep the clearance over windows too, as high as their edges: what stands in them nobody has measured.
            let over_all = run_off::bridged_face(&as_measured, job);
            contexts(job, (&over_all, face.errors.as_ref()), &passes, spindle_limit, deepest)
        },
        || {
            let mut paths = PassPaths::new(job, &as_measured, &passes, options.already, face.taken.as_ref())?;
            Ok::<_, PlanError>((paths.next_tool()?, paths))
        },
    );
    let (contexts, (first, paths)) = (contexts?, begun?);
    let mut floors = paths.floors().to_vec();
    let (tools, surface) = fitted_tools(first, paths, &contexts)?;

    let total = tools.last().map_or(options.already, FittedTool::total);
    // The floor of a zone is where every pass so far has touched it: beside it stand the noses' own fillets.
    for strokes in tools.iter().flat_map(FittedTool::over_all_zones) {
        for (floor, stroke) in floors.iter_mut().zip(strokes) {
            *floor = Span { from: floor.from.max(stroke.touches.from), to: floor.to.min(stroke.touches.to) };
        }
    }
    let operation = |(i, tool): (usize, &FittedTool)| {
        let before = i.checked_sub(1).and_then(|i| tools.get(i)).map_or(&[][..], FittedTool::last_strokes);
        let context = contexts.of(tool.kind())?;
        let (touch_off, ground) = touch_off(job, [tool.met(), &uncut], before, context, face.taken.as_ref())
            .ok_or_else(|| PlanError::unreachable(tool.tool(), &job.zones))?;
        Ok(Operation {
            tool: tool.tool().clone(),
            touch_off,
            ground: Some(ground),
            check: None,
            check_leaves: None,
            passes: tool.passes().cloned().collect(),
        })
    };
    let operations = || tools.par_iter().enumerate().map(operation).collect::<Result<Vec<_>, PlanError>>();
    let rest = || rest(&floors, &surface, &surface::lowered(&as_measured, total.as_mm(), Aim::of(job)));
    let finished = || {
        let last = tools.last()?;
        Some(finished::finished(last.passes().last()?, last.last_strokes(), options.noise.as_ref()))
    };
    let (operations, (rest, finished)) = rayon::join(operations, || rayon::join(rest, finished));
    let (mut operations, finished) = (operations?, finished.unwrap_or_default());
    number(&mut operations);
    let removed = Length::mm(total.as_mm() - options.already.as_mm());
    let mut findings = findings(need, total, options.only);
    findings.extend(rest_finding(job, rest, rest_refused));
    findings.extend(finished::findings(job, &operations, &finished));
    findings.extend(another_zero(job));
    let last =
        tools.last().and_then(|tool| contexts.of(tool.kind()).ok()?.arcs_as_lines(tool.last_strokes()));
    findings.extend(last);
    Ok(Plan {
        operations,
        spindle_limit,
        already: options.already,
        needed: need.depth,
        removed,
        left,
        rest,
        finished,
        spare: None,
        which_face: None,
        cut_along: None,
        findings,
    })
}

/// What surrounds the tool of the rough passes and that of the finish and spring passes, as far as there are any.
pub(super) struct ToolContexts<'j> {
    rough: Option<ToolContext<'j>>,
    finish: Option<ToolContext<'j>>,
}

impl<'j> ToolContexts<'j> {
    pub fn of(&self, kind: PassKind) -> Result<&ToolContext<'j>, PlanError> {
        let context = if kind.is_finish() { &self.finish } else { &self.rough };
        context.as_ref().ok_or(PlanError::Schedule(ScheduleError::NothingToDo))
    }
}

fn contexts<'j>(
    job: &'j Job,
    (face, errors): (&Curve, Option<&'j StandardErrors>),
    passes: &[PassDepth],
    limit: SpindleSpeed,
    deepest: Length,
) -> Result<ToolContexts<'j>, PlanError> {
    let face = InflatedFace::new(face, job.machine.clearance.as_mm());
    let context = |finish: bool| {
        let pass = passes.iter().find(|p| p.kind.is_finish() == finish);
        let of =
            |p: &PassDepth| ToolContext::new(job, (&face, errors), cutting(job, p.kind)?, limit, deepest);
        pass.map(of).transpose()
    };
    Ok(ToolContexts { rough: context(false)?, finish: context(true)? })
}

fn least(a: SpindleSpeed, b: SpindleSpeed) -> SpindleSpeed {
    if a < b { a } else { b }
}

/// Refuses zones that reach beyond what was measured, and a touch-off beside it or in a keep-out.
fn within_measured(job: &Job, face: &Face) -> Result<(), PlanError> {
    let (start, end) = (Length::mm(face.highest.start()), Length::mm(face.highest.end()));
    if let Some(zone) = job.zones.iter().find(|z| z.from < start || z.to > end) {
        return Err(PlanError::NotMeasured { from: zone.from, to: zone.to, start, end });
    }
    if job.touching.setter.is_some() {
        return Ok(());
    }
    let at = job.touch_off_radius();
    if let Some(&[from, to]) = job.runs_off.windows.iter().find(|[from, to]| *from < at && at < *to) {
        return Err(PlanError::TouchOffInWindow { at, from, to });
    }
    if at < start || at > end {
        return Err(PlanError::TouchOff { at, start, end });
    }
    if let Some(keep_out) = job.keep_out.iter().find(|k| k.holds_radius(at)) {
        let [from, to] = keep_out.radii().map(Length::mm);
        return Err(PlanError::TouchOffKeptOut { at, name: name_as_written(keep_out.name()), from, to });
    }
    Ok(())
}

/// The tool, speed and feed of a pass.
pub(super) fn cutting(job: &Job, kind: PassKind) -> Result<Cutting<'_>, PlanError> {
    let rough = job
        .schedule
        .rough
        .as_ref()
        .map(|RoughPass { tool, surface_speed, feed, .. }| (tool, surface_speed, feed, [].as_slice()));
    let finish = job
        .schedule
        .finish
        .as_ref()
        .map(|f| (&f.tool, &f.surface_speed, &f.feed, f.speed_changes.as_slice()));
    let wanted = if kind.is_finish() { finish } else { rough };
    let (name, &surface_speed, feed, speed_changes) =
        wanted.ok_or(PlanError::Schedule(ScheduleError::NothingToDo))?;
    let tool = job.tool(name).ok_or(PlanError::Schedule(ScheduleError::NothingToDo))?;
    let feed = super::texture::feed_of(*feed, tool.nose_radius, job.control.unit_word)?;
    let surface_speed = job.control.nameable_surface_speed(surface_speed);
    Ok(Cutting { tool, surface_speed, feed: job.control.nameable_feed(feed), speed_changes })
}

/// Where a tool touches the highest place of the face: on the face as measured, or on what the strokes before have left where that is
/// lower; `surface` is what the passes before leave of the surface that they follow, `uncut` the face as measured. None where the tool meets neither.
fn touch_off(
    job: &Job,
    [surface, uncut]: [&Curve; 2],
    written: &[Stroke],
    context: &ToolContext,
    taken: Option<&Taken>,
) -> Option<(TouchOff, TouchGround)> {
    let wanted = job.touch_off_radius().as_mm();
    let at = context.grid.nearest_x(wanted);
    let runs_over = |s: &Stroke| s.fitted.fit.start() < at && at < s.fitted.fit.end();
    // Beside the strokes stands what nobody cut, which may hold a nose or an edge up.
    let on =
        if written.iter().any(runs_over) { Some(stands_after([surface, uncut], written)?) } else { None };
    let shim = job.touching.shim.as_mm();
    let cut = match &on {
        Some(cut) => {
            TouchGround::new(cut, &context.outline, shim)?.cut_within(job.schedule.tolerance.as_mm())
        }
        None => TouchGround::new(surface, &context.outline, shim)?,
    };
    let measured = TouchGround::new(uncut, &context.outline, shim)?;
    let lacquer = job.touching.lacquer;
    let stands = lacquer.as_mm() > 0.0 && !cut.is_below(&measured, at);
    // What the passes follow may stand above the highest place, so that they have not reached it yet.
    let below = measured.touch(at).z < cut.touch(at).z;
    let ground = match (stands, below) {
        (true, _) => {
            let met = if below { uncut } else { surface };
            TouchGround::new(met, &context.outline, shim + lacquer.as_mm())?
        }
        (false, true) => measured,
        (false, false) => cut,
    };
    let ground = if lacquer.as_mm() > 0.0 { ground.under_lacquer([surface, uncut], stands)? } else { ground };
    let ground = match (&on, taken) {
        (None, Some(taken)) => ground.cut_known(most_error(taken)),
        _ => ground,
    };
    let touch_off = if let Some(setter) = job.touching.setter {
        let at = Length::mm(context.grid.nearest_x(setter.x.as_mm()));
        // Its top is flat: the nose's lowest point meets it.
        TouchOff { at, z: setter.z + job.touching.shim, contact: at, lacquer: Length::mm(0.0) }
    } else {
        let Touch { z, contact } = ground.touch(at);
        let lacquer = if stands { lacquer } else { Length::mm(0.0) };
        TouchOff { at: Length::mm(at), z: Length::mm(z), contact: Length::mm(contact), lacquer }
    };
    Some((touch_off, ground))
}

/// A surface with what strokes leave as they are written in the place of what they were to leave. A holder may have kept a stroke above the metal, which
/// stands as it did before.
fn stands_after([surface, uncut]: [&Curve; 2], strokes: &[Stroke]) -> Option<Curve> {
    let stands = strokes.iter().try_fold(
        surface.clone(),
        |stands, Stroke { fitted: Fitted { fit, .. }, outline, .. }| {
            let span = Span { from: fit.start(), to: fit.end() };
            let cut = envelope::erode(fit, outline, [span.from, span.to])?;
            Some(surface::replaced(&stands, &cut, &[span]))
        },
    )?;
    Some(envelope::lower(&stands, uncut))
}

/// The greatest standard error of what was really taken, millimetres.
fn most_error(taken: &Taken) -> f64 {
    taken.error.points().iter().map(|p| p.z).fold(0.0, f64::max)
}

/// Lines of another sensor than the one from whose zero the shop's places count.
pub(super) fn another_zero(job: &Job) -> Option<Finding> {
    let sensor = name_as_written(job.measured.not_the_shops.as_ref()?);
    let what = format!(
        "Another sensor than the shop's {sensor} measured: park, travel and keep-outs in the shop file count from the zero of {sensor}. Check each of them from this one's zero."
    );
    Some(Finding::new(PlanRule::AnotherZero, Place::Whole, what))
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
pub(super) fn number(operations: &mut [Operation]) {
    for kind in [PassKind::Air, PassKind::Rough, PassKind::Rest, PassKind::Finish, PassKind::Spring] {
        let mut of_kind: Vec<&mut Pass> =
            operations.iter_mut().flat_map(|o| &mut o.passes).filter(|p| p.kind == kind).collect();
        let of = u32::try_from(of_kind.len()).unwrap_or(u32::MAX);
        for (number, pass) in (1..).zip(&mut of_kind) {
            (pass.number, pass.of) = (number, of);
        }
    }
}

/// What a person should know that does not stop the plan.
fn findings(need: Need, total: Length, only: Only) -> Vec<Finding> {
    let mut findings = Vec::new();
    let short = need.depth.as_mm() - total.as_mm();
    if short > Length::mm(1e-6).as_mm() && only != Only::Rough {
        let what = format!(
            "the passes end {:.3} above what clean-up needs: damage of that depth stays at radius {:.1}",
            Length::mm(short),
            need.at
        );
        let stays = Finding::new(PlanRule::DamageStays, Place::radius(need.at.as_mm()), what);
        findings.push(stays.measured(short, None, Unit::Mm));
    }
    findings
}

/// The metal above the rest limit that stays on the floors of the zones, with the reason.
fn rest_finding(job: &Job, rest: Rest, refused: Option<&PlanError>) -> Option<Finding> {
    let limit = job.schedule.rest_limit;
    if rest.amount <= limit {
        return None;
    }
    let what = if has_two_tools(job) && job.schedule.rest_passes == RestPasses::Off {
        let why = match refused.map(ToString::to_string) {
            Some(refused) => {
                format!("rest passes cannot be run: {}", refused.lines().next().unwrap_or_default())
            }
            None => "the schedule has no rest passes".to_owned(),
        };
        format!(
            "up to {:.3} of metal stays at radius {:.1}, where the rough tool could not reach, and {why}",
            rest.amount, rest.at
        )
    } else {
        format!(
            "the tool cannot reach up to {:.3} of metal at radius {:.1}: the nose is too round or the edges too flat for the face there",
            rest.amount, rest.at
        )
    };
    let left = Finding::new(PlanRule::OutOfReach, Place::radius(rest.at.as_mm()), what);
    Some(left.measured(rest.amount.as_mm(), Some(limit.as_mm()), Unit::Mm))
}
