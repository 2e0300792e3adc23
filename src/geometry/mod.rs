//! Plane geometry of turning: profiles, lines and arcs, the tool's outline, the envelope. No wheel, no job, no file.
//!
//! Lengths are millimetres. x is the radius, z lies along the spindle and grows away from the
//! chuck; seen as a graph, x runs to the right and z upward, and a tool comes from above.

pub mod curve;
pub mod envelope;
pub mod grid;
pub mod joint;
pub mod outline;
pub mod profile;

pub use curve::{Arc, Curve, Line, Piece, Turn};
pub use grid::Grid;
pub use outline::{Flank, Holder, Outline};
pub use profile::Profile;

/// A point of the x–z plane, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// Radius.
    pub x: f64,
    /// Height along the spindle.
    pub z: f64,
}

impl Point {
    /// The point at radius `x` and height `z`.
    #[must_use]
    pub const fn new(x: f64, z: f64) -> Self {
        Self { x, z }
    }

    /// The distance to another point.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        // Not hypot: lengths in millimetres are far from where squares overflow or vanish, and this is several times faster.
        let (dx, dz) = (self.x - other.x, self.z - other.z);
        (dx * dx + dz * dz).sqrt()
    }

    /// The point moved by `dx` and `dz`.
    #[must_use]
    pub const fn shifted(self, dx: f64, dz: f64) -> Self {
        Self { x: self.x + dx, z: self.z + dz }
    }
}
