//! Readings round the wheel at one radius: what a dial indicator read, or a sensor while the wheel was turned.
//!
//! Few lines cannot show how the wheel runs between them; eight readings at the rim can. Their zero is unknown: an indicator is set
//! where it stands, so only their differences count.

/// Readings round the wheel at one radius.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RingReadings {
    /// Radius, millimetres.
    pub radius: f64,
    /// Angle of the wheel (radians) and height (millimetres, away from the chuck, from any zero) of each reading.
    pub heights: Vec<(f64, f64)>,
    /// Standard deviation of one reading, millimetres.
    pub noise: f64,
}

/// A dial indicator is read to half a hundredth; bearing and hand add as much (common practice, no source), millimetres.
pub const DIAL_NOISE: f64 = 0.007;
