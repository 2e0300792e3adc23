//! `facewright survey`: what the traces say about the wheel.

use super::destination::Destination;
use super::error::CliError;
use super::inputs::FILE;
use super::output::{self, Detail, Replacing};
use super::width;
use crate::input::Input;
use crate::job::Variation;
use crate::pipeline::{self, Loaded};
use crate::report::survey_page::{self, WIDTH};
use crate::report::survey_picture::picture;
use crate::survey::Verdict;
use crate::units::for_shop;
use clap::{Args, ValueEnum};
use std::io;

/// Say what the traces tell about the wheel
///
/// The verdict comes first: cut, cut after remounting, or do not cut. Then the measurement, run-out,
/// tilt and bend, damage, clean-up depth with the passes it needs, and the allowance, each with its
/// number, its limit and what to do. Exit code 1 where the verdict is not "cut"; `write` refuses then.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright survey demo-data/job.yaml")]
pub(super) struct Survey {
    /// The job file, or `-` for standard input
    #[arg(value_hint = FILE)]
    job: Input,
    /// A page for a person, or one JSON object (its shape: docs/survey.md)
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Draw face, traces, damage and clean-up depth into this SVG file; `-` for standard output, and the page goes to standard error
    #[arg(long, value_name = "FILE.svg", value_hint = FILE)]
    picture: Option<Destination>,
    /// Replace a file that facewright did not write, or that was edited since
    #[arg(long)]
    force: bool,
}

/// The form of a result.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Format {
    Text,
    Json,
}

impl Survey {
    /// Runs the command.
    pub fn run(self, detail: Detail) -> Result<(), CliError> {
        if self.picture == Some(Destination::Standard) && matches!(self.format, Format::Json) {
            return Err(CliError::Input(
                "the picture and the JSON object cannot both go to standard output\n  to mend it: name a file for the picture"
                    .into(),
            ));
        }
        let loaded = pipeline::load_input(&self.job, &Variation::default())?;
        let inches = loaded.job().control.unit_word.is_inch();
        self.of(&loaded, detail).map_err(|error| error.for_shop(inches))
    }

    fn of(self, loaded: &Loaded, detail: Detail) -> Result<(), CliError> {
        let job = loaded.job();
        let surveyed = loaded.measure()?.survey()?;
        let survey = surveyed.survey();
        let text = match self.format {
            Format::Text => {
                let width = width::of_terminal(&io::stdout()).unwrap_or(WIDTH).min(WIDTH);
                let page = match detail {
                    Detail::Quiet => survey_page::brief(survey, width),
                    Detail::Usual | Detail::Whole => survey_page::page_within(survey, width),
                };
                for_shop(page, job.control.unit_word.is_inch())
            }
            Format::Json => survey.json().map_err(|e| CliError::File {
                action: "write",
                path: "the survey as JSON".into(),
                source: io::Error::other(e),
            })?,
        };
        let drawn = || output::sealed(&picture(survey, job));
        match (&self.picture, self.format) {
            (Some(Destination::Standard), _) => {
                output::tell_page(&text)?;
                output::print(drawn().as_bytes())?;
            }
            (to, format) => {
                if let Some(file) = to.as_ref().and_then(Destination::file) {
                    let replacing = Replacing { job, inputs: &[], force: self.force };
                    output::write_file(file, drawn().as_bytes(), replacing)?;
                }
                match format {
                    Format::Json => output::print(text.as_bytes())?,
                    Format::Text => output::print_text(&text)?,
                }
            }
        }
        match survey.verdict {
            Verdict::Cut => Ok(()),
            against => Err(CliError::Refused(format!("the survey says: {}", against.words()))),
        }
    }
}
