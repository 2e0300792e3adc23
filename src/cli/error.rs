//! Why a command ended without doing what it was asked, and the exit code that says so.

use crate::job::{JobError, JobErrors};
use crate::ledger::LedgerError;
use crate::pipeline::PipelineError;
use crate::scan::ScanError;
use std::io;
use std::path::PathBuf;

/// Why a command ended without doing what it was asked.
#[derive(Debug, thiserror::Error)]
pub(super) enum CliError {
    /// The wheel, the plan or the program is not safe as asked.
    #[error("refused: {0}")]
    Refused(String),
    /// The command line or an input file is wrong.
    #[error("{0}")]
    Input(String),
    /// The ledger could not be read or written.
    #[error(transparent)]
    Ledger(LedgerError),
    /// The folder for an output file does not exist.
    #[error("cannot write {}: there is no folder {}\n  to mend it: make the folder, or name another file", path.display(), folder.display())]
    NoFolder {
        /// The file.
        path: PathBuf,
        /// The folder.
        folder: PathBuf,
    },
    /// The job file and the shop file hold several errors.
    #[error("{0}")]
    Faults(Box<JobErrors>),
    /// A scan could not be read.
    #[error(transparent)]
    Unreadable(ScanError),
    /// A file could not be read or written.
    #[error("cannot {action} {}: {source}", path.display())]
    File {
        /// What was tried.
        action: &'static str,
        /// On which file.
        path: PathBuf,
        /// The error of the system.
        source: io::Error,
    },
}

impl CliError {
    /// The exit code that scripts may rely on.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Refused(_) => 1,
            Self::Faults(errors) if matches!(errors.first, JobError::Io { .. }) => 3,
            Self::Input(_) | Self::Faults(_) => 2,
            Self::Ledger(_) | Self::Unreadable(_) | Self::File { .. } | Self::NoFolder { .. } => 3,
        }
    }
}

impl From<PipelineError> for CliError {
    fn from(error: PipelineError) -> Self {
        match error {
            PipelineError::Job(wrong) => match *wrong {
                JobError::Input(wrong) => Self::Input(wrong.to_string()),
                JobError::Io { path, source } => Self::File { action: "read", path, source },
            },
            PipelineError::Faults(errors) => Self::Faults(errors),
            PipelineError::Ledger(wrong) => wrong.into(),
            PipelineError::Scan(wrong) => match *wrong {
                wrong @ ScanError::Unreadable { .. } => Self::Unreadable(wrong),
                wrong => Self::Input(wrong.to_string()),
            },
            refusal => Self::Refused(refusal.to_string()),
        }
    }
}

impl From<LedgerError> for CliError {
    fn from(error: LedgerError) -> Self {
        match error {
            LedgerError::ClaimsLess { .. }
            | LedgerError::AlreadyLess { .. }
            | LedgerError::Outdated { .. } => Self::Refused(error.to_string()),
            LedgerError::TakenNotKnown { .. } | LedgerError::Asked(_) | LedgerError::NoLedger { .. } => {
                Self::Input(error.to_string())
            }
            LedgerError::Unusable { .. }
            | LedgerError::Held { .. }
            | LedgerError::Damaged { .. }
            | LedgerError::Newer { .. } => Self::Ledger(error),
        }
    }
}
