//! The command line: one file a subcommand, arguments in, text out, exit codes.

use std::process::ExitCode;

/// Runs the program.
#[must_use]
pub fn run() -> ExitCode {
    ExitCode::SUCCESS
}
