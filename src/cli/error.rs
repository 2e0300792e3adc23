//! Why a command ended without doing what it was asked, and the exit code that says so.

use crate::job::{JobError, JobErrors};
use crate::ledger::LedgerError;
use crate::pipeline::PipelineError;
use crate::scan::ScanError;
use crate::units::{for_shop, in_inches};
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

impl CliError {
    /// The same error as it is told in a shop: in inches, where its control counts them. What stands in a file, and the names of
    /// files, are shown as they are.
    pub fn for_shop(self, inches: bool) -> Self {
        match self {
            Self::Refused(text) => Self::Refused(for_shop(text, inches)),
            Self::Input(text) if inches => Self::Input(all_in_inches(&text)),
            other => other,
        }
    }
}

/// An error of an input file: its first line names the place before a colon, and some lines show places only. What was found is as it
/// stands in the file where the line of the file, shown below, holds it.
fn said_in_inches(text: &str) -> String {
    let excerpt = text.lines().find_map(|line| line.strip_prefix("  in: "));
    let excerpt = excerpt.unwrap_or_default().replace(">>", "").replace("<<", "");
    let line = |(number, line): (usize, &str)| {
        let (place, said) = line.split_once(": ").unwrap_or(("", line));
        let quoted = said.strip_prefix("found ").is_some_and(|found| excerpt.contains(found));
        if PLACES.contains(&place) || (number == 0 && quoted) {
            return line.to_owned();
        }
        let said = if number == 0 { said } else { line };
        let before = line.get(..line.len() - said.len()).unwrap_or_default();
        before.to_owned() + &examples_in_inches(&in_inches(said))
    };
    text.split('\n').enumerate().map(line).collect::<Vec<_>>().join("\n")
}

/// The examples of a text, which stand between backticks as they would in a file, in inches: nobody copies millimetres into an inch shop's file.
fn examples_in_inches(text: &str) -> String {
    const LABEL: &str = "such as `";
    let mut parts = text.split(LABEL);
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (example, behind) = part.split_once('`').unwrap_or((part, ""));
        // G70 is to inches what G71 is to millimetres.
        let example = in_inches(example).replace("G71", "G70");
        out = out + LABEL + &example + "`" + behind;
    }
    out
}

/// Errors of input files in inches, each as [`said_in_inches`] tells it: one begins at every line that is not set in.
fn all_in_inches(text: &str) -> String {
    let mut errors: Vec<String> = Vec::new();
    for line in text.split('\n') {
        match errors.last_mut() {
            Some(error) if line.starts_with("  ") => {
                error.push('\n');
                error.push_str(line);
            }
            _ => errors.push(line.to_owned()),
        }
    }
    errors.iter().map(|error| said_in_inches(error)).collect::<Vec<_>>().join("\n")
}

/// How lines of an error begin that show what stands in a file, or name one.
const PLACES: [&str; 4] = ["  in", "  named in", "  `columns` in", "  the same in"];

impl From<PipelineError> for CliError {
    fn from(error: PipelineError) -> Self {
        match error {
            PipelineError::Job(wrong) => match *wrong {
                JobError::Input(wrong) => Self::Input(wrong.to_string()),
                JobError::Io { path, source } => Self::File { action: "read", path, source },
            },
            PipelineError::Faults(errors) if errors.inches => {
                let code_of_input = !matches!(errors.first, JobError::Io { .. });
                let told = all_in_inches(&errors.to_string());
                if code_of_input { Self::Input(told) } else { Self::Faults(errors) }
            }
            PipelineError::Faults(errors) => Self::Faults(errors),
            PipelineError::Ledger(wrong) => wrong.into(),
            PipelineError::Scan(wrong) => match *wrong {
                wrong if wrong.is_unreadable() => Self::Unreadable(wrong),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn examples_are_inches_in_an_inch_shop() {
        let told = said_in_inches(
            "shop.yaml:3:5: found `____`\n  expected: the depth, such as `0.10 mm`; the word, such as `G71`",
        );
        assert!(told.contains("such as `0.0039 in`") && told.contains("such as `G70`"), "{told}");
    }

    #[test]
    fn an_error_is_told_in_inches_but_not_what_stands_in_a_file() {
        let told = |text: &str| CliError::Input(text.into()).for_shop(true).to_string();
        assert_eq!(
            told(
                "wheel 3 mm.csv:4: found a radius of 2540 mm\n  in: 80 mm;1\n  named in: job 5 mm.yaml:3\n  to mend it: less than 254 mm, or `1 mm`"
            ),
            "wheel 3 mm.csv:4: found a radius of 100.0 in\n  in: 80 mm;1\n  named in: job 5 mm.yaml:3\n  to mend it: less than 10.0 in, or `1 mm`"
        );
        assert_eq!(
            told("at radius 254.00 mm nothing is\n  to mend it"),
            "at radius 10.000 in nothing is\n  to mend it"
        );
        assert_eq!(
            CliError::Refused("plan: 2.540 mm".into()).for_shop(true).to_string(),
            "refused: plan: 0.1000 in"
        );
        assert_eq!(CliError::Refused("2.54 mm".into()).for_shop(false).to_string(), "refused: 2.54 mm");
    }
}
