//! The places a control can name: a lattice of x and z, as a control's resolution and the tool's programmed point leave it.

use super::Point;

/// The lattice `{ (x0 + i·dx, z0 + j·dz) }`, in millimetres of radius and height.
///
/// A control with diameter words of 0.001 mm names radii every 0.0005 mm. The offsets hold the
/// shift between the nose's front point, in which paths are planned, and the programmed point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Step of the radius, above zero.
    pub dx: f64,
    /// Step of the height, above zero.
    pub dz: f64,
    /// A radius on the lattice, in `[0, dx)`.
    pub x0: f64,
    /// A height on the lattice, in `[0, dz)`.
    pub z0: f64,
}

/// Share of a step by which a value may miss a lattice place and still count as lying on it: room for rounding, no more.
const ON_PLACE: f64 = 1e-6;

impl Grid {
    /// The lattice through the origin with one step both ways.
    #[must_use]
    pub const fn square(step: f64) -> Self {
        Self { dx: step, dz: step, x0: 0.0, z0: 0.0 }
    }

    /// The nearest radius on the lattice.
    #[must_use]
    pub fn nearest_x(&self, x: f64) -> f64 {
        ((x - self.x0) / self.dx).round() * self.dx + self.x0
    }

    /// The nearest height on the lattice.
    #[must_use]
    pub fn nearest_z(&self, z: f64) -> f64 {
        ((z - self.z0) / self.dz).round() * self.dz + self.z0
    }

    /// The least radius on the lattice that is not below `x`.
    #[must_use]
    pub fn x_not_below(&self, x: f64) -> f64 {
        ((x - self.x0) / self.dx - ON_PLACE).ceil() * self.dx + self.x0
    }

    /// The lowest height on the lattice that is not below `z`.
    #[must_use]
    pub fn z_not_below(&self, z: f64) -> f64 {
        ((z - self.z0) / self.dz - ON_PLACE).ceil() * self.dz + self.z0
    }

    /// The lattice place nearest to a point.
    #[must_use]
    pub fn nearest(&self, p: Point) -> Point {
        Point::new(self.nearest_x(p.x), self.nearest_z(p.z))
    }
}
