//! The way from a job file to a face, walked by every command that needs it.

use super::failure::Failure;

use crate::job::{self, Job, JobError};
use crate::survey::{self, Survey};
use crate::trace::{Trace, TraceFault};
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
    let open = |line| Trace::open(line, &job.measured).map_err(failed_trace);
    let traces = job.measured.lines.iter().map(open).collect::<Result<Vec<_>, _>>()?;
    survey::survey(job, &traces).map_err(|refused| Failure::Refused(refused.to_string()))
}

fn failed_trace(fault: TraceFault) -> Failure {
    match fault {
        TraceFault::Unreadable { file, source } => Failure::File { action: "read", path: file, source },
        other => Failure::Input(other.to_string()),
    }
}
