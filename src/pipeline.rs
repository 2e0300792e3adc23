//! The way from a job file to programs that may be cut: load, measure, survey, plan, write, prove.
//!
//! Each step is a type that only the step before it can make, and [`ProvedProgram`] is the only form in which
//! a program leaves. So no caller can plan a wheel that the survey refused, or save a program that was not
//! read back. The parts of a split program are each proved on what the parts before them left.
//!
//! Programs from elsewhere are proved against the same survey by [`Surveyed::prove_other`]; that gives what it does and a report, never a
//! [`ProvedProgram`].

use crate::face::FaceError;
use crate::gcode::{self, GcodeError, ProgramText};
use crate::job::{self, Job, JobError};
use crate::plan::{self, Only, Options, Plan, PlanError};
use crate::proof::{self, Circumstances, ReadBack, Report, Simulation, Verdict};
use crate::scan::{self, MeasuredLines, ScanError};
use crate::survey::{self, NotClearedError, Survey};
use std::path::Path;

/// Why a step did not give the next.
#[derive(Debug, thiserror::Error)]
pub enum PipelineError {
    /// The job or shop file cannot be read or says something wrong.
    #[error(transparent)]
    Job(#[from] JobError),
    /// A scan file cannot be read or holds no measurement.
    #[error(transparent)]
    Scan(#[from] ScanError),
    /// The lines make no face.
    #[error(transparent)]
    Face(#[from] FaceError),
    /// The survey stands against the cut.
    #[error(transparent)]
    NotCleared(#[from] NotClearedError),
    /// The job cannot be planned as asked.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The control cannot say what is planned.
    #[error(transparent)]
    Gcode(#[from] GcodeError),
    /// A program of our own did not pass its proof.
    #[error(
        "the program does not pass its own proof, and no file is written. This is a fault of facewright, not of the job: please report it with the job, the shop file and the scans\n{0}"
    )]
    Proof(Box<Report>),
}

/// A job with the shop file that it names.
#[derive(Debug, Clone)]
pub struct Loaded {
    job: Job,
}

/// Reads a job file and the shop file that it names.
///
/// # Errors
/// Where either cannot be read, or says something that cannot be meant.
pub fn load(path: &Path) -> Result<Loaded, PipelineError> {
    Ok(Loaded { job: job::load(path)? })
}

impl From<Job> for Loaded {
    fn from(job: Job) -> Self {
        Self { job }
    }
}

impl Loaded {
    /// The job.
    #[must_use]
    pub const fn job(&self) -> &Job {
        &self.job
    }

    /// The trial that the job lists, as a job of its own; none where it lists no rings.
    #[must_use]
    pub fn into_trial(self) -> Option<Self> {
        Some(Self { job: self.job.for_trial()? })
    }

    /// Reads the scans that the job names and makes them clean.
    ///
    /// # Errors
    /// Where one cannot be read or holds no measurement.
    pub fn measure(&self) -> Result<Measured<'_>, PipelineError> {
        Ok(Measured { job: &self.job, lines: scan::open_all(&self.job.measured)? })
    }
}

/// A job with its measured lines.
#[derive(Debug, Clone)]
pub struct Measured<'j> {
    job: &'j Job,
    lines: MeasuredLines,
}

impl<'j> Measured<'j> {
    /// The lines, made clean, in the order of the job.
    #[must_use]
    pub const fn lines(&self) -> &MeasuredLines {
        &self.lines
    }

    /// Says what the lines tell about the wheel.
    ///
    /// # Errors
    /// Where they make no face over the zones of the job.
    pub fn survey(&self) -> Result<Surveyed<'j>, PipelineError> {
        Ok(Surveyed { job: self.job, survey: survey::survey(self.job, &self.lines)? })
    }
}

/// A surveyed wheel, whatever the verdict.
#[derive(Debug, Clone)]
pub struct Surveyed<'j> {
    job: &'j Job,
    survey: Survey,
}

impl Surveyed<'_> {
    /// What the survey says.
    #[must_use]
    pub const fn survey(&self) -> &Survey {
        &self.survey
    }

    /// Plans the passes on the face as surveyed.
    ///
    /// # Errors
    /// Where the survey stands against the cut, or the job cannot be planned as asked.
    pub fn plan(&self, options: Options) -> Result<Planned<'_>, PipelineError> {
        let mut plan = plan::plan(self.job, self.survey.cleared()?, options)?;
        // Whoever reads the program reads what the survey asked to be looked at.
        plan.findings.splice(0..0, self.survey.warnings().cloned());
        Ok(Planned { surveyed: self, options, plan })
    }

    /// Proves a program from elsewhere, or one edited by hand, on the face as surveyed.
    #[must_use]
    pub fn prove_other(&self, program: &[u8], circumstances: &Circumstances) -> ReadBack {
        proof::read_back(program, self.job, self.survey.face(), circumstances)
    }
}

/// A plan for a wheel that the survey cleared.
#[derive(Debug, Clone)]
pub struct Planned<'s> {
    surveyed: &'s Surveyed<'s>,
    options: Options,
    plan: Plan,
}

impl<'s> Planned<'s> {
    /// The plan.
    #[must_use]
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Writes the plan for the job's control.
    ///
    /// # Errors
    /// Where the control cannot say what is planned.
    pub fn write(self) -> Result<Written<'s>, PipelineError> {
        let parts = gcode::write(self.surveyed.job, &self.plan)?;
        Ok(Written { planned: self, parts })
    }
}

/// The programs of a plan, not yet proved: their text can be had only by [`Written::prove`].
#[derive(Debug, Clone)]
pub struct Written<'s> {
    planned: Planned<'s>,
    parts: Vec<ProgramText>,
}

impl Written<'_> {
    /// Reads every part back and proves it on what the parts before it left.
    ///
    /// # Errors
    /// Where one must not run; none of them is given out then.
    pub fn prove(self) -> Result<ProvedProgram, PipelineError> {
        let Planned { surveyed, options, plan } = self.planned;
        let parts = self.parts.into_iter().map(|program| {
            let goes_on = program.part < program.of || options.only == Only::Rough;
            let circumstances = Circumstances { already: program.before, goes_on };
            let read_back = surveyed.prove_other(program.text.as_bytes(), &circumstances);
            match read_back.report.verdict {
                Verdict::Stop => Err(PipelineError::Proof(Box::new(read_back.report))),
                Verdict::Look | Verdict::Sound => Ok(ProvedPart { program, read_back, goes_on }),
            }
        });
        Ok(ProvedProgram { parts: parts.collect::<Result<_, _>>()?, plan })
    }
}

/// A program that was read back and that nothing stops, in one part or several.
#[derive(Debug, Clone)]
pub struct ProvedProgram {
    plan: Plan,
    parts: Vec<ProvedPart>,
}

impl ProvedProgram {
    /// The plan that it was written from.
    #[must_use]
    pub const fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Its parts, in the order in which they run; at least one.
    #[must_use]
    pub fn parts(&self) -> &[ProvedPart] {
        &self.parts
    }
}

/// One part of a proved program.
#[derive(Debug, Clone)]
pub struct ProvedPart {
    program: ProgramText,
    read_back: ReadBack,
    goes_on: bool,
}

impl ProvedPart {
    /// The program as it goes to the control.
    #[must_use]
    pub const fn program(&self) -> &ProgramText {
        &self.program
    }

    /// What it does, as it was proved.
    #[must_use]
    pub const fn simulation(&self) -> &Simulation {
        &self.read_back.simulation
    }

    /// What its proof says.
    #[must_use]
    pub const fn report(&self) -> &Report {
        &self.read_back.report
    }

    /// Whether another program of the job follows: a later part, or the finish.
    #[must_use]
    pub const fn goes_on(&self) -> bool {
        self.goes_on
    }
}
