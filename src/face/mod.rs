//! Many traces become one face: highest and lowest place of the whole turn, damage, clean-up depth.

use crate::geometry::Profile;
use crate::quantity::Length;

/// The face of the wheel over one whole turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// The highest place of the turn at every radius: what a tool meets first.
    pub highest: Profile,
    /// The lowest undamaged place of the turn at every radius, over the same radii.
    pub lowest: Profile,
    /// Depth of the known damage below the lowest place: heights are depths, zero where there is none; over the same radii.
    pub damage: Profile,
}

impl Face {
    /// How far the highest place must come down at a radius for the damage there to go: run-out there and damage.
    #[must_use]
    pub fn clean_up_at(&self, x: f64) -> Length {
        Length::mm(self.highest.at(x) - self.lowest.at(x) + self.damage.at(x))
    }
}
