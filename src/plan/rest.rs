//! Rest passes: what a blunt rough tool leaves in fillets, taken by the finish tool at those places only.
//!
//! S is the surface that stands before the finish, R the one that the finish tool would have left had it made every pass so far:
//! the closing by that tool of the face lowered by what has gone. Where S stands above that lowered face by more than
//! the rest limit, and the tool can reach some of it, there is a place for rest passes. Each aims, at its places, at the higher of R and of S lowered by the finish's depth: so none takes more than its depth
//! of what stands, and none goes below R and so none below the finish. A pass is run only at the places where metal is left, a little to either side of them, where it runs on what
//! stands already.
//!
//! The fillet that a nose leaves against metal beside a zone is no rest: it goes with the metal that is left alone.

use super::pass_paths::PassPath;
use super::passes::ROOM;
use super::run_off;
use super::surface::{self, Aim, Span};
use super::{PassKind, PlanError};
use crate::geometry::{Curve, Outline, envelope};
use crate::job::{Job, PassDepth, Tool, Zone};
use crate::units::Length;

/// More rest passes than this are a schedule that does not suit the wheel, not a fillet; what they leave is told as rest.
const MOST_PASSES: usize = 60;

/// A rest pass begins and ends this far beside the metal that it takes, millimetres: there its nose runs on what stands, and leaves no step.
const BESIDE: f64 = 0.2;

/// Where a surface stands above another by no more than this the two are one, millimetres: half a step of most controls.
const NOTHING: f64 = 0.0005;

/// Distance of the radii at which chips are summed, millimetres.
const CHIP_STEP: f64 = 0.01;

/// The rest passes before a finish.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RestPasses {
    /// The passes, at least one, in order.
    pub passes: Vec<PassPath>,
    /// The path whose lifted copy shows, before they begin, where all of them and the finish will run.
    pub shown: Curve,
    /// The surface that they leave.
    pub left: Curve,
}

/// A place at which a rest pass cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestPlace {
    /// The radii between which it takes metal.
    pub metal: Span,
    /// Where along its path the end of an edge takes metal while its nose stands elsewhere, as far as it does.
    pub along: Option<Span>,
}

/// What is the same for all rest passes.
struct RestWork<'a> {
    job: &'a Job,
    tool: &'a Tool,
    /// The lowest surface that the tool may leave before its finish.
    reached: Curve,
    /// Depth of a pass.
    depth: f64,
}

/// The rest passes of the finish tool over a surface, before a finish of a depth; none where the finish has nothing to leave to them.
///
/// `total` is what has gone off the face before, and `floors` are the parts of the zones where the tools before ran free of their ends.
///
/// # Errors
/// If the tool meets the face nowhere.
pub(super) fn rest_passes(
    job: &Job,
    face: &Curve,
    standing: &Curve,
    (tool, depth, total): (&Tool, Length, Length),
    floors: &[Span],
) -> Result<Option<RestPasses>, PlanError> {
    if depth.as_mm() <= 0.0 {
        return Ok(None);
    }
    let gone = PassDepth { kind: PassKind::Rest, depth: total };
    let path = surface::path(face, gone, Aim::of(job), &tool.outline(), ROOM)
        .ok_or_else(|| PlanError::unreachable(tool, &job.zones))?;
    let inside = free_of_ends(job, &path, &tool.outline(), floors);
    let ideal = surface::lowered(face, total.as_mm(), Aim::of(job));
    let reached = run_off::left(&path, tool, face, job)?;
    let work = RestWork { job, tool, reached, depth: depth.as_mm() };
    let places = work.places(standing, &ideal, &inside);
    if places.is_empty() {
        return Ok(None);
    }
    let first = work.aim(standing, &places);
    let zones: Vec<Span> = job.zones.iter().map(surface::span_of).collect();
    let low = surface::replaced(&surface::lowered(standing, work.depth, Aim::of(job)), &first, &places);
    let shown = work.path(&surface::replaced(standing, &low, &zones), standing)?;
    let mut passes = Vec::new();
    let (mut left, mut open) = (standing.clone(), places);
    let tolerance = job.schedule.tolerance.as_mm();
    while !open.is_empty() && passes.len() < MOST_PASSES {
        let path = work.path(&surface::replaced(&left, &work.aim(&left, &open), &open), &left)?;
        let after = envelope::lower(&left, &run_off::left(&path, tool, face, job)?);
        // Where metal beside a place keeps the nose out, another pass would cut air: what stays there is told as rest.
        let cuts = |span: &Span| most_above(&left, &after, *span) > tolerance;
        if !open.iter().all(cuts) {
            open.retain(cuts);
            continue;
        }
        let chips = open.iter().map(|span| volume(&left, &after, *span)).sum();
        let depth = PassDepth { kind: PassKind::Rest, depth };
        let only_at = Some(work.run_at(&path, &left, &open)?);
        passes.push(PassPath { depth, total, path, only_at, chips: Some(chips) });
        left = after;
        open.retain(|span| most_above(&left, &work.reached, *span) > tolerance);
    }
    Ok(Some(RestPasses { passes, shown, left }))
}

impl RestWork<'_> {
    /// Where a surface stands above the ideal one by more than the rest limit, as far as there is anything to take, and a little beside.
    fn places(&self, standing: &Curve, ideal: &Curve, inside: &[Span]) -> Vec<Span> {
        let [limit, tolerance] =
            [self.job.schedule.rest_limit, self.job.schedule.tolerance].map(Length::as_mm);
        let stretches = envelope::stretches_above(standing, &self.reached, NOTHING);
        let mut places: Vec<Span> = Vec::new();
        for zone in inside {
            for [from, to] in &stretches {
                let cut = Span { from: from.max(zone.from), to: to.min(zone.to) };
                let little = most_above(standing, &self.reached, cut) <= tolerance;
                if cut.from >= cut.to || little || most_above(standing, ideal, cut) <= limit {
                    continue;
                }
                let wide =
                    Span { from: (cut.from - BESIDE).max(zone.from), to: (cut.to + BESIDE).min(zone.to) };
                match places.last_mut().filter(|before| before.to >= wide.from) {
                    Some(before) => before.to = wide.to,
                    None => places.push(wide),
                }
            }
        }
        places
    }

    /// What a pass aims at over a surface, at its places: its depth lower, but no lower than the tool may leave.
    fn aim(&self, surface: &Curve, places: &[Span]) -> Curve {
        let low = surface::lowered(surface, self.depth, Aim::of(self.job));
        let aimed = envelope::higher(&low, &self.reached);
        // Where the tool may leave no less than what stands, that stays.
        surface::replaced(surface, &envelope::lower(&aimed, surface), places)
    }

    /// Where a path over a surface is run to take its metal at some places. Where edges end at a holder, the end of one may take metal that no nose
    /// comes near: every stretch of the path that lies below where the tool would touch nothing is run with the place whose stretch is nearest.
    fn run_at(&self, path: &Curve, standing: &Curve, places: &[Span]) -> Result<Vec<RestPlace>, PlanError> {
        let mut out: Vec<RestPlace> = places.iter().map(|&metal| RestPlace { metal, along: None }).collect();
        let outline = self.tool.outline();
        if outline.holder.is_none() {
            return Ok(out);
        }
        let touching = envelope::dilate(standing, &outline, [path.start(), path.end()])
            .ok_or_else(|| PlanError::unreachable(self.tool, &self.job.zones))?;
        for [from, to] in envelope::stretches_above(&touching, path, NOTHING) {
            let beside = |place: &RestPlace| (place.metal.from - to).max(from - place.metal.to);
            let nearest = out.iter_mut().min_by(|a, b| beside(a).total_cmp(&beside(b)));
            if let Some(place) = nearest {
                let own = Span { from, to };
                place.along = Some(place.along.map_or(own, |along| along.and(own)));
            }
        }
        Ok(out)
    }

    fn path(&self, aim: &Curve, standing: &Curve) -> Result<Curve, PlanError> {
        let outline = self.tool.outline();
        let path = envelope::dilate(aim, &outline, [aim.start() - ROOM, aim.end() + ROOM])
            .ok_or_else(|| PlanError::unreachable(self.tool, &self.job.zones))?;
        Ok(surface::clear_of_holder(path, standing, (&outline, self.job.schedule.tolerance.as_mm())))
    }
}

/// The most that a surface stands above another in a span.
fn most_above(surface: &Curve, other: &Curve, span: Span) -> f64 {
    let stretch = surface.slice(span.from, span.to);
    stretch.and_then(|s| envelope::greatest_excess(&s, other)).map_or(0.0, |e| e.height)
}

/// The parts of the zones where neither the tools before nor this one climb their ends.
fn free_of_ends(job: &Job, path: &Curve, tool: &Outline, floors: &[Span]) -> Vec<Span> {
    let inset = job.control.resolution.as_mm();
    let free = |(i, (zone, floor)): (usize, (&Zone, &Span))| {
        let zone = surface::span_of(zone);
        let own = run_off::floor_of(path, tool, (inset, zone), job.zone_runs_off(i))?;
        let span = Span { from: own.from.max(floor.from), to: own.to.min(floor.to) };
        (span.from < span.to).then_some(span)
    };
    job.zones.iter().zip(floors).enumerate().filter_map(free).collect()
}

/// Volume of the ring between two surfaces, cubic millimetres.
fn volume(high: &Curve, low: &Curve, span: Span) -> f64 {
    let mut sum = 0.0;
    let mut x = span.from + CHIP_STEP / 2.0;
    while x < span.to {
        sum += std::f64::consts::TAU * x * (high.at(x) - low.at(x)).max(0.0) * CHIP_STEP;
        x += CHIP_STEP;
    }
    sum
}
