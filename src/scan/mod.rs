//! Scan files read, and each cleaned in the order of time: the readings that the face is fitted to.

mod above;
pub mod ball;
mod beside;
mod calm;
pub mod clean;
pub mod copies;
mod dialect;
pub mod ends;
pub mod guess;
mod header;
pub mod held;
pub mod line;
pub mod meaning;
mod no_metal;
pub mod noise;
mod open;
pub mod reader;
pub mod ring;
mod sentinel;
mod sequence;
mod stated_angle;
mod summary;
mod sweep;
mod text;
mod told_apart;
mod traces;
mod trouble;
mod unparted;

pub use clean::{Cleaned, Cleaning, clean};
pub use line::{MeasuredLine, Reading, Stretch};
pub use open::{LineDoubt, MeasuredLines, open_all, open_with_again};

use crate::diagnostics::InputError;
use crate::job::NamedIn;
use std::path::PathBuf;

/// Why a scan gives no line.
#[derive(Debug, thiserror::Error)]
pub enum ScanError {
    /// The file could not be read.
    #[error("cannot read {}: {source}{}", file.display(), named_in(named.as_ref()))]
    Unreadable {
        /// The file.
        file: PathBuf,
        /// Where the job names it.
        named: Option<NamedIn>,
        /// What the system said.
        source: std::io::Error,
    },
    /// The text is no scan.
    #[error(transparent)]
    Input(#[from] InputError),
}

fn named_in(named: Option<&NamedIn>) -> String {
    named.map_or_else(String::new, |named| format!("\n  named in: {named}"))
}
