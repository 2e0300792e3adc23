//! A scan becomes a clean trace: the reader, the filter, the conditioning.

mod ball;
mod conditioning;
mod filter;
mod hand;
mod reader;
mod trust;

use crate::fixtures::job;
pub use crate::fixtures::job::line;
use facewright::job::Measured;
use facewright::units::Length;

/// A plain scan: a spot sensor, radii and heights in millimetres, x before z, a cut-off of 0.8 mm.
pub fn plain() -> Measured {
    Measured { filter: Some(Length::mm(0.8)), ..job::measured() }
}
