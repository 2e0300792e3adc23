//! The command line: one file a subcommand, arguments in, text out, exit codes.

pub mod survey;

use crate::job::JobError;
use crate::trace::TraceFault;
use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// From measured traces of a wheel's face to a proved facing program.
#[derive(Debug, Parser)]
#[command(version)]
struct Asked {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Say what the traces tell about the wheel: quality, run-out and tilt, damage, clean-up depth, passes, allowance.
    ///
    /// The verdict comes first: cut, cut after remounting, or do not cut. Exit code 1 if it is not "cut".
    Survey(survey::SurveyArgs),
}

/// Why a subcommand did not end well; each way has its exit code.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The wheel, the plan or the program is not safe as asked: 1. Empty where the result says why.
    #[error("{0}")]
    Refused(String),
    /// The command line or an input file is wrong: 2.
    #[error("{0}")]
    Input(String),
    /// A file could not be read or written: 3.
    #[error("{0}")]
    File(String),
}

impl Failure {
    const fn code(&self) -> u8 {
        match self {
            Self::Refused(_) => 1,
            Self::Input(_) => 2,
            Self::File(_) => 3,
        }
    }
}

impl From<JobError> for Failure {
    fn from(e: JobError) -> Self {
        match e {
            JobError::Input(_) => Self::Input(e.to_string()),
            JobError::Io { .. } => Self::File(e.to_string()),
        }
    }
}

impl From<TraceFault> for Failure {
    fn from(e: TraceFault) -> Self {
        match e {
            TraceFault::Unreadable { .. } => Self::File(e.to_string()),
            TraceFault::Input(_) => Self::Input(e.to_string()),
            TraceFault::NoProfile { .. } => Self::Refused(e.to_string()),
        }
    }
}

/// Runs the program.
#[must_use]
pub fn run() -> ExitCode {
    let asked = match Asked::try_parse() {
        Ok(asked) => asked,
        Err(e) => {
            // Help and version go to standard output with 0, faults of the command line to standard error with 2.
            let code = if e.use_stderr() { 2 } else { 0 };
            return if e.print().is_ok() { ExitCode::from(code) } else { ExitCode::from(3) };
        }
    };
    let mut out = std::io::stdout().lock();
    let done = match &asked.command {
        Command::Survey(args) => survey::run(args, &mut out),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            let text = failure.to_string();
            if !text.is_empty() {
                eprintln!("{text}");
            }
            ExitCode::from(failure.code())
        }
    }
}
