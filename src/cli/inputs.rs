//! What a command reads: files that are named, and standard input for one of them.

use super::error::CliError;
use crate::input::Input;
use clap::ValueHint;

/// Completions offer files where an input is asked for.
pub(super) const FILE: ValueHint = ValueHint::FilePath;

/// Refuses `-` for more than one input: what is read first would leave nothing for the other.
pub(super) fn standard_once<'i>(inputs: impl IntoIterator<Item = Option<&'i Input>>) -> Result<(), CliError> {
    let standard = inputs.into_iter().flatten().filter(|input| **input == Input::Standard).count();
    if standard < 2 {
        return Ok(());
    }
    Err(CliError::Input(
        "`-` for two inputs, and standard input can be read but once\n  to mend it: name a file for all but one of them"
            .into(),
    ))
}
