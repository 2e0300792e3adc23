//! The metal that the last tool could have removed, found without any path: above the face lowered by the depth of the pass and closed by the tool.
//!
//! At v the lowest position of the tool is `p(v) = max over u of f(u) − T(u − v)`, and it leaves
//! `q(u) = min over v of p(v) + T(u − v)`. With z negated and the tool mirrored the first has the form of the second, so the same search
//! ([`super::tree`]) gives both. Between the radii p is assumed straight: too low by [`super::metal::MOST_HIDDEN`] at most over a ridge, but
//! too high where it turns up in a corner, by up to a quarter of their distance times the turn of its slope. So too much may be reported as
//! left, never too little. Where a pass is to be judged by what stands, that would be a cut that nobody makes: there p turns, between two
//! radii, where its slopes on either side of them meet ([`Between::Turned`]), and is nowhere higher than it is.

use super::cut::SLACK;
use super::job_checks::{self, PassesBefore};
use super::metal::Metal;
use super::segment::Segment;
use super::tool_shape::ToolShape;
use super::tree::Tree;
use crate::face::Face;
use crate::geometry::{Holder, Outline, Point};
use crate::job::{FinishPass, Job, RestPasses, Step, Tool};
use crate::units::Length;

/// Slopes are not taken over less than this width, millimetres: narrower, the rounding of heights shows in them.
const LEAST_WIDTH: f64 = 1e-4;

/// How a path runs between the radii at which it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Between {
    /// Straight: nowhere lower than it is, but for what a ridge hides.
    Straight,
    /// Where it turns up, as low as its slopes on either side let it be: nowhere higher than it is.
    Turned,
}

/// Heights that passes of a tool leave at most, at every radius of the zones, if they go below the face by `depth`, which may depend on the radius;
/// infinite at every other radius. Along the normal they leave more in a corner than one pass would, and a holder may rest on what none of them took.
#[must_use]
pub fn reachable(
    face: &Face,
    (tool, job): (&Tool, &Job),
    depth: &dyn Fn(f64) -> f64,
    metal: &Metal,
) -> Vec<f64> {
    let in_zones = metal.radii.iter().zip(&metal.in_zone).filter(|(_, inside)| **inside);
    let down_to = in_zones.map(|(u, _)| depth(*u)).fold(0.0, f64::max);
    let wanted = match job.schedule.step {
        Step::Axial => metal.lowered(face, depth),
        // Each pass lowers what the one before left. Where the face falls more steeply than an edge of the tool that is the edge's own slope, which goes
        // down by less along the axis.
        Step::Normal => metal.lowered_by(&closed(face, tool, metal), depth),
    };
    left_by(&wanted, &blunter(tool, job, [down_to; 2]), metal, Between::Straight)
}

/// The face as a tool leaves it that touches it everywhere it can and takes nothing off: its closing by the tool (ISO 16610-40); itself beside the zones.
fn closed(face: &Face, tool: &Tool, metal: &Metal) -> Vec<f64> {
    let closed = left_by(&metal.lowered(face, &|_| 0.0), tool, metal, Between::Straight);
    closed.into_iter().zip(&metal.face).map(|(z, face)| if z.is_finite() { z } else { *face }).collect()
}

/// How far above the face as measured a tool must stay at every radius of the zones while it cuts nothing: what its nose or an edge bridges, that is the
/// closing of the face less the face (ISO 16610-40). Passes below stand no further above what nothing has cut. Zero at every other radius.
#[must_use]
pub fn held_up(face: &Face, tool: &Tool, metal: &Metal) -> Vec<f64> {
    closed(face, tool, metal)
        .into_iter()
        .zip(&metal.face)
        .map(|(closed, face)| (closed - face).max(0.0))
        .collect()
}

/// What a tool leaves in the zones whose path cuts nothing below these heights.
fn left_by(wanted: &[f64], tool: &Tool, metal: &Metal, between: Between) -> Vec<f64> {
    let radii = &metal.radii;
    let outline = tool.outline();
    let shape = ToolShape::new(&outline);
    let (low, high) =
        wanted.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &z| (a.min(z), b.max(z)));
    let (inner, outer) = shape.reach_below((high - low).max(shape.nose_radius()));
    let mut path_asked = within_reach(radii, &metal.in_zone, inner.max(outer));
    // Over a window, as beyond the ends of the face, a path dives and steps down where a holder comes off an edge: it is known on metal only.
    path_asked.iter_mut().enumerate().for_each(|(i, asked)| *asked &= !metal.in_window(i));
    let upside_down: Vec<f64> = wanted.iter().map(|z| -z).collect();
    let all = vec![true; radii.len()];
    let face = known_points(radii, upside_down.into_iter(), &all);
    let path = lowest_along(&face, &ToolShape::new(&mirrored(&outline)), radii, &path_asked);
    let mut path = known_points(radii, path.into_iter().map(|z| -z), &path_asked);
    if between == Between::Turned {
        // Where it turns between two radii it is known there too; a narrow floor between two walls has no radius of its own.
        let turns: Vec<f64> = turns(&path).into_iter().flatten().map(|at| at.x).collect();
        let all = vec![true; turns.len()];
        let there = lowest_along(&face, &ToolShape::new(&mirrored(&outline)), &turns, &all);
        path.extend(known_points(&turns, there.into_iter().map(|z| -z), &all));
        path.sort_by(|(a, _), (b, _)| a.x.total_cmp(&b.x));
        path = with_turns(&path);
    }
    lowest_along(&path, &shape, radii, &metal.in_zone)
}

/// Heights over radii, and whether each is known.
fn known_points(radii: &[f64], heights: impl Iterator<Item = f64>, known: &[bool]) -> Vec<(Point, bool)> {
    radii.iter().zip(heights).zip(known).map(|((&u, z), &known)| (Point::new(u, z), known)).collect()
}

/// The points with one more between two of them wherever the line turns up there: where its slopes before and behind meet.
fn with_turns(points: &[(Point, bool)]) -> Vec<(Point, bool)> {
    let turned = points.iter().zip(turns(points));
    turned.flat_map(|(point, turn)| [Some(*point), turn.map(|at| (at, true))]).flatten().collect()
}

/// Behind each point where the line turns up before the next, if it does.
fn turns(points: &[(Point, bool)]) -> Vec<Option<Point>> {
    let behind = |(i, &(b, known)): (usize, &(Point, bool))| {
        let before = i.checked_sub(1).and_then(|i| points.get(i));
        match (before, known, points.get(i + 1), points.get(i + 2)) {
            (Some((a, true)), true, Some((c, true)), Some((d, true))) => turn([*a, b, *c, *d]),
            _ => None,
        }
    };
    points.iter().enumerate().map(behind).collect()
}

/// Where the line through the first two of four points meets the line through the last two, if that lies between the others and below them.
fn turn([a, b, c, d]: [Point; 4]) -> Option<Point> {
    if b.x - a.x < LEAST_WIDTH || d.x - c.x < LEAST_WIDTH || c.x - b.x < LEAST_WIDTH {
        return None;
    }
    let slope = |p: Point, q: Point| (q.z - p.z) / (q.x - p.x);
    let (before, across, behind) = (slope(a, b), slope(b, c), slope(c, d));
    if !(before < across && across < behind) {
        return None;
    }
    let x = b.x + (behind - across) * (c.x - b.x) / (behind - before);
    (b.x < x && x < c.x).then(|| Point::new(x, b.z + before * (x - b.x)))
}

/// Marks the radii within `reach` of one that is asked for.
fn within_reach(radii: &[f64], asked: &[bool], reach: f64) -> Vec<bool> {
    let wanted: Vec<f64> = radii.iter().zip(asked).filter(|(_, asked)| **asked).map(|(u, _)| *u).collect();
    let near = |u: f64| {
        let next = wanted.partition_point(|&w| w < u - reach);
        wanted.get(next).is_some_and(|&w| w <= u + reach)
    };
    radii.iter().map(|&u| near(u)).collect()
}

/// The lowest point of a tool over each radius asked for, whose front point runs along a curve of straight lines, some of whose points are known.
fn lowest_along(points: &[(Point, bool)], shape: &ToolShape, radii: &[f64], asked: &[bool]) -> Vec<f64> {
    let line = |(i, pair): (usize, &[(Point, bool)])| match pair {
        [(a, true), (b, true)] => Some(Segment::line(*a, *b, i)),
        _ => None,
    };
    let tree = Tree::new(points.windows(2).enumerate().filter_map(line).collect());
    let wanted: Vec<f64> = radii.iter().zip(asked).filter(|(_, asked)| **asked).map(|(u, _)| *u).collect();
    let mut lowest = tree.lowest_each(shape, &wanted).into_iter().map(|point| point.z);
    let height = |asked: &bool| if *asked { lowest.next() } else { None };
    asked.iter().map(height).map(|z| z.unwrap_or(f64::INFINITY)).collect()
}

fn mirrored(outline: &Outline) -> Outline {
    Outline {
        inner_edge: outline.outer_edge,
        outer_edge: outline.inner_edge,
        holder: outline.holder.map(|h| Holder { inner: h.outer, outer: h.inner }),
        ..*outline
    }
}

/// A tool that leaves as much as passes of this one may, each of a depth, down to another, millimetres. Along the normal each pass leaves in a corner
/// the fillet of the one before, grown by its depth.
fn blunter(tool: &Tool, job: &Job, [pass, down_to]: [f64; 2]) -> Tool {
    let grown = if job.schedule.step == Step::Normal { down_to } else { 0.0 };
    let nose_radius = Length::mm(tool.nose_radius.as_mm() + grown);
    Tool { nose_radius, ..held_off(tool, job, [pass, down_to]) }
}

/// A tool of which the holder goes nowhere lower than one pass of a depth, millimetres, above where this one's may: a holder takes nothing, and keeps each
/// pass off what the one before left, and that off by what a path within the tolerance leaves. That adds up over the passes down to a depth.
fn held_off(tool: &Tool, job: &Job, [pass, down_to]: [f64; 2]) -> Tool {
    let schedule = &job.schedule;
    let depths = [schedule.rough.as_ref().map(|r| r.depth), schedule.finish.as_ref().map(|f| f.depth)];
    let thinnest = depths.into_iter().flatten().map(Length::as_mm).filter(|d| *d > 0.0).reduce(f64::min);
    let passes = thinnest.map_or(1.0, |depth| (down_to / depth).ceil().max(1.0));
    let lower = pass + 2.0 * schedule.tolerance.as_mm() * passes + SLACK;
    let along = lower / tool.inner_edge.as_rad().max(tool.outer_edge.as_rad()).cos();
    let edge_length = match tool.holder {
        Some(_) => Length::mm((tool.edge_length.as_mm() - along).max(LEAST_WIDTH)),
        None => tool.edge_length,
    };
    Tool { edge_length, ..tool.clone() }
}

/// Leaves standing what the tool that the schedule begins with could not reach, where earlier programs ran to a depth; but for the ends of the
/// zones, where every nose leaves a fillet and nobody says here which of the tools ran last. Of what stands above the rest limit, as many rest
/// passes as were made took their depth each, down to what the finish tool leaves; and then as many finish passes theirs.
pub fn stand_as_left(metal: &mut Metal, job: &Job, face: &Face, (already, before): (f64, PassesBefore)) {
    let schedule = &job.schedule;
    let first = schedule.rough.as_ref().map(|r| &r.tool).or(schedule.finish.as_ref().map(|f| &f.tool));
    let measured_since = face.taken.is_some();
    let Some(tool) = first.and_then(|name| job.tool(name)).filter(|_| already > 0.0 && !measured_since)
    else {
        return;
    };
    let finish = schedule.finish.as_ref().filter(|f| f.tool != tool.name);
    let made = |f: &FinishPass| f64::from(before.finish.min(f.passes));
    let finish = finish.and_then(|f| Some((f.depth.as_mm(), made(f), job.tool(&f.tool)?)));
    let by_finish = finish.map_or(0.0, |(depth, passes, _)| (depth * passes).min(already));
    let wanted = metal.lowered(face, &|_| already - by_finish);
    let first_depth = schedule.rough.as_ref().map(|r| r.depth).or(schedule.finish.as_ref().map(|f| f.depth));
    let pass = first_depth.map_or(0.0, Length::as_mm);
    let blunt = blunter(tool, job, [pass, already]);
    let mut left = left_by(&wanted, tool, metal, Between::Turned);
    if let Some((depth, _, sharp)) = finish {
        if before.rest > 0 && schedule.rest_passes == RestPasses::Auto {
            take_rest(&mut left, metal, (job, [tool, sharp]), depth * f64::from(before.rest), &wanted);
        }
        if by_finish > 0.0 {
            let stands: Vec<f64> = left.iter().zip(&metal.face).map(|(left, face)| left.min(*face)).collect();
            let asked = metal.lowered(face, &|_| already);
            let lower = metal.lowered_by(&stands, &|_| by_finish);
            let aimed: Vec<f64> = asked.iter().zip(&lower).map(|(a, b)| a.max(*b)).collect();
            let after = left_by(&aimed, sharp, metal, Between::Turned);
            left = after.iter().zip(&left).map(|(after, left)| after.min(*left)).collect();
        }
    }
    let wanted = metal.lowered(face, &|_| already);
    let at_most = left_by(&wanted, &blunt, metal, Between::Straight);
    // Beyond the last radius a tool may have stood by its nose: the blunter of those that ran.
    let beyond = |tool: &Tool| {
        let (inner, outer) = ToolShape::new(&tool.outline()).reach_below(already);
        inner.max(outer) + tool.nose_radius.as_mm()
    };
    let beside = finish.map_or(0.0, |(.., sharp)| beyond(sharp)).max(beyond(tool));
    for (i, left) in left.into_iter().enumerate().filter(|(_, left)| left.is_finite()) {
        if !job_checks::near_any_end(job, metal.radii[i], beside) {
            // No tool puts metal on: where it could not go below the face, that stands.
            metal.now[i] = metal.now[i].max(left.min(metal.face[i]));
        }
    }
    for (i, left) in at_most.into_iter().enumerate().filter(|(_, left)| left.is_finite()) {
        metal.may_stand[i] = (left.min(metal.face[i]) - metal.now[i]).max(0.0);
    }
}

/// Takes what rest passes took together of the heights that the rough tool has left, down to what the finish tool leaves. How much a holder has left
/// hangs on how near to its path within the tolerance it ran: there they may have run at every place.
fn take_rest(
    left: &mut [f64],
    metal: &Metal,
    (job, [rough, sharp]): (&Job, [&Tool; 2]),
    taken: f64,
    wanted: &[f64],
) {
    let sharp = left_by(wanted, sharp, metal, Between::Turned);
    let stands: Vec<f64> = left.iter().zip(&metal.face).map(|(left, face)| left.min(*face)).collect();
    // A rest pass takes all that stands together, where more than the limit of it stands anywhere.
    let over = |i: &usize| stands[*i] - sharp[*i] > SLACK;
    let radii: Vec<usize> = (0..left.len()).filter(|i| sharp[*i].is_finite()).collect();
    let limit = if rough.holder.is_some() { 0.0 } else { job.schedule.rest_limit.as_mm() - SLACK };
    for place in radii.chunk_by(|a, b| over(a) == over(b)) {
        if place.iter().any(|&i| over(&i) && stands[i] - wanted[i] > limit) {
            for &i in place {
                left[i] = sharp[i].max(stands[i] - taken);
            }
        }
    }
}

/// The heights that may stand after the last tool: what it could have left, or what the rough tool before it was too round for, where no
/// rest passes are asked for or no more of it stands than the rest limit.
#[must_use]
pub fn standing_for_rest(
    sharpest: &[f64],
    metal: &Metal,
    (job, face): (&Job, &Face),
    asked: &dyn Fn(f64) -> f64,
) -> Vec<f64> {
    let rough = job.schedule.rough.as_ref().and_then(|r| job.tool(&r.tool));
    let finish = job.schedule.finish.as_ref().map(|f| &f.tool);
    let Some(rough) = rough.filter(|r| finish.is_some_and(|f| *f != r.name)) else {
        return sharpest.to_vec();
    };
    let blunt = reachable(face, (rough, job), asked, metal);
    let limit = match job.schedule.rest_passes {
        RestPasses::Auto => job.schedule.rest_limit.as_mm() + job_checks::path_tolerance(job),
        RestPasses::Off => f64::INFINITY,
    };
    let wanted = metal.lowered(face, asked);
    let each = sharpest.iter().zip(&blunt).zip(&wanted);
    each.map(|((sharp, blunt), wanted)| if blunt - wanted <= limit { sharp.max(*blunt) } else { *sharp })
        .collect()
}

/// What a tool leaves in the zones by one pass of a depth everywhere, millimetres, over metal of these heights: it takes nowhere more, in a corner what its
/// nose reaches, and nothing with its holder.
#[must_use]
pub fn left_by_one_pass(met: &[f64], tool: &Tool, job: &Job, depth: f64, metal: &Metal) -> Vec<f64> {
    left_by(&metal.lowered_by(met, &|_| depth), &held_off(tool, job, [depth; 2]), metal, Between::Turned)
}
