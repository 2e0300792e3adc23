//! Why a command ended without doing what it was asked, and the exit code that says so.

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
    /// A file could not be read or written.
    #[error("cannot {action} {}: {source}", path.display())]
    File {
        /// What was tried.
        action: &'static str,
        /// On which file.
        path: PathBuf,
        /// What came of it.
        source: io::Error,
    },
}

impl CliError {
    /// The exit code that scripts may rely on.
    pub const fn exit_code(&self) -> u8 {
        match self {
            Self::Refused(_) => 1,
            Self::Input(_) => 2,
            Self::File { .. } => 3,
        }
    }
}
