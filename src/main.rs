//! The `facewright` command: a thin door to the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    facewright::cli::run()
}
