//! The lowest position of a tool over one radius while its front point moves along one line or arc.
//!
//! With the front point at `(x, z(x))` the underside over the radius u is at `z(x) + T(u − x)`, T being the outline. The
//! least value lies at an end of the segment, where u is below a corner of the outline, or where segment and
//! outline have the same slope. The last has a closed form in each case: the nose touches a line at its tangent point and an
//! arc on the line through both centres; an edge touches an arc where the arc is as steep as the edge; the
//! holder's flat touches an arc at its lowest point. Every candidate is a real position of the tool, so none is too
//! low, and the lowest is among them.

use super::tool_shape::{Slope, ToolShape};
use crate::geometry::{Arc, Line, Piece, Point, Turn};
use std::f64::consts::{PI, TAU};

/// A part of a motion on which the height is a function of the radius, taken from small x to large.
#[derive(Debug, Clone, Copy)]
pub struct Segment {
    /// Index of the movement it belongs to.
    pub movement: usize,
    /// Least radius of the front point.
    pub x0: f64,
    /// Greatest radius of the front point.
    pub x1: f64,
    z0: f64,
    z1: f64,
    form: Form,
}

#[derive(Debug, Clone, Copy)]
enum Form {
    Line(Slope),
    Arc { centre: Point, radius: f64, upper: bool },
}

/// The lowest point of a tool's underside over a radius, and which part of the tool it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowestPoint {
    /// Height of the tool's underside.
    pub z: f64,
    /// Distance of the radius from the nose centre, outward positive; it determines the part of the tool.
    pub w: f64,
    /// Index of the movement.
    pub movement: usize,
}

impl LowestPoint {
    /// No tool at all.
    pub const NONE: Self = Self { z: f64::INFINITY, w: 0.0, movement: usize::MAX };
}

impl Segment {
    /// A straight segment.
    #[must_use]
    pub fn line(from: Point, to: Point, movement: usize) -> Self {
        let (a, b) = if from.x <= to.x { (from, to) } else { (to, from) };
        let form = Form::Line(Slope::new((b.z - a.z) / (b.x - a.x)));
        Self { movement, x0: a.x, x1: b.x, z0: a.z, z1: b.z, form }
    }

    /// Adds the segments of a piece, moved by the shift from the programmed point to the front point.
    pub fn push_piece(piece: &Piece, shift: (f64, f64), movement: usize, into: &mut Vec<Self>) {
        match piece.shifted(shift.0, shift.1) {
            Piece::Line(Line { from, to }) => into.push(Self::line(from, to, movement)),
            Piece::Arc(arc) => Self::push_arc(&arc, movement, into),
        }
    }

    /// An arc of up to a full turn, split at the circle's innermost and outermost point.
    fn push_arc(arc: &Arc, movement: usize, into: &mut Vec<Self>) {
        let Arc { from, to, centre, turn } = *arc;
        let angle = |p: Point| (p.z - centre.z).atan2(p.x - centre.x);
        let radius = f64::midpoint(from.distance(centre), to.distance(centre));
        // Taken counter-clockwise; the sense does not matter for the swept area.
        let (start, end) = if turn == Turn::CounterClockwise { (from, to) } else { (to, from) };
        let a = angle(start);
        let sweep = (angle(end) - a).rem_euclid(TAU);
        let b = a + if sweep == 0.0 { TAU } else { sweep };
        // The written ends are added separately: if their radii differ they are not on the mean circle.
        into.push(Self::line(from, from, movement));
        into.push(Self::line(to, to, movement));
        let mut at = a;
        let mut half_turns = (a / PI).floor();
        while at < b {
            half_turns += 1.0;
            let next = (half_turns * PI).min(b);
            let middle = f64::midpoint(at, next);
            let (p, q) = (around(centre, radius, at), around(centre, radius, next));
            let (p, q) = if p.x <= q.x { (p, q) } else { (q, p) };
            if next > at && q.x > p.x {
                let form = Form::Arc { centre, radius, upper: middle.sin() > 0.0 };
                into.push(Self { movement, x0: p.x, x1: q.x, z0: p.z, z1: q.z, form });
            }
            at = at.max(next);
        }
    }

    /// The front point's height at a radius of the segment.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        match self.form {
            Form::Line(_) if self.x1 == self.x0 => self.z0.min(self.z1),
            Form::Line(_) => self.z0 + (self.z1 - self.z0) * ((x - self.x0) / (self.x1 - self.x0)),
            Form::Arc { centre, radius, upper } => {
                let dx = x - centre.x;
                let rise = (radius * radius - dx * dx).max(0.0).sqrt();
                if upper { centre.z + rise } else { centre.z - rise }
            }
        }
    }

    /// The front point's least height over the part of the segment within `[from, to]`; infinite where none is.
    #[must_use]
    pub fn least_within(&self, from: f64, to: f64) -> f64 {
        let (a, b) = (self.x0.max(from), self.x1.min(to));
        if a > b {
            return f64::INFINITY;
        }
        let ends = self.at(a).min(self.at(b));
        match self.form {
            Form::Arc { centre, radius, upper: false } if a < centre.x && centre.x < b => centre.z - radius,
            _ => ends,
        }
    }

    /// The front point's least height.
    #[must_use]
    pub fn least(&self) -> f64 {
        self.least_within(self.x0, self.x1).min(self.z0).min(self.z1)
    }

    /// The least height of the tool over a line that climbs outward from height zero at the first of two radii to the second.
    ///
    /// Over the radius `u = x + w` the height of the tool is `z(x) + T(w)`. Minus the line, it is a sum of a function of `x` and one
    /// of `w`, so where `u` is inside, both have a minimum: the segment at an end or where it is as steep as the line, the
    /// outline at a corner or where the nose is as steep as the line. Otherwise `u` is one of the two radii.
    #[must_use]
    pub fn lowest_above(&self, shape: &ToolShape, [from, to]: [f64; 2], climb: f64) -> f64 {
        let line = |u: f64| if climb == 0.0 { 0.0 } else { climb * (u - from) };
        let at_radii =
            [from, to].into_iter().filter(|u| u.is_finite()).map(|u| self.lowest(shape, u).z - line(u));
        let nose = shape.nose_radius() * climb / climb.hypot(1.0);
        let on_outline = shape.corners().iter().map(|c| (c.w, c.height)).chain([(nose, shape.height(nose))]);
        let on_segment = [Some((self.x0, self.z0)), Some((self.x1, self.z1)), self.as_steep_as(climb)];
        let inside = on_outline
            .flat_map(|(w, height)| on_segment.into_iter().flatten().map(move |(x, z)| (x + w, z + height)));
        let inside = inside.filter(|(u, _)| (from..=to).contains(u)).map(|(u, z)| z - line(u));
        at_radii.chain(inside).fold(f64::INFINITY, f64::min)
    }

    /// The point of a lower arc, within the segment, where it is as steep as a line.
    fn as_steep_as(&self, climb: f64) -> Option<(f64, f64)> {
        let Form::Arc { centre, radius, upper: false } = self.form else { return None };
        let x = centre.x + radius * climb / climb.hypot(1.0);
        (self.x0..=self.x1).contains(&x).then(|| (x, self.at(x)))
    }

    /// The lowest point of the tool over the radius `u` while its front point runs along the segment.
    #[must_use]
    pub fn lowest(&self, shape: &ToolShape, u: f64) -> LowestPoint {
        let mut best = LowestPoint { movement: self.movement, ..LowestPoint::NONE };
        let mut consider = |x: f64, z: f64, height: f64| {
            if z + height < best.z {
                best.z = z + height;
                best.w = u - x;
            }
        };
        if self.x0 == self.x1 {
            consider(self.x0, self.z0.min(self.z1), shape.height(u - self.x0));
            return best;
        }
        consider(self.x0, self.z0, shape.height(u - self.x0));
        consider(self.x1, self.z1, shape.height(u - self.x1));
        let inside = |x: f64| self.x0 < x && x < self.x1;
        for corner in shape.corners() {
            let x = u - corner.w;
            if inside(x) {
                consider(x, self.at(x), corner.height);
            }
        }
        let mut ride = |x: f64| {
            if inside(x) {
                consider(x, self.at(x), shape.height(u - x));
            }
        };
        let r = shape.nose_radius();
        match self.form {
            Form::Line(slope) => ride(u - r * slope.rise / slope.length),
            Form::Arc { centre, radius, upper: false } => {
                ride(centre.x + radius * (u - centre.x) / (radius + r));
                for edge in shape.edges() {
                    ride(centre.x + radius * edge.rise / edge.length);
                }
                ride(centre.x);
            }
            Form::Arc { centre, radius, upper: true } => {
                if radius > r {
                    ride(centre.x + radius * (u - centre.x) / (radius - r));
                }
            }
        }
        best
    }
}

fn around(centre: Point, radius: f64, angle: f64) -> Point {
    centre.shifted(radius * angle.cos(), radius * angle.sin())
}
