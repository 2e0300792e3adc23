//! The face followed along a lower place of the turn than the highest.
//!
//! Where the damage lies at the rim and the wheel runs out there, a face cut parallel to the highest place takes the run-out of the rim off
//! everywhere, also where the wheel hardly runs out. One that is cut parallel to the lowest place takes at each radius what that
//! radius runs out, and ends as deep at the rim. A pass must not bite deeper than its depth at the highest place: so what
//! the passes are counted from is the lower place raised until nothing of the highest stands above it.

use super::Face;
use crate::geometry::profile::ProfileError;
use crate::geometry::{Point, Profile};
use crate::job::Zone;

impl Face {
    /// The same face, cut along the place that lies a share of the run-out below the highest: 0 along the highest, 1 along the lowest.
    ///
    /// # Errors
    /// None that is known: the radii are those of the highest place.
    pub fn cut_along(self, share: f64, zones: &[Zone]) -> Result<Self, ProfileError> {
        let below = |x: f64| share * (self.highest.at(x) - self.lowest.at(x));
        let inside = |x: f64| zones.iter().any(|z| z.from.as_mm() <= x && x <= z.to.as_mm());
        let ends = zones.iter().flat_map(|z| [z.from.as_mm(), z.to.as_mm()]);
        let radii = self.highest.points().iter().map(|p| p.x).filter(|x| inside(*x)).chain(ends);
        let raised = radii.map(below).fold(0.0, f64::max);
        // Outside the zones nothing is cut, and the highest place may stand higher there.
        let points = self.highest.points().iter();
        let followed = points.map(|p| Point::new(p.x, p.z + (raised - below(p.x)).max(0.0))).collect();
        Ok(Self { followed: Some(Profile::new(followed)?), ..self })
    }
}
