//! Errors about an entry of a list of the job file that is judged after the job was read.

use super::Job;
use super::source;
use crate::diagnostics::InputError;

/// What is wrong with an entry, from zero, of a list of the job file, at its place. The file is read once more for it; where that cannot be done, as
/// of standard input, the error has no line.
#[must_use]
pub fn error_in_list(
    job: &Job,
    (list, entry): (&str, usize),
    found: String,
    expected: String,
    fix: &str,
) -> InputError {
    let root = if job.file.is_file() { source::open(&job.file).ok() } else { None };
    let item = root.as_ref().and_then(|root| root.under(list)?.items().get(entry));
    match item {
        Some(item) => item.error_with_found(found, expected, fix),
        None => InputError {
            file: job.file.clone(),
            line: 0,
            column: 0,
            found,
            expected,
            fix: fix.to_owned(),
            context: None,
        },
    }
}
