//! A scan file read and made clean: one measured line across the face.

mod adapt;
mod ball;
mod cells;
mod chain;
mod condition;
mod dialect;
pub mod filter;
mod header;
mod local;
pub mod reader;
pub mod report;
mod revisit;
mod robust;
mod stuck;
mod trouble;
pub mod trust;

use crate::diagnostics::InputError;
use crate::geometry::{Point, Profile, profile::ProfileError};
use crate::job::{Measured, ScanLine};
use crate::units::Angle;
use rayon::prelude::*;
use reader::Scan;
pub use report::{Report, Stretch};
use std::path::PathBuf;
pub use trust::{Distrust, Limits, doubts};

/// One measured line, clean: heights over radius in the tool's coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Angle of the wheel at which it was measured.
    pub at: Angle,
    /// The measured face, ordered, cleaned and filtered.
    pub profile: Profile,
    /// The measured places as they were kept, before the filter; behind a ball's erosion the profile's own points.
    pub places: Vec<Point>,
    /// Noise of one of the places: standard deviation, millimetres.
    pub noise: f64,
    /// What was found and done on the way.
    pub report: Report,
}

/// The traces of all scan files of a job, in the job's order. The lines hang together in nothing before the face, so they are
/// read and conditioned side by side.
///
/// # Errors
/// Of the first line in the job's order whose file cannot be read, is no scan, or gives no line across the face.
pub fn open_all(measured: &Measured) -> Result<Vec<Trace>, ScanError> {
    // All lines are read before the first error is looked for, so that it does not depend on which thread was faster.
    let traces: Vec<_> = measured.lines.par_iter().map(|line| Trace::open(line, measured)).collect();
    traces.into_iter().collect()
}

/// Why a scan gives no trace.
#[derive(Debug, thiserror::Error)]
pub enum ScanError {
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
    Input(#[from] InputError),
    /// What is left of a scan after cleaning is no profile.
    #[error(
        "{}: the scan gives no line across the face: {source}\n  to mend it: check `columns` and `unit` in the job; x must run along the radius, over more than one place",
        file.display()
    )]
    NoProfile {
        /// The file.
        file: PathBuf,
        /// What is missing.
        source: ProfileError,
    },
}

impl Trace {
    /// A trace that is known as it stands, with nothing to report.
    #[must_use]
    pub fn exact(at: Angle, profile: Profile) -> Self {
        let places = profile.points().to_vec();
        Self { at, profile, places, noise: 0.0, report: Report::default() }
    }

    /// The trace of one scan file of a job.
    fn open(line: &ScanLine, measured: &Measured) -> Result<Self, ScanError> {
        let bytes = std::fs::read(&line.file)
            .map_err(|source| ScanError::Unreadable { file: line.file.clone(), source })?;
        Self::from_scan(&reader::read(&bytes, &line.file, measured)?, line, measured)
    }

    /// The trace of a scan that has been read: ordered, cleaned, filtered, and the probe's ball taken off, as the job says.
    ///
    /// # Errors
    /// If the scan gives no line across the face.
    pub fn from_scan(scan: &Scan, line: &ScanLine, measured: &Measured) -> Result<Self, ScanError> {
        let condition::Clean { profile, places, noise, report } = condition::condition(scan, measured)
            .map_err(|source| ScanError::NoProfile { file: line.file.clone(), source })?;
        Ok(Self { at: line.at, profile, places, noise, report })
    }
}
