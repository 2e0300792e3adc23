//! How a tool leaves the metal where a zone runs off it: straight on at feed, until its nose is clear of the edge.
//!
//! Where the tool touches the last of the face its path goes on along its tangent if that climbs, else level, and nowhere below where an edge touches
//! the face: so it goes nowhere below what it came along, and cuts nothing of a face that falls away or of what may stand beyond. The nose is clear once its centre stands a nose
//! radius, and a little, beyond the edge; there the way off begins.
//!
//! Limit: what stands beyond the edge nobody has measured. Keep-outs and the travel hold there as everywhere.

use super::PlanError;
use super::surface::{self, Span};
use crate::face::window::WALL;
use crate::geometry::{Curve, Outline, Piece, Point, envelope};
use crate::job::{Job, Tool, Zone};
use crate::units::Length;

/// The nose goes this far beyond standing clear of the edge, millimetres: what the edge of a wheel may run out in the plane, and then some.
pub(super) const CLEAR: f64 = 0.5;

/// A tool is looked for this far short of an edge, millimetres: at the edge itself it rolls over without touching anything else.
const SHORT: f64 = 0.001;

/// A bridge between two stretches of a path stands this far above both, millimetres: nothing of a tool there reaches down to the metal.
const OVER: f64 = 1000.0;

/// No lathe's slide goes as far, millimetres.
const FARTHEST: f64 = 1e5;

/// Heights that differ by no more than this are one, millimetres.
const NOTHING: f64 = 1e-6;

/// The stretch of a path over which the tool touches a zone that runs off at some of its ends.
///
/// Where the face falls more steeply than an edge of the tool, that edge slides along it without end; the nose need follow no
/// further than to where it would touch the end of the zone itself, a little beside.
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
    let window = Span { from: from.max(first), to: to.min(last) };
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
/// Beyond, the path dives past the edge, and there the tool's edge and holder would take what its nose could not reach. A tool whose edges end at a holder
/// would dive past a corner within the zone too, once all of it were clear of that, so its path counts no further than where it touches a zone.
///
/// # Errors
/// Where the path brings the tool nowhere near the face.
pub(super) fn left(path: &Curve, tool: &Tool, face: &Curve, job: &Job) -> Result<Curve, PlanError> {
    let outline = tool.outline();
    let run = as_run(path, &outline, face, job);
    envelope::erode(run.as_ref().unwrap_or(path), &outline, [face.start(), face.end()])
        .ok_or_else(|| PlanError::unreachable(tool, &job.zones))
}

/// A path as it is run at the ends of the job's zones; none where that is the path itself, or the tool touches nothing there. Over a window it is run as far
/// as the tool is clear, and between it stands high; so it does where a tool with a holder is not run.
fn as_run(path: &Curve, tool: &Outline, face: &Curve, job: &Job) -> Option<Curve> {
    let ends_there = tool.holder.is_some();
    if !job.runs_off.any() && !ends_there {
        return None;
    }
    let over = Span { from: face.start(), to: face.end() };
    let ends = |i: usize, zone: &Zone| {
        let off = job.zone_runs_off(i);
        Some((off, window(path, tool, surface::span_of(zone), off)?, clear(off, i, over, tool, job)))
    };
    let zones: Vec<_> = job.zones.iter().enumerate().map(|(i, zone)| ends(i, zone)).collect::<Option<_>>()?;
    // The metal between two windows is crossed as one, whatever zones lie on it. Where edges end at a holder the tool does not count between two zones: the
    // end of an edge would take metal of the one zone there that no stroke comes near.
    let mut stretches = Vec::new();
    let mut begins = (path.start(), None);
    for (i, ([inner, outer], window, [first, last])) in zones.iter().enumerate() {
        let meets = |other: &([bool; 2], Span, [Option<f64>; 2])| {
            other.1.from <= window.to + 3.0 * WALL && window.from <= other.1.to + 3.0 * WALL
        };
        let begins_here = ends_there && !i.checked_sub(1).and_then(|i| zones.get(i)).is_some_and(meets);
        if *inner || begins_here {
            begins = (window.from, *first);
        }
        let ends_here = ends_there && !zones.get(i + 1).is_some_and(meets);
        if *outer || ends_here || i + 1 == zones.len() {
            let to = if *outer || ends_there { window.to } else { path.end() };
            stretches.push(extended(path, Span { from: begins.0, to }, [begins.1, *last])?);
        }
    }
    let run = stretches.into_iter().map(Some).reduce(|before, next| bridged(&before?, &next?))??;
    Some(if ends_there { high_beside(&run, Span { from: path.start(), to: path.end() }) } else { run })
}

/// High over the whole of a path.
fn high_over(path: &Curve) -> f64 {
    let ends = path.pieces().iter().flat_map(|p| [p.from().z, p.to().z]);
    ends.fold(f64::NEG_INFINITY, f64::max) + OVER
}

/// Two stretches of a path with a bridge between, high over both; none where they meet.
fn bridged(before: &Curve, next: &Curve) -> Option<Curve> {
    let [from, to] =
        [Point::new(before.end(), before.at(before.end())), Point::new(next.start(), next.at(next.start()))];
    let high = high_over(before).max(high_over(next));
    let [up, down] = [Point::new(from.x + WALL, high), Point::new(to.x - WALL, high)];
    (up.x < down.x).then_some(())?;
    let bridge = [Piece::line(from, up), Piece::line(up, down), Piece::line(down, to)];
    let pieces = before.pieces().iter().copied().chain(bridge).chain(next.pieces().iter().copied());
    Some(Curve::from_pieces(pieces.collect()))
}

/// A path that stands high beside itself, over the whole of a span.
fn high_beside(run: &Curve, over: Span) -> Curve {
    let high = high_over(run);
    let [start, end] = [run.start(), run.end()].map(|x| Point::new(x, run.at(x)));
    let [down, up] = [Point::new(start.x - WALL, high), Point::new(end.x + WALL, high)];
    let mut pieces = Vec::new();
    if over.from < down.x {
        pieces.extend([Piece::line(Point::new(over.from, high), down), Piece::line(down, start)]);
    }
    pieces.extend_from_slice(run.pieces());
    if up.x < over.to {
        pieces.extend([Piece::line(end, up), Piece::line(up, Point::new(over.to, high))]);
    }
    Curve::from_pieces(pieces)
}

/// The face with a straight line from edge to edge over each window.
#[must_use]
pub(super) fn bridged_face(face: &Curve, job: &Job) -> Curve {
    job.runs_off.windows_mm().fold(face.clone(), |all, [from, to]| {
        let line = Piece::line(Point::new(from, face.at(from)), Point::new(to, face.at(to)));
        surface::replaced(&all, &Curve::from_pieces(vec![line]), &[Span { from, to }])
    })
}

/// The zone in which a place lies, and at which of its ends the place runs off: where the metal does, as its zone.
#[must_use]
pub(super) fn of_place(job: &Job, place: Span, face: Span) -> (usize, [bool; 2]) {
    let holds = |zone: &Zone| zone.from.as_mm() < place.to && place.from < zone.to.as_mm();
    let index = job.zones.iter().position(holds).unwrap_or(0);
    let [inner, outer] = job.zone_runs_off(index);
    let all = Span { from: f64::NEG_INFINITY, to: f64::INFINITY };
    let zone = job.zones.get(index).map_or(all, surface::span_of);
    (index, [inner && place.from <= zone.from.max(face.from), outer && place.to >= zone.to.min(face.to)])
}

/// How far past an edge the centre of a nose stands when it is clear of the metal, millimetres.
#[must_use]
pub(super) const fn beyond(nose_radius: f64) -> f64 {
    nose_radius + CLEAR
}

/// Where a tool is clear of the metal of a face, past the edges that a zone runs off.
#[must_use]
pub(super) fn clear(
    [inner, outer]: [bool; 2],
    zone: usize,
    face: Span,
    tool: &Outline,
    job: &Job,
) -> [Option<f64>; 2] {
    let [start, end] = job.runs_off.edges([face.from, face.to]);
    let at_window = |x: Length| job.runs_off.windows.iter().flatten().any(|edge| *edge == x);
    let ends = job.zones.get(zone).map(|zone| [zone.from, zone.to]);
    let [first, last] = ends.map_or([start, end], |[from, to]| {
        [if at_window(from) { from.as_mm() } else { start }, if at_window(to) { to.as_mm() } else { end }]
    });
    let beyond = beyond(tool.nose_radius);
    [inner.then_some(first - beyond), outer.then_some(last + beyond)]
}

/// The lowest heights of a tool's front point at which it meets nothing of the metal on the other side of a window, from either side of it: of that
/// behind it, from its inner edge on outward, and of that before it, from its outer edge on inward.
///
/// The metal counts as it stands before any cut, from a little inside the window on: an edge runs out in the plane too. None where the tool
/// meets it nowhere.
#[must_use]
pub(super) fn across(
    face: &Curve,
    [from, to]: [f64; 2],
    tool: &Outline,
    over: [f64; 2],
) -> Option<[Curve; 2]> {
    let metal = |from: f64, to: f64| face.slice(from, to).map(|metal| metal.pieces().to_vec());
    let (mut behind, mut before) = (metal(to, face.end())?, metal(face.start(), from)?);
    let [ends, begins] = [from, to].map(|x| Point::new(x, face.at(x)));
    behind.insert(0, Piece::line(Point::new(to - CLEAR, begins.z), begins));
    before.push(Piece::line(ends, Point::new(from + CLEAR, ends.z)));
    let above = |metal: Vec<Piece>, over| envelope::dilate(&Curve::from_pieces(metal), tool, over);
    Some([above(behind, [from, over[1]])?, above(before, [over[0], to])?])
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
    let along = on_the_way.fold(along, |along, way| match envelope::greatest_excess(&way, &along) {
        Some(excess) if excess.height > NOTHING => envelope::higher(&along, &way),
        _ => along,
    });
    // Once over the edge, nowhere down again on its other side.
    let along = if first.is_some() { level_beyond_top(&along, start.x)? } else { along };
    Some(if last.is_some() { level_beyond_top(&along.mirrored(), -end.x)?.mirrored() } else { along })
}

/// A curve of which the stretch up to a radius runs level from its highest place down to where it begins.
fn level_beyond_top(curve: &Curve, to: f64) -> Option<Curve> {
    // An edge that no slide reaches is refused by the travel, wherever the way there lies.
    if to <= curve.start() || curve.start().abs() > FARTHEST {
        return Some(curve.clone());
    }
    let way = curve.slice(curve.start(), to)?;
    let ground =
        Curve::from_pieces(vec![Piece::line(Point::new(way.start(), 0.0), Point::new(way.end(), 0.0))]);
    let top = envelope::greatest_excess(&way, &ground)?;
    if top.x - curve.start() < NOTHING || top.height - way.at(way.start()) < NOTHING {
        return Some(curve.clone());
    }
    let level = Piece::line(Point::new(curve.start(), top.height), Point::new(top.x, top.height));
    let mut pieces = vec![level];
    pieces.extend_from_slice(curve.slice(top.x, curve.end())?.pieces());
    Some(Curve::from_pieces(pieces))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOOL: Outline = Outline {
        nose_radius: 1.2,
        inner_edge: std::f64::consts::FRAC_PI_4,
        outer_edge: std::f64::consts::FRAC_PI_4,
        edge_length: 8.0,
        holder: None,
    };

    /// A face that climbs or falls over its last 5 mm by so much for each millimetre, level before.
    fn face(slope: f64) -> Curve {
        let [a, b, c] = [Point::new(60.0, 0.0), Point::new(95.0, 0.0), Point::new(100.0, 5.0 * slope)];
        Curve::from_pieces(vec![Piece::line(a, b), Piece::line(b, c)])
    }

    /// The way off goes nowhere below where the tool would cut the face, and on from the path without a step: also up a wall that is steeper than the
    /// edge, which slides over its top, and off a face that falls away.
    #[test]
    fn the_way_off_cuts_nothing_of_the_last_of_the_face() {
        for slope in [-2.0, -1.2, -0.3, 0.0, 0.3, 0.9, 1.1, 2.0] {
            let face = face(slope);
            let path = envelope::dilate(&face, &TOOL, [52.0, 108.0]).expect("a path");
            let window =
                window(&path, &TOOL, Span { from: 60.0, to: 100.0 }, [false, true]).expect("a window");
            let off = extended(&path, window, [None, Some(101.7)]).expect("a way off");
            assert!(off.end() == 101.7, "{slope}: {}", off.end());
            let mut x = window.from;
            while x <= off.end() {
                assert!(off.at(x) > path.at(x) - 1e-6, "{slope}: at {x}");
                x += 0.01;
            }
        }
    }
}
