//! The motions of a program, split into groups and passes.
//!
//! A group is a sequence of motions of one kind and one tool. At feed it also ends where the tool turns back over radii it
//! has just crossed, so a group at feed crosses the face in one direction. Successive groups belong to one pass as long as
//! the tool is the same, no stop comes between, and they cover different radii (the zones of one pass). A group over radii
//! that the pass has covered already begins the next pass.

use crate::geometry::{Piece, Point};
use crate::job::{Direction, Job, Tool};
use crate::proof::{Movement, MovementKind};
use std::ops::Range;

/// A reversal shorter than this is part of a lead-in or a corner, millimetres.
const HOOK: f64 = 1.0;

/// What a lead takes at either end of a group, millimetres: where two narrow zones lie side by side, the way off the one and the way down to the
/// other run over the same radii (common practice, no source).
const LEAD: f64 = 1.5;

/// A group over radii already covered by more than this share of the shorter of both begins a new pass.
const OVERLAP: f64 = 0.5;

/// A sequence of movements of one kind and tool.
#[derive(Debug, Clone, PartialEq)]
pub struct MovementGroup {
    /// Rapid or at feed.
    pub kind: MovementKind,
    /// Which movements.
    pub movements: Range<usize>,
    /// Number of the tool.
    pub tool: Option<u32>,
    /// Which pass it belongs to, counted from 0; of no meaning for rapids.
    pub pass: usize,
}

/// Most groups that are followed: a hundred passes have some hundreds, and the numbering of passes compares each with those of its pass.
pub const MOST_GROUPS: usize = 20_000;

/// Splits the movements into groups and numbers the passes; none where they are more than [`MOST_GROUPS`].
#[must_use]
pub fn split(movements: &[Movement]) -> Option<Vec<MovementGroup>> {
    let mut groups = Vec::new();
    let mut start = 0;
    while let Some(first) = movements.get(start) {
        let same = |m: &Movement| {
            m.kind == first.kind && m.tool == first.tool && m.stops_before == first.stops_before
        };
        let end = start + movements[start..].iter().take_while(|m| same(m)).count();
        let push = |range| MovementGroup { kind: first.kind, movements: range, tool: first.tool, pass: 0 };
        if first.kind == MovementKind::Feed {
            groups.extend(one_way(movements, start..end).into_iter().map(push));
        } else {
            groups.push(push(start..end));
        }
        start = end;
    }
    if groups.len() > MOST_GROUPS {
        return None;
    }
    number_passes(movements, &mut groups);
    Some(groups)
}

/// How many times a group of rapids crosses radii: once, and once more for each time it turns back.
#[must_use]
pub fn crossings(movements: &[Movement], group: &MovementGroup) -> usize {
    one_way(movements, group.movements.clone()).len()
}

/// Splits a sequence of motions at feed where it reverses by more than [`HOOK`].
fn one_way(movements: &[Movement], run: Range<usize>) -> Vec<Range<usize>> {
    let mut parts = Vec::new();
    let mut start = run.start;
    let Some(first) = movements.get(start) else { return parts };
    // Direction (outward +1, inward −1, unknown 0), the farthest radius in it, and the movement after that.
    let mut sense = 0.0;
    let mut furthest = first.piece.from().x;
    let mut after = start;
    for i in run.clone() {
        let ahead = movements[i].piece.to().x - furthest;
        if sense == 0.0 && ahead.abs() > HOOK {
            sense = ahead.signum();
        }
        if ahead * sense > 0.0 {
            (furthest, after) = (furthest + ahead, i + 1);
        } else if -ahead * sense > HOOK {
            parts.push(start..after);
            start = after;
            sense = -sense;
            (furthest, after) = (furthest + ahead, i + 1);
        }
    }
    parts.push(start..run.end);
    parts
}

fn number_passes(movements: &[Movement], groups: &mut [MovementGroup]) {
    let mut pass = 0;
    let mut over: Vec<(f64, f64)> = Vec::new();
    let mut before: Option<(Option<u32>, (u32, u32))> = None;
    for group in groups.iter_mut().filter(|s| s.kind == MovementKind::Feed) {
        let Some(part) = movements.get(group.movements.clone()) else { continue };
        let Some(first) = part.first() else { continue };
        let span = span(part);
        let here = (group.tool, first.stops_before);
        let again = over.iter().any(|&o| overlap(o, span));
        if before.is_some_and(|b| b != here) || again {
            pass += 1;
            over.clear();
        }
        over.push(span);
        before = Some(here);
        group.pass = pass;
    }
}

fn overlap(a: (f64, f64), b: (f64, f64)) -> bool {
    let common = a.1.min(b.1) - a.0.max(b.0);
    let shorter = (a.1 - a.0).min(b.1 - b.0);
    shorter > HOOK && common > OVERLAP * shorter
}

/// Least and greatest radius of the programmed point, without the leads at both ends; of a short group no more than a third at either end.
fn span(part: &[Movement]) -> (f64, f64) {
    let (from, to) = part
        .iter()
        .flat_map(|m| [m.piece.from().x, m.piece.to().x])
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    let lead = LEAD.min((to - from) / 3.0);
    (from + lead, to - lead)
}

/// Which way a group crosses the face; none where it does not.
#[must_use]
pub fn direction(part: &[Movement]) -> Option<Direction> {
    let (first, last) = (part.first()?, part.last()?);
    let dx = last.piece.to().x - first.piece.from().x;
    if dx.abs() <= HOOK {
        None
    } else if dx > 0.0 {
        Some(Direction::Outward)
    } else {
        Some(Direction::Inward)
    }
}

/// The job's tool of a number.
#[must_use]
pub fn tool_of(job: &Job, number: Option<u32>) -> Option<&Tool> {
    job.tools.iter().find(|t| Some(t.number) == number)
}

/// Whether every coordinate of a piece is a finite number.
#[must_use]
pub fn finite(piece: &Piece) -> bool {
    let ok = |p: Point| p.x.is_finite() && p.z.is_finite();
    let centre = match piece {
        Piece::Arc(arc) => ok(arc.centre),
        Piece::Line(_) => true,
    };
    ok(piece.from()) && ok(piece.to()) && centre
}
