//! The way from a job file to a face, walked by every command that needs it.

use super::error::CliError;

use crate::job::{self, Job, JobError};
use crate::scan::{self, ScanError};
use crate::survey::{self, Survey};
use crate::units::{Length, QuantityError};
use std::path::Path;

/// Reads a job and the shop file it names.
pub(super) fn load(path: &Path) -> Result<Job, CliError> {
    job::load(path).map_err(|error| match error {
        JobError::Input(fault) => CliError::Input(fault.to_string()),
        JobError::Io { path, source } => CliError::File { action: "read", path, source },
    })
}

/// Reads the scans of a job and surveys its wheel.
pub(super) fn survey(job: &Job) -> Result<Survey, CliError> {
    let traces = scan::open_all(&job.measured).map_err(failed_trace)?;
    survey::survey(job, &traces).map_err(|refused| CliError::Refused(refused.to_string()))
}

fn failed_trace(fault: ScanError) -> CliError {
    match fault {
        ScanError::Unreadable { file, source } => CliError::File { action: "read", path: file, source },
        other => CliError::Input(other.to_string()),
    }
}

/// A depth on the command line: a length, not below zero.
pub(super) fn depth(text: &str) -> Result<Length, String> {
    let depth: Length = text.parse().map_err(|e: QuantityError| e.to_string())?;
    if depth.as_mm() < 0.0 {
        Err("a depth is counted downward from zero, such as 0.32mm".into())
    } else {
        Ok(depth)
    }
}
