//! `facewright schema`: the keys of a file for an editor.

use super::error::CliError;
use super::output;
use crate::job::keys;
use crate::report::keys::schema;
use clap::{Args, ValueEnum};

/// Print the keys of the job or shop file as JSON Schema, for an editor
///
/// An editor that knows the schema completes keys and marks mistakes while the file is written. Keep it beside the files and name it in
/// their first line: `# yaml-language-server: $schema=job.schema.json`.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright schema job")]
pub(super) struct Schema {
    /// Which file
    file: Which,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Which {
    Job,
    Shop,
}

impl Schema {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let root = match self.file {
            Which::Job => &keys::JOB,
            Which::Shop => &keys::SHOP,
        };
        output::print(output::json(&schema(root))?.as_bytes())
    }
}
