//! How a tool leaves the metal where a zone runs off it: straight on at feed, until its nose is clear of the edge.
//!
//! Where the tool touches the last of the face its path goes on along its tangent if that climbs, else level, and nowhere below where an edge touches
//! the face: so it goes nowhere below what it came along, and cuts nothing of a face that falls away or of what may stand beyond. The nose is clear once its centre stands a nose
//! radius, and a little, beyond the edge; there the way off begins.
//!
//! Limit: what stands beyond the edge nobody has measured. Keep-outs and the travel hold there as everywhere.

use super::PlanError;
use super::surface::{self, Span};
use crate::geometry::{Curve, Outline, Piece, Point, envelope};
use crate::job::{Job, Tool, Zone};

/// The nose goes this far beyond standing clear of the edge, millimetres: what the edge of a wheel may run out in the plane, and then some.
const CLEAR: f64 = 0.5;

/// A tool is looked for this far short of an edge, millimetres: at the edge itself it rolls over without touching anything else.
const SHORT: f64 = 0.001;

/// Heights that differ by no more than this are one, millimetres.
const NOTHING: f64 = 1e-6;

/// The stretch of a path over which the tool touches a zone that runs off at some of its ends.
///
/// Where the face falls more steeply than an edge of the tool, that edge slides along it without end; the nose need follow no
/// further than to where it would touch the last of the face itself, a little beside.
#[must_use]
pub(super) fn window(path: &Curve, tool: &Outline, zone: Span, [inner, outer]: [bool; 2]) -> Option<Span> {
    let touched = Span {
        from: if inner { zone.from + SHORT } else { zone.from },
        to: if outer { zone.to - SHORT } else { zone.to },
    };
    let Span { from, to } = surface::window(path, tool, touched)?;
    let [first, last] = [
        zone.from - tool.nose_radius * tool.outer_edge.cos(),
        zone.to + tool.nose_radius * tool.inner_edge.cos(),
    ];
    let window =
        Span { from: if inner { from.max(first) } else { from }, to: if outer { to.min(last) } else { to } };
    (window.from < window.to).then_some(window)
}

/// The floor of a zone along a window of a path, `inset` beyond its ends: where the zone runs off no wall stands, and it goes to the edge.
#[must_use]
pub(super) fn floor(
    path: &Curve,
    tool: &Outline,
    window: Span,
    (inset, zone): (f64, Span),
    [inner, outer]: [bool; 2],
) -> Span {
    let known = surface::floor(path, tool, window, inset, zone);
    Span { from: if inner { zone.from } else { known.from }, to: if outer { zone.to } else { known.to } }
}

/// The floor of a zone along a whole path; none where the tool touches nothing of it.
#[must_use]
pub(super) fn floor_of(
    path: &Curve,
    tool: &Outline,
    (inset, zone): (f64, Span),
    runs_off: [bool; 2],
) -> Option<Span> {
    let window = window(path, tool, zone, runs_off)?;
    Some(floor(path, tool, window, (inset, zone), runs_off))
}

/// The surface over a face that a path leaves as it is run: where a zone runs off, no further along the path than the tool touches the face.
///
/// Beyond, the path dives past the edge, and there the tool's edge and holder would take what its nose could not reach.
///
/// # Errors
/// Where the path brings the tool nowhere near the face.
pub(super) fn left(path: &Curve, tool: &Tool, face: &Curve, job: &Job) -> Result<Curve, PlanError> {
    let outline = tool.outline();
    let run = as_run(path, &outline, face, job);
    envelope::erode(run.as_ref().unwrap_or(path), &outline, [face.start(), face.end()])
        .ok_or_else(|| PlanError::unreachable(tool, &job.zones))
}

/// A path as it is run at the ends of the job's zones that run off; none where none does, or the tool touches nothing there.
fn as_run(path: &Curve, tool: &Outline, face: &Curve, job: &Job) -> Option<Curve> {
    let [inner, outer] = [job.runs_off.inner.is_some(), job.runs_off.outer.is_some()];
    if !job.runs_off.any() {
        return None;
    }
    let ends = |zone: &Zone, runs_off| window(path, tool, surface::span_of(zone), runs_off);
    let from = if inner { ends(job.zones.first()?, [true, false])?.from } else { path.start() };
    let to = if outer { ends(job.zones.last()?, [false, true])?.to } else { path.end() };
    let clear = clear([inner, outer], Span { from: face.start(), to: face.end() }, tool, job);
    extended(path, Span { from, to }, clear)
}

/// How far past an edge the centre of a nose stands when it is clear of the metal, millimetres.
#[must_use]
pub(super) const fn beyond(nose_radius: f64) -> f64 {
    nose_radius + CLEAR
}

/// Where a tool is clear of the metal of a face, past the edges that it runs off.
#[must_use]
pub(super) fn clear([inner, outer]: [bool; 2], face: Span, tool: &Outline, job: &Job) -> [Option<f64>; 2] {
    let [first, last] = job.runs_off.edges([face.from, face.to]);
    let beyond = beyond(tool.nose_radius);
    [inner.then_some(first - beyond), outer.then_some(last + beyond)]
}

/// A path over a window that goes on to where the tool is clear of the metal, at the ends that run off; none where it does not hold the window.
///
/// Where an edge slides up the last of the face, as steep as itself, the path climbs more steeply than where the nose left off, and so does the way.
#[must_use]
pub(super) fn extended(path: &Curve, window: Span, [first, last]: [Option<f64>; 2]) -> Option<Curve> {
    let run = path.slice(window.from, window.to)?;
    let mut pieces = run.pieces().to_vec();
    let start = Point::new(run.start(), run.at(run.start()));
    if let Some(x) = first.filter(|x| *x < start.x) {
        let climb = (-run.slope_at(run.start())).max(0.0);
        pieces.insert(0, Piece::line(Point::new(x, start.z + climb * (start.x - x)), start));
    }
    let end = Point::new(run.end(), run.at(run.end()));
    if let Some(x) = last.filter(|x| *x > end.x) {
        let climb = run.slope_at(run.end()).max(0.0);
        pieces.push(Piece::line(end, Point::new(x, end.z + climb * (x - end.x))));
    }
    let along = Curve::from_pieces(pieces);
    let beside = [first.map(|x| [x, start.x]), last.map(|x| [end.x, x])];
    let on_the_way = beside.into_iter().flatten().filter_map(|[from, to]| path.slice(from, to));
    Some(on_the_way.fold(along, |along, way| match envelope::greatest_excess(&way, &along) {
        Some(excess) if excess.height > NOTHING => envelope::higher(&along, &way),
        _ => along,
    }))
}
