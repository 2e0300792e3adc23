//! Scan files read, and each cleaned in the order of time: the readings that the face is fitted to.

mod above;
mod as_read;
pub mod ball;
pub mod ball_path;
mod beside;
pub mod beyond;
mod calm;
pub mod clean;
pub mod copies;
mod dialect;
pub mod ends;
pub mod guess;
pub mod guessed_angle;
mod headed;
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
use std::fmt::Write as _;
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
    /// Several scans of a job give no line, in the job's order.
    #[error("{}", several(.0))]
    Several(Vec<ScanError>),
}

impl ScanError {
    /// The error of one scan or of several; none where there is none.
    #[must_use]
    pub fn of(mut errors: Vec<Self>) -> Option<Self> {
        if errors.len() > 1 { Some(Self::Several(errors)) } else { errors.pop() }
    }

    /// Whether all there is to say is that files could not be read.
    #[must_use]
    pub fn is_unreadable(&self) -> bool {
        match self {
            Self::Unreadable { .. } => true,
            Self::Input(_) => false,
            Self::Several(all) => all.iter().all(Self::is_unreadable),
        }
    }

    /// Whether another scan has the same fault, which is then told once.
    fn same_as(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Input(a), Self::Input(b)) => {
                (&a.found, &a.expected, &a.fix) == (&b.found, &b.expected, &b.fix)
            }
            _ => false,
        }
    }
}

/// Several faults, each with the places of those that are the same.
fn several(errors: &[ScanError]) -> String {
    let mut text = format!("{} faults in the scans", errors.len());
    for (i, error) in errors.iter().enumerate() {
        if errors.iter().take(i).any(|earlier| earlier.same_as(error)) {
            continue;
        }
        let place = |other: &ScanError| match other {
            ScanError::Input(fault) if other.same_as(error) => Some(fault.place()),
            _ => None,
        };
        let same: Vec<String> = errors.iter().skip(i + 1).filter_map(place).collect();
        // Writing to a string cannot fail.
        let _ = write!(text, "\n{error}");
        if !same.is_empty() {
            let _ = write!(text, "\n  the same in: {}", same.join(", "));
        }
    }
    text
}

fn named_in(named: Option<&NamedIn>) -> String {
    named.map_or_else(String::new, |named| format!("\n  named in: {named}"))
}
