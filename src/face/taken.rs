//! What passes have really taken off a face, at every radius, as it was measured after them.
//!
//! The surface that passes follow, by the face as measured at first, stays the reference: of shape, and of the allowance, since nothing of the
//! highest place stands above it.
//! What stands in a zone is that face lowered by what was taken. Plan and proof go on from there.

use crate::geometry::Profile;
use crate::job::Zone;
use crate::units::Length;

/// Standard errors within which a depth is relied on.
pub const COVERAGE: f64 = 2.0;

/// What was taken off a face, below the surface that passes follow.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// How much, at every radius of the face; nothing outside the zones, millimetres.
    pub depth: Profile,
    /// Its standard error at the same radii, millimetres.
    pub error: Profile,
}

impl Taken {
    /// How deep the face stands at a radius where later passes have gone down to a depth, millimetres below the surface
    /// that passes follow.
    #[must_use]
    pub fn at(&self, x: f64, later: f64) -> f64 {
        self.depth.at(x).max(later)
    }

    /// How deep a pass must go to touch the metal at a radius for certain, millimetres.
    #[must_use]
    pub fn reach_at(&self, x: f64) -> f64 {
        let depth = self.depth.at(x);
        if depth > 0.0 { depth + COVERAGE * self.error.at(x) } else { 0.0 }
    }

    /// The depth from which further passes are counted: the least that was taken anywhere in the zones, so that no pass takes more than
    /// its depth; in whole steps of the control.
    #[must_use]
    pub fn begins(&self, zones: &[Zone], step: Length) -> Length {
        let sure = |x: f64| self.depth.at(x) - COVERAGE * self.error.at(x);
        let least = self.radii(zones).map(sure).fold(f64::INFINITY, f64::min);
        let steps = (least / step.as_mm()).floor().max(0.0);
        Length::mm(if steps.is_finite() { steps * step.as_mm() } else { 0.0 })
    }

    /// The most that was taken, and where, millimetres.
    #[must_use]
    pub fn most(&self, zones: &[Zone]) -> (f64, f64) {
        let all = self.radii(zones).map(|x| (self.depth.at(x), x));
        all.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0.0))
    }

    /// The radii of the profile inside the zones.
    fn radii<'t>(&'t self, zones: &'t [Zone]) -> impl Iterator<Item = f64> + 't {
        let inside = |x: &f64| zones.iter().any(|z| z.from.as_mm() <= *x && *x <= z.to.as_mm());
        self.depth.points().iter().map(|p| p.x).filter(inside)
    }
}
