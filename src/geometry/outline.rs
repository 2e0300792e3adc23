//! The tool's lower outline: nose, two straight edges, holder.

/// What stands behind the cutting edges: how far it reaches inward and outward from the nose centre, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holder {
    /// Reach toward the axis.
    pub inner: f64,
    /// Reach toward the rim.
    pub outer: f64,
}

/// The lower outline T of a tool over the distance w from its nose centre (outward positive), with T(0) = 0 and nothing below.
///
/// In the middle stands the nose, `T(w) = r − √(r² − w²)`; where its slope reaches that of an edge,
/// the edge goes on straight. Edge angles are measured from the spindle axis: an edge of angle α
/// climbs by cot α, and can follow a wall no steeper. Without a holder the edges go on without end
/// (the safe reading of a tool whose back is unknown); with one they end `edge_length` along the
/// edge from where the nose ends, and the holder's flat underside goes on from there to its reach.
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
    /// What stands behind the edges, where known.
    pub holder: Option<Holder>,
}

impl Outline {
    /// The outline's height above its lowest point at the distance `w` from the nose centre, outward positive; infinite where there is no tool.
    #[must_use]
    pub fn height(&self, w: f64) -> f64 {
        let (angle, reach) = if w < 0.0 {
            (self.inner_edge, self.holder.map(|h| h.inner))
        } else {
            (self.outer_edge, self.holder.map(|h| h.outer))
        };
        let r = self.nose_radius;
        let w = w.abs();
        // The nose ends where its slope is cot(angle): at w = r·cos(angle).
        let nose_end = r * angle.cos();
        if w <= nose_end {
            return r - (r * r - w * w).max(0.0).sqrt();
        }
        let nose_top = r - r * angle.sin();
        let Some(reach) = reach else { return nose_top + (w - nose_end) / angle.tan() };
        let edge_end = nose_end + self.edge_length * angle.sin();
        if w <= edge_end {
            nose_top + (w - nose_end) / angle.tan()
        } else if w <= reach {
            nose_top + self.edge_length * angle.cos()
        } else {
            f64::INFINITY
        }
    }
}
