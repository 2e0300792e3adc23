//! The positions that a control's words can express: a grid in x and z, set by the control's resolution and the tool's programmed point.

use super::Point;

/// The grid `{ (x0 + i·dx, z0 + j·dz) }`, in millimetres of radius and height.
///
/// With diameter words in steps of 0.001 mm the radius has steps of 0.0005 mm. `x0` and `z0` account for the
/// shift between the nose's front point, for which paths are planned, and the programmed point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Step of the radius, above zero.
    pub dx: f64,
    /// Step of the height, above zero.
    pub dz: f64,
    /// A radius on the grid, in `[0, dx)`.
    pub x0: f64,
    /// A height on the grid, in `[0, dz)`.
    pub z0: f64,
}

/// Fraction of a step by which a value may miss a grid line and still count as on it: only rounding.
const ON_GRID: f64 = 1e-6;

impl Grid {
    /// The grid through the origin with one step both ways.
    #[must_use]
    pub const fn square(step: f64) -> Self {
        Self { dx: step, dz: step, x0: 0.0, z0: 0.0 }
    }

    /// The nearest radius on the grid.
    #[must_use]
    pub fn nearest_x(&self, x: f64) -> f64 {
        ((x - self.x0) / self.dx).round() * self.dx + self.x0
    }

    /// The nearest height on the grid.
    #[must_use]
    pub fn nearest_z(&self, z: f64) -> f64 {
        ((z - self.z0) / self.dz).round() * self.dz + self.z0
    }

    /// The least radius on the grid that is not below `x`.
    #[must_use]
    pub fn x_not_below(&self, x: f64) -> f64 {
        ((x - self.x0) / self.dx - ON_GRID).ceil() * self.dx + self.x0
    }

    /// The greatest radius on the grid that is not above `x`.
    #[must_use]
    pub fn x_not_above(&self, x: f64) -> f64 {
        ((x - self.x0) / self.dx + ON_GRID).floor() * self.dx + self.x0
    }

    /// The lowest height on the grid that is not below `z`.
    #[must_use]
    pub fn z_not_below(&self, z: f64) -> f64 {
        ((z - self.z0) / self.dz - ON_GRID).ceil() * self.dz + self.z0
    }

    /// The grid point nearest to a point.
    #[must_use]
    pub fn nearest(&self, p: Point) -> Point {
        Point::new(self.nearest_x(p.x), self.nearest_z(p.z))
    }
}
