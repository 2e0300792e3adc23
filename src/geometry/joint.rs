//! Joints: where one piece of a path ends and the next begins, and by how much the direction changes there.

use super::{Arc, Piece, Point, Turn};

/// A point where two pieces meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    /// The point.
    pub at: Point,
    /// The change of direction, radians, from −π to π, positive for a turn to the left.
    pub turn: f64,
}

/// The joints of pieces given in the order of motion, each starting where the one before it ends.
///
/// ```
/// use facewright::geometry::{Piece, Point, joint::joints};
/// let [a, b, c] = [(80.0, 0.0), (90.0, 0.0), (100.0, 10.0)].map(|(x, z)| Point::new(x, z));
/// let joints = joints(&[Piece::line(a, b), Piece::line(b, c)]);
/// assert_eq!(joints.len(), 1);
/// assert!((joints[0].turn.to_degrees() - 45.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn joints(pieces: &[Piece]) -> Vec<Joint> {
    let meet = |w: &[Piece]| {
        let (before, after) = (direction(&w[0], w[0].to()), direction(&w[1], w[1].from()));
        let cross = before.x * after.z - before.z * after.x;
        let dot = before.x * after.x + before.z * after.z;
        Joint { at: w[1].from(), turn: cross.atan2(dot) }
    };
    pieces.windows(2).map(meet).collect()
}

/// The tangent of a piece at one of its ends, not normalized.
fn direction(piece: &Piece, at: Point) -> Point {
    match *piece {
        Piece::Line(l) => Point::new(l.to.x - l.from.x, l.to.z - l.from.z),
        Piece::Arc(Arc { centre, turn: Turn::Clockwise, .. }) => Point::new(at.z - centre.z, centre.x - at.x),
        Piece::Arc(Arc { centre, .. }) => Point::new(centre.z - at.z, at.x - centre.x),
    }
}

#[cfg(test)]
mod tests {
    use super::joints;
    use crate::geometry::{Arc, Piece, Point, Turn};

    /// Two circles that touch have one tangent there; in the mirrored curve all turns change their sign.
    #[test]
    fn circles_that_touch_meet_without_a_turn() {
        let meet = Point::new(100.0, 0.0);
        let first = Piece::Arc(Arc {
            from: Point::new(97.0, -1.0),
            to: meet,
            centre: Point::new(100.0, -5.0),
            turn: Turn::Clockwise,
        });
        let second = Piece::Arc(Arc {
            from: meet,
            to: Point::new(106.0, 2.0),
            centre: Point::new(100.0, 10.0),
            turn: Turn::CounterClockwise,
        });
        let along = joints(&[first, second]);
        assert!(along[0].turn.abs() < 1e-15);
        let straight = Piece::line(meet, Point::new(101.0, 1.0));
        let bent = joints(&[first, straight]);
        assert!((bent[0].turn.to_degrees() - 45.0).abs() < 1e-12);
        let back = joints(&[straight.reversed(), first.reversed()]);
        assert!((back[0].turn + bent[0].turn).abs() < 1e-15);
    }
}
