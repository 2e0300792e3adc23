//! The way from a job file to a face, walked by every command that needs it.

use super::failure::Failure;

use crate::job::{self, Job, JobError};
use crate::quantity::{Length, QuantityError};
use crate::survey::{self, Survey};
use crate::trace::{self, TraceFault};
use std::path::Path;

/// Reads a job and the shop file it names.
pub(super) fn load(path: &Path) -> Result<Job, Failure> {
    job::load(path).map_err(|error| match error {
        JobError::Input(fault) => Failure::Input(fault.to_string()),
        JobError::Io { path, source } => Failure::File { action: "read", path, source },
    })
}

/// Reads the scans of a job and surveys its wheel.
pub(super) fn survey(job: &Job) -> Result<Survey, Failure> {
    let traces = trace::open_all(&job.measured).map_err(failed_trace)?;
    survey::survey(job, &traces).map_err(|refused| Failure::Refused(refused.to_string()))
}

fn failed_trace(fault: TraceFault) -> Failure {
    match fault {
        TraceFault::Unreadable { file, source } => Failure::File { action: "read", path: file, source },
        other => Failure::Input(other.to_string()),
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
