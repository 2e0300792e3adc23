//! A straight stretch of the tool's outline of finite length: an edge, or the holder's underside.
//!
//! With T(w) = T₀ + k·w on one interval, f(u) − T(u−x) = (f(u) − k·u) + k·x − T₀: the greatest value of a
//! sheared face within a sliding window. A stretch of the face that climbs faster than k is met by
//! the interval's far end, then its top by all of the interval; one that climbs slower the other way round.

use super::order::Candidate;
use super::shape::Shape;
use crate::geometry::{Piece, Point};

/// A straight stretch of the outline: from (w, T(w)) to (w, T(w)), w growing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub near: Point,
    pub far: Point,
}

impl Edge {
    /// How fast it climbs with w.
    fn slope(&self) -> f64 {
        (self.far.z - self.near.z) / (self.far.x - self.near.x)
    }

    /// What a piece of the face asks of the tool on account of this edge.
    pub fn candidates(self, piece: Piece) -> impl Iterator<Item = Candidate> {
        split_at_slope(piece, self.slope()).into_iter().flatten().map(move |p| self.candidate(&p))
    }

    /// The same for a piece on which f(u) − k·u only grows or only falls.
    fn candidate(&self, piece: &Piece) -> Candidate {
        let (from, to) = (piece.from(), piece.to());
        let moved = |w: Point| Shape::of(&piece.shifted(-w.x, -w.z));
        // The edge resting on one point of the face: seen from the tool's place it runs the same way.
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

/// A piece as one or two on each of which the slope is nowhere above or nowhere below `slope`.
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
