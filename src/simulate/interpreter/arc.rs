//! Arcs as a control makes them from their words: centre, sense, sweep.
//!
//! # The sense of G02 and G03
//! The axes are right-handed with X across the spindle and Z along it (ISO 841), so the third axis
//! is Y = Z × X. G02 is clockwise and G03 counter-clockwise, seen from the positive end
//! of Y toward its negative end (ISO 6983-1; NISTIR 6556, 3.5.3; both from memory). A turn from +Z
//! toward +X is a positive turn about Y, counter-clockwise in that view: it is G03. In the
//! view used here, x to the right and z upward, a turn from up (+Z) to the right (+X) is *clockwise*.
//! So G03 is [`Turn::Clockwise`] and G02 is [`Turn::CounterClockwise`]: this view swaps
//! the axes of the usual drawing of a lathe, Z to the right and X upward, and so reverses the sense.

use crate::geometry::{Arc, Piece, Point, Turn};
use std::f64::consts::{PI, TAU};

/// The direction of a point from a centre, as an angle from +x toward +z.
fn angle(centre: Point, p: Point) -> f64 {
    (p.z - centre.z).atan2(p.x - centre.x)
}

/// How far an arc turns, above zero and at most a full turn.
pub(crate) fn sweep(from: Point, to: Point, centre: Point, turn: Turn) -> f64 {
    let against_clock = angle(centre, to) - angle(centre, from);
    let signed = match turn {
        Turn::CounterClockwise => against_clock,
        Turn::Clockwise => -against_clock,
    };
    let swept = signed.rem_euclid(TAU);
    if swept == 0.0 { TAU } else { swept }
}

/// The centre of the shorter arc of a radius between two points; none where they are too far apart.
///
/// Half a chord that exceeds the radius by at most `slack` counts as the radius: on a half circle, rounding can cause that.
pub(crate) fn centre(from: Point, to: Point, radius: f64, turn: Turn, slack: f64) -> Option<Point> {
    let chord = from.distance(to);
    let half = chord / 2.0;
    if half > radius + slack || chord == 0.0 {
        return None;
    }
    let height = (radius * radius - half * half).max(0.0).sqrt();
    // The shorter counter-clockwise arc has its centre on the left of the line from start to end.
    let side = match turn {
        Turn::CounterClockwise => height / chord,
        Turn::Clockwise => -height / chord,
    };
    let (dx, dz) = (to.x - from.x, to.z - from.z);
    Some(Point::new(f64::midpoint(from.x, to.x) - dz * side, f64::midpoint(from.z, to.z) + dx * side))
}

/// The arc as pieces of less than half a turn each: one, or three for half a turn or more.
pub(crate) fn pieces(from: Point, to: Point, centre: Point, turn: Turn) -> Vec<Piece> {
    let swept = sweep(from, to, centre, turn);
    if swept < PI {
        return vec![Piece::Arc(Arc { from, to, centre, turn })];
    }
    let radius = from.distance(centre);
    let start = angle(centre, from);
    let sense = if turn == Turn::CounterClockwise { 1.0 } else { -1.0 };
    let place = |share: f64| {
        let a = start + sense * swept * share;
        Point::new(centre.x + radius * a.cos(), centre.z + radius * a.sin())
    };
    let (first, second) = (place(1.0 / 3.0), place(2.0 / 3.0));
    [(from, first), (first, second), (second, to)]
        .map(|(from, to)| Piece::Arc(Arc { from, to, centre, turn }))
        .to_vec()
}

/// The least and the greatest x and z of a piece.
pub(crate) fn extent(piece: &Piece) -> ([f64; 2], [f64; 2]) {
    let (a, b) = (piece.from(), piece.to());
    let mut x = [a.x.min(b.x), a.x.max(b.x)];
    let mut z = [a.z.min(b.z), a.z.max(b.z)];
    if let Piece::Arc(arc) = piece {
        let r = arc.radius();
        let c = arc.centre;
        let swept = sweep(arc.from, arc.to, c, arc.turn);
        let passes = |p: Point| p != arc.from && sweep(arc.from, p, c, arc.turn) < swept;
        if passes(Point::new(c.x - r, c.z)) {
            x[0] = c.x - r;
        }
        if passes(Point::new(c.x + r, c.z)) {
            x[1] = c.x + r;
        }
        if passes(Point::new(c.x, c.z - r)) {
            z[0] = c.z - r;
        }
        if passes(Point::new(c.x, c.z + r)) {
            z[1] = c.z + r;
        }
    }
    (x, z)
}

#[cfg(test)]
mod tests {
    use super::*;
    use float_cmp::assert_approx_eq;
    use proptest::prelude::*;

    proptest! {
        /// The centre found from a radius lies that far from both ends, and the arc is the shorter one.
        #[test]
        fn centre_from_radius_gives_the_shorter_arc(
            x in -50.0..50.0f64, z in -50.0..50.0f64, dx in -9.0..9.0f64, dz in -9.0..9.0f64,
            more in 0.001..30.0f64, clockwise: bool,
        ) {
            let (a, b) = (Point::new(x, z), Point::new(x + dx, z + dz));
            prop_assume!(a.distance(b) > 1e-3);
            let turn = if clockwise { Turn::Clockwise } else { Turn::CounterClockwise };
            let r = a.distance(b) / 2.0 + more;
            let c = centre(a, b, r, turn, 0.0);
            prop_assert!(c.is_some());
            let c = c.unwrap_or_default();
            assert_approx_eq!(f64, c.distance(a), r, epsilon = 1e-6);
            assert_approx_eq!(f64, c.distance(b), r, epsilon = 1e-6);
            prop_assert!(sweep(a, b, c, turn) < PI);
            assert_approx_eq!(f64, sweep(a, b, c, turn) + sweep(a, b, c, turn.reversed()), TAU, epsilon = 1e-9);
        }

        /// No sampled point of an arc lies outside its extent, and the extent is reached.
        #[test]
        fn extent_is_that_of_the_samples(start in 0.0..TAU, swept in 0.05..3.1f64, clockwise: bool) {
            let turn = if clockwise { Turn::Clockwise } else { Turn::CounterClockwise };
            let sense = if clockwise { -1.0 } else { 1.0 };
            let c = Point::new(3.0, -2.0);
            let at = |t: f64| {
                let a = start + sense * swept * t;
                Point::new(c.x + 5.0 * a.cos(), c.z + 5.0 * a.sin())
            };
            let (x, z) = extent(&Piece::Arc(Arc { from: at(0.0), to: at(1.0), centre: c, turn }));
            let samples: Vec<Point> = (0..=2000).map(|i| at(f64::from(i) / 2000.0)).collect();
            let least = |f: fn(&Point) -> f64| samples.iter().map(f).fold(f64::INFINITY, f64::min);
            let most = |f: fn(&Point) -> f64| samples.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
            assert_approx_eq!(f64, x[0], least(|p| p.x), epsilon = 1e-5);
            assert_approx_eq!(f64, x[1], most(|p| p.x), epsilon = 1e-5);
            assert_approx_eq!(f64, z[0], least(|p| p.z), epsilon = 1e-5);
            assert_approx_eq!(f64, z[1], most(|p| p.z), epsilon = 1e-5);
        }
    }

    /// A full turn is three pieces that join and end where they should.
    #[test]
    fn long_arcs_are_split() {
        let a = Point::new(10.0, 0.0);
        let parts = pieces(a, a, Point::new(5.0, 0.0), Turn::Clockwise);
        assert_eq!(parts.len(), 3);
        let length: f64 = parts.iter().map(Piece::length).sum();
        assert_approx_eq!(f64, length, TAU * 5.0, epsilon = 1e-9);
    }
}
