//! A piece as the control reckons it: rounded words in, the circle it will run out.

use super::corridor::Corridor;
use super::feasible::{Side, bend_through, slope_to};
use super::graph::Graph;
use super::{ArcForm, ArcLimits, ArcRule};
use crate::geometry::{Arc, Piece, Point, Turn};

/// How often a circle that leaves the corridor is bent back into it before it is given up.
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

/// The line from start to end, if it keeps the corridor.
pub(super) fn lay_line(corridor: &Corridor, from: Point, to: Point) -> Option<Piece> {
    let piece = Piece::line(from, to);
    let graph = Graph::of(&piece);
    corridor.breach(&graph, &graph, from.x, to.x).is_none().then_some(piece)
}

/// An arc from start to end with k in a range, near a wish, if one keeps the corridor after rounding.
pub(super) fn lay_arc(
    corridor: &Corridor,
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
        let Some(breach) = rounded.breach(corridor) else { return Some(Piece::Arc(rounded.arc)) };
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

/// From which end of an arc its centre is told: the end where the control starts to run it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// The end at smaller x.
    Start,
    /// The end at larger x.
    End,
}

/// An arc with the control's own centre.
pub(super) struct Rounded {
    pub(super) arc: Arc,
    /// The circles through the start and through the end: the lower one and the higher one.
    pub(super) low: Graph,
    pub(super) high: Graph,
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
        let ideal = Point::new((m / k) + from.x, (-1.0 / k) + from.z);
        let turn = if k > 0.0 { Turn::Clockwise } else { Turn::CounterClockwise };
        self.settle(from, to, ideal, turn, Anchor::Start)
    }

    /// The arc that the control runs when told the one about a centre as near to this one as its words allow, if it reads it at all.
    pub(super) fn settle(
        &self,
        from: Point,
        to: Point,
        ideal: Point,
        turn: Turn,
        anchor: Anchor,
    ) -> Option<Rounded> {
        let base = if anchor == Anchor::Start { from } else { to };
        let chord = Point::new(to.x - from.x, to.z - from.z);
        let half_chord = chord.x.hypot(chord.z) / 2.0;
        let side = if turn == Turn::Clockwise { 1.0 } else { -1.0 };
        let (ArcForm::Centre { step } | ArcForm::Radius { step }) = self.form;
        if half_chord * 2.0 < SHORTEST_CHORD * step {
            return None;
        }
        let at = match self.form {
            ArcForm::Centre { step } => {
                let from_base = Point::new((ideal.x - base.x) / step, (ideal.z - base.z) / step);
                let miss = |c: Point| (c.distance(from) - c.distance(to)).abs();
                let columns = [from_base.x.floor(), from_base.x.ceil()].into_iter();
                let neighbours = columns
                    .flat_map(|i| [from_base.z.floor(), from_base.z.ceil()].map(|j| (i, j)))
                    .map(|(i, j)| Point::new(base.x + i * step, base.z + j * step));
                let best = neighbours.min_by(|a, b| miss(*a).total_cmp(&miss(*b)))?;
                if miss(best) > self.end_tolerance {
                    return None;
                }
                best
            }
            ArcForm::Radius { step } => {
                let radius = (ideal.distance(base) / step).round() * step;
                if radius <= half_chord {
                    return None;
                }
                let apothem = ((radius - half_chord) * (radius + half_chord)).sqrt();
                // From the chord's middle, to the right of the way for a clockwise arc.
                let unit = side * apothem / (2.0 * half_chord);
                from.shifted(chord.x / 2.0 + chord.z * unit, chord.z / 2.0 - chord.x * unit)
            }
        };
        let (r0, r1) = (from.distance(at), to.distance(at));
        let (small, large) = (r0.min(r1), r0.max(r1));
        // Both ends on one half of the circle, and the whole range of x under both circles.
        let on_half = side * (from.z - at.z) > 0.0 && side * (to.z - at.z) > 0.0;
        let in_reach = (from.x - at.x).abs() < small && (to.x - at.x).abs() < small;
        if small < self.min_radius || large > self.max_radius || !on_half || !in_reach {
            return None;
        }
        let arc = Arc { from, to, centre: at, turn };
        let is_read = self.room.is_none_or(|room| room.holds(&arc, self.form))
            && self.turn.is_none_or(|turn| turn.holds(&arc));
        is_read.then(|| Rounded::of(arc))
    }

    /// The greatest radius that is read and has room in a line between two places, where the tangent leans by an angle of this sine at most.
    pub(super) fn flattest(&self, ends: [Point; 2], lean: f64) -> f64 {
        let has_room = self.room.map_or(f64::INFINITY, |room| room.flattest(ends, lean, self.form));
        self.max_radius.min(has_room)
    }
}

impl Rounded {
    /// The circles of an arc whose centre is the control's own.
    pub(super) fn of(arc: Arc) -> Self {
        let (r0, r1) = (arc.from.distance(arc.centre), arc.to.distance(arc.centre));
        let side = if arc.turn == Turn::Clockwise { 1.0 } else { -1.0 };
        let half = |radius| Graph::Arc { centre: arc.centre, radius, side };
        let (small, large) = (half(r0.min(r1)), half(r0.max(r1)));
        let (low, high) = if side > 0.0 { (small, large) } else { (large, small) };
        Self { arc, low, high }
    }

    /// Where either circle leaves the corridor worst, if one does.
    pub(super) fn breach(&self, corridor: &Corridor) -> Option<super::corridor::Breach> {
        corridor.breach(&self.low, &self.high, self.arc.from.x, self.arc.to.x)
    }
}
