//! The face with all that the tool's endless straight edges cannot enter filled in.
//!
//! A nose with endless edges is the wedge of the two edges rolled around by the nose's disk, so the
//! dilation by the tool is that by the wedge followed by that by the disk. The wedge in turn
//! is two half-lines, one for each edge: two sweeps, each of which carries the highest edge line so far
//! along (the roof) and drops what lies below it. A dense noisy trace becomes short here.

use super::edge::split_at_slope;
use super::shape::{Shape, crossing};
use super::weld::SLIVER;
use crate::geometry::{Piece, Point};

/// The face filled up to slopes that edges climbing by `inner` and `outer` can follow, from `lo` to `hi` at least.
pub(super) fn filled(
    face: impl Iterator<Item = Piece>,
    [inner, outer]: [f64; 2],
    [lo, hi]: [f64; 2],
) -> Vec<Piece> {
    let outward = roofed(face, inner, hi);
    let mut both = roofed(outward.iter().rev().map(Piece::mirrored), outer, -lo);
    both.reverse();
    for piece in &mut both {
        *piece = piece.mirrored();
    }
    both
}

/// The pieces with everything raised to the roofs that fall by `slope` toward larger x from every point, up to `end` at least.
fn roofed(pieces: impl Iterator<Item = Piece>, slope: f64, end: f64) -> Vec<Piece> {
    let mut sweep = Sweep { slope, out: Vec::new(), roof: None };
    let mut last = None;
    for piece in pieces {
        last = Some(piece.to());
        if let Piece::Line(_) = piece {
            sweep.pass(&piece);
        } else {
            split_at_slope(piece, -slope).iter().flatten().for_each(|p| sweep.pass(p));
        }
    }
    let Sweep { mut out, roof, .. } = sweep;
    if let (Some(top), Some(last)) = (roof.or(last), last) {
        let until = last.x.max(end);
        if until > top.x {
            out.push(Piece::line(top, Point::new(until, top.z - slope * (until - top.x))));
        }
    }
    out
}

/// A sweep toward larger x.
struct Sweep {
    /// How fast roofs fall.
    slope: f64,
    /// The raised pieces up to where the roof in force starts.
    out: Vec<Piece>,
    /// Where the roof in force starts; none while the face itself is outermost.
    roof: Option<Point>,
}

impl Sweep {
    /// The next piece, which falls faster than roofs all along or nowhere.
    #[inline]
    fn pass(&mut self, piece: &Piece) {
        let (from, to) = (piece.from(), piece.to());
        let gains = to.z - from.z > -self.slope * (to.x - from.x);
        match self.roof {
            None if gains => self.out.push(*piece),
            None => self.roof = Some(from),
            Some(top) if gains && to.z > top.z - self.slope * (to.x - top.x) => {
                surface(&mut self.out, top, piece, self.slope);
                self.roof = None;
            }
            Some(_) => {}
        }
    }
}

/// The roof from `top` until the piece comes out through it, and the rest of the piece.
fn surface(out: &mut Vec<Piece>, top: Point, piece: &Piece, slope: f64) {
    let (from, to) = (piece.from(), piece.to());
    let roof = Shape::Line { from: top, to: Point::new(to.x, top.z - slope * (to.x - top.x)) };
    let shape = Shape::of(piece);
    let x = crossing(&roof, &shape, from.x.max(top.x), to.x);
    let out_at = Point::new(x, shape.at(x).max(roof.at(x)));
    if out_at.distance(top) < SLIVER || x <= top.x {
        out.push(shape.piece(top, to));
    } else if out_at.distance(to) < SLIVER || x >= to.x {
        out.push(Piece::line(top, to));
    } else {
        out.push(Piece::line(top, out_at));
        out.push(shape.piece(out_at, to));
    }
}
