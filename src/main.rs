//! The `facewright` command: calls the library's command line.

use std::process::ExitCode;

fn main() -> ExitCode {
    facewright::cli::run()
}
