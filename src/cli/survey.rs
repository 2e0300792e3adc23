//! `facewright survey`: what the traces say about the wheel.

use super::failure::Failure;
use super::{output, pipeline};
use crate::survey::{self, Verdict, picture::picture};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Say what the traces tell about the wheel
///
/// Quality of the measurement, run-out and tilt, damage, clean-up depth, passes, allowance; the verdict comes first: cut,
/// cut after remounting, or do not cut. The exit code is 1 if it is not "cut".
#[derive(Debug, Args)]
pub(super) struct Survey {
    /// The job file
    job: PathBuf,
    /// How to print the result: a page for a person, or one documented JSON object
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Draw the face, the traces, the damage and the clean-up depth into an SVG file
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
}

/// The form of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Plain text
    Text,
    /// JSON
    Json,
}

impl Survey {
    /// Runs the command.
    pub fn run(self) -> Result<(), Failure> {
        let job = pipeline::load(&self.job)?;
        let survey = pipeline::survey(&job)?;
        let text = match self.format {
            Format::Text => survey::page(&survey),
            Format::Json => survey.json().map_err(|e| Failure::File {
                action: "write",
                path: "the survey as JSON".into(),
                source: e.into(),
            })?,
        };
        output::print(text.as_bytes())?;
        if let Some(file) = &self.picture {
            output::write_file(file, picture(&survey, &job).as_bytes())?;
        }
        if survey.verdict == Verdict::Cut { Ok(()) } else { Err(Failure::Refused("see the survey".into())) }
    }
}
