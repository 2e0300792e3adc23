//! How far round its circle one arc may run, on a control that wants short arcs or arcs within one quadrant.
//!
//! A path is a function of the radius, so of the borders of quadrants it crosses only those where the circle is level.

use crate::geometry::{Arc, Point};

/// An arc is laid this much shorter than it may be, radians, and its end this much nearer to a border, millimetres: far more than moving it with its
/// pass changes by rounding, far less than a control could tell.
const ROUNDING: f64 = 1e-7;

/// How far round its circle one arc may run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArcTurn {
    /// The furthest that it turns, radians.
    pub longest: f64,
    /// Where no arc runs over the place at which its circle is level: how near to an end of the arc that place may lie inside it, millimetres.
    pub border: Option<f64>,
}

impl ArcTurn {
    /// Whether an arc may run as it is.
    #[must_use]
    pub fn holds(&self, arc: &Arc) -> bool {
        let tighter =
            Self { longest: self.longest - ROUNDING, border: self.border.map(|near| near - ROUNDING) };
        !tighter.too_long(arc) && !tighter.over_border(arc)
    }

    /// How far an arc of less than half a turn turns, radians.
    #[must_use]
    pub fn swept(arc: &Arc) -> f64 {
        let angle = |p: Point| (p.z - arc.centre.z).atan2(p.x - arc.centre.x);
        let turned = angle(arc.to) - angle(arc.from);
        turned.sin().atan2(turned.cos()).abs()
    }

    /// Whether an arc turns further than the longest.
    #[must_use]
    pub fn too_long(&self, arc: &Arc) -> bool {
        Self::swept(arc) > self.longest
    }

    /// Whether an arc runs from one quadrant into the next.
    #[must_use]
    pub fn over_border(&self, arc: &Arc) -> bool {
        let inside = (arc.centre.x - arc.from.x.min(arc.to.x)).min(arc.from.x.max(arc.to.x) - arc.centre.x);
        self.border.is_some_and(|near| inside > near)
    }
}
