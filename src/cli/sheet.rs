//! `facewright sheet`: the page that the technician reviews and signs before the cut.

use super::error::CliError;
use super::{output, pipeline, proof as proving};
use crate::gcode::{self, TouchOffWords};
use crate::job::Job;
use crate::plan::{self, Options, Plan};
use crate::proof::{Circumstances, prove_simulation, simulate};
use crate::report::sheet::{self, Origin, Program, Sheet as Contents, Standing};
use crate::survey::Survey;
use crate::units::Length;
use clap::Args;
use std::path::{Path, PathBuf};

/// Make the page that the technician reviews and signs before the cut
///
/// One HTML file that needs no network: the verdict of survey and proof, the set-up with the touch-off, what comes off, the
/// passes, and the program block by block beside a picture of tool and face. It opens in any browser, works without scripts, and
/// prints. A wheel that is refused gets a page too, which says why and holds no program. Exit code 1 where nothing may be cut.
#[derive(Debug, Args)]
pub(super) struct Sheet {
    /// The job file
    job: PathBuf,
    /// Where the page goes; standard output if left out
    #[arg(short, long, value_name = "FILE.html")]
    output: Option<PathBuf>,
    /// Show and prove this program, edited by hand or written elsewhere, instead of writing one
    #[arg(long, value_name = "FILE")]
    program: Option<PathBuf>,
    /// Depth that an earlier program of this job has taken off already, such as 0.32mm
    #[arg(long, value_name = "DEPTH", default_value = "0 mm", value_parser = pipeline::depth)]
    already: Length,
    /// With --program: another program of this job follows, and what this one leaves undone is no warning
    #[arg(long, requires = "program")]
    goes_on: bool,
}

/// The plan as programs, each with what its proof says.
struct Written {
    plan: Plan,
    touch_offs: Vec<TouchOffWords>,
    programs: Vec<Program>,
}

impl Sheet {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        let job = pipeline::load(&self.job)?;
        let survey = refused(pipeline::survey(&job))?;
        let written = match &survey {
            Ok(survey) => refused(self.write(&job, survey))?,
            Err(why) => Err(why.clone()),
        };
        let given = self.program.as_deref().map(proving::read).transpose()?;
        let origin = if given.is_some() { Origin::Given } else { Origin::Written };
        let programs = match (given, &survey, &written) {
            (Some(text), Ok(survey), _) => vec![self.given(&text, &job, survey)],
            (None, _, Ok(written)) => written.programs.clone(),
            _ => Vec::new(),
        };
        let contents = Contents {
            job: &job,
            survey: survey.as_ref().map_err(Clone::clone),
            plan: written.as_ref().map(|w| &w.plan).map_err(Clone::clone),
            touch_offs: written.as_ref().map(|w| w.touch_offs.clone()).unwrap_or_default(),
            already: self.already,
            origin,
            programs,
        };
        let page = sheet::page(&contents);
        match &self.output {
            Some(path) => output::write_file(path, page.as_bytes(), &job)?,
            None => output::print(page.as_bytes())?,
        }
        match sheet::standing(&contents) {
            Standing::Stop => {
                Err(CliError::Refused("nothing may be cut as this stands: the page says why".into()))
            }
            Standing::Look | Standing::Ready => Ok(()),
        }
    }

    fn write(&self, job: &Job, survey: &Survey) -> Result<Written, CliError> {
        let refused = |why: String| CliError::Refused(why);
        let face = survey.cleared().map_err(|r| refused(r.to_string()))?;
        let options = Options { already: self.already, ..Options::default() };
        let plan = plan::plan(job, face, options).map_err(|r| refused(r.to_string()))?;
        let parts = gcode::write(job, &plan).map_err(|e| refused(e.to_string()))?;
        let mut programs = Vec::new();
        let mut touch_offs = Vec::new();
        for part in parts {
            // A program that does not pass its own proof is not shown, as it would not be written.
            let (simulation, report) = proving::of_own(&part, options.only, job, face)?;
            let name = if part.of > 1 {
                format!("part {} of {}", part.part, part.of)
            } else {
                "the program".to_owned()
            };
            touch_offs.extend(part.touch_offs);
            programs.push(Program { name, simulation, report });
        }
        Ok(Written { plan, touch_offs, programs })
    }

    fn given(&self, text: &[u8], job: &Job, survey: &Survey) -> Program {
        let circumstances = Circumstances { already: self.already, goes_on: self.goes_on };
        let simulation = simulate(text, job);
        let report = prove_simulation(&simulation, job, survey.face(), &circumstances);
        let name = self.program.as_deref().and_then(Path::file_name).unwrap_or_default();
        Program { name: name.to_string_lossy().into_owned(), simulation, report }
    }
}

/// A refusal as words for the page; every other failure ends the command.
fn refused<T>(result: Result<T, CliError>) -> Result<Result<T, String>, CliError> {
    match result {
        Ok(value) => Ok(Ok(value)),
        Err(CliError::Refused(why)) => Ok(Err(why)),
        Err(other) => Err(other),
    }
}
