//! A scan file read and made clean: one measured line across the face.

mod cells;
mod dialect;
pub mod filter;
mod header;
mod local;
pub mod report;
pub mod scan;
mod trouble;

use crate::fault::InputFault;
use crate::geometry::{Point, Profile, profile::ProfileFault};
use crate::job::{Measured, ScanLine};
use crate::quantity::{Angle, Length};
pub use report::{Report, Stretch};
use scan::Scan;
use std::path::PathBuf;

/// One measured line, clean: heights over radius in the tool's coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Angle of the wheel at which it was measured.
    pub at: Angle,
    /// The measured face, ordered, cleaned and filtered.
    pub profile: Profile,
    /// What was found and done on the way.
    pub report: Report,
}

/// Why a scan gives no trace.
#[derive(Debug, thiserror::Error)]
pub enum TraceFault {
    /// The file could not be read.
    #[error("cannot read {}: {source}", file.display())]
    Unreadable {
        /// The file.
        file: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The text is no scan.
    #[error(transparent)]
    Input(#[from] InputFault),
    /// What is left of a scan after cleaning is no profile.
    #[error("{}: the scan gives no line across the face: {source}", file.display())]
    NoProfile {
        /// The file.
        file: PathBuf,
        /// What is missing.
        source: ProfileFault,
    },
}

impl Trace {
    /// A trace that is known as it stands, with nothing to report.
    #[must_use]
    pub fn exact(at: Angle, profile: Profile) -> Self {
        Self { at, profile, report: Report::default() }
    }

    /// The trace of one scan file of a job.
    ///
    /// # Errors
    /// If the file cannot be read, is no scan, or gives no line across the face.
    pub fn open(line: &ScanLine, measured: &Measured) -> Result<Self, TraceFault> {
        let bytes = std::fs::read(&line.file)
            .map_err(|source| TraceFault::Unreadable { file: line.file.clone(), source })?;
        Self::from_scan(&scan::read(&bytes, &line.file, measured)?, line, measured)
    }

    /// The trace of a scan that has been read: ordered by radius, repeats merged, filtered as the job says.
    ///
    /// # Errors
    /// If the scan gives no line across the face.
    pub fn from_scan(scan: &Scan, line: &ScanLine, measured: &Measured) -> Result<Self, TraceFault> {
        let mut points = cells::medians(&scan.points);
        if let Some(cutoff) = measured.filter {
            let filtered = filter::gaussian(&points, cutoff.as_mm(), filter::Order::Line);
            points = points.iter().zip(filtered).map(|(p, z)| Point::new(p.x, z)).collect();
        }
        let profile = Profile::new(points)
            .map_err(|source| TraceFault::NoProfile { file: line.file.clone(), source })?;
        let mut steps: Vec<f64> = profile.points().windows(2).map(|w| w[1].x - w[0].x).collect();
        let report = Report {
            measured: scan.points.len(),
            missing: scan.missing.len(),
            spacing: Length::mm(cells::median(&mut steps).unwrap_or(0.0)),
        };
        Ok(Self { at: line.at, profile, report })
    }
}
