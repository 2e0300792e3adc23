//! The disk as a tool: candidates are a piece's parallel curve and the caps around its two ends.

use super::shape::{Shape, caps_meet};
use super::stitch::SLIVER;
use super::upper_envelope::Candidate;
use crate::geometry::{Arc, Line, Piece, Point, Turn};

/// The lowest centre of a disk that rests on one piece from above, over x.
///
/// Over a line it is the line moved by r along its normal; over a cap (upper half circle) of radius R, a cap of R + r;
/// over a cup (lower half) of R > r, a cup of R − r. A tighter cup is touched at its ends only.
pub(super) fn candidate(piece: &Piece, r: f64) -> Candidate {
    let (from, to) = (piece.from(), piece.to());
    let (middle, breaks) = match *piece {
        Piece::Line(Line { from, to }) => {
            let length = from.distance(to);
            let (nx, nz) = (-r * ((to.z - from.z) / length), r * ((to.x - from.x) / length));
            let (from, to) = (from.shifted(nx, nz), to.shifted(nx, nz));
            (Shape::Line { from, to }, [from.x, to.x])
        }
        Piece::Arc(arc) => parallel(&arc, r),
    };
    Candidate {
        shapes: [Shape::cap(from, r), middle, Shape::cap(to, r)],
        breaks: [breaks[0].max(from.x - r), breaks[1].max(breaks[0]).min(to.x + r)],
        domain: [from.x - r, to.x + r],
    }
}

/// The parallel curve of an arc, and from where to where it runs.
fn parallel(arc: &Arc, r: f64) -> (Shape, [f64; 2]) {
    let radius = arc.radius();
    let cap = arc.turn == Turn::Clockwise;
    let new = if cap { radius + r } else { radius - r };
    if new < SLIVER {
        let x = caps_meet(arc.from, arc.to, r);
        return (Shape::cap(arc.to, r), [x, x]);
    }
    let side = if cap { 1.0 } else { -1.0 };
    let x_of = |p: Point| arc.centre.x + (p.x - arc.centre.x) * (new / radius);
    (Shape::Arc { centre: arc.centre, radius: new, side }, [x_of(arc.from), x_of(arc.to)])
}
