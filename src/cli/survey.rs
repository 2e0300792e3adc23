//! `facewright survey JOB`: what the traces say about the wheel.

use super::Failure;
use crate::job;
use crate::survey::{self, Verdict, picture::picture};
use crate::trace::{Trace, TraceFault};
use clap::{Args, ValueEnum};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What `survey` is asked.
#[derive(Debug, Args)]
pub struct SurveyArgs {
    /// The job file.
    pub job: PathBuf,
    /// How to print the result: a page for a person, or one documented JSON object.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Draw the face, the traces, the damage and the clean-up depth into an SVG file.
    #[arg(long, value_name = "FILE.svg")]
    pub picture: Option<PathBuf>,
}

/// The form of the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// A page of plain text.
    Text,
    /// JSON.
    Json,
}

/// Surveys the wheel of a job; the result goes to `out`.
///
/// # Errors
/// If an input is wrong or a file cannot be read or written; [`Failure::Refused`] where the wheel is not to be cut as it stands.
pub fn run(args: &SurveyArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let job = job::load(&args.job)?;
    let lines = &job.measured.lines;
    let traces =
        lines.iter().map(|line| Trace::open(line, &job.measured)).collect::<Result<Vec<_>, TraceFault>>()?;
    let survey = survey::survey(&job, &traces).map_err(|e| Failure::Refused(e.to_string()))?;
    let text = match args.format {
        Format::Text => survey::page(&survey),
        Format::Json => survey.json().map_err(|e| Failure::File(e.to_string()))?,
    };
    out.write_all(text.as_bytes()).map_err(|e| Failure::File(format!("cannot write the result: {e}")))?;
    if let Some(file) = &args.picture {
        keep(file, &picture(&survey, &job))
            .map_err(|e| Failure::File(format!("{}: cannot be written: {e}", file.display())))?;
    }
    if survey.verdict == Verdict::Cut { Ok(()) } else { Err(Failure::Refused(String::new())) }
}

/// Writes a whole file beside its name and then gives it the name, so that none is ever half written.
fn keep(file: &Path, text: &str) -> std::io::Result<()> {
    let folder = file.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut beside = tempfile::NamedTempFile::new_in(folder)?;
    beside.write_all(text.as_bytes())?;
    beside.as_file().sync_all()?;
    beside.persist(file)?;
    Ok(())
}
