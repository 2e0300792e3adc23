//! The exact path of every pass before any is fitted, each lowering what the one before it left, and the surfaces between the tools.

use super::PlanError;
use super::passes::{ROOM, cutting};
use super::rest::{RestPasses, RestPlace, rest_passes};
use super::run_off;
use super::surface::{self, Aim, Span};
use crate::face::Taken;
use crate::geometry::{Curve, Outline, envelope};
use crate::job::{self, Job, PassDepth, Step, Tool, Zone};
use crate::plan::PassKind;
use crate::units::Length;

/// The passes of a plan before any of them is fitted, tool by tool: each lowers what the one before it left.
#[derive(Debug, Clone, PartialEq)]
pub struct PassPaths<'j> {
    job: &'j Job,
    /// The surface that passes follow, as measured at first.
    face: &'j Curve,
    /// The passes to come.
    passes: &'j [PassDepth],
    /// How deep the face lies after those so far.
    total: Length,
    /// The surface that the tools before left, but for the last of them.
    left: Curve,
    /// What the first tool meets, where it was measured.
    stands: Option<Curve>,
    /// Between which radii an earlier program of this job has touched the floor of each zone.
    floors: Vec<Span>,
    /// The last path of the last tool so far.
    last: Option<(&'j Tool, Curve)>,
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
    /// How deep the face lies before them.
    pub begins: Length,
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
    /// The places at which it cuts, where that is not every zone.
    pub only_at: Option<Vec<RestPlace>>,
    /// Volume of its chips, cubic millimetres, where that is not a ring of its depth over the zones.
    pub chips: Option<f64>,
}

impl<'j> PassPaths<'j> {
    /// These passes over a face of which earlier programs of this job have taken `already`, and really `taken` where that was
    /// measured. The passes follow the face as measured at first, whatever was really taken: that only says what the first tool meets.
    ///
    /// # Errors
    /// If the schedule lacks what a pass needs.
    pub fn new(
        job: &'j Job,
        face: &'j Curve,
        passes: &'j [PassDepth],
        already: Length,
        taken: Option<&Taken>,
    ) -> Result<Self, PlanError> {
        let Earlier { left, floors } = earlier(job, face, already)?;
        let stands = taken.map(|taken| standing(job, face, taken, already)).transpose()?;
        Ok(Self { job, face, passes, total: already, left, stands, floors, last: None })
    }

    /// Between which radii an earlier program of this job has touched the floor of each zone.
    #[must_use]
    pub fn floors(&self) -> &[Span] {
        &self.floors
    }

    /// The surface that the last of them leaves, once there is no next tool.
    #[must_use]
    pub fn left(self) -> Curve {
        self.left
    }

    /// The passes with the next tool; none after the last of them.
    ///
    /// # Errors
    /// If the schedule lacks what a pass needs.
    pub fn next_tool(&mut self) -> Result<Option<ToolPasses<'j>>, PlanError> {
        let (job, face) = (self.job, self.face);
        let before = self.last.take();
        if let Some((tool, path)) = &before {
            self.left = left_of(&self.left, path, tool, (job, face))?;
        }
        let Some(&first) = self.passes.first() else { return Ok(None) };
        let (tool, begins) = (cutting(job, first.kind)?.tool, self.total);
        let (outline, step) = (tool.outline(), job.schedule.step);
        let tolerance = job.schedule.tolerance.as_mm();
        let met = self.stands.take().unwrap_or_else(|| self.left.clone());
        let reaches = |path: Option<Curve>| path.ok_or_else(|| PlanError::unreachable(tool, &job.zones));
        let aimed = |left: &Curve, depth| {
            reaches(surface::pass_path(left, depth, Aim::of(job), (&outline, tolerance), ROOM))
        };
        // Most wheels ask for no rest pass: the path without one is found meanwhile.
        let (rest, without) = rayon::join(
            || rest_before(job, face, &self.left, (tool, first, begins), before.as_ref(), &self.floors),
            || aimed(&self.left, first),
        );
        let (mut passes, shown, mut path) = match rest? {
            Some(rest) => {
                self.left = rest.left;
                (rest.passes, Some(rest.shown), aimed(&self.left, first)?)
            }
            None => (Vec::new(), None, without?),
        };
        let with_it = |pass: &&PassDepth| cutting(job, pass.kind).is_ok_and(|c| c.tool == tool);
        let (own, later) = self.passes.split_at(self.passes.iter().take_while(with_it).count());
        self.passes = later;
        for (k, &depth) in own.iter().enumerate() {
            if k > 0 {
                path = match step {
                    // What a holder may not take in one pass, the nose takes before the next.
                    Step::Axial if outline.holder.is_none() => {
                        reaches(surface::deeper(&path, depth.depth.as_mm(), Aim::of(job), &outline, face))?
                    }
                    Step::Axial | Step::Normal => {
                        self.left = left_of(&self.left, &path, tool, (job, face))?;
                        let lower = aimed(&self.left, depth)?;
                        goes_deeper(&path, &lower, depth, tolerance)
                            .ok_or_else(|| PlanError::unreachable(tool, &job.zones))?;
                        lower
                    }
                };
            }
            self.total = Length::mm(self.total.as_mm() + depth.depth.as_mm());
            passes.push(PassPath {
                depth,
                total: self.total,
                path: path.clone(),
                only_at: None,
                chips: None,
            });
        }
        if let Some(&depth) = own.last() {
            reaches_most(&path, &self.left, depth, (tool, job))?;
        }
        self.last = Some((tool, path));
        Ok(Some(ToolPasses { tool, met, passes, shown, begins }))
    }
}

/// What a path leaves of a surface: where it stays above, what stood stands. No tool puts metal on.
fn left_of(
    standing: &Curve,
    path: &Curve,
    tool: &Tool,
    (job, face): (&Job, &Curve),
) -> Result<Curve, PlanError> {
    Ok(envelope::lower(standing, &run_off::left(path, tool, face, job)?))
}

/// Nothing where a pass goes nowhere deeper than the one before it by more than the tolerance of its path: a holder between two walls, which nothing frees.
fn goes_deeper(before: &Curve, path: &Curve, depth: PassDepth, tolerance: f64) -> Option<()> {
    let lower = || envelope::greatest_excess(before, path).is_some_and(|excess| excess.height > tolerance);
    (depth.depth.as_mm() <= 0.0 || lower()).then_some(())
}

/// A tool whose holder keeps the nose off over a greater share of a zone than this restores no face there. Common practice, no source.
const MOST_HELD_OFF: f64 = 0.5;

/// A refusal where the path of a pass, over what it meets, lies over most of a zone where its holder and not its nose must be: by half of its depth and
/// more above the path of the same tool without a holder.
fn reaches_most(
    path: &Curve,
    met: &Curve,
    pass: PassDepth,
    (tool, job): (&Tool, &Job),
) -> Result<(), PlanError> {
    if tool.holder.is_none() {
        return Ok(());
    }
    let bare = Outline { holder: None, ..tool.outline() };
    let bare = surface::path(met, pass, Aim::of(job), &bare, ROOM)
        .ok_or_else(|| PlanError::unreachable(tool, &job.zones))?;
    let by = 0.5 * pass.depth.as_mm() + surface::AS_WRITTEN * job.schedule.tolerance.as_mm();
    let held_off = envelope::stretches_above(path, &bare, by);
    for zone in &job.zones {
        let Span { from, to } = surface::span_of(zone);
        let held: f64 = held_off.iter().map(|[a, b]| (b.min(to) - a.max(from)).max(0.0)).sum();
        if held > MOST_HELD_OFF * (to - from) {
            let held = Length::mm(held);
            return Err(PlanError::HeldOff { tool: tool.name.clone(), from: zone.from, to: zone.to, held });
        }
    }
    Ok(())
}

/// The rest passes before the first pass of a tool, where it is the finish that comes after another tool.
fn rest_before(
    job: &Job,
    face: &Curve,
    standing: &Curve,
    (tool, depth, total): (&Tool, PassDepth, Length),
    before: Option<&(&Tool, Curve)>,
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
    let free = |(i, (zone, floor)): (usize, (&Zone, &Span))| {
        let zone = surface::span_of(zone);
        let own = before
            .and_then(|(_, path)| run_off::floor_of(path, &outline, (inset, zone), job.zone_runs_off(i)));
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
    let path = surface::path_over(face, &depth, &job.zones, &tool.outline(), ROOM)
        .ok_or_else(|| PlanError::unreachable(tool, &job.zones))?;
    run_off::left(&path, tool, face, job)
}

/// The kind of pass that the schedule begins with.
const fn first_kind(job: &Job) -> PassKind {
    if job.schedule.rough.is_some() { PassKind::Rough } else { PassKind::Finish }
}

/// Earlier programs are not taken to have made more passes than this: beyond, a pass more changes what stands in a corner by a hundredth of it.
const MOST_EARLIER: u32 = 60;

/// How many passes have to be told apart to know what earlier programs have left. Along the axis one pass leaves what many do. Along the
/// normal each pass leaves in a corner the fillet of the one before, grown by its depth, and a holder keeps each pass off what the one before left:
/// there they were as deep as the schedule says.
fn earlier_passes(job: &Job, tool: &Tool, already: Length) -> u32 {
    let schedule = &job.schedule;
    let depth = schedule.rough.as_ref().map(|r| r.depth).or(schedule.finish.as_ref().map(|f| f.depth));
    let depth = depth.map_or(0.0, Length::as_mm);
    if (schedule.step == Step::Axial && tool.holder.is_none()) || depth <= 0.0 {
        return 1;
    }
    // A little less than a whole pass more is no pass more.
    let count = (already.as_mm() / depth - 1e-6).ceil().clamp(1.0, f64::from(MOST_EARLIER));
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Within the clamp.
    let count = count as u32;
    count
}

/// The face after an earlier program of this job, run with the tool that the schedule begins with.
fn earlier(job: &Job, face: &Curve, already: Length) -> Result<Earlier, PlanError> {
    if already.as_mm() <= 0.0 {
        let all = Span { from: f64::NEG_INFINITY, to: f64::INFINITY };
        return Ok(Earlier { left: face.clone(), floors: vec![all; job.zones.len()] });
    }
    let kind = first_kind(job);
    let tool = cutting(job, kind)?.tool;
    let (outline, tolerance) = (tool.outline(), job.schedule.tolerance.as_mm());
    let count = earlier_passes(job, tool, already);
    let pass = PassDepth { kind, depth: Length::mm(already.as_mm() / f64::from(count)) };
    let reach = |left: &Curve| {
        let path = surface::pass_path(left, pass, Aim::of(job), (&outline, tolerance), ROOM)
            .ok_or_else(|| PlanError::unreachable(tool, &job.zones))?;
        let left = left_of(left, &path, tool, (job, face))?;
        Ok::<_, PlanError>((path, left))
    };
    let mut met = face.clone();
    let (mut path, mut left) = reach(&met)?;
    for _ in 1..count {
        met = left;
        (path, left) = reach(&met)?;
    }
    reaches_most(&path, &met, pass, (tool, job))?;
    let floor = |(i, zone): (usize, &Zone)| {
        let zone = surface::span_of(zone);
        let inset = job.control.resolution.as_mm();
        run_off::floor_of(&path, &outline, (inset, zone), job.zone_runs_off(i)).unwrap_or(zone)
    };
    let floors = job.zones.iter().enumerate().map(floor).collect();
    Ok(Earlier { left, floors })
}
