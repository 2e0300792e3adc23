//! A scan becomes a clean trace: the reader, the filter, the conditioning.

mod ball;
mod conditioning;
mod filter;
mod hand;
mod reader;
mod trust;

use facewright::job::{Column, HeightSense, LengthUnit, Measured, ScanLine, Sensor, XMeaning};
use facewright::units::{Angle, Length};

/// A plain scan: a spot sensor, radii and heights in millimetres, x before z, a cut-off of 0.8 mm.
#[must_use]
pub fn plain() -> Measured {
    Measured {
        sensor: Sensor::Spot,
        x: XMeaning::Radius,
        unit: LengthUnit::Millimetre,
        columns: vec![Column::X, Column::Z],
        z: HeightSense::Height,
        x_offset: Length::mm(0.0),
        filter: Some(Length::mm(0.8)),
        longest_gap: Length::mm(2.0),
        run_out: None,
        lines: vec![line()],
    }
}

/// The one line of it.
#[must_use]
pub fn line() -> ScanLine {
    ScanLine { file: "scan.csv".into(), at: Angle::deg(0.0) }
}
