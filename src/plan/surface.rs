//! From the face to the path of each pass: what a pass aims at, where its tool runs, what it leaves.
//!
//! A pass lowers, inside the zones, the surface that the pass before it left, and the tool runs along
//! the dilation of that: so no pass ever takes more than its depth anywhere, not even where an
//! earlier, blunter tool left a fillet. For one tool and axial steps this is the first path moved down,
//! since the dilation of a closing is the dilation itself; along the normal, erosions by disks add up.

use crate::geometry::{Arc, Curve, Outline, Piece, Point, envelope};
use crate::job::{Job, PassDepth, Step, Zone};
use crate::units::Length;

/// Width of the step at a zone's end, where the aimed-at surface climbs back to the face that is left
/// alone: narrow beside any control's resolution, wide beside rounding.
const STEP_WIDTH: f64 = 1e-6;

/// A path this near to an edge's slope, by the sine of its angle, slides along the edge: wide beside rounding, narrow beside
/// any angle that a nose could tell.
const AS_STEEP: f64 = 1e-7;

/// A stretch of x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
}

impl Span {
    /// Both, with what lies between them.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self { from: self.from.min(other.from), to: self.to.max(other.to) }
    }
}

/// Where passes go down, and which way.
#[derive(Debug, Clone, Copy)]
pub struct Aim<'a> {
    /// Along the axis or along the normal.
    pub step: Step,
    /// The zones.
    pub zones: &'a [Zone],
    /// The windows between them that zones run off.
    pub windows: &'a [[Length; 2]],
}

impl<'a> Aim<'a> {
    /// That of a job.
    #[must_use]
    pub fn of(job: &'a Job) -> Self {
        Self { step: job.schedule.step, zones: &job.zones, windows: &job.runs_off.windows }
    }
}

/// The path of a pass over a surface: the lowest of the front point that cuts nothing below the aim, with `room` beyond it at both ends; none
/// where the tool meets the surface nowhere.
#[must_use]
pub fn path(surface: &Curve, pass: PassDepth, aim: Aim<'_>, tool: &Outline, room: f64) -> Option<Curve> {
    let aim = aimed(surface, pass.depth.as_mm(), aim);
    envelope::dilate(&aim, tool, [surface.start() - room, surface.end() + room])
}

/// The path of a pass over the metal as it stands: as [`path`], and no lower than where the holder's underside would meet that metal. The nose takes
/// the depth of the pass and an edge may with it, the holder nothing. `tolerance` is that of the path as written, millimetres. None as of [`path`].
#[must_use]
pub fn pass_path(
    standing: &Curve,
    pass: PassDepth,
    aim: Aim<'_>,
    (tool, tolerance): (&Outline, f64),
    room: f64,
) -> Option<Curve> {
    let path = path(standing, pass, aim, tool, room)?;
    Some(clear_of_holder(path, standing, (tool, tolerance)))
}

/// What a written path leaves may stand above the exact surface by its tolerance along the normal: along the axis by twice that, on a slope of 60°.
pub const AS_WRITTEN: f64 = 2.0;

/// A path raised to where the holder's underside meets nothing of what stands, which was cut along paths within a tolerance, millimetres.
#[must_use]
pub fn clear_of_holder(path: Curve, standing: &Curve, (tool, tolerance): (&Outline, f64)) -> Curve {
    match envelope::clear_of_holder(standing, tool, [path.start(), path.end()]) {
        Some(clear) => envelope::higher(&path, &clear.raised(AS_WRITTEN * tolerance)),
        None => path,
    }
}

/// Radii from one to the next at which a depth that depends on the radius is taken, millimetres: it changes by micrometres between.
const DEPTH_STEP: f64 = 0.5;

/// The lowest path over a face that is lower in the zones by a depth that depends on the radius, millimetres; with `room` beyond it.
/// None as of [`path`].
#[must_use]
pub fn path_over(
    face: &Curve,
    depth: &dyn Fn(f64) -> f64,
    zones: &[Zone],
    tool: &Outline,
    room: f64,
) -> Option<Curve> {
    let count = ((face.end() - face.start()) / DEPTH_STEP).ceil().max(1.0);
    let radius = |k: f64| face.start() + (face.end() - face.start()) * (k / count);
    let point = |x: f64| Point::new(x, face.at(x) - depth(x));
    let mut pieces = Vec::new();
    let mut k = 0.0;
    while k < count {
        pieces.push(Piece::line(point(radius(k)), point(radius(k + 1.0))));
        k += 1.0;
    }
    let spans: Vec<Span> = zones.iter().map(span_of).collect();
    let aim = replaced(face, &Curve::from_pieces(pieces), &spans);
    envelope::dilate(&aim, tool, [face.start() - room, face.end() + room])
}

/// The surface over a face that a path leaves; none where it brings the tool nowhere near the face.
#[must_use]
pub fn left(path: &Curve, tool: &Outline, face: &Curve) -> Option<Curve> {
    envelope::erode(path, tool, [face.start(), face.end()])
}

/// The path of the next pass of the same tool, deeper along the axis, over a face.
///
/// What that pass aims at is the surface left, moved down, or where that stands higher the surface left outside the zones; the
/// dilation of the higher of two is the higher of their dilations, and that of the surface left is the path that left it.
/// In a window between zones is nothing to leave. None where the tool meets nothing of what it has left.
#[must_use]
pub fn deeper(path: &Curve, depth: f64, aim: Aim<'_>, tool: &Outline, face: &Curve) -> Option<Curve> {
    let beside = beside(path, depth, tool);
    let zones: Vec<Span> = aim.zones.iter().map(span_of).collect();
    let outside = outside(&zones, Span { from: face.start(), to: face.end() });
    let empty = |s: &Span| aim.windows.iter().any(|w| w[0].as_mm() <= s.from && s.to <= w[1].as_mm());
    let mut kept = outside.into_iter().filter(|s| s.to - s.from >= STEP_WIDTH && !empty(s));
    kept.try_fold(path.raised(-depth), |low, span| {
        let Some(near) = path.slice(span.from - beside, span.to + beside) else { return Some(low) };
        let alone = envelope::erode(&near, tool, [span.from, span.to])?;
        Some(envelope::higher(&low, &envelope::dilate(&alone, tool, [near.start(), near.end()])?))
    })
}

/// How far beside a place a path may matter to what it leaves there, and that again to a path deeper by a depth: beyond, the tool's edge
/// stands higher above its nose than anything may differ. All of it where a holder ends the edges.
fn beside(path: &Curve, depth: f64, tool: &Outline) -> f64 {
    if tool.holder.is_some() {
        return f64::INFINITY;
    }
    let heights = path.pieces().iter().flat_map(|p| [p.from().z, p.to().z]);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), z| (lo.min(z), hi.max(z)));
    // An arc reaches beyond its ends by no more than the nose's radius.
    let range = high - low + depth + 2.0 * tool.nose_radius;
    let slope = tool.inner().slope.min(tool.outer().slope);
    2.0 * tool.nose_radius + range / slope
}

/// A surface moved down by a depth, along the axis or along its normal (the erosion by a disk). Along the normal the walls of windows stay where they
/// are: no pass takes anything off them.
#[must_use]
pub fn lowered(surface: &Curve, depth: f64, Aim { step, windows, .. }: Aim<'_>) -> Curve {
    let low = |own: &Curve| {
        let low = envelope::erode_disk(own, depth);
        low.slice(own.start(), own.end()).unwrap_or(low)
    };
    match step {
        _ if depth <= 0.0 => surface.clone(),
        Step::Axial => surface.raised(-depth),
        Step::Normal if windows.is_empty() => low(surface),
        Step::Normal => {
            let begins = windows.iter().map(|w| w[1].as_mm());
            let ends = windows.iter().map(|w| w[0].as_mm());
            let metal = std::iter::once(surface.start()).chain(begins).zip(ends.chain([surface.end()]));
            metal.fold(surface.clone(), |all, (from, to)| match surface.slice(from, to) {
                Some(own) => replaced(&all, &low(&own), &[Span { from, to }]),
                None => all,
            })
        }
    }
}

/// What a pass aims at: the surface lowered inside the zones, and left alone outside.
fn aimed(surface: &Curve, depth: f64, aim: Aim<'_>) -> Curve {
    let spans: Vec<Span> = aim.zones.iter().map(span_of).collect();
    replaced(surface, &lowered(surface, depth, aim), &spans)
}

/// A surface with another in its place over some spans, in rising order.
#[must_use]
pub fn replaced(surface: &Curve, by: &Curve, spans: &[Span]) -> Curve {
    let (start, end) = (surface.start(), surface.end());
    let mut pieces: Vec<Piece> = Vec::new();
    let outside = outside(spans, Span { from: start, to: end });
    let inside = spans.iter().map(|s| Span { from: s.from.max(start), to: s.to.min(end) });
    for (i, span) in inside.enumerate() {
        append(&mut pieces, surface, outside[i]);
        append(&mut pieces, by, span);
    }
    append(&mut pieces, surface, outside[spans.len()]);
    Curve::from_pieces(pieces)
}

/// The radii of a zone.
#[must_use]
pub const fn span_of(zone: &Zone) -> Span {
    Span { from: zone.from.as_mm(), to: zone.to.as_mm() }
}

/// What lies before, between and behind some spans, a step beside them; of no width, or less, where nothing does.
fn outside(spans: &[Span], over: Span) -> Vec<Span> {
    let starts = spans.iter().map(|s| s.to.min(over.to) + STEP_WIDTH);
    let ends = spans.iter().map(|s| s.from.max(over.from) - STEP_WIDTH);
    let starts = std::iter::once(over.from).chain(starts);
    let ends = ends.chain(std::iter::once(over.to));
    starts.zip(ends).map(|(from, to)| Span { from, to }).collect()
}

/// Appends a stretch of a curve, with a step from what stands before it; a stretch too short to matter is left out.
fn append(pieces: &mut Vec<Piece>, curve: &Curve, span: Span) {
    if span.to - span.from < STEP_WIDTH {
        return;
    }
    let Some(stretch) = curve.slice(span.from, span.to) else { return };
    let Some(first) = stretch.pieces().first() else { return };
    if let Some(last) = pieces.last()
        && last.to() != first.from()
    {
        pieces.push(Piece::line(last.to(), first.from()));
    }
    pieces.extend_from_slice(stretch.pieces());
}

/// The stretch of a path over which the tool touches the face between two radii.
#[must_use]
pub fn window(path: &Curve, tool: &Outline, zone: Span) -> Option<Span> {
    let pieces = path.pieces();
    let touched = |i: usize, at: Point| contact(pieces, i, at, tool);
    let first = (0..pieces.len()).find(|&i| touched(i, pieces[i].to()) >= zone.from)?;
    let last = (0..pieces.len()).rev().find(|&i| touched(i, pieces[i].from()) <= zone.to)?;
    let from = crossing(&pieces[first], |at| touched(first, at) - zone.from);
    let to = crossing(&pieces[last], |at| touched(last, at) - zone.to);
    (from < to).then_some(Span { from, to })
}

/// The radius at which the tool touches when its front point is at x on the path.
#[must_use]
pub fn contact_at(path: &Curve, tool: &Outline, x: f64) -> f64 {
    let i = path.pieces().partition_point(|p| p.to().x < x);
    path.pieces().get(i).map_or(x, |p| contact(path.pieces(), i, Point::new(x, p.at(x)), tool))
}

/// Between which radii the tool touches the floor of a zone, as it runs along a window of its path; `inset` beyond the
/// window's ends, where it stands free of the walls there.
#[must_use]
pub fn floor(path: &Curve, tool: &Outline, window: Span, inset: f64, zone: Span) -> Span {
    Span {
        from: contact_at(path, tool, window.from + inset).max(zone.from),
        to: contact_at(path, tool, window.to - inset).min(zone.to),
    }
}

/// The radius at which the tool touches at a point of the i-th piece of its path.
///
/// A path that is a dilation has the slope of the tool's outline at the contact, so the nose touches
/// `r·sin φ` beyond its centre, φ the path's angle there, and the contact moves outward with the tool.
/// Where the path is as steep as an edge, that edge slides along a corner: the one the nose has rolled
/// over just before, going down, or will roll over next, going up.
fn contact(pieces: &[Piece], i: usize, at: Point, tool: &Outline) -> f64 {
    let edge = |p: &Piece| {
        let sine = sine(p, p.to());
        let down = sine <= -tool.inner_edge.cos() + AS_STEEP;
        let up = sine >= tool.outer_edge.cos() - AS_STEEP;
        matches!(p, Piece::Line(_)).then_some((down, up)).unwrap_or_default()
    };
    let nose = |p: &Piece, at: Point| at.x + tool.nose_radius * sine(p, at);
    match edge(&pieces[i]) {
        (true, _) => {
            let before = pieces[..i].iter().rev().find(|p| !edge(p).0);
            before.map_or(f64::NEG_INFINITY, |p| nose(p, p.to()))
        }
        (_, true) => {
            let next = pieces[i..].iter().find(|p| !edge(p).1);
            next.map_or(f64::INFINITY, |p| nose(p, p.from()))
        }
        _ => nose(&pieces[i], at),
    }
}

/// Sine of the angle at which a piece climbs at one of its points.
fn sine(piece: &Piece, at: Point) -> f64 {
    match piece {
        Piece::Line(l) => (l.to.z - l.from.z) / l.from.distance(l.to),
        Piece::Arc(Arc { centre, from, to, turn }) => {
            let r = from.distance(*centre);
            let signed = (centre.x - at.x) / r;
            let up = (*turn == crate::geometry::Turn::Clockwise) == (to.x >= from.x);
            if up { signed } else { -signed }
        }
    }
}

/// The place in a piece where a rising function of its points crosses zero; the nearer end where it does not.
fn crossing(piece: &Piece, f: impl Fn(Point) -> f64) -> f64 {
    let (mut low, mut high) = (piece.from().x, piece.to().x);
    if f(piece.from()) >= 0.0 {
        return low;
    }
    if f(piece.to()) <= 0.0 {
        return high;
    }
    while high - low > STEP_WIDTH {
        let middle = f64::midpoint(low, high);
        if f(Point::new(middle, piece.at(middle))) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
