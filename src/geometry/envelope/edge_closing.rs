//! The closing of the face by the tool's endless straight edges: all that they cannot enter is filled in.
//!
//! A nose with endless edges is the Minkowski sum of the wedge between the two edges and the nose's disk, so the
//! dilation by the tool is the dilation by the wedge followed by that by the disk. The wedge in turn
//! is two half-lines, one for each edge. Each takes one sweep, which keeps the highest edge line so far
//! and drops all pieces below it. Few pieces of a dense noisy trace remain.

use super::edge::split_at_slope;
use super::shape::{Shape, crossing};
use super::stitch::SLIVER;
use crate::geometry::{Piece, Point};

/// The face filled where it is steeper than edges of the slopes `inner` and `outer` can follow, at least from `lo` to `hi`.
pub(super) fn filled(
    face: impl Iterator<Item = Piece>,
    [inner, outer]: [f64; 2],
    [lo, hi]: [f64; 2],
) -> Vec<Piece> {
    let outward = raised(face, inner, hi);
    let mut both = raised(outward.iter().rev().map(Piece::mirrored), outer, -lo);
    both.reverse();
    for piece in &mut both {
        *piece = piece.mirrored();
    }
    both
}

/// The pieces raised to the highest of the lines that fall by `slope` toward larger x from every point, at least up to `end`.
fn raised(pieces: impl Iterator<Item = Piece>, slope: f64, end: f64) -> Vec<Piece> {
    let mut sweep = Sweep { slope, out: Vec::with_capacity(pieces.size_hint().0), edge_line: None };
    let mut last = None;
    for piece in pieces {
        last = Some(piece.to());
        if let Piece::Line(_) = piece {
            sweep.add(&piece);
        } else {
            split_at_slope(piece, -slope).iter().flatten().for_each(|p| sweep.add(p));
        }
    }
    let Sweep { mut out, edge_line, .. } = sweep;
    if let (Some(top), Some(last)) = (edge_line.or(last), last) {
        let until = last.x.max(end);
        if until > top.x {
            out.push(Piece::line(top, Point::new(until, top.z - slope * (until - top.x))));
        }
    }
    out
}

/// A sweep toward larger x.
struct Sweep {
    /// How steeply edge lines fall.
    slope: f64,
    /// The result up to where the present edge line starts.
    out: Vec<Piece>,
    /// Where the present edge line starts; none while the face itself is highest.
    edge_line: Option<Point>,
}

impl Sweep {
    /// Adds the next piece, which is steeper than edge lines everywhere or nowhere.
    #[inline]
    fn add(&mut self, piece: &Piece) {
        let (from, to) = (piece.from(), piece.to());
        let gains = to.z - from.z > -self.slope * (to.x - from.x);
        match self.edge_line {
            None if gains => self.out.push(*piece),
            None => self.edge_line = Some(from),
            Some(top) if gains && to.z > top.z - self.slope * (to.x - top.x) => {
                leave_edge_line(&mut self.out, top, piece, self.slope);
                self.edge_line = None;
            }
            Some(_) => {}
        }
    }
}

/// Adds the edge line from `top` to where the piece crosses it, and the rest of the piece.
fn leave_edge_line(out: &mut Vec<Piece>, top: Point, piece: &Piece, slope: f64) {
    let (from, to) = (piece.from(), piece.to());
    let edge_line = Shape::Line { from: top, to: Point::new(to.x, top.z - slope * (to.x - top.x)) };
    let shape = Shape::of(piece);
    let x = crossing(&edge_line, &shape, from.x.max(top.x), to.x);
    let crossing_point = Point::new(x, shape.at(x).max(edge_line.at(x)));
    if crossing_point.distance(top) < SLIVER || x <= top.x {
        out.push(shape.piece(top, to));
    } else if crossing_point.distance(to) < SLIVER || x >= to.x {
        out.push(Piece::line(top, to));
    } else {
        out.push(Piece::line(top, crossing_point));
        out.push(shape.piece(crossing_point, to));
    }
}
