//! A piece as the control reckons it: rounded words in, the circle it will run out.

use super::band::Band;
use super::fan::{Side, bend_through, slope_to};
use super::graph::Graph;
use super::{ArcForm, ArcLimits, ArcRule};
use crate::geometry::{Arc, Piece, Point, Turn};

/// How often a circle that leaves the band is bent back into it before it is given up.
const REPAIRS: usize = 3;

/// An arc with a chord of fewer steps of its words than this is no longer the circle that was meant: a line is tried instead.
const SHORTEST_CHORD: f64 = 8.0;

/// The tangent's angle where a piece starts.
pub(super) fn leaves(piece: &Piece) -> f64 {
    heading(piece, piece.from())
}

/// The tangent's angle where a piece ends.
pub(super) fn arrives(piece: &Piece) -> f64 {
    heading(piece, piece.to())
}

fn heading(piece: &Piece, at: Point) -> f64 {
    match piece {
        Piece::Line(_) => Graph::of(piece).heading(at.x),
        Piece::Arc(Arc { centre: c, turn, .. }) => {
            let side = if *turn == Turn::Clockwise { 1.0 } else { -1.0 };
            (-(at.x - c.x) * side).atan2((at.z - c.z) * side)
        }
    }
}

/// The line from start to end, if it keeps the band.
pub(super) fn lay_line(band: &Band, from: Point, to: Point) -> Option<Piece> {
    let piece = Piece::line(from, to);
    let graph = Graph::of(&piece);
    band.breach(&graph, &graph, from.x, to.x).is_none().then_some(piece)
}

/// An arc from start to end with k in a range, near a wish, if one keeps the band after rounding.
pub(super) fn lay_arc(
    band: &Band,
    rule: &ArcRule,
    ends: (Point, Point),
    range: (f64, f64),
    wish: f64,
) -> Option<Piece> {
    let ArcRule::Allowed(limits) = rule else { return None };
    let (from, to) = ends;
    let q = to.shifted(-from.x, -from.z);
    let (mut lo, mut hi) = range;
    let mut wish = wish;
    for _ in 0..=REPAIRS {
        if lo > hi {
            return None;
        }
        let k = wish.clamp(lo, hi);
        let rounded = limits.round(from, to, k)?;
        let Some(breach) = rounded.breach(band) else { return Some(Piece::Arc(rounded.arc)) };
        let bound = bend_through(q, breach.at.shifted(-from.x, -from.z))?;
        // Past the bound by as much as rounding just missed it.
        match breach.side {
            Side::Above => lo = lo.max(bound).max(k),
            Side::Below => hi = hi.min(bound).min(k),
        }
        wish = f64::midpoint(lo, hi);
    }
    None
}

/// An arc with the control's own centre.
struct Rounded {
    arc: Arc,
    /// The circles through the start and through the end: the lower one and the higher one.
    low: Graph,
    high: Graph,
}

impl ArcLimits {
    /// The arc that the control runs when told the one with this k, if it reads it at all.
    fn round(&self, from: Point, to: Point, k: f64) -> Option<Rounded> {
        let q = to.shifted(-from.x, -from.z);
        if k == 0.0 {
            return None;
        }
        let m = slope_to(q, k);
        // The centre from the start is (m, −1)/k.
        let ideal = Point::new(m / k, -1.0 / k);
        let half_chord = q.x.hypot(q.z) / 2.0;
        let turn = if k > 0.0 { Turn::Clockwise } else { Turn::CounterClockwise };
        let side = if k > 0.0 { 1.0 } else { -1.0 };
        let centre = match self.form {
            ArcForm::Centre { step } => {
                if half_chord * 2.0 < SHORTEST_CHORD * step {
                    return None;
                }
                let mut best: Option<(f64, Point)> = None;
                for i in [(ideal.x / step).floor(), (ideal.x / step).ceil()] {
                    for j in [(ideal.z / step).floor(), (ideal.z / step).ceil()] {
                        let c = Point::new(i * step, j * step);
                        let miss = (c.x.hypot(c.z) - c.distance(q)).abs();
                        if best.is_none_or(|b| miss < b.0) {
                            best = Some((miss, c));
                        }
                    }
                }
                let (miss, c) = best?;
                if miss > self.end_tolerance {
                    return None;
                }
                c
            }
            ArcForm::Radius { step } => {
                if half_chord * 2.0 < SHORTEST_CHORD * step {
                    return None;
                }
                let radius = (ideal.x.hypot(ideal.z) / step).round() * step;
                if radius <= half_chord {
                    return None;
                }
                let apothem = ((radius - half_chord) * (radius + half_chord)).sqrt();
                // From the chord's middle, to the right of the way for a clockwise arc.
                let unit = side * apothem / (2.0 * half_chord);
                Point::new(q.x / 2.0 + q.z * unit, q.z / 2.0 - q.x * unit)
            }
        };
        let at = centre.shifted(from.x, from.z);
        let (r0, r1) = (from.distance(at), to.distance(at));
        let (small, large) = (r0.min(r1), r0.max(r1));
        let half = |radius| Graph::Arc { centre: at, radius, side };
        // Both ends on one half of the circle, and the whole range of x under both circles.
        let on_half = side * (from.z - at.z) > 0.0 && side * (to.z - at.z) > 0.0;
        let in_reach = (from.x - at.x).abs() < small && (to.x - at.x).abs() < small;
        if small < self.min_radius || large > self.max_radius || !on_half || !in_reach {
            return None;
        }
        let (low, high) = if side > 0.0 { (half(small), half(large)) } else { (half(large), half(small)) };
        Some(Rounded { arc: Arc { from, to, centre: at, turn }, low, high })
    }
}

impl Rounded {
    fn breach(&self, band: &Band) -> Option<super::band::Breach> {
        band.breach(&self.low, &self.high, self.arc.from.x, self.arc.to.x)
    }
}
