//! A straight part of the tool's outline of finite length: an edge, or the holder's underside.
//!
//! With T(w) = T₀ + k·w on one interval, f(u) − T(u−x) = (f(u) − k·u) + k·x − T₀: the greatest value of a
//! sheared face within a sliding window. A piece of the face steeper than k is touched first by
//! the far end of the interval, then at its top by the whole interval; a less steep piece in the reverse order.

use super::shape::Shape;
use super::upper_envelope::Candidate;
use crate::geometry::{Piece, Point};

/// A straight part of the outline between two points (w, T(w)), in order of rising w.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub near: Point,
    pub far: Point,
}

impl Edge {
    /// Its slope over w.
    fn slope(&self) -> f64 {
        (self.far.z - self.near.z) / (self.far.x - self.near.x)
    }

    /// The lowest tool positions that a piece of the face allows this edge.
    pub fn candidates(self, piece: Piece) -> impl Iterator<Item = Candidate> {
        split_at_slope(piece, self.slope()).into_iter().flatten().map(move |p| self.candidate(&p))
    }

    /// The same for a piece on which f(u) − k·u is monotonic.
    fn candidate(&self, piece: &Piece) -> Candidate {
        let (from, to) = (piece.from(), piece.to());
        let moved = |w: Point| Shape::of(&piece.shifted(-w.x, -w.z));
        // The tool positions at which the edge rests on one point of the face: a line of the edge's own slope.
        let resting = |p: Point| Shape::Line {
            from: p.shifted(-self.far.x, -self.far.z),
            to: p.shifted(-self.near.x, -self.near.z),
        };
        let domain = [from.x - self.far.x, to.x - self.near.x];
        if to.z - from.z > self.slope() * (to.x - from.x) {
            let climb = moved(self.far);
            Candidate { shapes: [climb, climb, resting(to)], breaks: [domain[0], to.x - self.far.x], domain }
        } else {
            let fall = moved(self.near);
            Candidate {
                shapes: [resting(from), fall, fall],
                breaks: [from.x - self.near.x, domain[1]],
                domain,
            }
        }
    }
}

/// The piece split into one or two parts; on each, the slope is nowhere above or nowhere below `slope`.
pub(super) fn split_at_slope(piece: Piece, slope: f64) -> [Option<Piece>; 2] {
    let Piece::Arc(arc) = piece else { return [Some(piece), None] };
    let shape = Shape::of(&piece);
    match shape.with_slope(slope) {
        Some(x) if x > arc.from.x && x < arc.to.x => {
            let tangent = Point::new(x, shape.at(x));
            [Some(shape.piece(arc.from, tangent)), Some(shape.piece(tangent, arc.to))]
        }
        _ => [Some(piece), None],
    }
}
