//! One measured line after cleaning in the order of time: what the model of the wheel is fitted to.

/// One measured line after cleaning.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredLine {
    /// Angle of the wheel at which it was measured, radians.
    pub at: f64,
    /// The readings in the order of time.
    pub readings: Vec<Reading>,
    /// Standard deviation of one reading, millimetres.
    pub noise: f64,
    /// How often the sensor crossed the face.
    pub sweeps: usize,
    /// Radii without metal.
    pub no_metal: Vec<Stretch>,
}

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Radius, millimetres.
    pub x: f64,
    /// Height, millimetres.
    pub z: f64,
    /// The sweep it belongs to, from zero.
    pub sweep: usize,
    /// Time, from 0 at the first reading of the line to 1 at its last.
    pub time: f64,
    /// It stands off its neighbours; it may come back once the face is known.
    pub suspect: bool,
    /// How many readings it counts for: one, or 3/n in a pause of n readings.
    pub weight: f64,
}

/// A stretch of radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Innermost radius, millimetres.
    pub from: f64,
    /// Outermost radius, millimetres.
    pub to: f64,
}
