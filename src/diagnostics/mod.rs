//! What is told to a person: errors in input files with their place, findings with their rank.

pub mod catalog;
pub mod collector;
pub mod finding;
mod mismatch;
pub mod text;

pub use finding::{Finding, Rank};
pub use mismatch::Mismatch;
pub use text::shown;

use std::fmt;
use std::path::PathBuf;

/// One fault in an input file, with the place and the way to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputError {
    /// The file that holds the fault.
    pub file: PathBuf,
    /// Line, counted from 1; 0 where the fault has no one line (an empty file).
    pub line: usize,
    /// Column in characters, counted from 1; 0 where the fault has no one column.
    pub column: usize,
    /// What stood there.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What the person can do.
    pub fix: String,
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", text::visible(&self.file.display().to_string()))?;
        if self.line > 0 {
            write!(f, ":{}", self.line)?;
            if self.column > 0 {
                write!(f, ":{}", self.column)?;
            }
        }
        write!(f, ": found {}\n  expected: {}\n  to mend it: {}", self.found, self.expected, self.fix)
    }
}

impl std::error::Error for InputError {}
