//! `facewright sheet`: the page that the technician reviews and signs before the cut.

use super::destination::Destination;
use super::error::CliError;
use super::inputs::{self, FILE};
use super::next::{Kind, Others, Varied, depth};
use super::output::{self, Replacing};
use super::proof as proving;
use super::write::load;
use crate::input::Input;
use crate::job::{Job, Only};
use crate::pipeline::{Loaded, PipelineError, ProvedPart, ProvedProgram, Surveyed};
use crate::plan::Options;
use crate::proof::ReadBack;
use crate::report::sheet::{self, Origin, Program, Sheet as Contents, Status};
use crate::units::Length;
use clap::Args;
use std::path::Path;

/// Make the page that the technician reviews and signs before the cut
///
/// One HTML file that needs no network: the verdict of survey and proof, the set-up with the touch-off, what comes off, the
/// passes, and the program block by block beside a picture of tool and face. It opens in any browser, works without scripts, and
/// prints. A wheel that is refused gets a page too, which says why and holds no program. Exit code 1 where nothing may be cut.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  facewright sheet demo-data/job.yaml -o target/example.html")]
pub(super) struct Sheet {
    /// The job file, or `-` for standard input
    #[arg(value_hint = FILE)]
    job: Input,
    /// Where the page goes; standard output if left out, or `-`
    #[arg(short, long, value_name = "FILE.html", value_hint = FILE)]
    output: Option<Destination>,
    /// Replace a file that facewright did not write, or that was edited since
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    varied: Varied,
    /// Show and prove this program, edited by hand or written elsewhere, instead of writing one; `-` for standard input
    #[arg(long, value_name = "FILE", value_hint = FILE)]
    program: Option<Input>,
    /// Only the rough passes, or only the finish passes
    #[arg(long, conflicts_with_all = ["next", "program"])]
    only: Option<Kind>,
    /// The page of the rings that the job lists under `trial`, as `write --trial` cuts them
    #[arg(long, conflicts_with_all = ["next", "already", "only"])]
    trial: bool,
    /// Depth that an earlier program of this job has taken off already, such as 0.32mm; as the ledger holds it if
    /// left out
    #[arg(long, value_name = "DEPTH", value_parser = depth)]
    already: Option<Length>,
    #[command(flatten)]
    others: Others,
}

impl Sheet {
    /// Runs the command.
    pub fn run(self) -> Result<(), CliError> {
        inputs::standard_once([Some(&self.job), self.program.as_ref()])?;
        let loaded = load(&self.job, &self.varied, self.trial)?;
        let inches = loaded.job().control.unit_word.is_inch();
        self.of(&loaded).map_err(|error| error.for_shop(inches))
    }

    fn of(self, loaded: &Loaded) -> Result<(), CliError> {
        let job = loaded.job();
        let already = match self.program {
            Some(_) => proving::already_of(loaded, self.already)?,
            None => loaded.already(self.already)?,
        };
        let surveyed = refused(loaded.measure()?.survey())?;
        let written = match &surveyed {
            Ok(surveyed) => refused(write(surveyed, self.varied.only(self.only), already))?,
            Err(why) => Err(why.clone()),
        };
        let given = self.program.as_ref().map(proving::read).transpose()?;
        let origin = if given.is_some() { Origin::Given } else { Origin::Written };
        let programs = match (given, &surveyed, &written) {
            (Some(text), Ok(surveyed), _) => vec![self.given(&text, (job, surveyed), already)?],
            (None, _, Ok(written)) => written.parts().iter().map(written_part).collect(),
            _ => Vec::new(),
        };
        let parts = written.as_ref().map(ProvedProgram::parts).unwrap_or_default();
        let contents = Contents {
            job,
            survey: surveyed.as_ref().map(Surveyed::survey).map_err(Clone::clone),
            plan: written.as_ref().map(ProvedProgram::plan).map_err(Clone::clone),
            touch_offs: parts.iter().flat_map(|p| p.program().touch_offs.clone()).collect(),
            already: surveyed.as_ref().map_or(already, |s| s.below_first(already)),
            origin,
            programs,
        };
        let page = output::sealed(&sheet::page(&contents));
        match self.output.as_ref().and_then(Destination::file) {
            Some(path) => {
                let given: Vec<&Path> = self.program.iter().filter_map(Input::file).collect();
                let replacing = Replacing { job, inputs: &given, force: self.force };
                output::write_file(path, page.as_bytes(), replacing)?;
                output::print_text(&format!("written  {}\n", path.display()))?;
            }
            None => output::print(page.as_bytes())?,
        }
        match sheet::status(&contents) {
            Status::Stop => {
                Err(CliError::Refused("nothing may be cut as this stands: the page says why".into()))
            }
            Status::Look | Status::Ready => Ok(()),
        }
    }

    fn given(
        &self,
        text: &[u8],
        (job, surveyed): (&Job, &Surveyed<'_>),
        already: Length,
    ) -> Result<Program, CliError> {
        let circumstances = self.others.circumstances(surveyed, (job, &self.varied), already)?;
        let ReadBack { simulation, report } = surveyed.prove_other(text, &circumstances);
        let name = self.program.as_ref().and_then(|program| program.name().file_name()).unwrap_or_default();
        Ok(Program { name: name.to_string_lossy().into_owned(), passes: Vec::new(), simulation, report })
    }
}

/// The program written from the plan. One that does not pass its proof is not shown, just as `write` would not save it.
fn write(surveyed: &Surveyed<'_>, only: Only, already: Length) -> Result<ProvedProgram, PipelineError> {
    surveyed.plan(Options { only, already, ..Options::default() })?.write()?.prove()
}

/// A part of the program written from the plan, for the page.
fn written_part(part: &ProvedPart) -> Program {
    let program = part.program();
    let name = if program.of > 1 {
        format!("part {} of {}", program.part, program.of)
    } else {
        sheet::THE_PROGRAM.to_owned()
    };
    let passes = program.names.clone();
    Program { name, passes, simulation: part.simulation().clone(), report: part.report().clone() }
}

/// A refusal as text for the page; any other error ends the command.
fn refused<T>(result: Result<T, PipelineError>) -> Result<Result<T, String>, CliError> {
    match result.map_err(CliError::from) {
        Ok(value) => Ok(Ok(value)),
        Err(CliError::Refused(why)) => Ok(Err(why)),
        Err(other) => Err(other),
    }
}
