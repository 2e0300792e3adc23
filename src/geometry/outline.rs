//! The tool's lower outline: nose, two straight edges, holder.

use super::Point;

/// The holder behind the cutting edges: how far it reaches inward and outward from the nose centre, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holder {
    /// Reach toward the axis.
    pub inner: f64,
    /// Reach toward the rim.
    pub outer: f64,
}

/// The lower outline of a tool: its height T(w) at the distance w from its nose centre (outward positive). T(0) = 0 is the lowest point.
///
/// The middle is the nose, `T(w) = r − √(r² − w²)`. Where its slope reaches that of an edge,
/// the straight edge begins, tangent to the nose. Edge angles are measured from the spindle axis: an edge of angle α
/// has the slope cot α, and cannot follow a steeper wall. Without a holder the edges have no end
/// (the safe assumption for a tool whose holder is unknown). With one they end `edge_length` along the
/// edge from the end of the nose, and the holder's flat underside continues from there to its reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outline {
    /// Nose radius, above zero, millimetres.
    pub nose_radius: f64,
    /// Angle of the edge on the side toward the axis, from the spindle axis, in (0, π/2), radians.
    pub inner_edge: f64,
    /// Angle of the edge on the side toward the rim, from the spindle axis, in (0, π/2), radians.
    pub outer_edge: f64,
    /// Length of the straight edges, millimetres.
    pub edge_length: f64,
    /// The holder, where known.
    pub holder: Option<Holder>,
}

/// One side of an outline, over the distance from the nose centre toward that side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flank {
    /// Radius of the nose.
    pub nose_radius: f64,
    /// Slope of the edge: the cotangent of its angle.
    pub slope: f64,
    /// Where the nose ends and the edge begins.
    pub nose_end: Point,
    /// Where the edge ends, for a tool with a holder.
    pub edge_end: Point,
    /// How far the holder reaches, where known.
    pub reach: Option<f64>,
}

impl Flank {
    fn new(nose_radius: f64, angle: f64, edge_length: f64, reach: Option<f64>) -> Self {
        // The nose ends where its slope is cot(angle): at w = r·cos(angle).
        let nose_end = Point::new(nose_radius * angle.cos(), nose_radius - nose_radius * angle.sin());
        let edge_end = nose_end.shifted(edge_length * angle.sin(), edge_length * angle.cos());
        Self { nose_radius, slope: 1.0 / angle.tan(), nose_end, edge_end, reach }
    }

    /// How far the tool reaches on this side: to the end of the edge or of the holder, whichever is farther; infinite if the holder is unknown.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.reach.map_or(f64::INFINITY, |reach| reach.max(self.edge_end.x))
    }

    /// The height above the outline's lowest point at the distance `w` from the nose centre toward this side; infinite where there is no tool.
    #[must_use]
    pub fn height(&self, w: f64) -> f64 {
        let r = self.nose_radius;
        if w <= self.nose_end.x {
            r - (r * r - w * w).max(0.0).sqrt()
        } else if self.reach.is_none() || w <= self.edge_end.x {
            self.nose_end.z + (w - self.nose_end.x) * self.slope
        } else if w <= self.width() {
            self.edge_end.z
        } else {
            f64::INFINITY
        }
    }
}

impl Outline {
    /// The side toward the axis.
    #[must_use]
    pub fn inner(&self) -> Flank {
        Flank::new(self.nose_radius, self.inner_edge, self.edge_length, self.holder.map(|h| h.inner))
    }

    /// The side toward the rim.
    #[must_use]
    pub fn outer(&self) -> Flank {
        Flank::new(self.nose_radius, self.outer_edge, self.edge_length, self.holder.map(|h| h.outer))
    }

    /// The mirrored tool: inner and outer side change places.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self {
            inner_edge: self.outer_edge,
            outer_edge: self.inner_edge,
            holder: self.holder.map(|h| Holder { inner: h.outer, outer: h.inner }),
            ..*self
        }
    }

    /// The outline's height above its lowest point at the distance `w` from the nose centre, outward positive; infinite where there is no tool.
    #[must_use]
    pub fn height(&self, w: f64) -> f64 {
        if w < 0.0 { self.inner().height(-w) } else { self.outer().height(w) }
    }

    /// [`Outline::height`] for many places: both sides are made once.
    pub fn heights(&self) -> impl Fn(f64) -> f64 + use<> {
        let (inner, outer) = (self.inner(), self.outer());
        move |w| if w < 0.0 { inner.height(-w) } else { outer.height(w) }
    }
}
