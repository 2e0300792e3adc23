//! The depth that clean-up needs, from the face alone.

use super::Face;
use crate::job::{Need, Zone};
use crate::units::Length;

impl Face {
    /// The depth that clean-up needs inside the zones: the most that the surface which passes follow stands above
    /// the lowest place less damage.
    ///
    /// Heights are piecewise linear over the same radii, so the greatest stands at one of those or at a zone's end.
    #[must_use]
    pub fn need(&self, zones: &[Zone]) -> Need {
        let mut need = Need { depth: Length::mm(0.0), at: zones.first().map_or(Length::mm(0.0), |z| z.from) };
        for zone in zones {
            let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
            let radii = self.highest.points().iter().map(|p| p.x);
            let inside: Vec<f64> = radii.filter(|x| (from..=to).contains(x)).collect();
            let depths = self.clean_up_at_each(&inside).zip(inside.iter().copied());
            let ends = [from, to].map(|x| (self.clean_up_at(x), x));
            for (depth, x) in depths.chain(ends) {
                if depth > need.depth {
                    need = Need { depth, at: Length::mm(x) };
                }
            }
        }
        need
    }
}
